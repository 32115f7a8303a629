"""The catalogue is complete, its ids are usable, and no single defect at rest starts a motion.

The rows come from the fault lists of ISO 13849-2:2012 annex D (tables D.4 to D.9, D.18 to
D.20; contents from memory, numbers of tables less surely so).
"""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from leafwinch import signals
from leafwinch_wiring.defects import KINDS, MECHANICS, WiringDefect, catalogue, find_defect
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import load_netlist
from leafwinch_wiring.network import Circuit

REFERENCES = ("reference", "reference-12v")
NAMES = (*REFERENCES, "bare", "bare-12v")

ANNEX_D = {
    "D.4 conductors: short between any two": {"bridge", "cable_crushed"},
    "D.4 conductors: short to earth": {"earth_fault"},
    "D.4 conductors: open circuit": {"wire_open", "return_lost", "cable_cut"},
    "D.6 terminals: short between neighbours": {"bridge", "water", "leak"},
    "D.6 terminals: open circuit": {"wire_open"},
    "D.8 switches: contact will not close": {"contact_dead"},
    "D.8 switches: contact will not open": {"contact_welded"},
    "D.8 switches: short between insulated contacts": {"bridge"},
    "D.8 switches: mechanical failure": {"actuator_lost", "actuator_stuck"},
    "D.9 contactors: stays energised with coil off": {"stuck_pulled"},
    "D.9 contactors: stays de-energised with coil on": {"not_pulling", "coil_open"},
    "D.9 contactors: contact will not open": {"pole_welded"},
    "D.9 contactors: contact will not close": {"pole_dead"},
    "D.9 contactors: NO and NC closed together": {"mirror_closed"},
    "D.18 semiconductors: short": {"driver_on"},
    "D.18 semiconductors: open": {"driver_off"},
    "D.19 optocouplers: open or shorted output": {"input_stuck"},
    "D.20 integrated circuits: pin stuck": {"input_stuck", "pump_static"},
}


@pytest.mark.parametrize("name", REFERENCES)
@pytest.mark.parametrize("row", list(ANNEX_D))
def test_every_annex_d_row_is_in_the_catalogue(name: str, row: str) -> None:
    kinds = {defect.kind for defect in catalogue(load_netlist(name))}
    assert ANNEX_D[row] <= kinds


@pytest.mark.parametrize("name", REFERENCES)
def test_every_kind_occurs_and_is_explained(name: str) -> None:
    found = catalogue(load_netlist(name), strict=True)
    assert {defect.kind for defect in found} == set(KINDS)
    assert {defect.mechanics for defect in found} - {""} == set(MECHANICS)
    assert all(defect.cause and defect.part for defect in found)


@pytest.mark.parametrize("name", NAMES)
def test_ids_are_unique_short_and_safe_in_a_shell(name: str) -> None:
    found = catalogue(load_netlist(name), strict=True)
    ids = [defect.id for defect in found]
    ids += [other for defect in found for other in defect.also]
    assert len(set(ids)) == len(ids)
    for one in ids:
        assert re.fullmatch(r"[A-Za-z0-9.:+_-]{3,48}", one), one


def test_single_defects_are_many_and_each_can_be_solved() -> None:
    for name in NAMES:
        net = load_netlist(name)
        for defect in catalogue(net):
            Circuit(net, (defect,)).solve(net.rest_mask)
    assert len(catalogue(load_netlist("reference"))) > 350


@pytest.mark.parametrize("name", REFERENCES)
def test_every_movable_element_wire_and_input_has_its_defects(name: str) -> None:
    net = load_netlist(name)
    found = catalogue(net)
    touched = {e for d in found for e in (*d.force_closed, *d.force_open)}
    # A supply cannot be welded on, but it can be lost.
    assert touched == set(net.element_names)
    ids = {one for d in found for one in (d.id, *d.also)}
    for wire in net.wires:
        assert f"{wire.mark if wire.cable else f'w{wire.mark}'}:open" in ids
    for signal in signals.CONTACT_NAMES:
        assert {f"KF1.{signal}:stuck-1", f"KF1.{signal}:stuck-0"} <= ids


