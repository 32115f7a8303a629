"""Fills in a point-to-point sheet as somebody with a meter would, on any circuit."""

import math
import random

from leafwinch_wiring.miswires import Miswire
from leafwinch_wiring.netlist import Netlist
from leafwinch_wiring.point_candidates import states
from leafwinch_wiring.point_readings import OPEN_OHM, exact
from leafwinch_wiring.point_sheet import PointSheet
from leafwinch_wiring.sheet_file import write_csv

ACCURACY = 0.02
"""A hand meter is off by one or two per cent; common practice, no source."""


def reading(rng: random.Random, low_ohm: float, high_ohm: float) -> str:
    """A reading between the two, as a person writes it down."""
    if low_ohm >= OPEN_OHM:
        return rng.choice(("open", "OL", "5.1 Mohm"))
    if high_ohm < 1.0:
        return rng.choice(("closed", f"{high_ohm + rng.uniform(0.0, 0.5):.2f}"))
    if high_ohm >= OPEN_OHM and rng.random() < 0.3:
        return "open"
    high_ohm = min(high_ohm, 2.0 * low_ohm + 10.0)
    ohm = rng.uniform(low_ohm, high_ohm) * (1.0 + rng.uniform(-ACCURACY, ACCURACY))
    return f"{ohm / 1000.0:.4f}k" if ohm >= 1000.0 else f"{ohm:.3f} ohm"


def measured(
    net: Netlist, sheet: PointSheet, item: Miswire | None, rng: random.Random
) -> list[str]:
    """What the meter shows on each row of the sheet, with a miswire or without."""
    found = [""] * len(sheet.rows)
    for operated, acts, mask in states(net):
        places = [
            place
            for place, row in enumerate(sheet.rows)
            if (row.what.operated, row.what.acts) == (operated, acts)
        ]
        pairs = [(sheet.rows[place].what.a, sheet.rows[place].what.b) for place in places]
        if pairs:
            for place, (low, high) in zip(places, exact(net, item, mask, pairs), strict=True):
                assert low <= high or math.isclose(low, high, rel_tol=1e-3, abs_tol=1e-2)
                found[place] = reading(rng, low, max(low, high))
    return found


def filled_text(sheet: PointSheet, values: list[str]) -> str:
    """The sheet's file with these readings in it."""
    lines = write_csv(sheet).splitlines()
    first = len(lines) - len(sheet.rows)
    for place, value in enumerate(values):
        assert lines[first + place].endswith(";;")
        lines[first + place] = f"{lines[first + place][:-1]}{value};"
    return "\n".join(lines) + "\n"
