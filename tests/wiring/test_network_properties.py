"""Properties that hold for any state of the network, drawn by Hypothesis."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from leafwinch import signals
from leafwinch_wiring import block, network
from leafwinch_wiring.defect_types import Effects
from leafwinch_wiring.defects import catalogue
from leafwinch_wiring.measure import contact_currents, voltages
from leafwinch_wiring.netlist import Netlist, load_netlist
from leafwinch_wiring.network import Circuit, Solution

NAMES = ("reference", "reference-12v", "bare", "bare-12v")
REFERENCES = ("reference", "reference-12v")
CIRCUITS = {name: Circuit(load_netlist(name)) for name in NAMES}

names = st.sampled_from(NAMES)
references = st.sampled_from(REFERENCES)
raw_masks = st.integers(0, 2**48 - 1)


def mask_for(
    net: Netlist, raw: int, closed: tuple[str, ...] = (), opened: tuple[str, ...] = ()
) -> int:
    mask = raw & ((1 << len(net.elements)) - 1)
    return (mask | net.mask_of(closed)) & ~net.mask_of(opened)


def as_tuple(solution: Solution) -> tuple[object, ...]:
    return tuple(getattr(solution, name) for name in Solution.__slots__)


@given(references, raw_masks)
def test_control_in_the_middle_energises_no_direction(name: str, raw: int) -> None:
    circuit = CIRCUITS[name]
    mask = mask_for(circuit.net, raw, opened=("SF1:raise_no", "SF1:lower_no"))
    _, up, down, _ = circuit.solve(mask).coil_ratio
    assert up < 0.01
    assert down < 0.01


@given(references, raw_masks)
def test_stop_pressed_energises_no_contactor_even_with_the_key(name: str, raw: int) -> None:
    circuit = CIRCUITS[name]
    mask = mask_for(circuit.net, raw, closed=("SF3:bridge",), opened=("SF0:path",))
    assert max(circuit.solve(mask).coil_ratio[:3]) < 0.01


@given(references, raw_masks)
def test_motor_and_brake_need_both_line_and_a_direction(name: str, raw: int) -> None:
    circuit = CIRCUITS[name]
    net = circuit.net
    line = tuple(e.name for e in net.elements if e.part == "QA0" and e.role == "main")
    either = tuple(e.name for e in net.elements if e.part in ("QA1", "QA2") and e.role == "main")
    for opened in (line, either):
        solution = circuit.solve(mask_for(net, raw, opened=opened))
        assert max(abs(ratio) for ratio in solution.windings) < 0.001
        assert solution.coil_ratio[3] < 0.01


@given(names, raw_masks, st.data())
def test_kept_answer_equals_a_fresh_one(name: str, raw: int, data: st.DataObject) -> None:
    net = load_netlist(name)
    chosen = data.draw(st.lists(st.sampled_from(catalogue(net)), max_size=2))
    mask = mask_for(net, raw)
    circuit = Circuit(net, chosen)
    first = circuit.solve(mask)
    assert circuit.solve(mask) is first
    circuit.solve(mask ^ 1)
    assert as_tuple(Circuit(net, chosen).solve(mask)) == as_tuple(first)


@given(names, raw_masks, st.data())
def test_reduced_network_equals_the_whole_one(name: str, raw: int, data: st.DataObject) -> None:
    net = load_netlist(name)
    chosen = data.draw(st.lists(st.sampled_from(catalogue(net)), max_size=2))
    circuit = Circuit(net, chosen)
    mask = mask_for(net, raw)
    volts = voltages(circuit, mask)
    solution = circuit.solve(mask)
    for coil, ratio in zip(net.coils, solution.coil_ratio, strict=True):
        across = abs(volts.get(circuit.node(coil.a), 0.0) - volts.get(circuit.node(coil.b), 0.0))
        assert ratio == pytest.approx(across / coil.nominal_v, abs=1e-6)


@given(references, raw_masks, st.data())
def test_an_open_conductor_never_energises_a_contactor(
    name: str, raw: int, data: st.DataObject
) -> None:
    """Also true of every 0 V return: no return through another device's coil pulls it in."""
    net = load_netlist(name)
    kinds = ("wire_open", "return_lost", "cable_cut", "contact_dead", "contact_high_ohmic")
    defect = data.draw(st.sampled_from([d for d in catalogue(net) if d.kind in kinds]))
    mask = mask_for(net, raw)
    sound = CIRCUITS[name].solve(mask).coil_ratio
    broken = Circuit(net, (defect,)).solve(mask).coil_ratio
    for coil, before, after in zip(net.coils[:3], sound[:3], broken[:3], strict=True):
        assert after < coil.drop_out or before >= coil.drop_out, defect.id


