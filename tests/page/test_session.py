"""The bench behind the page: hands, defects, the way back, and the same run as `leafwinch run`.

Times are those of requirement R1 in `leafwinch.requirement_limits`; words those of the tables of
the firmware.
"""

import math

import pytest

from leafwinch.fault_texts import FAULT_NAMES, FAULT_TEXTS
from leafwinch.requirement_limits import R1_OFF_MS, R1_OVERRUN_MM
from leafwinch.state_texts import HELD_REASONS
from leafwinch_host import version
from leafwinch_host.page.bench_session import MOMENT_MS, BenchSession
from leafwinch_host.page.frames import frame_of
from leafwinch_host.page.hello import guides_of
from leafwinch_host.page.live import terminal_volts
from leafwinch_host.page.orders import DEFECTS_MAX
from leafwinch_host.page.play import ROWS_MAX, Opening
from leafwinch_host.page.trace_rows import Recording, recording_of
from leafwinch_host.run_summary import Setting
from leafwinch_host.trace_file import trace_text
from leafwinch_sim.run import run_script
from leafwinch_sim.scenario import parse_scenario
from leafwinch_sim.scenario_play import play_scenario
from leafwinch_sim.scripts import load_script
from leafwinch_sim.site import load_site
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import load_netlist
from tests.page.desk import Desk

SITES = ("workshop-pit", "boat-slip")


@pytest.mark.parametrize("site", SITES)
def test_holding_raises_and_letting_go_stops_within_the_times_of_r1(site: str) -> None:
    desk = Desk(site).ready()
    desk.run(4000, "raise")
    moving = desk.frame()
    assert moving["state"] == "raising"
    assert moving["moving"]
    assert moving["angle_deg"] > 0.5
    assert moving["holder"] == "you"
    desk.send(do="release")
    desk.run(R1_OFF_MS)
    off = desk.frame()
    assert off["current_a"] == 0.0
    assert off["brake_set"]
    desk.run(2000)
    stopped = desk.frame()
    assert not stopped["moving"]
    assert abs(stopped["free_end_mm"] - moving["free_end_mm"]) < R1_OVERRUN_MM
    assert all(row["ok"] for row in stopped["monitors"])


def test_without_beats_it_lets_go_200_ms_after_the_last_one() -> None:
    desk = Desk().ready()
    desk.run(3000, "raise")
    last_ms = desk.now_ms - 50  # when the last beat came
    desk.run(150)
    assert desk.now_ms - last_ms == 200
    assert desk.bench.play.bench.lever.target > 0
    desk.run(5)
    assert desk.bench.play.bench.lever.target == 0
    desk.run(R1_OFF_MS)
    assert desk.frame()["current_a"] == 0.0
    assert desk.frame()["brake_set"]


def test_beats_that_go_on_after_a_gap_do_not_start_the_deck_again() -> None:
    desk = Desk().ready()
    desk.run(3000, "raise")
    desk.run(500)
    angle_deg = desk.frame()["angle_deg"]
    desk.run(3000, "raise")
    assert desk.frame()["angle_deg"] == pytest.approx(angle_deg, abs=0.2)
    desk.send(do="release")
    desk.run(1000)
    desk.run(3000, "raise")
    assert desk.frame()["angle_deg"] > angle_deg + 1.0


def test_a_line_that_is_cut_lets_go_before_the_next_step() -> None:
    desk = Desk().ready()
    desk.run(3000, "raise")
    desk.bench.gone(desk.page)
    desk.run(5)
    assert desk.bench.play.bench.lever.target == 0
    assert desk.frame()["holder"] == "nobody"


def test_another_page_watches_but_may_always_press_the_stop() -> None:
    desk = Desk().ready()
    other = desk.bench.join()
    desk.run(3000, "raise")
    assert desk.frame(other)["holder"] == "other"
    with pytest.raises(BadInput, match="Another page"):
        desk.send(other, do="hold", way="lower", beat=0)
    with pytest.raises(BadInput, match="Another page"):
        desk.send(other, do="restart")
    with pytest.raises(BadInput, match="Another page holds"):
        desk.send(other, do="control")
    desk.send(other, do="press", what="stop")
    desk.run(R1_OFF_MS, "raise")
    shown = desk.frame(other)
    assert shown["current_a"] == 0.0
    assert shown["fault"] == "stop_actuated"
    assert shown["hands"]["stop"] == 1


