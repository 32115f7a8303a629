"""A quick point-to-point sheet of a netlist, filled in: every fifth wire end to end, at rest.

The sheet that finds every single mistake takes the program seconds to choose; its own tests are
in tests/wiring. Here it only matters that a filled sheet of this netlist is read and judged.
"""

import random

from leafwinch_wiring.netlist import Netlist
from leafwinch_wiring.point_candidates import Candidate, accessible, states
from leafwinch_wiring.point_readings import exact
from leafwinch_wiring.point_sheet import PointRow, PointSheet
from tests.wiring.filling import filled_text, measured


def wire_sheet(net: Netlist) -> PointSheet:
    """Return the sheet with one row for every fifth wire that a tip can touch both ends of."""
    terminals = set(accessible(net))
    pairs = [(wire.a, wire.b) for wire in net.wires if {wire.a, wire.b} <= terminals][::5]
    at_rest = states(net)[0][2]
    rows = tuple(
        PointRow(number, Candidate(*pair, "", "", low, high, True), "", ())
        for number, (pair, (low, high)) in enumerate(
            zip(pairs, exact(net, None, at_rest, pairs), strict=True), 1
        )
    )
    return PointSheet(net.name, net.content_hash, rows, (), (), (), 0)


def filled_sheet(net: Netlist) -> str:
    """Return the text of that sheet with what a meter shows on a machine wired as drawn."""
    sheet = wire_sheet(net)
    return filled_text(sheet, measured(net, sheet, None, random.Random(1)))
