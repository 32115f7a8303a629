"""Data of the shipped netlists against published values.

Sources stand beside each check; 'from memory' marks a value not seen in a public text.
"""

import pytest

from leafwinch_wiring.netlist import COPPER_OHM_MM2_PER_M, JOINT_OHM_MM2, load_netlist

REFERENCES = ("reference", "reference-12v")


def test_wire_resistance_gives_the_voltage_drop_of_iec_60364_5_52() -> None:
    """Annex G, u = b rho L I / S, b = 2, rho = 0.0225 ohm mm2/m, cos phi 1 (from memory).

    10 m of 10 mm2 at 60 A drop 2.70 V; 30 m of 2.5 mm2 at 16 A drop 8.64 V.
    """
    for length_m, mm2, amps, volts in ((10, 10, 60, 2.70), (30, 2.5, 16, 8.64)):
        assert 2 * COPPER_OHM_MM2_PER_M * length_m / mm2 * amps == pytest.approx(volts, rel=1e-3)
    wire = next(w for w in load_netlist("reference").wires if w.mark == "W9.1")
    assert wire.ohm == pytest.approx((0.0225 * wire.length_m + JOINT_OHM_MM2) / wire.mm2)


def test_copper_agrees_with_the_millivolt_table_of_bs_7671() -> None:
    """29, 18, 11 mV per ampere and metre for 1.5, 2.5, 4 mm2 at 70 degrees, loop of two."""
    for mm2, millivolts in ((1.5, 29), (2.5, 18), (4, 11)):
        assert 2000 * COPPER_OHM_MM2_PER_M / mm2 == pytest.approx(millivolts, rel=0.04)


@pytest.mark.parametrize("name", REFERENCES)
def test_contactors_operate_and_release_as_the_standard_and_makers_tables_say(name: str) -> None:
    """IEC 60947-4-1: operates from 85 %, drops out between 10 and 75 % for DC (from memory).

    Makers' tables for small contactors: NO closes in 9 to 24 ms, NC opens in 6 to 18 ms,
    NO opens in 5 to 19 ms, NC closes in 7 to 22 ms without suppression.
    """
    net = load_netlist(name)
    contactors = [part for part in net.parts.values() if part.kind == "contactor"]
    assert len(contactors) == 3
    for part in contactors:
        coil = part.coil
        assert coil is not None
        assert coil.pull_in <= 0.85
        assert 0.10 <= coil.drop_out <= 0.75
        assert 9 <= coil.operate_ms <= 24
        assert 6 <= coil.mirror_open_ms <= 18
        assert 5 <= coil.release_ms <= 19
        assert 7 <= coil.mirror_close_ms <= 22
        assert coil.mirror_open_ms < coil.operate_ms
        assert coil.release_ms < coil.mirror_close_ms


@pytest.mark.parametrize("name", REFERENCES)
def test_release_is_over_within_the_66_ms_that_a_suppressed_coil_may_take(name: str) -> None:
    """22 ms for the slowest NC contact, times three for an RC suppressor, is 66 ms.

    A clamp is quicker than that, a plain diode is not: the reference uses clamps.
    """
    net = load_netlist(name)
    for coil in net.coils[:3]:
        assert coil.suppression == "clamp"
        assert coil.release_ms < coil.mirror_close_ms < 66


@pytest.mark.parametrize("name", REFERENCES)
def test_contacts_that_must_open_have_direct_opening_action(name: str) -> None:
    """IEC 60947-5-1 annex K; required of emergency stops by ISO 13850 (from memory)."""
    net = load_netlist(name)
    for element in net.elements:
        kind = net.parts[element.part].kind
        if kind in ("stop_button", "limit_switch") or element.name.endswith("_nc"):
            assert element.direct_opening, element.name


@pytest.mark.parametrize("name", REFERENCES)
def test_coils_lie_on_the_earthed_side_and_contacts_on_the_other(name: str) -> None:
    """IEC 60204-1, 9.4.3.1 (from memory): an earth fault must neither start nor hold."""
    net = load_netlist(name)
    zero = net.net_of["TB1:-"]
    for coil in net.coils[:3]:
        assert net.net_of[coil.b] == zero
    for element in net.elements:
        assert zero not in (net.net_of[element.a], net.net_of[element.b]), element.name
    assert net.net_of["PE:2"] == zero


@pytest.mark.parametrize("name", REFERENCES)
def test_all_poles_are_disconnected(name: str) -> None:
    """IEC 60204-1: the isolator and the line contactor open every live pole (from memory)."""
    net = load_netlist(name)
    for ref in ("QB0", "QA0"):
        mains = [e for e in net.elements if e.part == ref and e.role == "main"]
        assert len(mains) >= 2


def test_direct_current_poles_are_rated_for_it() -> None:
    """An alternating-current rating does not cover direct current; common practice, no source."""
    net = load_netlist("reference-12v")
    for part in net.parts.values():
        for contact in part.contacts:
            if contact.role in ("main", "protect") and part.kind != "fuse":
                assert contact.dc_rated, (part.ref, contact.name)


@pytest.mark.parametrize("name", REFERENCES)
def test_control_and_limits_of_one_end_are_apart(name: str) -> None:
    """Working and final limit of one end share no bracket, box or cable.

    ISO 13849-1 annex F, separation against common causes (from memory).
    """
    net = load_netlist(name)
    for working, final in (("BG1", "BG3"), ("BG2", "BG4")):
        one, two = net.parts[working], net.parts[final]
        assert one.bracket != two.bracket
        assert one.at != two.at
        cables = [
            {w.cable for w in net.wires if w.cable and ref in (w.a[:3], w.b[:3])}
            for ref in (working, final)
        ]
        assert cables[0]
        assert not cables[0] & cables[1]
