"""Explore the control core: settings made short, an alphabet, the search, and what came of it."""

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from hashlib import blake2b
from typing import Any

from leafwinch.controller import Controller
from leafwinch.fault_texts import FAULTS
from leafwinch.faults import is_serious
from leafwinch.settings import Settings
from leafwinch.settings_schema import settings_from
from leafwinch.states import STATE_NAMES
from leafwinch_sim.explore.alphabet import (
    ANALOG,
    AT_BOTTOM,
    AT_TOP,
    BAND_CURRENT,
    BETWEEN,
    DOWN,
    HIGH_CURRENT,
    LATE_PASS,
    LOW_SUPPLY,
    NEUTRAL,
    NO_CURRENT,
    REST_CURRENT,
    REVERSED_CURRENT,
    STALE_CURRENT,
    UNDISTURBED,
    UP,
    Pattern,
)
from leafwinch_sim.explore.extents import HUNT, Extent
from leafwinch_sim.explore.grammar import Grammar, patterns_of
from leafwinch_sim.explore.graph import stranded, without_way_out
from leafwinch_sim.explore.letters import SETTLE, letter
from leafwinch_sim.explore.play import (
    AT_REST,
    BAND,
    HIGH,
    NONE,
    NORMAL,
    REVERSED,
    STALE,
    UNSUPPLIED,
    Play,
)
from leafwinch_sim.explore.projection import Projection
from leafwinch_sim.explore.search import Search
from leafwinch_sim.explore.trace import as_rows, in_words, recorded, rested, way_to
from leafwinch_sim.explore.violations import VIOLATIONS

PASSES_MAX = 10**12
MakeCore = Callable[[dict[str, int], "tuple[int, ...] | None", int], Any]
# Travels and accounts as short as the core's settings allow, and every allowance small. Currents
# lie far below the thermal base, which keeps the thermal level out of the exploration.
SHORT = {
    "travel_raise_ms": 520,
    "travel_lower_ms": 520,
    "budget_raise_ms": 620,
    "budget_lower_ms": 620,
    "early_raise_ms": 150,
    "early_lower_ms": 150,
    "start_allow_ms": 0,
    "start_allow_total_ms": 0,
    "extra_ms": 300,
    "leave_bottom_ms": 500,
    "leave_top_ms": 500,
    "trip_ma": 300,
    "trip_ms": 20,
    "inrush_ms": 50,
    "inrush_trip_ma": 500000,
    "run_max_ma": 200,
    "missing_raise_ma": 100,
    "missing_lower_ma": 100,
    "rest_ma": 50,
    "wrong_ma": 50,
    "thermal_base_ma": 499999,
    "thermal_heat_s": 10,
    "thermal_cool_s": 10,
    "thermal_restart_pct": 98,
    "duty_pct": 100,
    "slack_allow_ms": 50,
    "slack_top_ms": 100,
    "slack_zone_ms": 100,
}
_FLOWS = {
    NO_CURRENT: NONE,
    HIGH_CURRENT: HIGH,
    BAND_CURRENT: BAND,
    REVERSED_CURRENT: REVERSED,
    REST_CURRENT: AT_REST,
    STALE_CURRENT: STALE,
    LOW_SUPPLY: UNSUPPLIED,
}


def shortened(site_settings: dict[str, int]) -> dict[str, int]:
    """Return a site's settings with travels, accounts and currents made short and small."""
    return site_settings | SHORT


def make_real(values: dict[str, int], kept: "tuple[int, ...] | None", boot: int) -> Controller:
    """Build the real core."""
    return Controller(settings_from(values), kept, boot)


def build(extent: Extent, values: dict[str, int], make: MakeCore = make_real) -> Search:
    """Return a search that stands before its first step."""
    settings: Settings = settings_from(values)

    def core_from(kept: "tuple[int, ...] | None", boot: int) -> Any:
        return make(values, kept, boot)

    core = core_from(None, 0)
    record = rested(core)
    patterns = patterns_of(extent)
    search = Search(
        Play(core, settings, record, extent.step_ms),
        Projection(core, settings, extent.exact, extent.power),
        Grammar(patterns, extent),
        effects(),
        core_from,
        frozenset(n for n in range(1, len(FAULTS) + 1) if is_serious(n)),
        extent.quick_max,
        extent.step_ms,
    )
    for place in extent.places:
        first = letter(patterns.index(Pattern(NEUTRAL, place)), UNDISTURBED, SETTLE)
        if not search.violation:
            search.begin(first)
    return search