@pytest.mark.parametrize("name", REFERENCES)
def test_strict_bridges_any_two_nets_of_a_group_or_names_the_contact_between(name: str) -> None:
    net = load_netlist(name)
    joined = {
        frozenset((net.net_of[a], net.net_of[b]))
        for d in catalogue(net, strict=True)
        if d.id.startswith("bridge:")
        for a, b, _ in d.links
    }
    joined |= {frozenset((net.net_of[e.a], net.net_of[e.b])) for e in net.elements}
    control = {net.net_of[w.a] for w in net.wires if w.group == "control"}
    for one in control:
        for two in control - {one}:
            assert frozenset((one, two)) in joined, (one, two)


@pytest.mark.parametrize("name", REFERENCES)
def test_no_single_defect_at_rest_turns_the_motor_or_lifts_the_brake(name: str) -> None:
    """ISO 13849-1, category 3: a single fault does not lose the safety function.

    Includes every bridge between two nets. The contactors follow their coils here; drivers
    are off unless the defect itself turns one on.
    """
    net = load_netlist(name)
    for defect in catalogue(net, strict=True):
        circuit = Circuit(net, (defect,))
        solution = circuit.solve(settled(circuit, net.rest_mask))
        assert max(abs(ratio) for ratio in solution.windings) < 0.02, defect.id
        assert solution.coil_ratio[3] < net.coils[3].drop_out, defect.id


def settled(circuit: Circuit, mask: int) -> int:
    """Let each contactor follow its coil until nothing changes; protection opens too."""
    net = circuit.net
    for _ in range(8):
        before = mask
        solution = circuit.solve(mask)
        mask &= ~solution.trip_mask
        for coil, ratio in zip(net.coils, solution.coil_ratio, strict=True):
            if net.parts[coil.name].kind == "contactor" and ratio >= coil.pull_in:
                mask = net.actuate(mask, coil.name)
        if mask == before:
            break
    return mask


@pytest.mark.parametrize("control", ["raise", "lower"])
@pytest.mark.parametrize("name", REFERENCES)
def test_no_single_conductor_defect_with_the_control_held_drives_the_other_way(
    name: str, control: str
) -> None:
    """The wrong direction's coil never gets through while its own control contact is open.

    Only a bridge straight onto that coil's own conductor can, and then the line contactor
    still waits for the board, which sees the wrong mirror open.
    """
    net = load_netlist(name)
    wrong = 2 if control == "raise" else 1
    coil_net = net.net_of[f"QA{wrong}:A1"]
    mask = net.actuate(net.rest_mask, "SF1", control)
    mask |= net.mask_of(["KF1:drive_line", f"KF1:drive_{control}"])
    for defect in catalogue(net):
        onto_coil = any(
            coil_net in (net.net_of.get(a), net.net_of.get(b)) for a, b, _ in defect.links
        )
        if not onto_coil:
            ratio = Circuit(net, (defect,)).solve(mask).coil_ratio[wrong]
            assert ratio < net.coils[wrong].pull_in, defect.id


def test_an_earth_fault_opens_the_fuse_once_its_core_is_live() -> None:
    """0 V is earthed, so an earth fault is a short and not a hidden return (IEC 60204-1, 9.4)."""
    net = load_netlist("reference")
    fuse = net.mask_of(["FC2:fuse"])
    raising = net.actuate(net.rest_mask, "SF1", "raise")
    assert Circuit(net, (find_defect(net, "W2.1:earth"),)).solve(net.rest_mask).trip_mask == fuse
    core = find_defect(net, "W6.1:earth")
    assert Circuit(net, (core,)).solve(net.rest_mask).trip_mask == 0
    assert Circuit(net, (core,)).solve(raising).trip_mask == fuse


def test_an_earth_fault_of_a_motor_core_trips_by_residual_current() -> None:
    net = load_netlist("reference")
    running = net.actuate(net.actuate(net.rest_mask, "QA0"), "QA1")
    solution = Circuit(net, (find_defect(net, "W9.1:earth"),)).solve(running)
    assert solution.trip_mask == net.mask_of(["FC1:pole1", "FC1:pole2"])
    leak = WiringDefect(id="x", kind="leak", cause="x", part="x", links=(("MA1:U1", "PE", 5000.0),))
    # 230 V over 5 kilohm is 46 mA, above 30 mA; over 20 kilohm it is 11 mA.
    assert Circuit(net, (leak,)).solve(running).trip_mask
    faint = WiringDefect(
        id="y", kind="leak", cause="y", part="y", links=(("MA1:U1", "PE", 20000.0),)
    )
    assert not Circuit(net, (faint,)).solve(running).trip_mask


