"""What contacts carry in service, solved in the network, and what a motor asks of them."""

from collections.abc import Iterator
from dataclasses import dataclass

from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.measure import contact_currents
from leafwinch_wiring.netlist import Netlist
from leafwinch_wiring.network import Circuit

BREAKS = {"AC-3": 8.0, "AC-4": 10.0, "DC-3": 4.0, "DC-5": 4.0}
"""Breaking capacity as a multiple of the rated operational current (IEC 60947-4-1, from memory)."""
MAKES = {"AC-3": 10.0, "AC-4": 12.0, "DC-3": 4.0, "DC-5": 4.0}
"""Making capacity as a multiple of it (IEC 60947-4-1, from memory)."""

NOTHING_A = 5e-4
"""A contact that carries less counts as carrying nothing: it is insulation or a shunt."""


@dataclass(frozen=True, slots=True)
class Motor:
    """A motor's numbers from its plate or from a sizing.

    `rated_a` and `start_a` are in A, `inductance_h` in H (0 when unknown; armature only).
    """

    rated_a: float
    start_a: float
    inductance_h: float = 0.0

    def __post_init__(self) -> None:
        """Refuse numbers that no motor has.

        Raises:
            BadInput: a current is not above 0, or starting takes less than running.
        """
        if not 0.0 < self.rated_a <= self.start_a < 1e5 or not 0.0 <= self.inductance_h < 1e3:
            raise BadInput(
                f"Motor with {self.rated_a} A rated, {self.start_a} A starting and"
                f" {self.inductance_h} H can't be; allowed is 0 < rated <= starting, 0 H or more."
            )


@dataclass(frozen=True, slots=True)
class Carried:
    """Least and greatest current in A that a contact carries closed, over all states tried."""

    least_a: float
    most_a: float


def category(net: Netlist) -> str:
    """Utilisation category of the motor contacts: AC-3 for a squirrel cage, DC-3 for a magnet."""
    return "AC-3" if net.drive == "capacitor_run" else "DC-3"


def operational_a(net: Netlist, motor: Motor) -> float:
    """Rated operational current in A that motor contacts need.

    Releasing a held control while the motor starts or is stalled breaks its starting current,
    so this current must lie within the making and breaking capacity of the category.
    """
    duty = category(net)
    return max(motor.rated_a, motor.start_a / BREAKS[duty], motor.start_a / MAKES[duty])


def carried(net: Netlist) -> dict[str, Carried]:
    """Return what each contact carries, over: at rest, operated by itself, raising, lowering.

    Currents of motor contacts are those of the windings' resistances in the netlist and no
    measure of the motor's; those of the control circuit are what the parts really take.
    """
    circuit = Circuit(net)
    found: dict[str, list[float]] = {}
    for only, mask in _states(net):
        for name, ampere in contact_currents(circuit, mask).items():
            if abs(ampere) > NOTHING_A and (not only or name.split(":")[0] == only):
                found.setdefault(name, []).append(abs(ampere))
    return {name: Carried(min(values), max(values)) for name, values in found.items()}


def _states(net: Netlist) -> Iterator[tuple[str, int]]:
    """Each state with the one part whose contacts count in it; empty for all parts.

    A key or button in parallel to a contact takes its current over, which is no load of that
    contact, so in those states only the operated part counts.
    """
    rest = net.rest_mask
    yield "", rest
    for ref, part in net.parts.items():
        if part.kind in ("push_button", "key_switch", "plug"):
            yield ref, net.actuate(rest, ref)
        if part.kind == "hold_control":
            for acts, against in (("raise", "lower"), ("lower", "raise")):
                mask = net.actuate(rest, ref, acts) | net.mask_of(
                    item.name
                    for item in net.elements
                    if item.role == "driver" and item.signal != against
                )
                yield "", mask
                yield "", _pulled(net, mask)


def _pulled(net: Netlist, mask: int) -> int:
    """The state with each contactor pulled in whose coil has its voltage, taken once."""
    ratios = dict(zip(net.coil_names, Circuit(net).solve(mask).coil_ratio, strict=True))
    for coil in net.coils:
        part = net.parts[coil.name]
        if part.kind == "contactor" and abs(ratios[coil.name]) >= coil.pull_in:
            mask = net.actuate(mask, coil.name)
    return mask
