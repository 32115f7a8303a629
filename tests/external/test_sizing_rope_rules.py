"""Rope, purchase, drum and discard against standards and wire-rope handbooks."""

import dataclasses
from collections.abc import Callable

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
        assert {group.drum_ratio, group.sheave_ratio} <= r20


def test_heavier_groups_ask_for_more() -> None:
    """ISO 4308-1: all three grow from M1 to M5."""
    groups = [dataclasses.astuple(group) for group in rope.GROUPS.values()]
    for column in zip(*groups, strict=True):
        assert sorted(column) == list(column)


def test_allowed_pull_of_a_quarter_inch_rope() -> None:
    """Handbook table of safe loads: 24.4 kN by 5 is printed as 4.89 kN (4.88)."""
    pull_kn = 24.4 / rope.WORKING_COEFFICIENT
    assert pull_kn == pytest.approx(4.89, abs=0.015)


def test_lead_line_of_a_load() -> None:
    """Wire Rope Users Manual: 6000 lb on four plain parts and two lead sheaves: 2202 lb."""
    assert 6000 * rope.lead_line_share(4, 1.09, 2) == pytest.approx(2202, abs=2.5)


def test_a_purchase_without_friction_is_just_its_parts() -> None:
    """Statics: without friction each of N parts bears one Nth, whatever the sheaves before it."""
    for parts in (1, 2, 3, 4):
        assert rope.lead_line_share(parts, 1.0, 3) == pytest.approx(1.0 / parts)


def test_discard_only_of_what_the_table_lists() -> None:
    """ISO 4309 has another table for rotation-resistant ropes such as 18x7."""
    assert rope.discard_wires("18x7 FC") is None
    assert rope.discard_wires(None) is None
    listed = {name for name in rope.ROPE_FACTORS if rope.discard_wires(name)}
    assert listed == set(rope.ROPE_FACTORS) - {"18x7 FC"}


@pytest.mark.parametrize(
    "call",
    [
        lambda: rope.breaking_force_n("5x5", 0.004, 1770),
        lambda: rope.rope_kg_per_m("6x37M FC", 0.004),
        lambda: rope.design_factor(1.0, 1.0, 0.0),
        lambda: rope.bend_ratio(0.1, 0.0),
        lambda: rope.lead_line_share(0, 1.04),
        lambda: rope.sheave_reaction_factor(181),
        lambda: rope.fleet_angle_deg(0.1, 0.0),
    ],
)
def test_what_the_tables_do_not_hold_is_refused(call: Callable[[], object]) -> None:
    """A value outside a table has no source, so none is given."""
    with pytest.raises(ValueError, match="allowed"):
        call()