def test_a_welded_pole_holds_its_mirrors_open_unless_they_are_bridged() -> None:
    net = load_netlist("reference")
    weld = find_defect(net, "QA1.pole1:welded")
    bridged = find_defect(net, "QA1.mirror:stuck-closed")
    rest = net.rest_mask
    assert not Circuit(net, (weld,)).solve(rest).inputs & signals.RAISE_RELEASED
    assert Circuit(net, (weld, bridged)).solve(rest).inputs & signals.RAISE_RELEASED
    assert Circuit(net, (bridged, weld)).solve(rest).inputs & signals.RAISE_RELEASED


@given(st.data())
def test_two_defects_act_the_same_in_either_order(data: st.DataObject) -> None:
    net = load_netlist("reference")
    everything = catalogue(net)
    one, two = data.draw(st.tuples(st.sampled_from(everything), st.sampled_from(everything)))
    if {name for name, _ in one.series} & {name for name, _ in two.series}:
        return
    mask = net.rest_mask ^ (1 << data.draw(st.integers(0, len(net.elements) - 1)))
    ahead, back = (Circuit(net, pair).solve(mask) for pair in ((one, two), (two, one)))
    assert ahead.inputs == back.inputs
    assert ahead.coil_ratio == pytest.approx(back.coil_ratio, abs=1e-6)


def test_find_defect_knows_places_that_another_id_stands_for() -> None:
    net = load_netlist("reference")
    assert find_defect(net, "bridge:W6.1-W6.2").id == "BG1.path:welded"
    with pytest.raises(BadInput, match=r"has no wiring defect 'BG1.path:rusty'; known ones are"):
        find_defect(net, "BG1.path:rusty")


def test_a_defect_of_another_netlist_is_refused() -> None:
    bare = load_netlist("bare")
    for name, words in (("BG1.second:dead", "element"), ("W3.7:open", "wire or element")):
        defect = find_defect(load_netlist("reference"), name)
        with pytest.raises(BadInput, match=words):
            Circuit(bare, (defect,))


@pytest.mark.parametrize("name", REFERENCES)
def test_a_stuck_input_reads_its_level_and_leaves_the_others_alone(name: str) -> None:
    net = load_netlist(name)
    healthy = Circuit(net)
    raising = net.actuate(net.rest_mask, "SF1", "raise")
    for index, signal in enumerate(signals.CONTACT_NAMES):
        bit = 1 << index
        for mask in (net.rest_mask, raising, net.rest_mask & ~net.mask_of(["TB1:on"])):
            inputs = healthy.solve(mask).inputs
            stuck = [
                Circuit(net, (find_defect(net, f"KF1.{signal}:stuck-{level}"),)).solve(mask).inputs
                for level in (0, 1)
            ]
            assert stuck == [inputs & ~bit, inputs | bit], signal


@pytest.mark.parametrize("name", NAMES)
def test_forced_and_held_elements_stand_as_the_defect_says(name: str) -> None:
    net = load_netlist(name)
    for defect in catalogue(net):
        circuit = Circuit(net, (defect,))
        for mask in (0, net.rest_mask, (1 << len(net.elements)) - 1):
            effective = circuit.effective(mask)
            closed = net.mask_of((*defect.force_closed, *defect.held_closed))
            opened = net.mask_of((*defect.force_open, *defect.held_open))
            assert effective & closed == closed, defect.id
            assert effective & opened == 0, defect.id
            assert effective & ~(closed | opened) == mask & ~(closed | opened), defect.id


def test_any_two_terminals_of_a_small_device_can_touch() -> None:
    net = load_netlist("reference")
    joined = {
        frozenset((net.net_of.get(a, a), net.net_of.get(b, b)))
        for d in catalogue(net)
        for a, b, _ in d.links
    }
    for ref in ("TB2", "BG1", "SF0"):
        ends = [net.net_of[f"{ref}:{terminal}"] for terminal in net.parts[ref].terminals]
        contacts = {
            frozenset((net.net_of[e.a], net.net_of[e.b])) for e in net.elements if e.part == ref
        }
        pairs = {frozenset((a, b)) for a in ends for b in ends if a != b}
        assert pairs - contacts <= joined, ref
