"""How a branch ends, in one record."""

from dataclasses import dataclass

BROKEN = "broken"
FOUND = "found"
SILENT = "silent"
DORMANT = "dormant"


@dataclass(frozen=True, slots=True)
class Outcome:
    """How one branch ended.

    Attributes:
        verdict: BROKEN, FOUND, SILENT (it acted, but nobody noticed) or DORMANT (the rest
            of the script never used what it weakens).
        requirement, broken_ms, text: of the first requirement broken.
        found: in words how it showed itself.
        reaction_ms: longest time from release to motor and brake coil off.
        overrun_mm: longest way of the free end after a release.
        fault: fault number latched, or 0.
        fed: whether the motor was fed when the requirement broke.
        run_ms: simulated time that this branch took.
    """

    verdict: str
    requirement: str = ""
    broken_ms: int = 0
    text: str = ""
    found: str = ""
    reaction_ms: int = 0
    overrun_mm: float = 0.0
    fault: int = 0
    fed: bool = False
    run_ms: int = 0