def test_reset_clears_and_key_is_held_by_beats() -> None:
    desk = Desk().ready()
    desk.send(do="press", what="stop")
    desk.run(500)
    desk.send(do="let_go", what="stop")
    desk.run(500)
    desk.send(do="press", what="reset")
    desk.run(2500)  # firmware/README.md: a deliberate press lasts 2 s to 10 s
    desk.send(do="let_go", what="reset")
    desk.run(1500)
    assert desk.frame()["state"] == "idle"
    with pytest.raises(BadInput, match="beat"):
        desk.send(do="press", what="key")
    desk.send(do="press", what="key", beat=0)
    desk.run(200)
    assert desk.frame()["hands"]["key"] == 1
    desk.run(50)
    assert desk.frame()["hands"]["key"] == 0


def test_power_and_link_stay_as_they_are_put() -> None:
    desk = Desk().ready()
    desk.send(do="press", what="power")
    desk.run(1000)
    assert desk.frame()["state"] == "off"
    assert desk.frame()["hands"]["power"] == 1
    desk.send(do="let_go", what="power")
    desk.send(do="press", what="link")
    desk.run(2000)
    shown = desk.frame()
    assert shown["state"] in ("idle", "held")
    assert shown["contacts"]["service_link"] == 1


def test_what_is_pressed_while_paused_is_shown_and_acts_with_the_next_step() -> None:
    desk = Desk().ready()
    desk.send(do="pause")
    t_ms = desk.t_ms
    desk.run(500)
    assert desk.t_ms == t_ms
    desk.send(do="press", what="stop")
    assert desk.frame()["hands"]["stop"] == 1
    assert desk.frame()["contacts"]["stop_ok"] == 1
    desk.send(do="step")
    desk.send(do="step")
    assert desk.t_ms == t_ms + 10
    desk.send(do="go")
    desk.run(100)
    assert desk.frame()["contacts"]["stop_ok"] == 0


# --- defects -------------------------------------------------------------------------


@pytest.mark.parametrize("site", SITES)
def test_each_guided_experiment_ends_as_it_says(site: str) -> None:
    desk = Desk(site)
    guides = desk.bench.hello()["guides"]
    assert [guide["id"] for guide in guides] == ["release", "wire", "weld"]
    wire, weld = guides[1]["defect"], guides[2]["defect"]

    desk.ready().run(3000, "raise")
    desk.send(do="defect", id=wire, when="now")
    desk.run(600, "raise")
    shown = desk.frame()
    assert [row["id"] for row in shown["defects"]] == [wire]
    assert not shown["moving"]
    assert shown["state"] in ("held", "fault")
    assert shown["held_words"] or shown["fault_words"]

    desk = Desk(site).ready()
    desk.send(do="defect", id=weld, when="raise")
    assert desk.frame()["pending"] == [{"id": weld, "when": "raise"}]
    desk.run(3000, "raise")
    assert desk.frame()["pending"] == []
    desk.send(do="release")
    desk.run(R1_OFF_MS)
    assert desk.frame()["current_a"] == 0.0
    desk.run(1500)
    shown = desk.frame()
    assert shown["fault"] == "raise_not_released"
    angle_deg = shown["angle_deg"]
    desk.run(2000, "raise")
    assert desk.frame()["angle_deg"] == angle_deg
    assert desk.frame()["monitors"][0]["ok"]


def test_a_fault_comes_with_words_and_lamp_code_of_the_table() -> None:
    desk = Desk().ready()
    desk.send(do="press", what="stop")
    desk.run(300)
    shown = desk.frame()
    number = FAULT_NAMES.index("stop_actuated") + 1
    assert shown["fault_number"] == number
    assert FAULT_TEXTS[number - 1][0] in shown["fault_words"]
    assert FAULT_TEXTS[number - 1][1] in shown["fault_words"]
    assert shown["lamp_code"] == "1-2"  # firmware/README.md: the table of lamp codes
    table = desk.bench.hello()["faults"]
    assert table[number - 1]["lamp_code"] == "1-2"


def test_held_reasons_are_told_in_words_of_the_table() -> None:
    desk = Desk()
    desk.run(4000, "raise")
    words = dict(HELD_REASONS)
    assert desk.frame()["held_words"] == [words["actuated"]]