@given(references, raw_masks)
def test_control_coils_scale_with_their_supply(name: str, raw: int) -> None:
    net = load_netlist(name)
    mask = mask_for(net, raw)
    full = CIRCUITS[name].solve(mask)
    half = Circuit(net, control_ratio=0.5).solve(mask)
    for whole, part in zip(full.coil_ratio[:3], half.coil_ratio[:3], strict=True):
        assert part == pytest.approx(whole / 2, abs=1e-9)
    assert half.windings == pytest.approx(full.windings)


@given(names, raw_masks)
def test_current_in_equals_current_out_at_every_terminal(name: str, raw: int) -> None:
    """Kirchhoff's current law, at each terminal that a single element and wires meet."""
    circuit = CIRCUITS[name]
    mask = mask_for(circuit.net, raw)
    volts = voltages(circuit, mask)
    sums = dict.fromkeys(volts, 0.0)
    for item in circuit.fixed:
        amps = (volts[item.a] - volts[item.b]) / item.ohm
        sums[item.a] -= amps
        sums[item.b] += amps
    for element, amps in contact_currents(circuit, mask).items():
        found = circuit.net.elements[circuit.net.bit(element)]
        sums[circuit.node(found.a)] -= amps
        sums[circuit.node(found.b)] += amps
    for node, amps in sums.items():
        if node != "PE":
            leak = volts[node] / circuit.net.insulation_ohm
            assert amps + circuit.injected.get(node, 0.0) - leak == pytest.approx(0.0, abs=1e-6)


def test_store_of_answers_starts_afresh_when_full(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(block, "MAX_KEPT", 8)
    monkeypatch.setattr(network, "MAX_KEPT", 8)
    net = load_netlist("reference")
    circuit = Circuit(net)
    answers = [as_tuple(circuit.solve(net.rest_mask ^ 1 << bit)) for bit in range(30)]
    again = [as_tuple(circuit.solve(net.rest_mask ^ 1 << bit)) for bit in range(30)]
    assert answers == again


def test_a_loose_network_is_still_solvable() -> None:
    """With every element open all nodes hang on their insulation only."""
    for circuit in CIRCUITS.values():
        solution = circuit.solve(0)
        assert solution.inputs == 0
        assert max(solution.coil_ratio) < 1e-3
        assert not solution.short


SITUATIONS = {
    "rest": ("", ""),
    "raising": ("SF1", "raise"),
    "lowering": ("SF1", "lower"),
    "reset": ("SF2", ""),
    "service": ("SF4", ""),
    "recovery": ("SF3", ""),
}


@pytest.mark.parametrize("name", REFERENCES)
def test_every_contact_gets_its_wetting_current(name: str) -> None:
    """A closed contact that carries anything carries what keeps it clean.

    Few milliamperes at 24 V are common practice for switches of this size, no source.
    """
    net = load_netlist(name)
    circuit = CIRCUITS[name]
    most = {e.name: 0.0 for e in net.elements if e.wetting_ma}
    for situation, (part, acts) in SITUATIONS.items():
        mask = net.actuate(net.rest_mask, part, acts) if part else net.rest_mask
        if situation == "recovery":
            mask = net.actuate(mask, "BG3")
        for element, amps in contact_currents(circuit, mask).items():
            if element in most:
                most[element] = max(most[element], abs(amps) * 1000)
    for contact in net.elements:
        if not contact.wetting_ma or contact.name.endswith(":interlock"):
            # An interlock contact carries the coil's current only while its driver is on.
            continue
        assert most[contact.name] >= contact.wetting_ma, contact.name


@pytest.mark.parametrize("ohm_pair", [(2000.0, True), (5000.0, False)])
def test_input_threshold_lies_near_half_the_supply(ohm_pair: tuple[float, bool]) -> None:
    """A contact of 2 kilohm still reads live through an isolator, one of 5 does not.

    Voltage divider of the contact and 2.7 kilohm against 12 V, by hand.
    """
    ohm, live = ohm_pair
    net = load_netlist("reference")
    defect = Effects(series=(("BG1:second", ohm),))
    inputs = Circuit(net, (defect,)).solve(net.rest_mask).inputs
    assert bool(inputs & signals.TOP_END) == live
    assert (24.0 * 2700 / (2700 + ohm) > 12.0) == live
