"""No integer of a pass of the edge ever leaves +/-2^30: larger ones allocate on a board.

CRC-32 is the exception that the page states: it is reckoned at rest only.
"""

import random
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from leafwinch.edge.crc import crc16
from leafwinch.edge.lines import fill, seal
from leafwinch.edge.trace import FIELDS, LAYOUT
from leafwinch.numbers import NUMBER_MAX
from tests.edge.flash import Flash
from tests.edge.life import QUICK, Life, commission, live
from tests.firmware.test_int_bounds import Bounded, BoundedCore


class Bounds(list[Bounded]):
    """An array that keeps its bounded integers."""


def bounds(values: Any) -> Any:
    return Bounds(Bounded(value) for value in values)


@given(st.binary(min_size=64, max_size=64))
def test_check_sums_of_lines_and_events(data: bytes) -> None:
    assert crc16(bounds(data), Bounded(0), Bounded(64)) == crc16(bytearray(data), 0, 64)
    line = bounds(data)
    plain = bytearray(data)
    assert seal(line) == seal(plain)
    assert bytes(line) == plain


@given(st.lists(st.integers(-NUMBER_MAX, NUMBER_MAX), min_size=FIELDS, max_size=FIELDS))
def test_fields_of_any_size(values: list[int]) -> None:
    values = [value if index == 8 else abs(value) for index, value in enumerate(values)]
    values[8] = max(-999_999, min(999_999, values[8]))
    line = bounds(bytes(64))
    fill(line, bounds(values), LAYOUT, FIELDS)


class BoundedLife(Life):
    """A life in which every number that the core gives is bounded."""

    def _make(self, values: dict[str, int], kept: tuple[int, ...] | None, boot: int) -> BoundedCore:
        core = BoundedCore({**QUICK}, kept, boot)
        for name in ("ms", "age_s", "unrecorded_s", "raise_ms", "lower_ms", "line_ms"):
            setattr(self.keeper, name, Bounded(getattr(self.keeper, name)))
        self.keeper.journal.uptime_s = Bounded(0)
        self.keeper.records.uptime_s = Bounded(self.keeper.records.uptime_s)
        return core

    def contacts(self) -> int:
        return Bounded(super().contacts())

    def edge_pass(self, contacts: int, out: int) -> None:
        supply, self.supply = self.supply, Bounded(self.supply)
        super().edge_pass(contacts, Bounded(out))
        self.supply = supply


def new_life() -> BoundedLife:
    flash = Flash()
    commission(flash, QUICK)
    return BoundedLife(flash)


def test_a_life_stays_in_bounds() -> None:
    life = new_life()
    live(life)
    assert isinstance(life.keeper.ms, Bounded)
    assert isinstance(life.keeper.raise_ms, Bounded)
    life.keeper.learning.arm()
    life.play("at bottom; settle")
    life.full("raise")
    life.full("lower")


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 1 << 20))
def test_extremes_stay_in_bounds(seed: int) -> None:
    chance = random.Random(seed)
    life = new_life()
    life.play("at bottom; settle")
    for _ in range(12):
        life.amps = chance.choice((500_000, -500_000, 0, 1 << 19))
        life.supply = chance.choice((24_000, 24_000, 65_535, 99_999, 0))
        life.ask(chance.choice(("raise", "lower", "nothing")))
        life.run(chance.randrange(0, 300))
        life.gap(chance.choice((5, 999, 100_000, NUMBER_MAX)))
    assert life.port.sized
