"""The core equals one that asks every rule in every pass: outputs and the whole state.

No source: that a rule may be left out where it would do nothing is a claim of this core alone.
"""

import random

import pytest

from leafwinch.controller import Controller
from leafwinch.settings import BUCKETS, Settings
from leafwinch.settings_schema import settings_from
from tests.firmware.drive import Drive
from tests.firmware.plain_core import PlainCore
from tests.firmware.random_walk import change, mend, travel
from tests.firmware.scenarios_faults import QUICK, READY, UP

LEARNED = {**QUICK, "envelope_learned": 1, "jam_margin_ma": 0, "under_margin_ma": 0}
DOWN = "at top; settle; ask lower; run 300; at middle; run 700;"
SIGNED = {**QUICK, "current_signed": 1}
UNFITTED = {**QUICK, "slack_fitted": 0}
KINDS = {"quick": QUICK, "learned": LEARNED, "signed": SIGNED, "no slack switch": UNFITTED}

# What a walk meets too seldom: each after a time in which the rule had nothing to do.
SCRIPTS = {
    "slack after taut": DOWN + "run 400; open rope_taut; run 3000",
    "taut after slack": DOWN + "run 400; open rope_taut; run 100; close rope_taut; run 400",
    "negative current at rest": READY + "rest_amps -400; run 1500",
    "positive current at rest": READY + "rest_amps 400; run 300; rest_amps 0; run 600",
    "current at the limit of rest": READY + "rest_amps 300; run 900; rest_amps -300; run 900",
    "line mirror stays open": UP + "open line_released; ask nothing; run 3000",
    "line mirror of a running motor closes": UP + "run 300; close line_released; run 200",
    "final after a healthy time": UP + "run 300; open top_final; run 400; close top_final; run 400",
    "key turned for a while": READY + "open recovery_off; run 60; close recovery_off; run 300",
    "stopped at the end with the hand on": UP + "run 2500; at top; run 12000; ask nothing; run 900",
    "halfway": UP + "force raise_path open; run 4000; force raise_path free; run 900",
    "drift": READY + "run 2000; at bottom; run 300; at middle; run 300",
    "short and long presses": READY + "open stop_ok; run 60; close stop_ok; press 500; press 11000",
    "no sample": UP + "sampled no; run 50; sampled yes; run 50; sampled no; run 200",
    "both ends": UP + "run 300; at both; run 400",
    "supply for one pass": UP + "run 300; supply 0; run 5; supply 24000; run 50; supply 0; run 50",
    "one contact for one pass": UP + "force chain_ok open; run 5; force chain_ok free; run 50",
    "two closed, one open, one closed": READY
    + "open rope_taut; run 100; close rope_taut; run 10; open rope_taut; run 5;"
    + "close rope_taut; run 5; open rope_taut; run 50",
    "a slow hand": UP + "force raise_path open; run 60; ask nothing; run 200",
    "a travel through the buckets": UP + "run 3000",
    "much current": UP + "amps 90; run 200; amps 7900; run 600; amps 9000; run 900",
}


class Pair(Controller):
    """The core, and beside it the one that leaves nothing out."""

    def __init__(self, values: dict[str, int], kept: tuple[int, ...] | None, boot: int) -> None:
        super().__init__(settings_of(values), kept, boot)
        self.plain = PlainCore(settings_of(values), kept, boot)
        self.passes = 0

    def step(self, now_ms: int, contacts: int, current_ma: int, supply_mv: int) -> int:
        out = super().step(now_ms, contacts, current_ma, supply_mv)
        wanted = self.plain.step(now_ms, contacts, current_ma, supply_mv)
        self.passes += 1
        if out != wanted or self.snapshot() != self.plain.snapshot():
            raise AssertionError(f"pass {self.passes}: {differences(self, self.plain)}")
        return out

    def stored(self, now_ms: int) -> None:
        super().stored(now_ms)
        self.plain.stored(now_ms)


def settings_of(values: dict[str, int]) -> Settings:
    """Return the settings; a learned envelope is narrower from bucket to bucket."""
    settings = settings_from(values)
    for bucket in range(BUCKETS):
        settings.raise_low_ma[bucket] = settings.lower_low_ma[bucket] = 4000
        settings.raise_high_ma[bucket] = settings.lower_high_ma[bucket] = 5600 - 300 * bucket
    return settings


def differences(core: Controller, plain: Controller) -> list[str]:
    """Return the entries of the state that differ."""
    return [
        f"{type(theirs).__name__}.{name} is {getattr(ours, name)}, not {getattr(theirs, name)}"
        for ours, theirs in zip(core.parts(), plain.parts(), strict=True)
        for name in theirs.FIELDS
        if getattr(ours, name) != getattr(theirs, name)
    ]


@pytest.mark.parametrize("kind", list(KINDS))
@pytest.mark.parametrize("name", list(SCRIPTS))
def test_after_a_time_with_nothing_to_do(name: str, kind: str) -> None:
    drive = Drive(KINDS[kind], Pair)
    drive.play(SCRIPTS[name])
    assert drive.core.state in range(5)


@pytest.mark.parametrize("kind", list(KINDS))
def test_in_a_random_walk(kind: str) -> None:
    chance = random.Random(f"nothing left out, {kind}")
    drive = Drive(KINDS[kind], Pair)
    for number in range(24):
        if number % 6 == 0:
            mend(drive, chance)
            travel(drive, chance)
        change(drive, chance)
        drive.run(chance.choice((5, 10, 20, 60, 60, 200, 700)))


def test_a_rule_that_is_left_out_too_often_is_found() -> None:
    class Forgetful(Pair):
        def _judge(self, dt_ms: int, c: int) -> None:
            before = self.ends.rest_ms
            super()._judge(dt_ms, c)
            self.ends.rest_ms = before

    drive = Drive(QUICK, Forgetful)
    with pytest.raises(AssertionError, match=r"Ends\.rest_ms is 0, not"):
        drive.play(READY)
