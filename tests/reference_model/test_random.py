"""Hypothesis and fixed random walks drive core and reference model side by side."""

import random

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, precondition, rule

from leafwinch.signals import CONTACT_NAMES
from leafwinch.states import FAULT, HELD
from tests.firmware.drive import Drive
from tests.firmware.random_walk import CURRENTS, HANDS, PLACES, wander
from tests.firmware.scenarios_faults import LONG, QUICK, WARM, quick
from tests.reference_model.pair import Pair

LEARNED = quick(current_signed=1, envelope_learned=1, jam_margin_ma=6000)
BARE = quick(slack_fitted=0, start_allow_ms=0, missing_lower_ma=0, lower_drives=0)
MEDLEY = (QUICK, WARM, LEARNED, LONG, BARE)

lengths_ms = st.sampled_from((5, 10, 15, 35, 60, 150, 400, 1000))
contacts = st.sampled_from(CONTACT_NAMES)


class SideBySide(RuleBasedStateMachine):
    """Each rule lets one thing happen and some passes go by; the pair compares each pass."""

    def __init__(self) -> None:
        super().__init__()
        self.drive = Drive(QUICK, Pair)
        self.drive.play("at bottom; settle")

    @rule(way=st.sampled_from(("raise", "lower", "nothing", "both")), ms=lengths_ms)
    def ask(self, way: str, ms: int) -> None:
        self.drive.ask(way)
        self.drive.run(ms)

    @rule(place=st.sampled_from(PLACES), ms=lengths_ms)
    def move(self, place: str, ms: int) -> None:
        self.drive.at(place)
        self.drive.run(ms)

    @rule(name=st.sampled_from(HANDS), opened=st.booleans(), ms=lengths_ms)
    def hand(self, name: str, opened: bool, ms: int) -> None:
        (self.drive.open if opened else self.drive.close)(name)
        self.drive.run(ms)

    @rule(name=contacts, reading=st.sampled_from(("open", "closed")), ms=lengths_ms)
    def flip(self, name: str, reading: str, ms: int) -> None:
        self.drive.force(name, reading)
        self.drive.run(ms)
        self.drive.force(name, "free")

    @rule(name=contacts, pattern=st.lists(st.sampled_from(("open", "closed", "free")), max_size=8))
    def bounce(self, name: str, pattern: list[str]) -> None:
        for reading in (*pattern, "free"):
            self.drive.force(name, reading)
            self.drive.tick()

    @rule(supply=st.sampled_from((0, 12000, 17999)), ms=lengths_ms)
    def dip(self, supply: int, ms: int) -> None:
        self.drive.supply = supply
        self.drive.run(ms)
        self.drive.supply = 24000

    @rule(amps=st.sampled_from(CURRENTS), ms=lengths_ms)
    def load(self, amps: int, ms: int) -> None:
        self.drive.amps = amps
        self.drive.run(ms)

    @rule(ms=st.sampled_from((14, 16, 40, 400, 1500)))
    def gap(self, ms: int) -> None:
        self.drive.gap(ms)

    @rule(boot=st.sampled_from((0, 0, 1, 8)))
    def power_cycle(self, boot: int) -> None:
        self.drive.power_up(boot)
        self.drive.run(150)

    @precondition(lambda self: self.drive.core.state in (FAULT, HELD))
    @rule(press_ms=st.sampled_from((1500, 2500)))
    def mend(self, press_ms: int) -> None:
        self.drive.place()
        self.drive.at("bottom")
        self.drive.run(500)
        self.drive.press(press_ms)
        self.drive.run(1200)

    @rule(ms=lengths_ms)
    def travel(self, ms: int) -> None:
        self.drive.ask("raise")
        self.drive.run(300)
        self.drive.at("middle")
        self.drive.run(ms)


SideBySide.TestCase.settings = settings(max_examples=60, stateful_step_count=30)
test_side_by_side = SideBySide.TestCase


@pytest.mark.parametrize("seed", range(20))
def test_walk(seed: int) -> None:
    drive = Drive(MEDLEY[seed % len(MEDLEY)], Pair)
    wander(drive, random.Random(seed), 60)
