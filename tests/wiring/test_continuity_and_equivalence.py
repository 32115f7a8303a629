"""Measurements with the supply off find what no run reveals; equal circuits are told apart."""

import pytest

from leafwinch_wiring.continuity import finds, sheet, state_for
from leafwinch_wiring.defects import catalogue, find_defect
from leafwinch_wiring.equivalence import same_outcome
from leafwinch_wiring.measure import resistances
from leafwinch_wiring.netlist import load_netlist
from leafwinch_wiring.network import Circuit

MUST_FIND = (
    "contact_welded",
    "contact_dead",
    "contact_high_ohmic",
    "pole_welded",
    "pole_dead",
    "mirror_closed",
    "mirror_open",
    "wire_open",
    "return_lost",
    "earth_bond_lost",
    "cable_cut",
    "actuator_lost",
    "actuator_stuck",
)


@pytest.mark.parametrize("name", ["reference", "reference-12v"])
def test_sheet_finds_every_defect_of_a_contact_or_conductor(name: str) -> None:
    net = load_netlist(name)
    # One in four of each kind, chosen by position, keeps this quick.
    chosen = [d for kind in MUST_FIND for d in [d for d in catalogue(net) if d.kind == kind][::4]]
    assert {d.kind for d in chosen} == set(MUST_FIND)
    missed = [d.id for d in chosen if not finds(net, d)]
    assert missed == []


def test_sheet_says_what_it_found_in_words() -> None:
    net = load_netlist("reference")
    assert finds(net, find_defect(net, "FC2.fuse:welded")).startswith("contact FC2:fuse operated")
    assert "wire E1" in finds(net, find_defect(net, "wE1:open"))
    assert finds(net, find_defect(net, "QA1-QA2:interlock-lost")) == ""


def test_readings_are_what_the_circuit_has_by_hand() -> None:
    """A coil reads its own resistance, a wire 0.0225 ohm mm2/m with two clamped ends."""
    net = load_netlist("reference")
    circuit = Circuit(net)
    lines = {item.what: item for item in sheet(net)}
    coil = lines["coil QA0"]
    mask = state_for(net, coil)
    [ohm] = resistances(circuit, mask, [(coil.a, coil.b)])
    assert ohm == pytest.approx(192.0, rel=0.01)
    core = lines["wire W2.4"]
    [ohm] = resistances(circuit, mask, [(core.a, core.b)])
    assert ohm == pytest.approx((0.0225 * 6.0 + 0.002) / 0.75, rel=1e-3)
    [ohm] = resistances(circuit, mask, [("PE:2", "PE:3")])
    assert ohm == 0.0


def test_same_outcome_tells_a_harmless_leak_from_a_welded_contact() -> None:
    net = load_netlist("reference")
    sound = Circuit(net)
    masks = [net.rest_mask, net.actuate(net.rest_mask, "SF1", "raise")]
    leak = Circuit(net, (find_defect(net, "leak10k:W6.1-W6.4"),))
    welded = Circuit(net, (find_defect(net, "SF1.raise_no:welded"),))
    assert same_outcome(sound, leak, masks)
    assert not same_outcome(sound, welded, masks)
    assert same_outcome(sound, welded, masks[1:])
