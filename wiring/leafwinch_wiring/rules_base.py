"""What a rule of the wiring is, what it finds, and what several rules ask of a netlist."""

from collections.abc import Callable
from dataclasses import dataclass, field

from leafwinch_wiring.defects_conductors import control_return
from leafwinch_wiring.format import Part
from leafwinch_wiring.netlist import Element, Netlist


@dataclass(slots=True)
class Findings:
    """What one rule finds in one netlist.

    `offending` are the items that break it, one sentence or name each; `notes` what is allowed
    but worth knowing. A rule that has nothing to look at sets `applies` to False.
    """

    offending: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    applies: bool = True


@dataclass(frozen=True, slots=True)
class Rule:
    """A rule: a short id, its words, where it comes from, and how it is checked."""

    id: str
    words: str
    source: str
    check: Callable[[Netlist], Findings]


@dataclass(frozen=True, slots=True)
class RuleResult:
    """A rule and what it found. `passed` where nothing offends, also where it does not apply."""

    id: str
    words: str
    source: str
    applies: bool
    passed: bool
    offending: tuple[str, ...]
    notes: tuple[str, ...]


STOPPING_KINDS = ("stop_button", "limit_switch", "slack_switch")


def parts_of(net: Netlist, *kinds: str) -> list[Part]:
    """Parts of the given kinds in file order."""
    return [part for part in net.parts.values() if part.kind in kinds]


def elements_of(net: Netlist, ref: str) -> list[Element]:
    """The movable elements of a part."""
    return [element for element in net.elements if element.part == ref]


def zero_net(net: Netlist) -> str:
    """Net of the control supply's 0 V; empty without a control supply."""
    return control_return(net)


def cables_to(net: Netlist, ref: str) -> set[str]:
    """Cables with a core that ends at a part."""
    return {
        wire.cable
        for wire in net.wires
        if wire.cable and ref in (wire.a.split(":")[0], wire.b.split(":")[0])
    }
