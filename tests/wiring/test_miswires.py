"""The single miswires: complete by counting, and each the circuit that its words say."""

import random
from itertools import combinations
from math import comb
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from leafwinch_wiring.continuity import Measurement, state_for
from leafwinch_wiring.defect_types import Effects
from leafwinch_wiring.measure import resistances
from leafwinch_wiring.miswires import KINDS, Miswire, miswires
from leafwinch_wiring.netlist import Netlist, load_netlist
from leafwinch_wiring.network import Circuit
from leafwinch_wiring.point_candidates import accessible, states
from leafwinch_wiring.point_readings import OPEN_OHM, WIRES_OHM, Readings, exact, prepared
from leafwinch_wiring.reader import read_document

NAMES = ("reference", "reference-12v", "bare", "bare-12v")


def by_id(net: Netlist) -> dict[str, Miswire]:
    """Every miswire under its own id and those of the mistakes it stands for."""
    found: dict[str, Miswire] = {}
    for item in miswires(net):
        for name in (item.id, *item.also):
            assert name not in found
            found[name] = item
    return found


@pytest.mark.parametrize("name", NAMES)
def test_every_wire_core_and_neighbour_has_its_miswire(name: str) -> None:
    """Counted apart from the code, by the binomials of a first course in combinatorics."""
    net = load_netlist(name)
    known = by_id(net)
    assert sum(1 for key in known if key.startswith("left-out:")) == len(net.wires)
    for cable in net.cables:
        cores = [wire.mark for wire in net.wires if wire.cable == cable]
        swapped = {
            f"{word}:{a}-{b}" for word in ("swap", "cross") for a, b in combinations(cores, 2)
        }
        assert sum(1 for key in swapped if key in known) >= comb(len(cores), 2)
        assert all(f"bridged:{a}-{b}" in known for a, b in combinations(cores, 2))
    for ref, part in net.parts.items():
        for a, b in zip(part.terminals, part.terminals[1:], strict=False):
            assert f"bridged:{ref}.{a}-{ref}.{b}" in known
    contacts = [e for e in net.elements if e.role in ("aux", "mirror")]
    assert sum(1 for key in known if key.startswith("wrong-type:")) == len(contacts)
    assert {item.kind for item in known.values()} <= set(KINDS)


def rewired(net: Netlist, changes: dict[str, tuple[str, str]], without: str = "") -> Netlist:
    """The netlist with some wires' ends replaced and one left out, through the file's format."""
    _, document = read_document(net.path)
    wires = {}
    for group in ("control", "power", "earth"):
        wires[group] = tuple(
            (*changes.get(entry[2], entry[:2]), *entry[2:])
            for entry in getattr(document.wires, group)
            if entry[2] != without
        )
    changed = document.model_copy(update={"wires": document.wires.model_copy(update=wires)})
    return Netlist(Path(net.path), changed)


def test_words_and_circuit_of_exchanged_cores_are_a_rewired_netlist() -> None:
    """W3.2 and W3.3 exchanged on the strip, done once more in the wire list itself."""
    net = load_netlist("reference")
    item = by_id(net)["swap:W3.2-W3.3"]
    assert item.words == "core W3.2 and core W3.3 exchanged: W3.2 on XD1:8, W3.3 on XD1:7"
    changed = rewired(net, {"W3.2": ("SF1:14", "XD1:8"), "W3.3": ("SF1:34", "XD1:7")})
    mask = state_for(net, Measurement("", "", "", "SF1", "raise"))
    pairs = [("SF1:14", "XD1:7"), ("SF1:13", "XD1:8"), ("KF1:I3", "KF1:I4"), ("SF1:34", "BG1:11")]
    wanted = resistances(Circuit(changed), mask, pairs)
    assert resistances(item.circuit(net), mask, pairs) == pytest.approx(wanted, rel=1e-9)
    assert wanted[1] < 1.0 < wanted[0]


