"""Schedules and advice: nothing forgotten or twice, colours, duties and computed values.

Sources stand beside each check; 'from memory' marks a value not seen in a public text.
"""

import math
from pathlib import Path

import pytest

from leafwinch import signals
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import Netlist, load_netlist
from leafwinch_wiring.schedules import colours as colour_names
from leafwinch_wiring.schedules import loading
from leafwinch_wiring.schedules.cables import cable_list, core_list, wire_list
from leafwinch_wiring.schedules.functions import DRIVER_WORDS, SIGNAL_WORDS, functions
from leafwinch_wiring.schedules.ip_codes import code_for, meaning, places
from leafwinch_wiring.schedules.loading import Motor
from leafwinch_wiring.schedules.parts import PartRow, at_least, parts_list
from leafwinch_wiring.schedules.terminals import terminal_schedule
from tests.wiring.changed_netlist import changed

REFERENCES = ("reference", "reference-12v")
ALL = (*REFERENCES, "bare", "bare-12v")
MOTORS = {"capacitor_run": Motor(1.9, 8.0), "dc": Motor(35.0, 140.0, 3e-4)}


def row_of(net: Netlist, ref: str) -> PartRow:
    return next(row for row in parts_list(net, MOTORS[net.drive]) if ref in row.refs)


# ---- nothing forgotten, nothing twice ----------------------------------------------------
@pytest.mark.parametrize("name", ALL)
def test_every_strip_terminal_stands_once_in_its_order_with_every_conductor(name: str) -> None:
    net = load_netlist(name)
    rows = terminal_schedule(net)
    strips = [part for part in net.parts.values() if part.kind in ("terminals", "earth")]
    assert [row.name for row in rows] == [f"{p.ref}:{t}" for p in strips for t in p.terminals]
    for row in rows:
        joined = [wire for wire in net.wires if row.name in (wire.a, wire.b)]
        assert sorted(e.mark for e in (*row.inside, *row.outside)) == sorted(w.mark for w in joined)
        assert {e.mark for e in row.outside} == {w.mark for w in joined if w.cable}
        for end in (*row.inside, *row.outside):
            wire = next(w for w in joined if w.mark == end.mark)
            assert {row.name, end.far} == {wire.a, wire.b}
        crowded = max(len(row.inside), len(row.outside)) > 2
        assert bool(row.remark) == crowded


@pytest.mark.parametrize("name", ALL)
def test_every_cable_core_and_wire_stands_once(name: str) -> None:
    net = load_netlist(name)
    cores, wires, cables = core_list(net), wire_list(net), cable_list(net)
    assert [row.name for row in cables] == list(net.cables)
    every = [(c.name, n) for c in net.cables.values() for n in range(1, c.cores + 1)]
    assert [(row.cable, row.core) for row in cores] == every
    used = {f"{row.cable}.{row.core}": {row.start, row.end} for row in cores if row.start}
    assert used == {w.mark: {w.a, w.b} for w in net.wires if w.cable}
    assert [row.mark for row in wires] == [w.mark for w in net.wires if not w.cable]
    for row in cables:
        mine = [core for core in cores if core.cable == row.name]
        assert row.cores == len(mine)
        assert row.used == sum(bool(core.start) for core in mine) <= row.cores
        assert row.spare == row.cores - row.used
        for core in mine:
            if core.start:
                assert net.location_of(core.start) == row.start
                assert net.location_of(core.end) == row.end
            else:
                assert core.function.startswith("spare")


@pytest.mark.parametrize("name", ALL)
def test_every_part_stands_once_in_the_parts_list(name: str) -> None:
    net = load_netlist(name)
    rows = parts_list(net, MOTORS[net.drive])
    refs = [ref for row in rows for ref in row.refs]
    assert sorted(refs) == sorted(net.parts)
    for row in rows:
        assert row.quantity == len(row.refs) == len(row.texts)
        assert row.properties
        assert {net.parts[ref].kind for ref in row.refs} == {row.kind}


