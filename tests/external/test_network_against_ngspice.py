"""The contact network against ngspice, an independent circuit simulator.

Source of the reference values: ngspice itself, solving decks of plain resistors and voltage
sources. Tolerance: 1e-6 of the larger of 1 V and the value, which is far below the width of
any threshold here (the nearest is a twentieth of the control voltage) and far above the
rounding of either solver.
"""

import os
import random
import re
import shutil
import subprocess
from pathlib import Path

import pytest

from leafwinch_wiring.defects import WiringDefect, catalogue
from leafwinch_wiring.measure import voltages
from leafwinch_wiring.netlist import Netlist, load_netlist
from leafwinch_wiring.network import Circuit
from leafwinch_wiring.spice import deck

TIMES = int(os.environ.get("NGSPICE_TIMES", "1"))  # 3 for over 1,000 states
STATES = {
    name: TIMES * count
    for name, count in {"reference": 160, "reference-12v": 120, "bare": 40, "bare-12v": 40}.items()
}
RELATIVE = 1e-6

State = tuple[int, tuple[WiringDefect, ...]]


def random_states(net: Netlist, count: int) -> list[State]:
    """Random masks with none, one or two random defects, from a fixed seed."""
    rng = random.Random(f"ngspice {net.name}")
    defects = catalogue(net, strict=True)
    states = []
    for _ in range(count):
        mask = rng.getrandbits(len(net.elements))
        if rng.random() < 0.5:
            # Half of the states are a working situation with a few elements changed.
            mask = net.actuate(net.rest_mask, "SF1", rng.choice(("raise", "lower")))
            for _ in range(rng.randrange(6)):
                mask ^= 1 << rng.randrange(len(net.elements))
        states.append((mask, tuple(rng.sample(defects, rng.randrange(3)))))
    return states


def probes_of(net: Netlist) -> list[tuple[str, str]]:
    """Every coil, winding, input and supply, as terminal pairs."""
    pairs = [(coil.a, coil.b) for coil in net.coils]
    for ref, part in net.parts.items():
        loads = [w.terminals for w in part.windings] + [load.terminals for load in part.loads]
        pairs += [(f"{ref}:{a}", f"{ref}:{b}") for a, b in loads]
        if part.source is not None:
            a, b = part.source.terminals
            pairs.append((f"{ref}:{a}", f"{ref}:{b}"))
        if part.board is not None:
            common = f"{ref}:{part.board.supply[1]}"
            pairs += [(f"{ref}:{item.terminal}", common) for item in part.board.inputs]
    return pairs


def run_ngspice(folder: Path, net: Netlist, states: list[State]) -> list[list[float]]:
    """Solve all states in one ngspice process; return the probes' voltages of each."""
    program = shutil.which("ngspice")
    assert program is not None, "ngspice is needed: install the Debian package ngspice"
    probes = probes_of(net)
    script = ["* all states in one run", ".control", "set numdgt=12", "set width=200"]
    for number, (mask, defects) in enumerate(states):
        made = deck(net, mask, defects, probes)
        (folder / f"{number}.cir").write_text(made.text, encoding="utf-8")
        script += [f"source {folder / f'{number}.cir'}", "op"]
        script += [f"let p{i} = {expression}" for i, expression in enumerate(made.probes)]
        script.append(f"echo state {number}")
        script += [f"print p{i}" for i in range(len(probes))]
        script += ["destroy all", "remcirc"]
    script += ["quit", ".endc", ".end"]
    control = folder / "all.cir"
    control.write_text("\n".join(script) + "\n", encoding="utf-8")
    done = subprocess.run(
        [program, "-b", str(control)], capture_output=True, text=True, timeout=120, check=False
    )
    results: list[list[float]] = []
    for line in done.stdout.splitlines():
        if line.startswith("state "):
            results.append([])
        elif match := re.match(r"p\d+ = (\S+)", line):
            results[-1].append(float(match.group(1)))
    assert [len(values) for values in results] == [len(probes)] * len(states), done.stderr[-2000:]
    return results


@pytest.mark.parametrize("name", list(STATES))
def test_every_voltage_equals_ngspice(name: str, tmp_path: Path) -> None:
    net = load_netlist(name)
    states = random_states(net, STATES[name])
    answers = run_ngspice(tmp_path, net, states)
    live = 0
    for (mask, defects), expected in zip(states, answers, strict=True):
        circuit = Circuit(net, defects)
        volts = voltages(circuit, mask)
        for (a, b), wanted in zip(probes_of(net), expected, strict=True):
            found = volts.get(circuit.node(a), 0.0) - volts.get(circuit.node(b), 0.0)
            limit = RELATIVE * max(1.0, abs(wanted))
            assert abs(found - wanted) <= limit, (mask, [d.id for d in defects], a, b)
            live += abs(wanted) > 1.0
        check_reduced(net, circuit, mask, expected)
    # The comparison means something only where current flows.
    assert live > len(states)


def check_reduced(net: Netlist, circuit: Circuit, mask: int, expected: list[float]) -> None:
    """The quick, reduced solve that runs use gives ngspice's coil and winding voltages too."""
    solution = circuit.solve(mask)
    by_pair = dict(zip(probes_of(net), expected, strict=True))
    for coil, ratio in zip(net.coils, solution.coil_ratio, strict=True):
        wanted = abs(by_pair[coil.a, coil.b]) / coil.nominal_v
        assert abs(ratio - wanted) <= RELATIVE * max(1.0, wanted), coil.name
    windings = [
        (by_pair[f"{ref}:{w.terminals[0]}", f"{ref}:{w.terminals[1]}"] / w.nominal_v, w.name)
        for ref, part in net.parts.items()
        for w in part.windings
    ]
    for ratio, (wanted, winding) in zip(solution.windings, windings, strict=True):
        assert abs(ratio - wanted) <= RELATIVE * max(1.0, abs(wanted)), winding
