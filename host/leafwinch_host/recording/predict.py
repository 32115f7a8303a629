"""Compares a recording's full travels with what the bench plays of the same site."""

import math
from dataclasses import dataclass, replace

import numpy as np

from leafwinch.states import LOWERING, RAISING, STATE_NAMES
from leafwinch_host.recording.cycles import INRUSH_MS, Travel, travels_of
from leafwinch_host.recording.decode import Whole
from leafwinch_host.recording.recorded import Recorded
from leafwinch_sim.run import run_script
from leafwinch_sim.scripts import load_script
from leafwinch_sim.site_schema import Site
from leafwinch_sim.spread import DRAG, EFFICIENCY, FRICTION, MASS, SUPPLY, Spread
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import Netlist

WAYS = (RAISING, LOWERING)
TENTHS = 10  # parts of a travel whose median current is compared
ALIKE = 0.03  # of time or current; less says nothing (common practice, no source)
EXPLAINS = 0.8  # likeness of a cause's pattern to the measured one, 1 is the same
CAUSES_MAX = 3
QUIET = Spread(noise_ma=0.0)

HARDEST = Spread(FRICTION[1], MASS[1], SUPPLY[0], efficiency=EFFICIENCY[0], drag=DRAG[1])
EASIEST = Spread(FRICTION[0], MASS[0], SUPPLY[1], efficiency=EFFICIENCY[1], drag=DRAG[0])
CORNERS = (
    ("as the file says", QUIET),
    ("hardest, low supply", HARDEST),
    ("hardest, high supply", replace(HARDEST, supply=SUPPLY[1])),
    ("easiest, low supply", replace(EASIEST, supply=SUPPLY[0])),
    ("easiest, high supply", EASIEST),
)
CAUSES = (
    ("low supply", replace(QUIET, supply=SUPPLY[0])),
    ("high supply", replace(QUIET, supply=SUPPLY[1])),
    ("stiff hinges, wheels or sheaves", replace(QUIET, friction=FRICTION[1])),
    ("hinges, wheels or sheaves that run easier", replace(QUIET, friction=FRICTION[0])),
    ("a heavier deck (wet boards, things on it)", replace(QUIET, mass=MASS[1])),
    ("a lighter deck", replace(QUIET, mass=MASS[0])),
    ("a worn gear", replace(QUIET, efficiency=EFFICIENCY[0])),
    ("cold grease in motor or drum", replace(QUIET, drag=DRAG[1])),
)


@dataclass(frozen=True, slots=True)
class Figures:
    """Full travels one way: seconds, median current in A, and median current of each tenth."""

    seconds: float
    median_a: float
    tenths_a: tuple[float, ...]


Both = dict[int, Figures]


@dataclass(frozen=True, slots=True)
class Compared:
    """One way: what was measured against the bench.

    Attributes:
        way: RAISING or LOWERING. travels: how many full ones are in the recording.
        measured, expected: the recording's medians, and the bench as the file says.
        lowest, highest: over the corners of what sound installations differ by.
        outside: tenths (from 0) whose current is outside the corners' band by more than ALIKE.
    """

    way: int
    travels: int
    measured: Figures
    expected: Figures
    lowest: Figures
    highest: Figures
    outside: tuple[int, ...]

    @property
    def seconds_share(self) -> float:
        """How much longer than expected; 0.1 is 10 % longer."""
        return self.measured.seconds / self.expected.seconds - 1

    @property
    def current_share(self) -> float:
        """How much more median current than expected."""
        return self.measured.median_a / self.expected.median_a - 1


@dataclass(frozen=True, slots=True)
class Comparison:
    """Both ways as far as recorded, what it suggests, and corners that did not travel."""

    compared: tuple[Compared, ...]
    sentences: tuple[str, ...]
    failed_corners: tuple[str, ...]


def compare(recorded: Recorded, site: Site, net: Netlist) -> Comparison:
    """Compare; plays a dozen full cycles on the bench.

    Raises:
        BadInput: no full travel was recorded, or the bench itself does not travel.
    """
    measured, counts = measured_of(recorded)
    if not measured:
        raise BadInput(
            f"{recorded.path}: there is no full travel from end to end in it, which a comparison "
            "needs."
        )
    played = {name: played_of(site, net, spread) for name, spread in CORNERS}
    expected = played[CORNERS[0][0]]
    if expected is None:
        raise BadInput(f"Site {site.name}: the bench does not come to both ends with it.")
    corners = [both for both in played.values() if both is not None]
    compared = tuple(
        _compared(way, counts[way], measured[way], expected, corners)
        for way in WAYS
        if way in measured
    )
    sentences = [_sentence(row) for row in compared]
    if not all(_alike(row) for row in compared):
        sentences.append(_causes(site, net, measured, expected))
    failed = tuple(name for name, both in played.items() if both is None)
    return Comparison(compared, tuple(sentences), failed)


def measured_of(recorded: Recorded) -> tuple[Both, dict[int, int]]:
    """Return medians over the full travels each way, and how many there are."""
    rows: dict[int, list[Figures]] = {way: [] for way in WAYS}
    current_a = np.abs(recorded["current_ma"].astype(np.float64)) / 1000
    for travel in travels_of(recorded):
        if travel.full:
            rows[travel.way].append(figures_of(travel, recorded.at_ms, current_a))
    found = {
        way: Figures(
            float(np.median([f.seconds for f in figures])),
            float(np.median([f.median_a for f in figures])),
            tuple(np.median([f.tenths_a for f in figures], axis=0).tolist()),
        )
        for way, figures in rows.items()
        if figures
    }
    return found, {way: len(figures) for way, figures in rows.items()}


