"""The monitors: each canary breaks its requirement, and each rule answers to bare facts."""

import pytest

from leafwinch.faults import BLOCKED, STOP_ACTUATED, WATCHDOG_BOOT
from leafwinch.signals import ALL_CONTACTS, RESET, SERVICE_LINK, STOP_OK
from leafwinch_sim.bench import Bench
from leafwinch_sim.canaries import Canary, canaries
from leafwinch_sim.observation import Observation
from leafwinch_sim.requirements import NAMES, Monitors
from leafwinch_sim.run import run_script
from leafwinch_sim.scripts import load_script, parse_script
from leafwinch_sim.site import load_site
from leafwinch_wiring.netlist import load_netlist
from tests.sim.sites import ALTERNATING

HEALTHY = ALL_CONTACTS & ~(RESET | SERVICE_LINK)


@pytest.mark.parametrize("canary", canaries(), ids=lambda canary: canary.requirement)
def test_each_canary_breaks_its_requirement(canary: Canary) -> None:
    site = load_site(ALTERNATING)
    sabotaged = canary.run(site)
    assert canary.requirement in sabotaged.broken, canary.summary
    assert sabotaged.requirements[canary.requirement] is not None
    sound = canary.run(site, sabotaged=False)
    assert sound.broken == {}, canary.summary


def test_there_is_a_canary_for_each_judged_requirement() -> None:
    assert [canary.requirement for canary in canaries()] == [n for n in NAMES if n != "R11"]


