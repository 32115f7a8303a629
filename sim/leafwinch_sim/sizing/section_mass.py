"""Mass of the steel tubes and boards that a leaf is made of.

Steel: cold formed hollow sections, EN 10219-2, with the corner radii it gives for the
calculation of sectional properties. Timber: handbook densities at about 12 % moisture.
"""

import math
import re

STEEL_KG_PER_M3 = 7850.0  # EN 10219-2
OUTER_RADIUS_WALLS = 2.0  # outer corner radius in wall thicknesses, EN 10219-2, walls to 6 mm
INNER_RADIUS_WALLS = 1.0  # inner corner radius, the same
WALL_MM_MAX = 6.0  # thicker walls have larger radii in EN 10219-2

# Seasoned timber, kg/m3, as mechanical engineers' handbooks list it. Where they give a
# range, the middle of it: larch 500 to 560, spruce 480 to 780, oak 600 to 900.
TIMBER_KG_PER_M3: dict[str, float] = {
    "western-red-cedar": 380.0,
    "larch": 530.0,
    "douglas-fir": 530.0,
    "scots-pine": 510.0,
    "european-redwood": 510.0,
    "spruce": 630.0,
    "canadian-spruce": 450.0,
    "iroko": 660.0,
    "oak": 750.0,
    "brown-oak": 740.0,
    "keruing": 740.0,
    "dark-red-meranti": 710.0,
    "sapele": 640.0,
    "greenheart": 1040.0,
}
DENSITY_SPREAD = 0.10  # normal within a species, USDA report FPL-GTR-113
WIDE_SPREAD: dict[str, float] = {"spruce": 150.0 / 630.0, "oak": 150.0 / 750.0}

SEASONED = 12.0  # % moisture of the densities above, the same handbooks

WATER_KG_PER_M3 = 1000.0
SWELLING_PER_PERCENT = 0.009  # the volume grows by this times G for each % of moisture
FIBRE_SATURATION = 30.0  # % moisture, USDA Wood Handbook; wetter wood swells no more

_TUBE = re.compile(r"\s*(\d+(?:\.\d+)?)\s*x\s*(\d+(?:\.\d+)?)\s*x\s*(\d+(?:\.\d+)?)\s*(?:mm)?\s*")


def rectangular_tube_kg_per_m(height_mm: float, width_mm: float, wall_mm: float) -> float:
    """Return the mass of a cold formed rectangular tube in kg/m.

    A = 2 T (B + H - 2 T) - (4 - pi)(ro^2 - ri^2) with ro = 2 T and ri = T, EN 10219-2.

    Args:
        height_mm: outer size, at least four walls, so that the corners have room.
        width_mm: the other outer size, the same.
        wall_mm: above 0, at most 6.

    Raises:
        ValueError: a size is out of range; one clause tells what was found and is allowed.
    """
    if not 0.0 < wall_mm <= WALL_MM_MAX:
        raise ValueError(f"a wall of {wall_mm:g} mm, allowed is above 0 up to {WALL_MM_MAX:g} mm")
    side = min(height_mm, width_mm)
    least = 2.0 * OUTER_RADIUS_WALLS * wall_mm
    if not (side >= least and math.isfinite(height_mm) and math.isfinite(width_mm)):
        raise ValueError(
            f"a side of {side:g} mm with a wall of {wall_mm:g} mm, allowed is {least:g} mm or more"
        )
    outer, inner = OUTER_RADIUS_WALLS * wall_mm, INNER_RADIUS_WALLS * wall_mm
    sharp = 2.0 * wall_mm * (height_mm + width_mm - 2.0 * wall_mm)
    area_mm2 = sharp - (4.0 - math.pi) * (outer * outer - inner * inner)
    return area_mm2 * 1e-6 * STEEL_KG_PER_M3


def parse_tube(words: str) -> tuple[float, float, float]:
    """Return height, width and wall in mm of words such as "40x40x3 mm".

    Raises:
        ValueError: the words are no tube; one clause tells what was found and is allowed.
    """
    found = _TUBE.fullmatch(words)
    if found is None:
        raise ValueError(f"{words!r}, allowed is height x width x wall such as '40x40x3 mm'")
    height, width, wall = (float(part) for part in found.groups())
    rectangular_tube_kg_per_m(height, width, wall)
    return height, width, wall


def timber_density(dry_gravity: float, moisture_percent: float) -> float:
    """Return the density of wood in kg/m3 at a moisture content.

    rho = 1000 G / (1 + 0.009 G M) (1 + M / 100), USDA report FPL-GTR-113 (there with
    62.4 lb/ft3 for water).

    Args:
        dry_gravity: G, specific gravity of the oven-dry wood by its oven-dry volume, since
            the formula lets the volume grow with the moisture; above 0, at most 1.5.
        moisture_percent: M, mass of water by dry mass, 0 to 30 (fibre saturation).

    Raises:
        ValueError: a value is out of range, in one clause.
    """
    if not 0.0 < dry_gravity <= 1.5:
        raise ValueError(f"a specific gravity of {dry_gravity:g}, allowed is above 0 up to 1.5")
    if not 0.0 <= moisture_percent <= FIBRE_SATURATION:
        raise ValueError(
            f"a moisture of {moisture_percent:g} %, allowed is 0 to {FIBRE_SATURATION:g} %"
        )
    swollen = 1.0 + SWELLING_PER_PERCENT * dry_gravity * moisture_percent
    return WATER_KG_PER_M3 * dry_gravity / swollen * (1.0 + moisture_percent / 100.0)


def oven_dry_gravity(density_kg_per_m3: float, moisture_percent: float) -> float:
    """Return the specific gravity G of oven-dry wood, the inverse of `timber_density`.

    Args:
        density_kg_per_m3: at that moisture, above 0.
        moisture_percent: 0 to 30.
    """
    swelling = SWELLING_PER_PERCENT * moisture_percent * density_kg_per_m3
    return density_kg_per_m3 / (WATER_KG_PER_M3 * (1.0 + moisture_percent / 100.0) - swelling)


def heaviest_density(species: str) -> float:
    """Return the density in kg/m3 of a heavy board of a listed species, moist to saturation.

    Moist means fibre saturation; a board that stands in water takes up more.
    """
    density = TIMBER_KG_PER_M3[species]
    moist = timber_density(oven_dry_gravity(density, SEASONED), FIBRE_SATURATION)
    return moist * (1.0 + density_spread(species))


def density_spread(species: str) -> float:
    """Return by what share a board of a listed species may be lighter or heavier.

    0.10 within a species; more where the handbooks give a wider range.
    """
    return WIDE_SPREAD.get(species, DENSITY_SPREAD)


def boards_kg(density_kg_per_m3: float, thickness_m: float, area_m2: float) -> float:
    """Return the mass of boards in kg; gaps between boards are not counted in the area."""
    return density_kg_per_m3 * thickness_m * area_m2