def test_a_broken_wire_is_dead_behind_the_break_and_its_contact_reads_open() -> None:
    desk = Desk().ready()
    shown = desk.frame()
    assert shown["contacts"]["top_end"] == 1
    assert "W6.4" in shown["live_wires"]
    desk.send(do="defect", id="W6.4:open", when="now")
    desk.run(50)
    shown = desk.frame()
    assert shown["contacts"]["top_end"] == 0
    assert "W6.4" not in shown["live_wires"]
    desk.send(do="mend", id="all")
    desk.run(50)
    assert "W6.4" in desk.frame()["live_wires"]
    assert desk.frame()["defects"] == []


def test_voltages_shown_are_those_of_the_bench() -> None:
    # The same network solved at every terminal must give the coils what the bench gives them.
    desk = Desk().ready()
    desk.run(3000, "raise")
    bench = desk.bench.play.bench
    volts = terminal_volts(bench.solved, bench.mask)
    for coil, ratio in zip(desk.bench.net.coils, bench.sol.coil_ratio, strict=True):
        across = abs(volts[coil.a] - volts[coil.b]) / coil.nominal_v
        assert across == pytest.approx(ratio, abs=1e-6)


def test_a_defect_comes_at_its_time_and_an_obstacle_is_shown() -> None:
    desk = Desk().ready()
    at_s = desk.t_ms / 1000 + 1.0
    desk.send(do="defect", id="obstacle_above", when=f"at:{at_s:g}")
    desk.run(995, "raise")
    assert desk.frame()["defects"] == []
    assert desk.frame()["obstacle"] == {"below_deg": None, "above_deg": None}
    desk.run(10, "raise")
    assert [row["id"] for row in desk.frame()["defects"]] == ["obstacle_above"]
    assert desk.frame()["obstacle"]["above_deg"] > desk.frame()["angle_deg"]
    desk.send(do="mend", id="obstacle_above")
    assert desk.frame()["obstacle"]["above_deg"] is None


def test_too_many_and_unknown_defects_are_refused_in_words() -> None:
    desk = Desk().ready()
    with pytest.raises(BadInput, match="no defect 'nonsense'"):
        desk.send(do="defect", id="nonsense", when="now")
    ids = [row["id"] for row in desk.bench.hello()["defects"] if row["kind"] == "wire_open"]
    for name in ids[:DEFECTS_MAX]:
        desk.send(do="defect", id=name, when="now")
    with pytest.raises(BadInput, match="mend one first"):
        desk.send(do="defect", id=ids[DEFECTS_MAX], when="now")
    with pytest.raises(BadInput, match="mend one first"):
        desk.send(do="defect", id=ids[DEFECTS_MAX], when="raise")
    desk.run(100)
    desk.send(do="mend", id="all")
    desk.run(100)
    assert desk.frame()["trouble"] == ""


# --- time and the way back -----------------------------------------------------------


@pytest.mark.parametrize("script", ["full-cycle", "every-function"])
@pytest.mark.parametrize("site", SITES)
def test_a_script_gives_the_trace_of_a_run(site: str, script: str) -> None:
    loaded = load_site(site)
    net = load_netlist(loaded.wiring)
    read = load_script(script)
    bench = BenchSession(loaded, net, 1, Opening(script=read))
    while not bench.paused:
        bench.step(0.0)
    result = run_script(loaded, read, seed=1)
    mine = recording_of(bench.play)
    setting = Setting(loaded, net, read, [], 1)
    origin = {"leafwinch": version(), **setting.origin(result)}
    assert mine.text() == trace_text(result.trace, origin)
    assert bench.play.player.teller.events[-50:] == result.events[-50:]
    assert bench.frame()[1]["playing"]["over"]


def test_going_back_restores_bit_for_bit() -> None:
    loaded = load_site("workshop-pit")
    net = load_netlist(loaded.wiring)
    read = load_script("full-cycle")
    result = run_script(loaded, read, defects=[("QA1.pole1:welded", 5000)], seed=1)
    bench = BenchSession(loaded, net, 1, Opening(script=read))
    bench.pending.append((bench.catalogue["QA1.pole1:welded"], "at:5"))
    while not bench.paused:
        bench.step(0.0)
    end_ms = bench.play.bench.t_ms
    shown = {}
    for seconds in (1.0, 20.0, 7.77):
        bench.back(seconds)
        t_ms = bench.play.bench.t_ms
        assert t_ms % MOMENT_MS == 0
        shown[t_ms] = frame_of(bench.play, bench.live)
        assert bench.paused
    bench.paused = False
    while not bench.paused:
        bench.step(0.0)
        t_ms = bench.play.bench.t_ms
        if t_ms in shown:
            assert frame_of(bench.play, bench.live) == shown[t_ms]
    assert bench.play.bench.t_ms == end_ms
    mine = recording_of(bench.play)
    assert mine.origin["hash"] == result.hash
    assert mine.columns() == result.trace