def effects() -> list[tuple[int, int, int, int]]:
    """Return (contacts on, contacts off, flow, late) of every disturbance by number + 1."""
    found = [(0, 0, NORMAL, 0)]
    for number in range(ANALOG[-1] + 1):
        if number < ANALOG[0]:
            bit = 1 << (number >> 1)
            found.append((bit, 0, NORMAL, 0) if number & 1 else (0, bit, NORMAL, 0))
        else:
            found.append((0, 0, _FLOWS.get(number, NORMAL), 1 if number == LATE_PASS else 0))
    return found


@dataclass(frozen=True, slots=True)
class Violation:
    """A broken rule: requirement, what happened, the way there, and what the core was given.

    rows: the plain list of passes, as trace.as_rows() writes it.
    """

    requirement: str
    text: str
    words: list[str]
    rows: list[dict[str, Any]]


@dataclass(frozen=True, slots=True)
class Exploration:
    """What one exploration found; `digest` is a hash over all states and edges.

    passes: passes of the core played and judged. complete: nothing was left to play. faults:
    names of the faults reached. stranded, no_way_out: words and the number of such states.
    """

    extent: Extent
    settings: dict[str, int]
    complete: bool
    states: int
    by_state: dict[str, int]
    edges: int
    passes: int
    faults: list[str]
    violation: Violation | None
    stranded: dict[str, int]
    no_way_out: dict[str, int]
    digest: str

    @property
    def holds(self) -> bool:
        """Tell whether the search closed, no rule was broken and there is a way everywhere."""
        broken = self.violation or self.stranded or self.no_way_out
        return self.complete and not broken


def explore(
    extent: Extent,
    site_settings: dict[str, int],
    make: MakeCore = make_real,
    passes_max: int = PASSES_MAX,
    progress: Callable[[int, int, int], None] | None = None,
) -> Exploration:
    """Explore until nothing is left, a rule is broken, or so many passes were played.

    site_settings: those of a site; travels, accounts and currents are made short. progress: told
    states, states left to expand, and passes, now and then.

    Raises:
        ValueError: the settings contradict each other.
    """
    values = shortened(site_settings) | dict(extent.settings)
    search = build(extent, values, make)
    while search.passes < passes_max and search.expand():
        if progress is not None:
            progress(len(search.states), len(search.queue), search.passes)
    return result(search, extent, values)


def result(search: Search, extent: Extent, values: dict[str, int]) -> Exploration:
    """Return what a search found so far."""
    complete = not search.is_broken() and not search.queue
    state_at = search.state_index("controller.state")
    by_state = Counter(STATE_NAMES[state[state_at]] for state in search.states)
    passable = {AT_BOTTOM, BETWEEN, AT_TOP} <= set(extent.places) and {UP, DOWN} <= set(extent.asks)
    hashed = blake2b(digest_size=16)
    for form in search.found:
        hashed.update(form)
    for edges in (search.sources, search.targets, search.flags):
        hashed.update(edges.tobytes())
    return Exploration(
        extent=extent,
        settings=values,
        complete=complete,
        states=len(search.states),
        by_state={name: by_state[name] for name in STATE_NAMES},
        edges=len(search.sources),
        passes=search.passes,
        faults=[FAULTS[number - 1][0] for number in sorted(search.fault_nodes)],
        violation=violation_of(search) if search.is_broken() else None,
        # Where the deck cannot go from end to end, there is nothing to reach.
        stranded=counted(stranded(search, extent.links)) if complete and passable else {},
        no_way_out=counted(without_way_out(search)) if complete else {},
        digest=hashed.hexdigest(),
    )


def counted(found: list[tuple[int, str]]) -> dict[str, int]:
    """Return how many nodes each sentence was found for."""
    return dict(Counter(words for _, words in found))


def violation_of(search: Search) -> Violation:
    """Return the rule that a search broke, with the shortest way there."""
    requirement, text = VIOLATIONS[search.violation]
    letters = way_to(search, search.violation_node, search.violation_letter)
    words = in_words(search, letters)
    return Violation(requirement, text, words, as_rows(recorded(search, letters)))


def caught_by_exploration(make: MakeCore) -> bool:
    """Tell whether exploration alone finds something wrong with a core.

    make: builds it from settings, stored record and boot flags. The explorations of HUNT are
    tried in turn, each to its bound; the first that does not hold ends the hunt.
    """
    return finding(make) != ""


def finding(make: MakeCore) -> str:
    """Return the first thing that exploration finds wrong with a core, or nothing."""
    for extent, passes_max in HUNT:
        found = explore(extent, {}, make, passes_max)
        if found.violation:
            return f"{extent.name}: {found.violation.requirement} {found.violation.text}"
        for words in (*found.stranded, *found.no_way_out):
            return f"{extent.name}: no way out of or to {words}"
    return ""