class Play:
    """Feeds monitors with made-up facts; keywords change facts from here on."""

    def __init__(self, wiring: str = "reference") -> None:
        self.site = load_site(ALTERNATING)
        self.monitors = Monitors(self.site, load_netlist(wiring))
        self.o = Observation()
        self.o.contacts = HEALTHY
        self.o.board_on = True
        self.o.supply_mv = 24000
        self.o.drum_turns = 10.0
        self.o.rope_out_m = 3.0
        self.o.free_end_m = 1.5
        self.run(3000)

    def run(self, ms: int, **facts: object) -> "Play":
        for name, value in facts.items():
            assert name in Observation.__slots__
            setattr(self.o, name, value)
        for _ in range(ms // 5):
            self.o.t_ms += 5
            self.o.powered_any = self.o.powered_way
            self.monitors.step(self.o)
        return self

    def drive(self, ms: int, way: int, **facts: object) -> "Play":
        up, down = way == 1, way == -1
        usual: dict[str, object] = {
            "powered_way": way,
            "asked": way,
            "brake_set": way == 0,
            "brake_fed": way != 0,
            "current_a": 1.2 if way else 0.0,
            "line_pulled": way != 0,
            "raise_pulled": up,
            "lower_pulled": down,
        }
        return self.run(ms, **{**usual, **facts})

    def broken(self) -> set[str]:
        return set(self.monitors.broken)


def test_a_healthy_play_breaks_nothing() -> None:
    play = Play().drive(3000, 1).drive(2000, 0).drive(3000, -1).drive(2000, 0)
    assert play.broken() == set()


@pytest.mark.parametrize(("late_ms", "broken"), [(190, set()), (210, {"R1"})])
def test_r1_power_after_the_release(late_ms: int, broken: set[str]) -> None:
    play = Play().drive(3000, 1).run(late_ms, asked=0).drive(3000, 0)
    assert play.broken() == broken


def test_r1_counts_pulses_of_power_together() -> None:
    play = Play()
    for _ in range(5):
        play.run(60, powered_way=1).run(200, powered_way=0)
    assert play.broken() == {"R1"}


def test_r1_a_brake_kept_off_without_being_asked() -> None:
    assert Play().run(400, brake_fed=True, brake_set=False).broken() == {"R1"}


def test_r1_an_overrun_in_the_allowed_time() -> None:
    play = Play().drive(3000, 1)
    play.run(5, asked=0).run(100, free_end_m=1.4).drive(100, 0, free_end_m=1.39)
    assert play.broken() == {"R1"}
    assert play.monitors.worst_overrun_mm == pytest.approx(110)


def test_r2_under_power_and_r11_without() -> None:
    past_m = Play().monitors.motion.longest_m + 0.01
    assert Play().drive(1000, -1).run(50, rope_out_m=past_m).broken() == {"R2"}
    assert Play().run(50, rope_out_m=past_m).broken() == {"R11"}
    assert Play().drive(1000, 1).run(5, buffer_force_n=6001.0).broken() == {"R2"}
    assert Play().drive(1000, -1).run(5, drum_turns=1.9).broken() == {"R2"}
    assert Play().drive(1000, -1).run(5, drum_turns=-0.1).broken() == {"R2"}


def test_r3_both_contactors_and_a_short_pause() -> None:
    assert Play().run(5, both_pulled_any=True).broken() == {"R3"}
    play = Play().drive(1000, 1).drive(480, 0).drive(100, -1)
    assert play.broken() == {"R3"}
    play = Play().drive(1000, 1).drive(505, 0).drive(100, -1)
    assert play.broken() == set()


def test_r4_no_start_after_a_stop_before_neutral() -> None:
    play = Play().drive(1000, 1).run(100, contacts=HEALTHY & ~STOP_OK)
    play.run(1000, powered_way=0, brake_set=True, brake_fed=False, current_a=0.0)
    play.run(500, contacts=HEALTHY)
    assert play.broken() == set()
    assert play.drive(400, 1).broken() == {"R4"}
    play = Play().drive(1000, 1).run(100, contacts=HEALTHY & ~STOP_OK).drive(1000, 0)
    assert play.run(500, contacts=HEALTHY).drive(400, 1).broken() == set()


@pytest.mark.parametrize(("open_ms", "broken"), [(5, set()), (10, {"R4"})])
def test_a_stop_open_for_one_pass_is_none(open_ms: int, broken: set[str]) -> None:
    # The contact filter takes a contact for open after two open samples in a row.
    play = Play().run(open_ms, asked=-1, contacts=HEALTHY & ~STOP_OK).run(200, contacts=HEALTHY)
    assert play.drive(400, -1).broken() == broken


def test_r5_a_fault_may_go_by_a_press_or_power_up_only() -> None:
    assert Play().run(2000, fault=STOP_ACTUATED).run(50, fault=0).broken() == {"R5"}
    assert Play().run(2000, fault=STOP_ACTUATED).run(50, fault=BLOCKED).broken() == {"R5"}
    pressed = Play().run(2000, fault=STOP_ACTUATED).run(2500, contacts=HEALTHY | RESET)
    assert pressed.run(20, contacts=HEALTHY).run(50, fault=0).broken() == set()
    tapped = Play().run(2000, fault=STOP_ACTUATED).run(1500, contacts=HEALTHY | RESET)
    assert tapped.run(20, contacts=HEALTHY).run(50, fault=0).broken() == {"R5"}
    off = Play().run(2000, fault=STOP_ACTUATED).run(500, board_on=False, contacts=0)
    assert off.run(50, board_on=True, fault=0, contacts=HEALTHY).broken() == set()


def test_r5_a_serious_fault_survives_power_loss() -> None:
    play = Play().run(2000, fault=BLOCKED).run(500, board_on=False, contacts=0)
    assert play.run(50, board_on=True, fault=0, contacts=HEALTHY).broken() == {"R5"}
    early = Play().run(500, fault=BLOCKED).run(500, board_on=False, contacts=0)
    assert early.run(50, board_on=True, fault=0, contacts=HEALTHY).broken() == set()


def test_r5_a_program_that_stands_still_stores_nothing_but_a_fault_must_follow() -> None:
    hung = Play().run(10, fault=BLOCKED).run(1500, hung=True)
    assert hung.run(50, hung=False, fault=WATCHDOG_BOOT).broken() == set()
    gone = Play().run(10, fault=BLOCKED).run(1500, hung=True)
    assert gone.run(50, hung=False, fault=0).broken() == {"R5"}
    stored = Play().run(2000, fault=BLOCKED).run(1500, hung=True)
    assert stored.run(50, hung=False, fault=WATCHDOG_BOOT).broken() == {"R5"}


def test_r7_budget_and_what_gives_it_back() -> None:
    settings = load_site(ALTERNATING).settings
    full_ms = settings["budget_raise_ms"]
    assert Play().drive(full_ms + 2000, 1).broken() == set()
    assert Play().drive(full_ms + 2500, 1).broken() == {"R7"}
    halves = Play().drive(full_ms // 2, 1).drive(3000, 0).drive(full_ms // 2 + 2500, 1)
    assert halves.broken() == {"R7"}
    back = Play().drive(full_ms // 2, 1).drive(3000, 0).drive(5000, -1).drive(3000, 0)
    assert back.drive(full_ms // 2 + 6000, 1).broken() == set()
    ended = Play().drive(full_ms, 1).drive(3000, 0, bottom_actuated=True)
    assert ended.drive(full_ms, 1, bottom_actuated=False).broken() == set()
    extra = Play().drive(full_ms // 2, 1, contacts=HEALTHY | SERVICE_LINK)
    assert extra.drive(full_ms + settings["extra_ms"] // 2, 1).broken() == set()


def test_r8_levels_inside_and_after_the_inrush() -> None:
    assert Play().drive(300, 1).run(80, current_a=8.0).run(3000, current_a=1.2).broken() == set()
    assert Play().drive(1000, 1).run(270, current_a=5.0).run(500, current_a=1.2).broken() == set()
    assert Play().drive(1000, 1).run(300, current_a=5.0).broken() == {"R8"}
    assert Play().drive(1000, 1).run(300, current_a=-5.0).broken() == {"R8"}
    assert Play().drive(50, 1).run(350, current_a=13.0).broken() == {"R8"}


def test_r9_a_hung_controller() -> None:
    assert Play().drive(1000, 1).run(145, hung=True).run(500, line_pulled=False).broken() == set()
    assert Play().drive(1000, 1).run(160, hung=True).broken() == {"R9"}


def test_r10_is_judged_at_the_end_of_a_sound_run() -> None:
    site = load_site(ALTERNATING)
    script = parse_script(b'[[step]]\ndo = "wait"\nuntil = "top_end"\nat_most = "2 s"', "waits")
    result = run_script(site, script, trace=False)
    assert result.requirements["R10"] == 2.005
    step = b'[[step]]\ndo = "wait"\nfor = "1 s"\nexpect = "stop_actuated"'
    assert run_script(site, parse_script(step, "expects"), trace=False).requirements["R5"] == 1.005


def test_r11_the_deck_moves_with_everything_off() -> None:
    play = Play().drive(1000, 1).drive(1000, 0).run(100, free_end_m=1.55)
    assert play.broken() == set()
    assert play.monitors.worst_drop_mm == pytest.approx(50)
    assert play.run(100, free_end_m=1.65).broken() == {"R11"}


def test_without_a_controller_only_some_are_judged() -> None:
    play = Play("bare").drive(1000, 1).drive(100, 0).drive(60_000, -1)
    assert play.broken() == set()
    assert play.run(300, asked=0).broken() == {"R1"}


def test_the_reaction_is_timed_to_current_and_brake() -> None:
    play = Play().drive(3000, 1).run(50, asked=0).drive(20, 0, brake_set=False, asked=0)
    assert play.run(500, brake_set=True).monitors.worst_reaction_ms == 70
    play = Play().drive(3000, 1).run(30, top_actuated=True).drive(500, 0)
    assert play.monitors.worst_reaction_ms == 30


def test_a_brake_that_sets_late_breaks_r1_where_nothing_is_broken() -> None:
    site = load_site(ALTERNATING)
    bench = Bench(site, load_netlist(site.wiring), load_script("full-cycle"))
    for brake_late_ms, wanted in ((100, set()), (300, {"R1"})):
        play = Play().drive(3000, 1).run(50, asked=0)
        play.drive(brake_late_ms, 0, brake_set=False, asked=0).run(500, brake_set=True)
        play.monitors.finish(0, bench.operator)
        assert play.broken() == wanted


def test_snapshots_of_the_monitors_carry_everything() -> None:
    play = Play().drive(20_000, 1)
    seen = play.monitors.snapshot()
    assert play.drive(20_000, 1).broken() == {"R7"}
    play.monitors.restore(seen)
    assert play.broken() == set()
    assert play.monitors.snapshot() == seen
    assert play.drive(20_000, 1).broken() == {"R7"}


def test_the_full_cycle_script_is_judged_by_all() -> None:
    result = run_script(load_site(ALTERNATING), load_script("full-cycle"), trace=False)
    assert tuple(result.requirements) == NAMES
    assert set(result.requirements.values()) == {None}
