"""Typical values of parts: B10D, diagnostic coverage and points against common causes.

ISO 13849-1 allows the typical values of table C.1 where a maker states none; a maker's own
value for the part that is really fitted is always better. What no table covers is marked as
an assumption.
"""

from dataclasses import dataclass

FROM_MEMORY = "ISO 13849-1 table C.1, from memory"
COVERAGE_FROM_MEMORY = "ISO 13849-1 table E.1, from memory"
ASSUMED = "an assumption, no source"


@dataclass(frozen=True, slots=True)
class Typical:
    """A typical B10D in operations, or else a MTTFD in years, and where it comes from."""

    what: str
    source: str
    b10d: float = 0.0
    mttfd_a: float = 0.0


@dataclass(frozen=True, slots=True)
class Coverage:
    """A measure that finds failures and its diagnostic coverage as a share from 0 to 1."""

    measure: str
    dc: float
    source: str


@dataclass(frozen=True, slots=True)
class CommonCause:
    """A measure against common causes and its points, all or none, annex F."""

    measure: str
    points: int


TYPICAL: dict[str, Typical] = {
    "contactor": Typical("contactor at nominal load", FROM_MEMORY, b10d=1_300_000.0),
    "contactor_small_load": Typical("contactor at small load", FROM_MEMORY, b10d=20_000_000.0),
    "relay": Typical("relay at nominal load", FROM_MEMORY, b10d=400_000.0),
    "relay_small_load": Typical("relay at small load", FROM_MEMORY, b10d=20_000_000.0),
    "position_switch": Typical(
        "position switch with direct opening action", FROM_MEMORY, b10d=20_000_000.0
    ),
    "stop_button": Typical("emergency stop device", FROM_MEMORY, b10d=100_000.0),
    "push_button": Typical("push-button, as for an enabling switch", FROM_MEMORY, b10d=100_000.0),
    "loaded_switch": Typical(
        "switch that carries the motor current and has no direct opening action",
        f"{ASSUMED}: counted like a push-button",
        b10d=100_000.0,
    ),
    "board": Typical("microcontroller board with its program", ASSUMED, mttfd_a=10.0),
    "current_sensor": Typical("current sensor with its signal", ASSUMED, mttfd_a=50.0),
}
"""Typical values by kind of part."""

COVERAGE: dict[str, Coverage] = {
    "mirror": Coverage(
        "direct monitoring of a contactor by its mirror contact", 0.99, COVERAGE_FROM_MEMORY
    ),
    "crossed": Coverage(
        "two contacts of one switch compared at every travel, shorts not found",
        0.90,
        COVERAGE_FROM_MEMORY,
    ),
    "seldom": Coverage(
        "two contacts of one switch compared only when it is used, which is seldom",
        0.60,
        f"{COVERAGE_FROM_MEMORY}: 0 to 0.99 by how often the signal changes; 0.60 of it is assumed",
    ),
    "watchdog": Coverage(
        "charge pump that needs a living program, a watchdog in time only",
        0.60,
        COVERAGE_FROM_MEMORY,
    ),
    "none": Coverage("nothing finds its failure", 0.0, "no measure"),
}
"""Diagnostic coverage by measure."""

COMMON_CAUSES: dict[str, CommonCause] = {
    "separation": CommonCause("separate paths and cables of the two channels", 15),
    "diversity": CommonCause("two different principles: contacts and a program", 20),
    "overvoltage": CommonCause("protection against overvoltage and overcurrent", 15),
    "well_tried": CommonCause("well-tried components", 5),
    "analysis": CommonCause("failure modes and effects analysed in the design", 5),
    "training": CommonCause("designers trained in common causes", 5),
    "emc": CommonCause("immunity to interference proven by test", 25),
    "environment": CommonCause("temperature, shock, vibration and humidity considered", 10),
}
"""Annex F (from memory), 100 points together."""