def test_going_back_before_a_defect_undoes_it_and_lets_the_hands_go() -> None:
    desk = Desk().ready()
    desk.run(2000, "raise")
    desk.send(do="defect", id="QA1.pole1:welded", when="now")
    desk.run(1000, "raise")
    desk.send(do="back", s=2.0)
    shown = desk.frame()
    assert shown["defects"] == []
    assert shown["paused"]
    desk.send(do="go")
    desk.run(500, "raise")  # the finger was never lifted
    assert desk.bench.play.bench.lever.target == 0
    assert desk.frame()["trouble"] == ""


def test_a_slow_machine_falls_behind_and_says_so() -> None:
    desk = Desk()
    desk.now_ms = 5000  # as if nobody had come by for five seconds
    for _ in range(200):
        desk.bench.tick()
    assert desk.t_ms == 205  # 0.2 s are caught up, and the step that is due now
    assert desk.frame()["lag"] == pytest.approx(4.8)
    desk.run(1500)
    assert desk.frame()["lag"] == 0.0
    assert desk.t_ms == 1705


@pytest.mark.parametrize("speed", [0.05, 0.5, 2.0])
def test_speed_is_bench_seconds_in_a_second(speed: float) -> None:
    desk = Desk().ready()
    desk.send(do="speed", x=speed)
    begun_ms = desk.t_ms
    desk.run(2000)
    assert desk.t_ms - begun_ms == pytest.approx(2000 * speed, abs=15)
    assert desk.frame()["speed"] == speed


def test_as_fast_as_it_goes_has_no_speed() -> None:
    desk = Desk().ready()
    desk.send(do="speed", x="max")
    assert math.isinf(desk.bench.pace.speed)
    assert desk.frame()["speed"] == "max"


def test_rows_of_the_trace_are_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    assert ROWS_MAX * 5 == 600_000
    monkeypatch.setattr("leafwinch_host.page.play.ROWS_MAX", 400)
    monkeypatch.setattr("leafwinch_host.page.play.ROWS_SLACK", 100)
    desk = Desk()
    desk.run(10_000)
    answer = desk.send(do="trace")
    assert isinstance(answer, Recording)
    assert 400 <= len(answer.rows) < 500
    assert answer.rows[-1][0] == 10_000
    assert answer.dropped + len(answer.rows) == 2000
    desk.send(do="back", s=1.0)
    assert desk.t_ms == 9000
    last = desk.send(do="trace")
    assert isinstance(last, Recording)
    assert last.rows[-1][0] == 9000


# --- beside, scenarios, restart ------------------------------------------------------


def test_bare_wiring_beside_follows_the_same_hands() -> None:
    desk = Desk().ready()
    desk.send(do="bare", on=True)
    desk.run(4000, "raise")
    shown = desk.frame()
    assert shown["bare"]["angle_deg"] > 0.5
    assert shown["bare"]["asked"] == shown["asked"] == 1
    desk.send(do="release")
    desk.run(1000)
    assert desk.frame()["bare"]["current_a"] == 0.0
    assert [row["ok"] for row in desk.frame()["bare"]["monitors"]][2] is None  # R3: not judged
    desk.send(do="bare", on=False)
    assert desk.frame()["bare"] is None


def test_bare_wiring_drives_past_its_end_where_the_reference_stops() -> None:
    # README.md, "What the proof says": with the bare wiring one lost cam drives the deck into its
    # buffer.
    desk = Desk("boat-slip").ready()
    desk.send(do="bare", on=True)
    desk.send(do="defect", id="top_end_cam_lost", when="now")
    desk.run(30_000, "raise")
    shown = desk.frame()
    verdicts = {row["name"]: row["ok"] for row in shown["bare"]["monitors"]}
    mine = {row["name"]: row["ok"] for row in shown["monitors"]}
    assert verdicts["R2"] is False
    assert mine["R2"] is True


