"""Defects of the board's inputs, drivers and charge pump, of the supplies and the sensor."""

from collections.abc import Iterator

from leafwinch_wiring.defect_types import WiringDefect
from leafwinch_wiring.netlist import Netlist

SUPPLY_LOW_RATIO = 0.65
"""Low enough that no contactor pulls in, high enough that inputs still read live."""

SUPPLY_HIGH_RATIO = 1.25
"""A 24 V supply whose regulation has failed; common practice, no source."""

INPUT_SHORT_OHM = 1.0


def board_defects(net: Netlist) -> Iterator[WiringDefect]:
    """Inputs stuck or shorted, drivers on or off, and the pump."""
    for part in net.boards:
        if part.board is None:
            continue
        common = f"{part.ref}:{part.board.supply[1]}"
        for item in part.board.inputs:
            name = f"{part.ref}.{item.signal}"
            yield WiringDefect(
                id=f"{name}:stuck-1",
                kind="input_stuck",
                cause="the isolator's output transistor is shorted, or the pin is stuck",
                part=part.ref,
                inputs_1=(item.signal,),
            )
            yield WiringDefect(
                id=f"{name}:stuck-0",
                kind="input_stuck",
                cause="the isolator's diode or output is open, or the pin is stuck",
                part=part.ref,
                inputs_0=(item.signal,),
            )
            yield WiringDefect(
                id=f"{name}:short",
                kind="input_short",
                cause="the input's series resistor and protection have failed short to 0 V",
                part=part.ref,
                links=((f"{part.ref}:{item.terminal}", common, INPUT_SHORT_OHM),),
                inputs_0=(item.signal,),
            )
        for contact in part.contacts:
            if contact.role == "driver":
                yield from _driver(part.ref, contact.name, contact.signal)


def _driver(ref: str, name: str, signal: str) -> Iterator[WiringDefect]:
    element = f"{ref}:{name}"
    yield WiringDefect(
        id=f"{ref}.{name}:on",
        kind="driver_on",
        cause="the driver's transistor is shorted",
        part=ref,
        force_closed=(element,),
    )
    yield WiringDefect(
        id=f"{ref}.{name}:off",
        kind="driver_off",
        cause="the driver's transistor is open",
        part=ref,
        force_open=(element,),
    )
    if signal != "line_pulse":
        return
    yield WiringDefect(
        id=f"{ref}.{name}:pump-dead",
        kind="pump_dead",
        cause="a capacitor or diode of the charge pump is open",
        part=ref,
        force_open=(element,),
    )
    for level in ("high", "low"):
        yield WiringDefect(
            id=f"{ref}.{name}:pump-{level}",
            kind="pump_static",
            cause=f"a shorted pump capacitor lets a steady {level} level through",
            part=ref,
            mechanics=f"pump_static_{level}",
            devices=(ref,),
        )


def supply_defects(net: Netlist) -> Iterator[WiringDefect]:
    """Supplies lost, low or high."""
    for element in net.elements:
        if element.role == "supply":
            yield WiringDefect(
                id=f"{element.part}:lost",
                kind="supply_lost",
                cause="the supply has failed or was switched off",
                part=element.part,
                force_open=(element.name,),
            )
    for ref, part in net.parts.items():
        if part.source is None or part.source.feeds != "control":
            continue
        yield WiringDefect(
            id=f"{ref}:low",
            kind="supply_low",
            cause="the supply's regulation has failed low, or it is overloaded",
            part=ref,
            control_ratio=SUPPLY_LOW_RATIO,
        )
        yield WiringDefect(
            id=f"{ref}:high",
            kind="supply_high",
            cause="the supply's regulation has failed high",
            part=ref,
            control_ratio=SUPPLY_HIGH_RATIO,
        )


def sensor_defects(net: Netlist) -> Iterator[WiringDefect]:
    """The current sensor's own failure; gain and noise belong to the bench."""
    for ref, part in net.parts.items():
        if part.kind == "current_sensor":
            yield WiringDefect(
                id=f"{ref}:lost",
                kind="sensor_lost",
                cause="the current sensor has failed",
                part=ref,
                mechanics="current_signal_lost",
                devices=(ref,),
            )
