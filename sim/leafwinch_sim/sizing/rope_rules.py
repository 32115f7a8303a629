"""What rope, sheaves, purchase and drum must bear, by standards and wire-rope handbooks.

A rope that parts drops what hangs on it. The tables say what a new, sound rope of the
named construction has; the maker's certificate and the local code come first.
"""

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from leafwinch_sim.rope import capstan_ratio

if TYPE_CHECKING:
    from leafwinch_sim.sizing.conditions import Number

# K of F = K d^2 R, EN 12385-4 and ISO 2408, as in Feyrer, Wire Ropes, table 1.9. FC is a
# fibre core, IWRC an independent wire rope core, WSC a wire strand core, M a cross lay.
ROPE_FACTORS: dict[str, float] = {
    "6x7 FC": 0.332,
    "6x7 IWRC": 0.359,
    "6x7 WSC": 0.388,
    "6x19 FC": 0.330,
    "6x19 IWRC": 0.356,
    "6x36 FC": 0.330,
    "6x36 IWRC": 0.356,
    "8x19 FC": 0.293,
    "8x19 IWRC": 0.356,
    "8x36 FC": 0.293,
    "8x36 IWRC": 0.356,
    "6x19M FC": 0.307,
    "6x19M IWRC": 0.332,
    "7x19": 0.362,
    "6x37M FC": 0.295,
    "6x37M IWRC": 0.319,
    "6x37M WSC": 0.346,
    "18x7 FC": 0.328,
}

# W of mass = W d^2, kg per 100 m and mm2, the same table; 6x19M lies between 0.344 and
# 0.346. Not every construction has one.
ROPE_MASS: dict[str, float] = {
    "6x7 FC": 0.345,
    "6x7 IWRC": 0.384,
    "6x19 FC": 0.359,
    "6x19 IWRC": 0.400,
    "6x36 FC": 0.367,
    "6x36 IWRC": 0.409,
    "8x19 FC": 0.340,
    "8x19 IWRC": 0.407,
    "8x36 FC": 0.348,
    "8x36 IWRC": 0.417,
    "6x19M FC": 0.345,
    "7x19": 0.381,
    "18x7 FC": 0.382,
}

WORKING_COEFFICIENT = 5.0  # ropes, Machinery Directive annex I, 4.1.2.4, from memory


@dataclass(frozen=True, slots=True)
class Group:
    """What ISO 4308-1 asks of one group of mechanisms.

    Attributes:
        running: Zp, breaking force over pull of a rope that runs.
        drum_ratio: h1, pitch diameter of the drum by rope diameter, from memory.
        sheave_ratio: h2, the same of a sheave, from memory.
    """

    running: float
    drum_ratio: float
    sheave_ratio: float


GROUPS: dict[str, Group] = {
    "M1": Group(3.15, 11.2, 12.5),
    "M2": Group(3.35, 12.5, 14.0),
    "M3": Group(3.55, 14.0, 16.0),
    "M4": Group(4.00, 16.0, 18.0),
    "M5": Group(4.50, 18.0, 20.0),
}

# Tension on the side that pulls by that on the other, Wire Rope Users Manual.
SHEAVE_FACTORS: dict[str, float] = {"plain": 1.09, "rolling": 1.04}

DEAD_WRAPS = 2.0  # turns that never leave the drum, OSHA 1910.179(h)(2)(iii), from memory
ANCHOR_LOAD = 2.5  # times the static force, EN 14492-1, from memory
ANCHOR_FRICTION = 0.1  # the same

# ISO 4309, visible broken wires over 6 and over 30 rope diameters at which a rope of a
# single layer of strands is thrown away: steel sheaves, groups M1 to M4, ordinary lay. The
# line follows from the wires in the outer strands, 42 of a 6x7 and 114 of a 7x19, whose
# seventh strand is its core. 6x19 and 8x19 stand two lines higher, where the Seale lay
# belongs, since the name does not tell the lay. 18x7 has a table of its own, not here.
DISCARD_WIRES: dict[str, tuple[int, int]] = {
    "6x7": (2, 4),
    "6x19": (3, 6),
    "6x19M": (5, 10),
    "7x19": (5, 10),
    "8x19": (5, 10),
    "6x36": (9, 18),
    "6x37M": (10, 19),
    "8x36": (12, 24),
}
DISCARD_LENGTHS = (6.0, 30.0)  # in rope diameters, the same

SELF_SUSTAINING_BELOW = 0.5  # efficiency, Khurmi and Gupta, Theory of Machines, ch. 10


def _listed(table: dict[str, float], construction: str, what: str) -> float:
    value = table.get(construction)
    if value is None:
        raise ValueError(f"{construction!r} has no {what}, allowed are {', '.join(table)}")
    return value


def breaking_force_n(construction: str, diameter_m: float, grade_n_per_mm2: float) -> float:
    """Return the least breaking force of a rope in N: K d^2 R, EN 12385-4.

    Args:
        construction: a name of ROPE_FACTORS.
        diameter_m: nominal rope diameter, above 0.
        grade_n_per_mm2: rope grade R, such as 1770 or 1960.

    Raises:
        ValueError: the construction is not listed, in one clause.
    """
    factor = _listed(ROPE_FACTORS, construction, "listed breaking force")
    return factor * (diameter_m * 1000.0) ** 2 * grade_n_per_mm2