def test_bare_wiring_has_nothing_beside_it() -> None:
    desk = Desk("workshop-pit", "bare")
    desk.run(500)
    assert desk.frame()["state"] == "none"
    assert desk.bench.hello()["bare"] == ""
    with pytest.raises(BadInput, match="bare one"):
        desk.send(do="bare", on=True)


SCENARIO = """
site = "workshop-pit"
seed = 3
clock_wraps_after = "2 s"
mend_at_end = false
[spread]
friction = 1.2
[[act]]
do = "wait"
until = "idle"
at_most = "5 s"
[[act]]
do = "raise"
for = "3 s"
[[act]]
do = "come obstacle_above"
[[act]]
do = "break W6.2:open"
for = "0.5 s"
[[act]]
do = "both"
for = "0.3 s"
[[act]]
do = "mend W6.2:open"
[[act]]
do = "go obstacle_above"
[[act]]
do = "release"
for = "1.5 s"
"""


def test_a_scenario_gives_the_trace_and_the_verdicts_of_a_replay() -> None:
    desk = Desk()
    desk.send(do="scenario", text=SCENARIO)
    while not desk.bench.paused:
        desk.bench.step(0.0)
    wanted = play_scenario(parse_scenario(SCENARIO.encode(), "here"))
    mine = recording_of(desk.bench.play)
    assert mine.columns() == wanted.trace
    assert mine.origin["hash"] == wanted.hash
    assert desk.bench.play.verdicts == wanted.broken
    assert desk.bench.play.player.teller.events == wanted.events
    assert desk.frame()["playing"] == {"name": "page", "act": 8, "of": 8, "over": True}


def test_a_hand_on_the_control_ends_a_script() -> None:
    desk = Desk("workshop-pit", "", Opening(script=load_script("full-cycle")))
    desk.run(6000)
    assert desk.frame()["state"] == "raising"
    desk.send(do="hold", way="lower", beat=0)
    desk.run(100)
    assert desk.frame()["playing"]["over"]
    assert desk.bench.play.bench.lever.target < 0
    desk.run(500)
    assert desk.frame()["asked"] == 0


def test_restart_begins_anew_with_nothing_broken() -> None:
    desk = Desk().ready()
    desk.run(2000, "raise")
    desk.send(do="defect", id="W6.2:open", when="now")
    desk.send(do="press", what="stop")
    desk.run(500)
    desk.send(do="restart")
    shown = desk.frame()
    assert shown["t_ms"] == 0
    assert shown["angle_deg"] == 0.0
    assert shown["defects"] == []
    assert shown["hands"]["stop"] == 0
    desk.ready()


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (SCENARIO.replace("workshop-pit", "/etc/passwd"), "is for site '/etc/passwd'"),
        (SCENARIO.replace("seed = 3", 'wiring = "bare"'), "is for wiring 'bare'"),
        (SCENARIO.replace("W6.2:open", "W99:open"), "there is no 'W99:open'"),
        ("[" * 40_000, "not valid TOML"),
        ("x = 1", "page"),
        ('[[step]]\ndo = "fly"', "allowed verbs"),
        ("\ud800", "can.t be used"),
    ],
)
def test_a_scenario_that_does_not_fit_changes_nothing(text: str, words: str) -> None:
    desk = Desk().ready()
    t_ms = desk.t_ms
    with pytest.raises(BadInput, match=words):
        desk.send(do="scenario", text=text)
    assert desk.t_ms == t_ms
    desk.run(50)
    assert desk.frame()["state"] == "idle"


def test_trouble_in_the_bench_is_told_and_a_restart_helps(monkeypatch: pytest.MonkeyPatch) -> None:
    loaded = load_site("workshop-pit")
    with BenchSession(loaded, load_netlist(loaded.wiring)) as bench:
        with bench.lock:
            monkeypatch.setattr(bench.play, "advance", lambda: 1 / 0)
        for _ in range(1000):
            if bench.frame()[1]["trouble"]:
                break
            bench._ending.wait(0.005)
        assert "ZeroDivisionError" in bench.frame()[1]["trouble"]
        with bench.lock:
            bench.begin()
        bench._ending.wait(0.2)
        assert bench.frame()[1]["trouble"] == ""
        assert bench.frame()[1]["t_ms"] > 0


def test_guides_leave_out_what_a_wiring_has_no_part_for() -> None:
    net = load_netlist("bare")
    assert [guide["id"] for guide in guides_of(net, ())] == ["release"]