@pytest.mark.parametrize("name", ALL)
def test_every_conductor_has_a_name_of_its_own(name: str) -> None:
    """Two conductors with one name would send an electrician to the wrong terminal."""
    net = load_netlist(name)
    what = functions(net)
    outside = {f"{ref}:{t}" for ref, part in net.parts.items() for t in part.terminals}
    assert set(what) == outside
    words = {function.net: function.words for function in what.values()}
    assert len(set(words.values())) == len(words)
    assert max(map(len, words.values())) <= 60


def test_names_follow_the_signals_of_the_firmware() -> None:
    assert set(SIGNAL_WORDS) == set(signals.CONTACT_NAMES)
    assert set(DRIVER_WORDS) == set(signals.OUTPUT_NAMES)
    what = functions(load_netlist("reference"))
    assert what["XD1:5"].words == "a3, end of the chain, to KF1:I10"
    assert what["XD1:1"].words == "P24, +24 V behind FC2"
    assert what["QA0:A2"].words == "0 V of the control"
    assert what["MA1:PE"].words == "protective earth"
    assert what["XD1:22"].words.startswith("raise path")
    assert what["TB2:1"].words == "L behind QA0:1-2"


# ---- colours -----------------------------------------------------------------------------
@pytest.mark.parametrize("name", ALL)
def test_green_yellow_is_the_protective_conductor_always_and_nothing_else(name: str) -> None:
    """IEC 60204-1 clause 13.2.2."""
    net = load_netlist(name)
    earth = {wire.mark for wire in net.wires if wire.group == "earth"}
    green = {row.mark for row in wire_list(net) if row.colour == "green-yellow"}
    green |= {f"{r.cable}.{r.core}" for r in core_list(net) if r.mark == "green-yellow"}
    assert green == earth
    assert earth
    assert {row.name for row in cable_list(net) if row.protective} == {
        mark.split(".")[0] for mark in earth if "." in mark
    }


def test_colours_are_those_of_the_standard() -> None:
    """IEC 60204-1 clause 13.2.4: black power, red AC control, blue DC control, orange excepted.

    Clause 13.2.3: light blue neutral; 13.2.2: each of green and yellow 30 to 70 % on any 15 mm.
    """
    net = load_netlist("reference")
    by_mark = {row.mark: row.colour for row in wire_list(net)}
    assert (by_mark["2"], by_mark["11"], by_mark["107"]) == ("blue", "blue", "black")
    assert (by_mark["102"], by_mark["109"], by_mark["116"]) == ("light blue",) * 3
    assert (by_mark["117"], by_mark["121"]) == ("black", "black")  # either, as the motor is fed
    assert set(by_mark.values()) == {"black", "blue", "light blue", "green-yellow"}
    assert colour_names.MEANING["red"] == "control circuits, alternating current"
    assert colour_names.GREEN_YELLOW_SHARE == (0.3, 0.7)
    direct = {row.colour for row in wire_list(load_netlist("reference-12v"))}
    assert direct == {"black", "blue", "green-yellow"}  # no neutral in a battery's circuit


def test_a_circuit_taken_off_ahead_of_the_isolator_is_orange(tmp_path: Path) -> None:
    """IEC 60204-1 clauses 5.3.5 and 13.2.4: excepted circuits are orange."""
    edit = ('["FC1:2", "TB1:L", "105"]', '["QB0:1", "TB1:L", "105"]')
    net = changed(tmp_path, "reference", edit)
    by_mark = {row.mark: row.colour for row in wire_list(net)}
    assert by_mark["105"] == "orange"
    assert by_mark["101"] == "black"
    assert by_mark["103"] == "black"


def test_control_without_a_supply_of_its_own_on_mains_is_red(tmp_path: Path) -> None:
    """IEC 60204-1 clause 13.2.4: red for AC control circuits."""
    wire = '["SF1:3", "SF1:9", "107"],'
    group = f"control = [{wire}]\npower = [\n"
    net = changed(tmp_path, "bare", (wire, ""), ("power = [\n", group))
    assert {row.mark for row in wire_list(net) if row.colour == "red"} == {"107"}


