"""Degrees of protection (IEC 60529): what a code means, and which one a place wants."""

from dataclasses import dataclass

from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import Netlist

SOLIDS = (
    "no protection",
    "bodies over 50 mm",
    "bodies over 12.5 mm (a finger)",
    "bodies over 2.5 mm",
    "bodies over 1.0 mm",
    "dust-protected",
    "dust-tight",
)
"""First digit, 0 to 6."""

WATER = (
    "no protection",
    "dripping water",
    "dripping water, tilted 15 degrees",
    "spraying water to 60 degrees",
    "splashing water",
    "water jets",
    "powerful water jets",
    "immersion for a time (1 m, 30 min)",
    "lasting immersion",
)
"""Second digit, 0 to 8; the depth and time of 7 from memory."""

INSIDE = "IP20"
BOX = {"pit": "IP54", "stair": "IP54", "water": "IP66"}
WET = {"pit": "IP65", "stair": "IP65", "water": "IP67"}
"""What is asked for inside the box, of the box, and of a wet place, by what the deck lies over.
IP54 of a box and IP65 outdoors are common practice, no source; over water the second digit
follows IEC 60364-7-709 (jets 5, waves 6; from memory), with 7 where a flood may reach it."""


@dataclass(frozen=True, slots=True)
class PlaceRow:
    """One place with the least degree of protection of what is mounted there."""

    name: str
    text: str
    wet: bool
    code: str
    meaning: str


def meaning(code: str) -> str:
    """Return an IP code in words.

    Raises:
        BadInput: it is not `IP` and two digits of 0 to 6 and 0 to 8, or X in place of one.
    """
    first, second = (code[2:3], code[3:4]) if len(code) == 4 and code[:2] == "IP" else ("", "")
    if first not in tuple("X0123456") or second not in tuple("X012345678"):
        raise BadInput(f"IP code '{code}' is unknown; allowed is IP with 0 to 6 and 0 to 8, or X.")
    words = [table[int(d)] for table, d in ((SOLIDS, first), (WATER, second)) if d != "X"]
    return "; ".join(words)


def code_for(wet: bool, over: str, enclosed: bool = True) -> str:
    """Return the least IP code of a part in a wet or dry place over `pit`, `stair` or `water`.

    Args:
        wet: the netlist calls the place wet.
        over: what the deck lies over.
        enclosed: in a dry place, whether an enclosure is around it.

    Raises:
        BadInput: `over` is none of the three.
    """
    if over not in WET:
        raise BadInput(f"over is '{over}'; allowed are {', '.join(WET)}.")
    if wet:
        return WET[over]
    return INSIDE if enclosed else BOX[over]


def places(net: Netlist, over: str = "pit") -> tuple[PlaceRow, ...]:
    """Return every place of a netlist with the degree of protection of its enclosure."""
    rows = []
    for place in net.locations.values():
        code = code_for(place.wet, over, enclosed=False)
        rows.append(PlaceRow(place.name, place.text, place.wet, code, meaning(code)))
    return tuple(rows)
