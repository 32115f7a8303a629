"""A way to a state: in words, and as the plain list of what the core was given."""

from collections.abc import Sequence
from itertools import groupby
from typing import Any

from leafwinch.kept import KEPT_NAMES
from leafwinch.numbers import TICKS_MASK
from leafwinch.settings_schema import settings_from
from leafwinch.signals import CONTACT_NAMES, NO_SAMPLE
from leafwinch_sim.explore.letters import letter_words
from leafwinch_sim.explore.play import CLOCK_START, POWERED, STORED
from leafwinch_sim.explore.rules import Rules
from leafwinch_sim.explore.search import NO_LETTER, Search
from leafwinch_sim.explore.violations import CRASHED, NOTHING
from leafwinch_wiring.errors import BadInput

Entry = tuple[int, int, int, int]


def way_to(search: Search, node: int, last: int = NO_LETTER) -> list[int]:
    """Return the letters from power-up to a node, and one more letter if `last` is given."""
    letters = [] if last == NO_LETTER else [last]
    while node >= 0:
        letters.append(search.arrived[node])
        node = search.parents[node]
    return letters[::-1]


def in_words(search: Search, letters: Sequence[int]) -> list[str]:
    """Return letters as sentences; the first one begins with power-up."""
    words = [letter_words(one, search.grammar.patterns) for one in letters]
    return [f"power on with {words[0]}", *words[1:]] if words else []


def recorded(search: Search, letters: Sequence[int]) -> list[Entry]:
    """Play letters again from power-up and return what the core was given in every pass."""
    log: list[Entry] = []
    before = search.violation
    search.violation = NOTHING
    search.play.log = log
    search.start(letters[0])
    for one in letters[1:]:
        if search.violation:
            break
        search.run_letter(one)
    search.play.log = None
    search.violation = before
    return log


def as_rows(log: Sequence[Entry]) -> list[dict[str, Any]]:
    """Return a log as rows for a JSON file; passes with equal inputs are one row."""
    rows: list[dict[str, Any]] = []
    for (dt_ms, contacts, current_ma, supply_mv), group in groupby(log):
        if contacts == STORED:
            rows.append({"store": True})
        elif contacts == POWERED:
            rows.append({"power_up": dt_ms, "record": not current_ma})
        else:
            closed = [name for i, name in enumerate(CONTACT_NAMES) if contacts >> i & 1]
            rows.append(
                {
                    "passes": len(list(group)),
                    "every_ms": dt_ms,
                    "closed": closed,
                    "current_ma": None if current_ma == NO_SAMPLE else current_ma,
                    "supply_mv": supply_mv,
                }
            )
    return rows


def from_rows(rows: Sequence[dict[str, Any]]) -> list[Entry]:
    """Return the log that as_rows() turned into these rows.

    Raises:
        BadInput: a row that is none of the three kinds, or names an unknown contact.
    """
    log: list[Entry] = []
    for number, row in enumerate(rows, start=1):
        try:
            if "store" in row:
                log.append((0, STORED, 0, 0))
            elif "power_up" in row:
                log.append((int(row["power_up"]), POWERED, 0 if row["record"] else 1, 0))
            else:
                mask = sum(1 << CONTACT_NAMES.index(name) for name in row["closed"])
                current = NO_SAMPLE if row["current_ma"] is None else int(row["current_ma"])
                entry = (int(row["every_ms"]), mask, current, int(row["supply_mv"]))
                log += [entry] * int(row["passes"])
        except (KeyError, ValueError, TypeError) as error:
            raise BadInput(
                f"row {number} of the trace is no power-up, no store and no stretch of passes: "
                f"{error}."
            ) from None
    return log


def played(
    log: Sequence[Entry], values: dict[str, int], make: Any, record: tuple[int, ...]
) -> tuple[int, Any]:
    """Play a log on a core of its own; return what it broke (or NOTHING) and the core.

    make: called with settings, record and boot flags. record: what is stored at the beginning.
    """
    rules = Rules(settings_from(values))
    core = make(values, record, 0)
    now = CLOCK_START
    for dt_ms, contacts, current_ma, supply_mv in log:
        if contacts == POWERED:
            core = make(values, None if current_ma else record, dt_ms)
            core.last_ms = now
            rules.power_up(core.fault, current_ma == 1)
        elif contacts == STORED:
            record = core.record()
            core.stored(now)
            rules.blind()
        else:
            now = (now + dt_ms) & TICKS_MASK
            try:
                out = core.step(now, contacts, current_ma, supply_mv)
                broken = rules.step(dt_ms, contacts, current_ma, supply_mv, out, core)
            except (ValueError, ArithmeticError, LookupError, AttributeError, TypeError):
                return CRASHED, core
            if broken:
                return broken, core
    return NOTHING, core


def rested(core: Any) -> tuple[int, ...]:
    """Return the record of a commissioned drive that has rested."""
    record = list(core.record())
    for name in ("thermal_level", "blocked_ms", "duty_ms100"):
        record[KEPT_NAMES.index(name)] = 0
    return tuple(record)
