"""The terminal schedule: every terminal of every strip in order, wires inside, cores outside."""

from dataclasses import dataclass

from leafwinch_wiring.netlist import Netlist, WireData
from leafwinch_wiring.schedules.colours import Colours
from leafwinch_wiring.schedules.functions import functions

STRIPS = ("terminals", "earth")
MOST_ON_ONE_SIDE = 2
"""More conductors than this on one side of a terminal need a bridge or a larger terminal
(common practice, no source; IEC 60204-1 clause 13.1.1 wants one for each clamping point unless
the terminal is made for more)."""


@dataclass(frozen=True, slots=True)
class End:
    """A conductor on a terminal: its mark, the terminal at its other end, colour or number."""

    mark: str
    far: str
    colour: str


@dataclass(frozen=True, slots=True)
class TerminalRow:
    """One terminal of a strip.

    `inside` are the wires of its own place, `outside` the cores of cables; `volts` is the
    nominal voltage in V of what it carries, 0 for the protective earth; `mm2` the largest
    section on it in mm2.
    """

    strip: str
    terminal: str
    at: str
    inside: tuple[End, ...]
    outside: tuple[End, ...]
    net: str
    function: str
    volts: float
    mm2: float
    remark: str

    @property
    def name(self) -> str:
        """The terminal's full name, such as `XD1:7`."""
        return f"{self.strip}:{self.terminal}"


def terminal_schedule(net: Netlist) -> tuple[TerminalRow, ...]:
    """Return every terminal of every strip and earth bar, in the order in which they sit.

    Empty for a netlist that has no strip.
    """
    what = functions(net)
    colours = Colours(net)
    ends: dict[str, list[tuple[WireData, str]]] = {}
    for wire in net.wires:
        ends.setdefault(wire.a, []).append((wire, wire.b))
        ends.setdefault(wire.b, []).append((wire, wire.a))
    rows = []
    for ref, part in net.parts.items():
        if part.kind not in STRIPS:
            continue
        for terminal in part.terminals:
            name = f"{ref}:{terminal}"
            on_it = ends.get(name, [])
            inside = tuple(
                End(wire.mark, far, colours.of(wire)) for wire, far in on_it if not wire.cable
            )
            outside = tuple(
                End(wire.mark, far, colours.on_core(wire, net.cables[wire.cable]))
                for wire, far in on_it
                if wire.cable
            )
            rows.append(
                TerminalRow(
                    strip=ref,
                    terminal=terminal,
                    at=part.at,
                    inside=inside,
                    outside=outside,
                    net=what[name].net,
                    function=what[name].words,
                    volts=what[name].volts,
                    mm2=max((wire.mm2 for wire, _ in on_it), default=0.0),
                    remark=_remark(len(inside), len(outside)),
                )
            )
    return tuple(rows)


def _remark(inside: int, outside: int) -> str:
    crowded = [
        f"{number} {side}"
        for number, side in ((inside, "inside"), (outside, "outside"))
        if number > MOST_ON_ONE_SIDE
    ]
    return f"{', '.join(crowded)}: bridge or wider terminal" if crowded else ""