# ---- cables ------------------------------------------------------------------------------
def test_cables_know_their_voltage_and_keep_mains_from_the_control() -> None:
    """IEC 60204-1 clause 13.1.3: circuits of different voltage apart, or insulated for the highest.

    300/500 V for 230 V: IEC 60227 (from memory).
    """
    rows = {row.name: row for row in cable_list(load_netlist("reference"))}
    assert {row.voltage for row in rows.values()} == {"24 V DC PELV", "230 V AC"}
    assert {name for name, row in rows.items() if row.voltage == "230 V AC"} == {"W9", "W10"}
    assert rows["W9"].insulation == "300/500 V"
    assert (rows["W3"].cores, rows["W3"].used, rows["W3"].spare) == (12, 11, 1)
    assert all(row.screen.startswith("no") for row in rows.values())
    bare = {row.name: row for row in cable_list(load_netlist("bare"))}
    assert bare["W5"].voltage == "protective earth"
    assert bare["W5"].insulation == "300/500 V"


def test_a_cable_with_the_sensors_signal_wants_a_screen(tmp_path: Path) -> None:
    """Common practice, no source: analogue signals outside the box in a screened cable."""
    wire = '["BC1:S1", "KF1:AP", "59"],'
    net = changed(tmp_path, "reference", (wire, f'{wire} ["KF1:AP", "PF1:1", "W3.12"],'))
    rows = {row.name: row for row in cable_list(net)}
    assert rows["W3"].screen.startswith("yes")
    assert rows["W2"].screen.startswith("no")


# ---- parts -------------------------------------------------------------------------------
@pytest.mark.parametrize("name", REFERENCES)
def test_each_contactor_is_asked_for_all_that_the_proof_builds_on(name: str) -> None:
    """Mirror contacts: IEC 60947-4-1 annex F. Coil from 85 % of Us: the same (from memory).

    Cage motors are AC-3, direct-current motors DC-3 (IEC 60947-4-1); a brake's coil is an
    electromagnet, DC-13 (IEC 60947-5-1); all from memory.
    """
    net = load_netlist(name)
    duty = "AC-3, 230 V AC" if net.drive == "capacitor_run" else "DC-3, 12 V DC"
    for ref in ("QA0", "QA1", "QA2"):
        row = row_of(net, ref)
        words = "; ".join(row.properties)
        coil = net.parts[ref].coil
        assert coil is not None
        assert f"coil {coil.nominal_v:.0f} V DC, {coil.ohm:.0f} ohm" in words
        assert f"pulls in from {coil.pull_in:.0%} or less (85% is the standard's most)" in words
        assert f"releases within {coil.release_ms:.0f} ms" in words
        assert "annex F" in words
        assert duty in words
        assert "one pole for the brake's coil: DC-13" in words
        assert "suppressed with a clamp, not with a plain diode" in words
        assert ("mechanically interlocked" in words) == (ref != "QA0")
    assert row_of(net, "QA1") == row_of(net, "QA2")


def test_coils_without_their_data_do_not_pass_unnoticed() -> None:
    for name in ALL:
        net = load_netlist(name)
        for ref, part in net.parts.items():
            assert (part.coil is not None) == (part.kind in ("contactor", "brake")), ref
            if part.coil is not None:
                assert any("coil" in clause for clause in row_of(net, ref).properties)


@pytest.mark.parametrize("name", REFERENCES)
def test_stops_and_limits_open_directly_and_carry_little(name: str) -> None:
    """Direct opening: IEC 60947-5-1 annex K. Emergency stop: ISO 13850, red on yellow.

    Hold-to-run: white, grey or black, never red, yellow or green (IEC 60204-1).
    """
    net = load_netlist(name)
    for ref in ("SF0", "SF1", "SF3", "BG1", "BG2", "BG3", "BG4", "BG5"):
        assert any("annex K" in clause for clause in row_of(net, ref).properties), ref
        assert any("low-level contacts" in clause for clause in row_of(net, ref).properties), ref
    assert any("red on yellow (ISO 13850)" in c for c in row_of(net, "SF0").properties)
    assert any("not red, yellow or green" in c for c in row_of(net, "SF1").properties)
    assert any("lockable in off (IEC 60947-3)" in c for c in row_of(net, "QB0").properties)


