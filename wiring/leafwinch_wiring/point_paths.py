"""What a measurement proves, in words: the wires and contacts along the path, or their absence."""

from leafwinch_wiring.netlist import Netlist
from leafwinch_wiring.point_candidates import Candidate, states
from leafwinch_wiring.point_readings import JOINT_OHM, OPEN_OHM, Readings
from leafwinch_wiring.resistors import EARTH, resistors_of


def path_words(net: Netlist, item: Candidate) -> str:
    """Why a measurement is on the sheet."""
    if item.high_ohm < OPEN_OHM:
        wires, others = _along(net, item)
        words = [f"{'wire' if len(wires) == 1 else 'wires'} {', '.join(wires)}"] if wires else []
        words += [", ".join(others)] if others else []
        return f"proves {' with '.join(words)}"
    if not item.operated:
        return f"proves that nothing joins {item.a} and {item.b}"
    at_rest = Readings(net, ()).labels(states(net)[0][2])[:, 0]
    row = Readings(net, ()).row
    if at_rest[row[item.a]] == at_rest[row[item.b]]:
        return f"proves that {item.operated} parts {item.a} from {item.b}"
    return f"proves that {item.operated} does not join {item.a} and {item.b}"


def _edges(net: Netlist, item: Candidate) -> dict[str, list[tuple[str, str, bool]]]:
    """Neighbours of each terminal by wires, closed contacts and, for a value, loads."""
    mask = next(mask for *key, mask in states(net) if key == [item.operated, item.acts])
    joints = [(wire.a, wire.b, wire.mark, True) for wire in net.wires]
    joints += [(e.a, e.b, e.name, False) for i, e in enumerate(net.elements) if mask >> i & 1]
    marks = {wire.mark for wire in net.wires}
    joints += [
        (load.a, load.b, load.name, False)
        for load in resistors_of(net)
        if load.name not in marks and (not item.closed or load.ohm < JOINT_OHM)
    ]
    for ref, part in net.parts.items():
        if part.kind == "earth":
            joints += [(EARTH, f"{ref}:{terminal}", "", False) for terminal in part.terminals]
    found: dict[str, list[tuple[str, str, bool]]] = {}
    for a, b, name, wire in joints:
        found.setdefault(a, []).append((b, name, wire))
        found.setdefault(b, []).append((a, name, wire))
    return found


def _along(net: Netlist, item: Candidate) -> tuple[list[str], list[str]]:
    """Wires, and contacts and loads, of the shortest path between a measurement's two ends."""
    edges = _edges(net, item)
    came: dict[str, tuple[str, str, bool]] = {}
    waiting = [item.a]
    for here in waiting:
        for other, name, wire in edges.get(here, ()):
            if other not in came and other != item.a:
                came[other] = (here, name, wire)
                waiting.append(other)
    wires: list[str] = []
    others: list[str] = []
    here = item.b
    while here in came:
        here, name, wire = came[here]
        if name:
            (wires if wire else others).insert(0, name)
    return wires, others
