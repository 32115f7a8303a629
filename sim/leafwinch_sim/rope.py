"""Elastic rope that pulls but never pushes, and the losses of its sheaves.

Tension = EA * (path - out) / out + damping * stretch rate, never below zero; with the
path shorter than the rope paid out there is slack. A sheave multiplies the tension by
`sheave_factor` from the side that is pulled to the side that pulls, for half a turn of
wrap; less wrap counts by the capstan law with the friction ln(factor) / pi.

The free end hangs on two parts. The tension here is their mean, so twice it pulls the
free end, and the drum sees
    raising: 2 K^(1+n) / (1 + K),  lowering: 2 / (K^n (1 + K))  times it,
with n lead sheaves between purchase and drum.
"""

import math


def capstan_ratio(friction: float, wrap_rad: float) -> float:
    """Return pulling over pulled tension of a rope around a drum: e^(friction * wrap).

    This is the belt friction law of Eytelwein and Euler.
    """
    return math.exp(friction * wrap_rad)


class Rope:
    """Rope from the drum over n lead sheaves and the moving sheave to its anchor.

    Args:
        stiffness_n: axial stiffness EA in newtons (force per unit strain).
        damping: in N s/m of the whole rope.
        lead_m: rope between drum and purchase, apart from the two parts.
        sheave_factor: K, 1 or more.
        lead_sheaves: n, 0 or more.
    """

    __slots__ = (
        "attached",
        "damping",
        "lead_m",
        "lead_sheaves",
        "lowering_factor",
        "raising_factor",
        "sheave_factor",
        "slack_m",
        "stiffness_n",
        "tension_n",
        "wrap_loss",
    )

    def __init__(
        self,
        stiffness_n: float,
        damping: float,
        lead_m: float,
        sheave_factor: float,
        lead_sheaves: int,
    ) -> None:
        self.stiffness_n: float = stiffness_n
        self.damping: float = damping
        self.lead_m: float = lead_m
        self.lead_sheaves: int = lead_sheaves
        self.attached: bool = True
        self.tension_n: float = 0.0
        self.slack_m: float = 0.0
        self.use_sheave_factor(sheave_factor)

    def use_sheave_factor(self, sheave_factor: float) -> None:
        """Take another sheave factor, such as that of dry or dirty bearings."""
        self.sheave_factor: float = sheave_factor
        leads = sheave_factor**self.lead_sheaves
        self.raising_factor: float = 2.0 * sheave_factor * leads / (1.0 + sheave_factor)
        self.lowering_factor: float = 2.0 / (leads * (1.0 + sheave_factor))
        self.wrap_loss: float = math.log(sheave_factor) / math.pi

    def update(self, path_m: float, out_m: float, stretch_rate: float) -> None:
        """Set tension and slack; lengths in m of the whole rope, the rate in m/s."""
        if not self.attached:
            self.tension_n = 0.0
            self.slack_m = path_m
            return
        stretch = path_m - out_m
        if stretch <= 0.0:
            self.tension_n = 0.0
            self.slack_m = -stretch
            return
        tension = self.stiffness_n * stretch / out_m + self.damping * stretch_rate
        self.tension_n = tension if tension > 0.0 else 0.0
        self.slack_m = 0.0