def rope_kg_per_m(construction: str, diameter_m: float) -> float:
    """Return the mass of a rope in kg/m: W d^2 / 100 with d in mm, EN 12385-4.

    Args:
        construction: a name of ROPE_MASS.
        diameter_m: nominal rope diameter, above 0.

    Raises:
        ValueError: the construction has no listed mass, in one clause.
    """
    factor = _listed(ROPE_MASS, construction, "listed mass")
    return factor * (diameter_m * 1000.0) ** 2 / 100.0


def design_factor(breaking_n: float, end_strength: float, pull_n: float) -> float:
    """Return breaking force over pull, with the ends' share of the rope's strength.

    Args:
        breaking_n: least breaking force of the rope.
        end_strength: what the end termination keeps of it, above 0 up to 1.
        pull_n: greatest pull, above 0.

    Raises:
        ValueError: the pull is not above 0, in one clause.
    """
    if not pull_n > 0.0:
        raise ValueError(f"a pull of {pull_n:g} N, allowed is above 0")
    return breaking_n * end_strength / pull_n


def least_pitch_diameter_m(ratio: float, rope_m: float) -> float:
    """Return the least pitch diameter of drum or sheave in m: ratio h times rope diameter.

    The pitch diameter goes to the middle of the rope, ISO 4308-1.
    """
    return ratio * rope_m


def bend_ratio(pitch_diameter_m: float, rope_m: float) -> float:
    """Return pitch diameter over rope diameter, which ISO 4308-1 calls h.

    Raises:
        ValueError: the rope diameter is not above 0, in one clause.
    """
    if not rope_m > 0.0:
        raise ValueError(f"a rope of {rope_m * 1000.0:g} mm, allowed is above 0")
    return pitch_diameter_m / rope_m


def lead_line_share(parts: int, sheave_factor: "Number", extra_sheaves: int = 0) -> "Number":
    """Return the pull in the lead line over the load: K^N (K - 1) / (K^N - 1) K^extra.

    Wire Rope Users Manual; the limit without friction is 1 / N. With 1 / K for K it is the
    pull that is left in the lead line while the load comes down.

    Args:
        parts: N, rope parts that bear the load, 1 or more.
        sheave_factor: K, above 0, or an array of such.
        extra_sheaves: lead sheaves after the first; -1 where not even that one is there.

    Raises:
        ValueError: there are no parts, in one clause.
    """
    if parts < 1:
        raise ValueError(f"{parts} parts, allowed is 1 or more")
    # The powers summed up are (K^N - 1) / (K - 1), and no division by nothing where K is 1.
    return sheave_factor ** (parts + extra_sheaves) / sum(sheave_factor**n for n in range(parts))


def sheave_reaction_factor(between_deg: float) -> float:
    """Return the force on a sheave over the rope's tension: 2 cos(a / 2).

    Wire-rope handbooks; both parts have the same tension.

    Args:
        between_deg: a, the angle between the two parts of the rope: 0 where they run
            beside each other (half a turn around the sheave, factor 2), 180 where the
            rope runs straight past it (factor 0).

    Raises:
        ValueError: the angle is not within 0 to 180, in one clause.
    """
    if not 0.0 <= between_deg <= 180.0:
        raise ValueError(f"an angle of {between_deg:g} degrees, allowed is 0 to 180")
    return 2.0 * math.cos(math.radians(between_deg) / 2.0)


def anchor_share_after_wraps(wraps: float = DEAD_WRAPS, friction: float = ANCHOR_FRICTION) -> float:
    """Return what the rope's anchor on the drum must hold, over the static rope force.

    2.5 / e^(friction 2 pi wraps): the load of EN 14492-1 after the belt friction of the
    wraps that stay on the drum.

    Args:
        wraps: turns that stay on the drum, 0 or more.
        friction: of rope on drum, 0 or more.
    """
    return ANCHOR_LOAD / capstan_ratio(friction, 2.0 * math.pi * wraps)


def fleet_angle_deg(offset_m: float, distance_m: float) -> float:
    """Return the angle between rope and the plane of sheave or groove, in degrees.

    Args:
        offset_m: sideways from that plane, along the drum.
        distance_m: from drum to sheave, above 0.

    Raises:
        ValueError: the distance is not above 0, in one clause.
    """
    if not distance_m > 0.0:
        raise ValueError(f"a distance of {distance_m:g} m, allowed is above 0")
    return math.degrees(math.atan2(abs(offset_m), distance_m))


def discard_wires(construction: str | None) -> tuple[int, int] | None:
    """Return at how many visible broken wires a rope is thrown away, ISO 4309.

    Counted over 6 and over 30 rope diameters; what lies in several layers on a drum may have
    more there, but the rope also runs over sheaves. A broken strand means: throw it away at once.

    Args:
        construction: a name of ROPE_FACTORS, or None where it is not known.

    Returns:
        Both numbers; None where the table does not list the construction.
    """
    return None if construction is None else DISCARD_WIRES.get(construction.split(" ")[0])


def self_sustaining(efficiency: float) -> bool:
    """Return whether a gear of this raising efficiency holds its load by friction alone.

    Below one half, Khurmi and Gupta. Vibration and wear can let it run back all the same,
    so it replaces no brake.
    """
    return efficiency < SELF_SUSTAINING_BELOW
