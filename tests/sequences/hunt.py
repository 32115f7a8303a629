"""Hunts with fresh draws for as long as asked: `python -m tests.sequences --minutes 15`.

Each finding is shortened and written to out/sequences as a scenario file that
`leafwinch replay FILE` plays. What a latent defect and another one break together is
reported and written to out/sequences/pairs; it is no failure.
"""

import argparse
import collections
import time
from pathlib import Path

from tests.sequences.machine import Task
from tests.sequences.search import SITES, installations, search, told, write_finding

OUT = Path("out/sequences")


def main() -> int:
    """Hunt; return 1 where something was found."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=15.0)
    parser.add_argument("--steps", type=int, default=40)
    parser.add_argument("--seed", type=int, default=1, help="of the first round")
    parser.add_argument("--site", choices=SITES, action="append", help="left out: all")
    chosen = parser.parse_args()
    catalogues = tuple(c for c in installations() if not chosen.site or c.site in chosen.site)
    until_s = time.monotonic() + chosen.minutes * 60.0
    seed = chosen.seed
    runs = simulated_ms = 0
    defects: set[str] = set()
    pairs: collections.Counter[str] = collections.Counter()
    found: list[Path] = []
    while time.monotonic() < until_s:
        task = Task(catalogues)
        finding = search(task, 1, chosen.steps, seed)
        seed += 1
        runs += task.runs
        simulated_ms += task.simulated_ms
        defects |= task.defects
        for pair, broken in task.pairs.items():
            pairs[f"{' + '.join(pair)}: {broken.requirement}"] += 1
            write_finding(broken, OUT / "pairs")
        if finding is not None:
            path = write_finding(finding, OUT)
            if path not in found:
                found.append(path)
                print(f"\n{path}\n{told(finding)}", flush=True)
        print(
            f"{runs} sequences, {simulated_ms / 3.6e6:.1f} h simulated, {len(defects)} defects, "
            f"{len(pairs)} pairs reported, {len(found)} found",
            end="\r",
            flush=True,
        )
    print()
    for name, count in sorted(pairs.items()):
        print(f"latent and another, {count} times: {name}")
    return 1 if found else 0
