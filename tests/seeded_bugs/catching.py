"""What catches a seeded bug: its stored scenario, and the reference model in a random drive.

`python -m tests.seeded_bugs.catching` rewrites the table in README.md beside this file.
"""

import functools
import random
from pathlib import Path

from tests.firmware.drive import Drive
from tests.firmware.random_walk import wander
from tests.firmware.scenarios_faults import LONG, QUICK, WARM, quick
from tests.reference_model.pair import Disagreement, Pair
from tests.seeded_bugs.bugs import BUGS, Bug
from tests.seeded_bugs.patched import Make, maker_of

README = Path(__file__).with_name("README.md")
WALKS = 5
CHANGES = 50
MEDLEY = (QUICK, WARM, quick(start_allow_ms=0, current_signed=1), LONG)


def scenario_fails(bug: Bug, make: Make) -> bool:
    """Tell whether the stored scenario of the bug fails with this core."""
    try:
        Drive(bug.values, make).play(bug.scenario)
    except ValueError:
        return True
    return False


def model_disagrees(make: Make) -> bool:
    """Tell whether bounded random drives with fixed seeds part the core from the model."""
    for seed in range(WALKS):
        drive = Drive(MEDLEY[seed % len(MEDLEY)], functools.partial(Pair, make=make))
        try:
            wander(drive, random.Random(seed), CHANGES)
        except (Disagreement, ValueError):
            return True
    return False


@functools.cache
def caught_by_model() -> dict[str, bool]:
    """Return for every bug whether the reference model catches it."""
    return {bug.name: model_disagrees(maker_of(bug)) for bug in BUGS}


def readme() -> str:
    """Return the table of what catches which bug."""
    caught = caught_by_model()
    lines = [
        "# Seeded bugs",
        "",
        "Bugs put into the control core on purpose (`bugs.py`), to prove that the tests would",
        "notice them. Every one is caught by its stored scenario, a contact script of seconds.",
        f"The reference model alone, in {WALKS} random drives with fixed seeds, catches"
        f" {sum(caught.values())} of {len(caught)}; the others",
        "need an event rarer than these drives. Made by `python -m tests.seeded_bugs.catching`.",
        "",
        "| bug | file | stored scenario | reference model, random drive |",
        "| --- | --- | --- | --- |",
        *(
            f"| {bug.name} | `{bug.file}` | caught | {'caught' if caught[bug.name] else '-'} |"
            for bug in BUGS
        ),
    ]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    README.write_text(readme(), encoding="utf-8")
