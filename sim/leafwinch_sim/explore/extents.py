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
    LATE_PASS,
    LOW_SUPPLY,
    NEUTRAL,
    STALE_CURRENT,
    UP,
    all_flips,
    stuck,
)

# Bits of the contacts that matter most while a raise starts: its control, chain and mirrors.
MIRROR_BITS = (10, 11, 12)
START_BITS = (0, 2, 9, *MIRROR_BITS)
RESET_BIT = 15
EVERYTHING = all_flips() + ANALOG
ALL_PLACES = (AT_BOTTOM_FINAL, AT_BOTTOM, BETWEEN, AT_TOP, AT_TOP_FINAL)


@dataclass(frozen=True, slots=True)
class Extent:
    """The bounds of one exploration; within them it is exhaustive.

    quick_max: quick changes between two rests, beyond the first change after a rest. exact:
    every value of every account is a state of its own. asks, places: control and deck. stops,
    keys, links, both: patterns with the stop pressed, the recovery key turned, the service link
    fitted, both ways at once. disturbances: what may be wrong, one at a time. bounces: also for
    a single pass. fault_flips: also while a fault is latched. drifting: the deck may move at any
    time, not only while a travel runs. power: the power may be cycled. extras: also presses too
    short or too long, and every kind of power-up. settings: what differs from the short ones.
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
    settings: tuple[tuple[str, int], ...] = ()


# Small enough for every test run, without the compiled build.
TRAVELS = Extent("travels")
POWER = Extent(
    "power",
    places=(AT_BOTTOM, AT_TOP),
    disturbances=(BAND_CURRENT,),
    power=True,
    extras=True,
)
RECOVERY = Extent(
    "recovery at the top",
    places=(BETWEEN, AT_TOP, AT_TOP_FINAL),
    keys=True,
    # Leaving the end may take longer than a recovery pulse, or the pulse's own limit stays unseen.
    settings=(("travel_lower_ms", 900), ("budget_lower_ms", 1000), ("leave_top_ms", 800)),
)
START = Extent(
    "disturbed start",
    asks=(NEUTRAL, UP),
    places=(AT_BOTTOM,),
    disturbances=(
        *(stuck(bit, closed) for bit in START_BITS for closed in (False, True)),
        STALE_CURRENT,
        LOW_SUPPLY,
        LATE_PASS,
    ),
)
BUTTON = Extent(
    "stop and button",
    asks=(NEUTRAL,),
    places=(AT_BOTTOM,),
    disturbances=(stuck(RESET_BIT, True),),
    quick_max=2,
    bounces=True,
    fault_flips=True,
    stops=True,
)
CAUSES = Extent(
    "stop and mirrors",
    asks=(NEUTRAL, UP),
    places=(AT_BOTTOM,),
    disturbances=tuple(stuck(bit, False) for bit in MIRROR_BITS),
    quick_max=1,
    stops=True,
)
TAPS = Extent(
    "taps",
    asks=(NEUTRAL, UP),
    places=(AT_BOTTOM, BETWEEN),
    exact=True,
    disturbances=(BAND_CURRENT,),
    settings=(("start_allow_ms", 50), ("start_allow_total_ms", 100)),
)
SMALL = (TRAVELS, POWER, RECOVERY, START, BUTTON, CAUSES)

# The rest takes minutes, compiled.
LINKS = Extent("service link", links=True)
HANDS = Extent("hands", quick_max=1, stops=True, both=True)
DRIFTING = Extent("drifting deck", drifting=True, links=True)
FULL_RECOVERY = Extent("recovery", places=ALL_PLACES, keys=True, stops=True)
FULL_POWER = Extent("power and link", power=True, extras=True, links=True)
FLIPS = Extent("single disturbances", disturbances=EVERYTHING)
QUICK_FLIPS = Extent(
    "quick disturbances", disturbances=EVERYTHING, quick_max=1, bounces=True, fault_flips=True
)
ACCOUNTS = Extent(
    "accounts",
    exact=True,
    disturbances=(BAND_CURRENT,),
    settings=(("start_allow_ms", 50), ("start_allow_total_ms", 100)),
)
LARGE = (LINKS, HANDS, DRIFTING, FULL_RECOVERY, FULL_POWER, FLIPS, QUICK_FLIPS, TAPS, ACCOUNTS)

# What a core with a bug is tried on: (extent, passes at most).
HUNT = (
    (TRAVELS, 400_000),
    (POWER, 400_000),
    (RECOVERY, 400_000),
    (START, 400_000),
    (BUTTON, 400_000),
    (CAUSES, 400_000),
    (TAPS, 1_300_000),
    (FULL_POWER, 100_000),
    (FLIPS, 500_000),
    (DRIFTING, 200_000),
    (HANDS, 200_000),
)
