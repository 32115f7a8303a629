"""No integer in the core ever leaves +/-2^30, up to 500 A: larger ones allocate on a board."""

import random
from typing import Any

import pytest

from leafwinch.controller import Controller
from leafwinch.settings import Settings
from leafwinch.settings_schema import SCHEMA, settings_from
from tests.firmware.drive import Drive
from tests.firmware.scenarios_faults import FAULT_SCENARIOS, QUICK, READY
from tests.firmware.scenarios_traps import TRAP_SCENARIOS

BOUND = 1 << 30


class Bounded(int):
    """An integer that refuses every operation whose result a small board could not hold."""


def _bounded(name: str) -> None:
    plain = getattr(int, name)

    def operation(self: int, *others: Any) -> Any:
        result = plain(self, *others)
        if result is NotImplemented or isinstance(result, bool):
            return result
        if not -BOUND < result < BOUND:
            raise OverflowError(f"{name} of {int(self)} and {others} gives {result}")
        return Bounded(result)

    setattr(Bounded, name, operation)


for _operator in ("add", "sub", "mul", "floordiv", "mod", "and", "or", "xor", "lshift", "rshift"):
    _bounded(f"__{_operator}__")
    _bounded(f"__r{_operator}__")
for _operator in ("neg", "invert", "pos", "abs"):
    _bounded(f"__{_operator}__")


def bounded_settings(values: dict[str, int]) -> Settings:
    settings = settings_from(values)
    for row in SCHEMA:
        setattr(settings, row[0], Bounded(getattr(settings, row[0])))
    return settings


class BoundedCore(Controller):
    """The core with every number in its state and inputs bounded."""

    def __init__(self, values: dict[str, int], kept: tuple[int, ...] | None, boot: int = 0) -> None:
        bounded = None if kept is None else tuple(Bounded(value) for value in kept)
        super().__init__(bounded_settings(values), bounded, boot)
        self.restore(tuple(Bounded(value) for value in self.snapshot()))

    def step(self, now_ms: int, contacts: int, current_ma: int, supply_mv: int) -> int:
        return super().step(
            Bounded(now_ms), Bounded(contacts), Bounded(current_ma), Bounded(supply_mv)
        )


@pytest.mark.parametrize("value", [BOUND - 1, -BOUND + 1])
def test_the_bound_can_be_broken(value: int) -> None:
    assert Bounded(value) + 0 == value
    with pytest.raises(OverflowError, match=r"__add__"):
        Bounded(value) + (1 if value > 0 else -1)
    with pytest.raises(OverflowError, match=r"__rmul__"):
        2 * Bounded(value)
    with pytest.raises(OverflowError, match=r"__lshift__"):
        Bounded(value) << 1


@pytest.mark.parametrize("scenario", FAULT_SCENARIOS + TRAP_SCENARIOS, ids=lambda row: str(row[0]))
def test_scenarios_stay_in_bounds(scenario: tuple[str, dict[str, int], str]) -> None:
    Drive(scenario[1], BoundedCore).play(scenario[2])


EXTREMES = {row[0]: row[3] for row in SCHEMA if row[0] not in ("current_signed", "lower_drives")}
# The order rules need their left sides smaller.
EXTREMES.update(
    travel_raise_ms=299999, travel_lower_ms=299999, early_raise_ms=299998, early_lower_ms=299998,
    run_max_ma=499998, trip_ma=499999, missing_raise_ma=499997, missing_lower_ma=0,
    thermal_base_ma=499999, slack_allow_ms=9999, extra_ms=300000,
)  # fmt: skip
HOT = {**QUICK, "thermal_base_ma": 100, "thermal_heat_s": 10, "duty_allow_ms": 3000000}


@pytest.mark.parametrize("signed", [0, 1])
@pytest.mark.parametrize("values", [QUICK, EXTREMES, HOT])
def test_currents_up_to_500_a_stay_in_bounds(values: dict[str, int], signed: int) -> None:
    chance = random.Random(7)
    drive = Drive({**values, "current_signed": signed}, BoundedCore)
    drive.play("at bottom; settle")
    for _ in range(150):
        drive.amps = chance.choice((500000, -500000, 499999, 1 << 19, 0, 5000, -5000))
        drive.rest_amps = chance.choice((0, 0, 500000, -500000))
        drive.ask(chance.choice(("raise", "lower", "nothing", "nothing")))
        drive.at(chance.choice(("bottom", "middle", "top")))
        drive.run(chance.randrange(0, 400))
        drive.gap(chance.choice((5, 14, 16, 999, 5000, BOUND - 1)))
        if chance.random() < 0.3:
            drive.rest_amps = 0
            drive.play("ask nothing; run 1000; press 2500; run 1000")


def test_a_start_at_500_a_stays_in_bounds() -> None:
    drive = Drive({**QUICK, "trip_ms": 500}, BoundedCore)
    drive.play(READY + "amps 500000; ask raise; run 300; gap 1000; run 100; fault: current_trip")