def figures_of(
    travel: Travel, at_ms: Whole, current_a: "np.ndarray[tuple[int, ...], np.dtype[np.float64]]"
) -> Figures:
    """Return the figures of one travel."""
    inside = slice(travel.first, travel.end)
    return _figures(at_ms[inside] - travel.start_ms, current_a[inside], travel.seconds)


def _figures(
    since_ms: Whole,
    current_a: "np.ndarray[tuple[int, ...], np.dtype[np.float64]]",
    seconds: float,
) -> Figures:
    running = since_ms >= INRUSH_MS
    since_ms, current_a = since_ms[running], current_a[running]
    tenth = np.minimum(TENTHS - 1, since_ms * TENTHS // max(1, round(seconds * 1000)))
    return Figures(
        seconds,
        float(np.median(current_a)),
        tuple(float(np.median(current_a[tenth == part])) for part in range(TENTHS)),
    )


def played_of(site: Site, net: Netlist, spread: Spread) -> Both | None:
    """Return the figures of a full cycle on the bench, or None where it does not come to both ends.

    They are taken from state and measured current, as those of a recording are.
    """
    result = run_script(site, load_script("full-cycle"), net, spread=spread)
    if result.fault or result.given_up:
        return None
    at_ms = np.asarray(result.trace["t_ms"], dtype=np.int64)
    state = np.asarray(result.trace["state"], dtype=np.int64)
    current_a = np.abs(np.asarray(result.trace["current_ma"], dtype=np.float64)) / 1000
    both: Both = {}
    for way in WAYS:
        rows = np.flatnonzero(state == way)
        begun_ms, seconds = int(at_ms[rows[0]]), (len(rows)) * 0.005
        both[way] = _figures(at_ms[rows] - begun_ms, current_a[rows], seconds)
    return both


def _compared(
    way: int, travels: int, measured: Figures, expected: Both, corners: list[Both]
) -> Compared:
    rows = [both[way] for both in corners]
    lowest, highest = (
        Figures(
            pick(row.seconds for row in rows),
            pick(row.median_a for row in rows),
            tuple(pick(row.tenths_a[part] for row in rows) for part in range(TENTHS)),
        )
        for pick in (min, max)
    )
    outside = tuple(
        part
        for part in range(TENTHS)
        if not lowest.tenths_a[part] * (1 - ALIKE)
        <= measured.tenths_a[part]
        <= highest.tenths_a[part] * (1 + ALIKE)
    )
    return Compared(way, travels, measured, expected[way], lowest, highest, outside)


def _alike(row: Compared) -> bool:
    return abs(row.seconds_share) <= ALIKE and abs(row.current_share) <= ALIKE and not row.outside


def _sentence(row: Compared) -> str:
    """Return in one sentence how a way differs."""
    name = STATE_NAMES[row.way]
    parts = []
    for share, more, less, measured, low, high, unit in (
        (row.seconds_share, "longer", "shorter", row.measured.seconds, row.lowest.seconds,
         row.highest.seconds, "s"),
        (row.current_share, "more current", "less current", row.measured.median_a,
         row.lowest.median_a, row.highest.median_a, "A"),
    ):  # fmt: skip
        if abs(share) <= ALIKE:
            continue
        inside = low <= measured <= high
        where = "within" if inside else "outside"
        parts.append(
            f"{100 * abs(share):.0f} % {more if share > 0 else less}, {where} what sound "
            f"installations differ by ({low:.2f} to {high:.2f} {unit})"
        )
    if row.outside:
        places = ", ".join(f"{10 * part} to {10 * part + 10} %" for part in row.outside)
        parts.append(f"current outside the band at {places} of the travel")
    if not parts:
        return f"{name} is as the bench says, within {100 * ALIKE:.0f} %."
    return f"{name} takes {'; '.join(parts)}."


def _pattern(both: Both, expected: Both, ways: list[int]) -> list[float]:
    """Return how time and current differ, as shares, in an order that is always the same."""
    shares = []
    for way in ways:
        shares.append(both[way].seconds / expected[way].seconds - 1)
        shares.append(both[way].median_a / expected[way].median_a - 1)
    return shares


def likeness(one: list[float], other: list[float]) -> float:
    """Return the cosine of the angle between two patterns; 1: the same but for its size."""
    size = math.hypot(*one) * math.hypot(*other)
    return sum(a * b for a, b in zip(one, other, strict=True)) / size if size else 0.0


def _causes(site: Site, net: Netlist, measured: Both, expected: Both) -> str:
    """Return which single cause would show the same pattern on the bench."""
    ways = [way for way in WAYS if way in measured]
    pattern = _pattern(measured, expected, ways)
    ranked = []
    for name, spread in CAUSES:
        both = played_of(site, net, spread)
        if both is not None:
            ranked.append((likeness(pattern, _pattern(both, expected, ways)), name))
    ranked.sort(reverse=True)
    names = [name for like, name in ranked[:CAUSES_MAX] if like >= EXPLAINS]
    if not names:
        return (
            "No single cause that the bench plays shows this pattern: measure the rope's way, "
            "the supply under load and the deck's mass, and compare the site file with them."
        )
    return f"What shows this pattern on the bench, the likeliest first: {', or '.join(names)}."


OVERRUN_NOTE = "The overrun after a stop can't be seen in a recording; measure it at the free end."