@pytest.mark.parametrize("name", REFERENCES)
def test_what_contacts_carry_is_ohms_law(name: str) -> None:
    """Textbook: 24 V over the coil's ohm; an input's 2700 ohm takes 8.9 mA, the lamp's 20 mA."""
    net = load_netlist(name)
    load = loading.carried(net)
    coil = net.parts["QA1"].coil
    assert coil is not None
    assert load["KF1:drive_raise"].most_a == pytest.approx(24 / coil.ohm, rel=0.06)
    assert load["BG1:second"].most_a == pytest.approx(24 / 2700, rel=0.03)
    assert load["KF1:drive_white"].most_a == pytest.approx(24 / 1200, rel=0.03)
    # The chain carries the line coil, one direction coil and the inputs behind it.
    both = 2 * 24 / coil.ohm + 2 * 24 / 2700
    assert load["SF0:path"].most_a == pytest.approx(both, rel=0.06)
    for ref, part in net.parts.items():
        for contact in part.contacts:
            if contact.wetting_ma:
                assert load[f"{ref}:{contact.name}"].least_a * 1000 >= contact.wetting_ma


def test_motor_contacts_can_break_the_starting_current() -> None:
    """IEC 60947-4-1: AC-3 breaks 8 and makes 10 times, DC-3 4 times its rated current (memory)."""
    alternating, direct = load_netlist("reference"), load_netlist("reference-12v")
    assert loading.operational_a(alternating, Motor(1.9, 8.0)) == pytest.approx(1.9)
    assert loading.operational_a(alternating, Motor(1.9, 24.0)) == pytest.approx(3.0)
    assert loading.operational_a(direct, Motor(20.0, 140.0)) == pytest.approx(35.0)
    words = "; ".join(next(r for r in parts_list(direct) if "QA0" in r.refs).properties)
    assert "DC-3, 12 V DC; rated for the motor's plate and 1/4 of its starting current" in words
    assert at_least(0.2603) == "at least 270 mA"
    assert at_least(1.9) == "at least 1.9 A"
    for bad in ((0.0, 1.0), (2.0, 1.0), (math.nan, 1.0), (1.0, math.inf)):
        with pytest.raises(BadInput, match="can't be; allowed is"):
            Motor(*bad)


def test_the_bare_switch_must_itself_break_the_motor() -> None:
    words = row_of(load_netlist("bare"), "SF1").properties
    assert "6 NO" in words
    assert "AC-3, 230 V AC, at least 1.9 A" in words


# ---- degrees of protection ---------------------------------------------------------------
def test_ip_codes_are_those_of_iec_60529() -> None:
    """IEC 60529: first digit 2 is 12.5 mm, 5 dust-protected, 6 dust-tight; second digit 4 splash,

    5 jet, 6 strong jet, 7 immersion for a time, 8 lasting immersion.
    """
    assert meaning("IP20") == "bodies over 12.5 mm (a finger); no protection"
    assert meaning("IP54") == "dust-protected; splashing water"
    assert meaning("IP65") == "dust-tight; water jets"
    assert meaning("IP66") == "dust-tight; powerful water jets"
    assert meaning("IPX7") == "immersion for a time (1 m, 30 min)"
    assert meaning("IPX8") == "lasting immersion"
    assert meaning("IP3X") == "bodies over 2.5 mm"
    for bad in ("IP", "IP7", "IP79", "IP 54", "65", "IPAB", "ip54", "IP655"):
        with pytest.raises(BadInput, match="allowed is IP with 0 to 6 and 0 to 8"):
            meaning(bad)


@pytest.mark.parametrize("name", ALL)
@pytest.mark.parametrize("over", ["pit", "stair", "water"])
def test_wet_places_and_water_want_more(name: str, over: str) -> None:
    """IEC 60364-7-709: at least IPX4 by the water, X5 jets, X6 waves (from memory)."""
    net = load_netlist(name)
    for row in places(net, over):
        assert row.wet == net.locations[row.name].wet
        assert int(row.code[3]) >= (5 if row.wet else 4)
        assert row.meaning == meaning(row.code)
        if over == "water":
            assert int(row.code[3]) >= 6
    for part in parts_list(net, None, over):
        wet = any(net.locations[place].wet for place in part.places)
        assert part.code == code_for(wet, over)
    with pytest.raises(BadInput, match="over is 'lava'; allowed are pit, stair, water"):
        code_for(True, "lava")
