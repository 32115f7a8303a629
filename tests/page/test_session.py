"""The bench behind the page: hands, defects, the way back, and the same run as `leafwinch run`.

Times are those of requirement R1 in `leafwinch.requirement_limits`; words those of the tables of
the firmware.
"""

import pytest

from leafwinch.fault_texts import FAULT_NAMES, FAULT_TEXTS
from leafwinch.requirement_limits import R1_OFF_MS, R1_OVERRUN_MM
from leafwinch.state_texts import HELD_REASONS
from leafwinch_host.page.live import terminal_volts
from leafwinch_host.page.orders import DEFECTS_MAX
from leafwinch_wiring.errors import BadInput
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
