"""Bench time on the page: speed, the way back, scenarios, and the same run as `leafwinch run`."""

import math

import pytest

from leafwinch_host import version
from leafwinch_host.page.bench_session import MOMENT_MS, BenchSession
from leafwinch_host.page.frames import frame_of
from leafwinch_host.page.hello import guides_of
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
    broken = (("QA1.pole1:welded", 5000),)
    bench = BenchSession(loaded, net, 1, Opening(script=read, defects=broken))
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
