"""How much an exploration tries: patterns, disturbances, and how many quick changes in a row."""

from dataclasses import dataclass

from leafwinch_sim.explore.alphabet import (
    ANALOG,
    AT_BOTTOM,
    AT_BOTTOM_FINAL,
    AT_TOP,
    AT_TOP_FINAL,
    BAND_CURRENT,
    BETWEEN,
    DOWN,
    NEUTRAL,
    UP,
    all_flips,
)

EVERYTHING = all_flips() + ANALOG
ALL_PLACES = (AT_BOTTOM_FINAL, AT_BOTTOM, BETWEEN, AT_TOP, AT_TOP_FINAL)


@dataclass(frozen=True, slots=True)
class Extent:
    """The bounds of one exploration; within them it is exhaustive.

    quick_max: quick changes between two rests, beyond the first change after a rest. exact:
    every value of every account is a state of its own. asks, places: control and deck. stops,
    keys, links, both: patterns with the stop pressed, the recovery key turned, the service link
    fitted, both ways at once. disturbances: what may be wrong, one at a time. bounces: disturbances also of a single pass.
    fault_flips: disturbances come also while a fault is latched. drifting: the deck may move at
    any time, not only while a travel runs. power: the power may be cycled. extras: also presses
    too short or too long, and every kind of power-up.
    """

    name: str
    asks: tuple[int, ...] = (NEUTRAL, UP, DOWN)
    places: tuple[int, ...] = (AT_BOTTOM, BETWEEN, AT_TOP)
    step_ms: int = 5
    quick_max: int = 0
    exact: bool = False
    disturbances: tuple[int, ...] = ()
    bounces: bool = False
    fault_flips: bool = False
    drifting: bool = False
    power: bool = False
    extras: bool = False
    stops: bool = False
    keys: bool = False
    links: bool = False
    both: bool = False


TRAVELS = Extent("travels", links=True)
HANDS = Extent("hands", quick_max=1, stops=True, both=True)
DRIFTING = Extent("drifting deck", drifting=True)
RECOVERY = Extent("recovery", places=ALL_PLACES, keys=True)
POWER = Extent("power", power=True, extras=True, links=True)
ACCOUNTS = Extent("accounts", exact=True, disturbances=(BAND_CURRENT,))
FLIPS = Extent("single disturbances", disturbances=EVERYTHING)
QUICK_FLIPS = Extent(
    "quick disturbances", disturbances=EVERYTHING, quick_max=1, bounces=True, fault_flips=True
)

# What a core with a bug is tried on: (extent, passes at most), about a minute in all.
HUNT = (
    (TRAVELS, 400_000),
    (HANDS, 400_000),
    (RECOVERY, 400_000),
    (POWER, 400_000),
    (FLIPS, 400_000),
    (DRIFTING, 200_000),
    (ACCOUNTS, 400_000),
    (QUICK_FLIPS, 400_000),
)
