"""How far sound installations may differ from the site file: the conditions that sizing covers."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from leafwinch_sim.spread import DRAG, EFFICIENCY, FRICTION, MASS, SUPPLY

Floats = NDArray[np.float64]
Number = float | Floats


@dataclass(frozen=True, slots=True)
class Conditions:
    """Factors on the values of a site; 1 is as the file says.

    Each may be a number, or a column of shape (draws, 1) that is worked out against all
    angles at once.

    Attributes:
        friction: of hinges, wheels and sheaves.
        mass: of both leaves.
        supply: voltage without load.
        efficiency: of the gear when it drives.
        drag: of motor and drum, which cold grease raises.
    """

    friction: Number = 1.0
    mass: Number = 1.0
    supply: Number = 1.0
    efficiency: Number = 1.0
    drag: Number = 1.0

    def at_supply(self, supply: float) -> "Conditions":
        """Return the same with another supply."""
        return replace(self, supply=supply)


NAMES = ("friction", "mass", "supply", "efficiency", "drag")
RANGES = (FRICTION, MASS, SUPPLY, EFFICIENCY, DRAG)
NOMINAL = Conditions()
HARDEST = Conditions(FRICTION[1], MASS[1], SUPPLY[0], EFFICIENCY[0], DRAG[1])
"""Aged friction, wet boards, a low supply, a worn gear and cold grease, all at once."""
EASIEST = Conditions(FRICTION[0], MASS[0], SUPPLY[1], EFFICIENCY[1], DRAG[0])
POOR_FRICTION = Conditions(friction=FRICTION[1])


def from_columns(draws: Floats) -> Conditions:
    """Return the conditions of draws of shape (draws, 5), in the order of NAMES."""
    columns = [draws[:, index : index + 1] for index in range(len(NAMES))]
    return Conditions(*columns)
