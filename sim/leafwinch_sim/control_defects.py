"""Defects of the board, its current signal, the control supply and the operator's habit."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ControlDefect:
    """One defect the bench carries out itself.

    Attributes:
        id, kind, cause, part, amount: as for the other catalogues.
        residual: a named residual risk that no control can exclude, with its caution.
    """

    id: str
    kind: str
    cause: str
    part: str = "KF1"
    amount: float = 0.0
    residual: str = ""


def control_defects() -> tuple[ControlDefect, ...]:
    """Return every defect of this kind, in a fixed order."""
    return (
        ControlDefect("board_hung", "hung", "the program stands still until the watchdog bites"),
        ControlDefect(
            "board_hung_unwatched",
            "hung",
            "the program stands still and the watchdog is dead",
            amount=1.0,
        ),
        ControlDefect("clock_fast", "clock", "the crystal is replaced by a wrong one", amount=140),
        ControlDefect("clock_slow", "clock", "the crystal is replaced by a wrong one", amount=70),
        ControlDefect("loop_slow", "loop", "something takes the processor's time", amount=4),
        ControlDefect("samples_stale", "stale", "the converter's interrupt has stopped", "BC1"),
        ControlDefect("sensor_gain_low", "gain", "a burden resistor is bridged", "BC1", 0.3),
        ControlDefect("sensor_gain_high", "gain", "a burden resistor is open", "BC1", 3.0),
        ControlDefect("sensor_offset", "offset", "the zero has wandered", "BC1", 1500.0),
        ControlDefect("record_lost", "record", "the flash no longer takes a record"),
        ControlDefect(
            "control_tied_raise",
            "tied",
            "the control is tied down or jammed to raise",
            "SF1",
            1.0,
            "A control tied down looks like a hand: the end stop is what ends the travel, and no "
            "new start follows without neutral. Never tie or wedge the control.",
        ),
        ControlDefect(
            "control_tied_lower",
            "tied",
            "the control is tied down or jammed to lower",
            "SF1",
            -1.0,
            "A control tied down looks like a hand: the end stop is what ends the travel, and no "
            "new start follows without neutral. Never tie or wedge the control.",
        ),
    )
