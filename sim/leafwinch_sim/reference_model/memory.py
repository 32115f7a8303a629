"""What survives power loss, and the worst that it may have missed."""

from dataclasses import dataclass, field

SERIOUS = frozenset(
    (3, 4, 6, 8, 9, 10, 11, 12, 13, 15, 16, 17, 18, 19, 20, 24, 27, 29, 31, 32, 34, 35, 38, 43)
)


@dataclass(frozen=True)
class Memory:
    """Taken at rest only. The default is a commissioned drive after a day of rest."""

    fault: int = 0
    met: dict[str, str] = field(default_factory=dict)
    heat: float = 0.0
    duty: float = 0.0
    blocked: float = 0.0
    extra_used: frozenset[str] = frozenset()
    at_start: dict[str, float] = field(default_factory=dict)
    paid_slack: float = 0.0
    drifts: int = 0
    doubted: frozenset[str] = frozenset()
    parked_high: bool = False
