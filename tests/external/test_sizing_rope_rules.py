"""Rope, purchase, drum and discard against standards and wire-rope handbooks."""

from collections.abc import Callable
from typing import Any, cast

import pytest

from leafwinch_sim.sizing import rope_rules as rope
from tests.external.sizing_rows import Row
from tests.external.sizing_values_rope import ROPE_ROWS


@pytest.mark.parametrize("row", ROPE_ROWS, ids=str)
def test_published_value(row: Row) -> None:
    """Each row names its source."""
    assert row.holds(), row.words()


def test_bend_ratios_are_preferred_numbers() -> None:
    """ISO 3, series R20: the ratios of ISO 4308-1 are taken from it."""
    r20 = {10, 11.2, 12.5, 14, 16, 18, 20, 22.4, 25}
    for group in rope.GROUPS.values():
        ratios = (group.drum_ratio, group.sheave_ratio, group.compensating_ratio)
        assert all(ratio is None or ratio in r20 for ratio in ratios)


def test_heavier_groups_ask_for_more() -> None:
    """ISO 4308-1: Zp grows from M1 to M8, and a standing rope needs no more than a running one."""
    groups = list(rope.GROUPS.values())
    assert sorted(group.running for group in groups) == [group.running for group in groups]
    assert all(group.standing <= group.running for group in groups)


def test_allowed_pull_of_a_quarter_inch_rope() -> None:
    """Handbook table of safe loads: 24.4 kN by 5 is printed as 4.89 kN (4.88)."""
    pull_kn = 24.4 / rope.WORKING_COEFFICIENT
    assert pull_kn == pytest.approx(4.89, abs=0.015)


def test_lead_line_of_a_load() -> None:
    """Wire Rope Users Manual: 6000 lb on four plain parts and two lead sheaves: 2202 lb."""
    assert 6000 * rope.lead_line_share(4, 1.09, 2) == pytest.approx(2202, abs=2.5)


def test_pull_at_once_and_load_agree() -> None:
    """The two handbook formulas are one: a sheave of efficiency E has the factor 1 / E.

    The advantage counts the sheaves of the block, the lead line one more.
    """
    for parts in (1, 2, 3, 4):
        share = rope.lead_line_share(parts, 1 / 0.96)
        assert share * rope.block_advantage(parts, 0.96) == pytest.approx(1.0)


@pytest.mark.parametrize(
    "call",
    [
        lambda: rope.breaking_force_n("5x5", 0.004, 1770),
        lambda: rope.rope_kg_per_m("6x37M FC", 0.004),
        lambda: rope.design_factor(1.0, 1.0, 0.0),
        lambda: rope.bend_ratio(0.1, 0.0),
        lambda: rope.drum_turns(1.0, 2, 0.0),
        lambda: rope.lead_line_share(0, 1.04),
        lambda: rope.lead_line_share(2, 0.99),
        lambda: rope.block_advantage(2, 1.01),
        lambda: rope.block_advantage(0, 0.9),
        lambda: rope.sheave_reaction_factor(181),
        lambda: rope.fleet_angle_deg(0.1, 0.0),
        lambda: rope.discard_wires(0, 6),
        lambda: rope.discard_wires(114, cast(Any, 10)),
    ],
)
def test_what_the_tables_do_not_hold_is_refused(call: Callable[[], object]) -> None:
    """A value outside a table has no source, so none is given."""
    with pytest.raises(ValueError, match="allowed"):
        call()