@pytest.mark.parametrize("name", ["reference", "reference-12v"])
def test_random_swaps_equal_netlists_rewired_by_their_words(name: str) -> None:
    net = load_netlist(name)
    rng = random.Random(f"rewired {name}")
    chosen = rng.sample([m for m in miswires(net) if m.kind == "exchanged"], 20)
    terminals = accessible(net)
    for item in chosen:
        changes = {}
        for part in item.words.split(": ")[1].split(", "):
            mark, end = part.split(" on ")
            changes[mark] = end
        wires = {wire.mark: wire for wire in net.wires if wire.mark in changes}
        (one, to_one), (two, to_two) = changes.items()
        # Each wire leaves the end that the other one takes.
        new = {
            one: _moved(wires[one].a, wires[one].b, to_two, to_one),
            two: _moved(wires[two].a, wires[two].b, to_one, to_two),
        }
        changed = rewired(net, new)
        mask = rng.choice(states(net))[2]
        pairs = [(a, b) for a, b in (rng.sample(terminals, 2) for _ in range(40))]
        wanted = resistances(Circuit(changed), mask, pairs)
        assert resistances(item.circuit(net), mask, pairs) == pytest.approx(wanted, rel=1e-4)


def _moved(a: str, b: str, left: str, taken: str) -> tuple[str, str]:
    assert left in (a, b)
    return (taken, b) if left == a else (a, taken)


def test_harmless_is_what_a_reader_of_the_diagram_calls_harmless() -> None:
    net = load_netlist("reference")
    known = by_id(net)
    # A button's contact, turned round.
    assert known["cross:W2.3-W2.4"].harmless == "SF0:second works either way round"
    # Both cores of one net.
    assert known["swap:W2.1-W2.3"].harmless.startswith("every terminal is joined")
    for harmful in ("swap:W3.2-W3.3", "swap:W9.1-W9.2", "left-out:wE1"):
        assert known[harmful].harmless == ""
    # A direct-current pole blows its arc out one way only: common practice, no source.
    twelve = by_id(load_netlist("reference-12v"))
    assert all("pole" not in item.harmless for item in twelve.values() if item.kind == "exchanged")


def test_a_plain_diode_gives_its_coil_a_plus() -> None:
    net = load_netlist("reference")
    _, document = read_document(net.path)
    parts = tuple(
        part.model_copy(update={"coil": part.coil.model_copy(update={"suppression": "diode"})})
        if part.ref == "QA0" and part.coil is not None
        else part
        for part in document.part
    )
    changed = Netlist(net.path, document.model_copy(update={"part": parts}))
    known = by_id(changed)
    assert known["diode:QA0"].kind == "diode"
    assert known["reversed:QA0.coil"].harmless == ""
    assert "reversed:QA0.coil" not in by_id(net)


@pytest.mark.parametrize("name", ["reference", "reference-12v"])
def test_quick_readings_are_the_whole_circuits_less_its_wires(name: str) -> None:
    net = load_netlist(name)
    rng = random.Random(f"quick {name}")
    items = rng.sample([m for m in miswires(net) if not m.harmless], 40)
    reading = Readings(net, items)
    terminals = accessible(net)
    for _, _, mask in states(net)[::3]:
        between = reading.between(mask)
        for column, item in list(enumerate(items, 1))[::5]:
            pairs = [(a, b) for a, b in (rng.sample(terminals, 2) for _ in range(60))]
            quick = np.array(between.read(pairs))[:, :, column].T
            for (low, high), wanted in zip(quick, exact(net, item, mask, pairs), strict=True):
                for ohm, whole in zip((low, high), wanted, strict=True):
                    if ohm >= OPEN_OHM:
                        assert whole >= OPEN_OHM
                    else:
                        assert ohm * 0.99 <= whole + 1e-9 <= ohm * 1.01 + WIRES_OHM


@settings(max_examples=25)
@given(st.data())
def test_an_electronic_load_of_any_value_reads_between_the_two(data: st.DataObject) -> None:
    """Rayleigh's monotonicity law: Doyle and Snell, Random Walks and Electric Networks, 1.4.1."""
    net = load_netlist("reference")
    high = prepared(net).high.series
    lows = dict(prepared(net).low.series)
    series = []
    for name, ohm in high:
        least = lows.get(name, 0.0)
        factor = data.draw(st.floats(1.0, 1e4))
        series.append((name, ohm if np.isinf(least) else max(least, 6000.0) * factor))
    terminals = accessible(net)
    pairs = [(data.draw(st.sampled_from(terminals)), data.draw(st.sampled_from(terminals)))]
    mask = data.draw(st.sampled_from(states(net)))[2]
    [(low, most)] = exact(net, None, mask, pairs)
    effects = Effects(series=tuple(series))
    [between] = resistances(Circuit(net, (effects,)), mask, pairs)
    assert low * (1 - 1e-4) - 1e-6 <= between <= most * (1 + 1e-4) + 1e-6
