"""Readings of an ohmmeter on miswired circuits against ngspice, an independent simulator.

Source of the reference values: ngspice itself, with a current of 1 mA through the meter's two
tips. Tolerance: 1e-4 of the value and 1 milliohm, far below what a meter tells apart; above
100 kohm both need only agree that the path is open.
"""

import random
import re
import shutil
import subprocess
from pathlib import Path

import pytest

from leafwinch_wiring.defect_types import Effects
from leafwinch_wiring.miswires import Miswire, miswires
from leafwinch_wiring.netlist import Netlist, load_netlist
from leafwinch_wiring.point_candidates import accessible, states
from leafwinch_wiring.point_readings import OPEN_OHM, exact, prepared
from leafwinch_wiring.spice import deck, node_names

CIRCUITS = 40
PAIRS = 6
AMPS = 1e-3

Case = tuple[Miswire, int, tuple[str, str]]


def cases(net: Netlist) -> list[Case]:
    """Random miswires, each in a random state, between random terminals; half of them at it."""
    rng = random.Random(f"miswires {net.name}")
    found: list[Case] = []
    terminals = accessible(net)
    for item in rng.sample([m for m in miswires(net) if m.kind != "diode"], CIRCUITS):
        mask = rng.choice(states(net))[2]
        near = sorted({t for a, b, _ in item.effects.links for t in (a, b)} & set(terminals))
        for number in range(PAIRS):
            a, b = rng.sample(near if number % 2 and len(near) > 1 else terminals, 2)
            found.append((item, mask, (a, b)))
    return found


def metered(net: Netlist, case: Case, prepared_for: Effects) -> tuple[str, str]:
    """The deck with the meter's current in it, and the expression of its voltage."""
    item, mask, (a, b) = case
    made = deck(net, item.state(net, mask), (item.effects, prepared_for), [(a, b)])
    names = node_names(net)
    meter = f"IMETER {names[b]} {names[a]} DC {AMPS}\n.end"
    # Every supply is dead, as it is when a meter is used.
    dead = re.sub(r"^(V.* DC) \S+$", r"\1 0", made.text, flags=re.M)
    return dead.replace(".end", meter), made.probes[0]


def run_ngspice(folder: Path, decks: list[tuple[str, str]]) -> list[float]:
    """Solve all decks in one ngspice process; return the resistance each one shows."""
    program = shutil.which("ngspice")
    assert program is not None, "ngspice is needed: install the Debian package ngspice"
    script = ["* all readings in one run", ".control", "set numdgt=12", "set width=200"]
    for number, (text, expression) in enumerate(decks):
        path = folder / f"{number}.cir"
        path.write_text(text, encoding="utf-8")
        script += [f"source {path}", "op", f"let shown = {expression}", "print shown"]
        script += ["destroy all", "remcirc"]
    script += ["quit", ".endc", ".end"]
    control = folder / "all.cir"
    control.write_text("\n".join(script) + "\n", encoding="utf-8")
    done = subprocess.run(
        [program, "-b", str(control)], capture_output=True, text=True, timeout=240, check=False
    )
    found = [float(value) / AMPS for value in re.findall(r"^shown = (\S+)", done.stdout, re.M)]
    assert len(found) == len(decks), done.stderr[-2000:]
    return found


@pytest.mark.parametrize("name", ["reference", "reference-12v"])
def test_readings_of_miswired_circuits_equal_ngspice(name: str, tmp_path: Path) -> None:
    net = load_netlist(name)
    chosen = cases(net)
    both = prepared(net)
    shown = run_ngspice(
        tmp_path, [metered(net, case, side) for case in chosen for side in (both.low, both.high)]
    )
    closed = values = 0
    for (item, mask, pair), low, high in zip(chosen, shown[::2], shown[1::2], strict=True):
        for wanted, found in zip((low, high), exact(net, item, mask, [pair])[0], strict=True):
            if wanted >= OPEN_OHM:
                assert found >= OPEN_OHM, (item.id, pair)
            else:
                assert found == pytest.approx(wanted, rel=1e-4, abs=1e-3), (item.id, pair)
            closed += wanted < 3.0
            values += 3.0 <= wanted < OPEN_OHM
    # The comparison means something only where there is more to read than open.
    assert closed > 20
    assert values > 20
