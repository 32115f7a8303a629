"""Operator scripts: what a person's hands do, as data in a TOML file.

A step is `do = "VERB [OBJECT]"` with `for = "1.5 s"`, or `until = "CONDITION"` and
`at_most = "60 s"`. VERBS and CONDITIONS below are the whole vocabulary. What a step
sets stays until another step changes it. `expect` names the state, or the latched
fault, that a sound installation shows when the step ends.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from leafwinch.fault_texts import FAULTS
from leafwinch.states import STATE_NAMES
from leafwinch_sim import toml_files, units
from leafwinch_wiring.errors import BadInput

LIMIT_OBJECTS = ("top_end", "bottom_end", "top_final", "bottom_final", "slack_rope")

VERBS: dict[str, tuple[str, ...]] = {
    "raise": (),
    "lower": (),
    "halfway": ("raise", "lower"),
    "release": (),
    "press": ("stop", "reset"),
    "let": ("stop", "reset"),
    "turn": ("key",),
    "untwist": ("key",),
    "fit": ("link",),
    "remove": ("link",),
    "push": LIMIT_OBJECTS,
    "free": LIMIT_OBJECTS,
    "isolate": (),
    "restore": (),
    "wait": (),
}
"""Verbs of a script and the objects each takes (none: it stands alone)."""

CONDITIONS = (
    "idle",
    "held",
    "fault",
    "stopped",
    "moving",
    "top_end",
    "bottom_end",
    "top_final",
    "bottom_final",
    "finals_closed",
)
"""What a step can wait for; each is judged on the machine, not on the firmware's word,
but for the three states `idle`, `held` and `fault`, which the lamp shows."""

EXPECTED = (*STATE_NAMES, *(row[0] for row in FAULTS))

AT_MOST_MS = 120_000
_KEYS = {"do", "for", "until", "at_most", "expect", "note"}


@dataclass(frozen=True, slots=True)
class Step:
    """One step: `for_ms` counts from its begin; with `until` it ends at the latest then."""

    verb: str
    object: str
    for_ms: int
    until: str
    note: str
    expect: str = ""


@dataclass(frozen=True, slots=True)
class Script:
    """A named sequence of steps; `starts_at` is where the deck lies at the beginning."""

    name: str
    summary: str
    starts_at: str
    steps: tuple[Step, ...]


def shipped_scripts() -> tuple[str, ...]:
    """Return the names of the scripts that come with the program, in order."""
    return toml_files.shipped("scripts")


def load_script(path_or_name: str | Path) -> Script:
    """Return the script in a file, or the shipped script of that name.

    Raises:
        BadInput: one sentence that names file and step, what was found, what is allowed.
    """
    return parse_script(*toml_files.read(path_or_name, "scripts", "script"))


def parse_script(data: bytes, source: str) -> Script:
    """Return the script in the bytes of a TOML file; `source` names it in errors."""
    document = toml_files.parse(data, source, "script", "a name and steps")
    for key in document:
        if key not in ("name", "summary", "starts_at", "step"):
            raise BadInput(
                f"{source}: key '{key}' is not known here; allowed are name, summary, "
                "starts_at and step."
            )
    starts_at = document.get("starts_at", "bottom")
    if starts_at not in ("bottom", "top"):
        raise BadInput(f"{source}: starts_at is {starts_at!r}; allowed are 'bottom' and 'top'.")
    rows = document.get("step")
    if not isinstance(rows, list) or not rows:
        raise BadInput(f"{source}: key 'step' is missing; a script needs at least one [[step]].")
    steps = tuple(parse_step(f"{source}: step {number}", row) for number, row in enumerate(rows, 1))
    return Script(
        str(document.get("name", Path(source).stem)),
        str(document.get("summary", "")),
        starts_at,
        steps,
    )


def parse_step(where: str, row: Any, verbs: Mapping[str, tuple[str, ...]] = VERBS) -> Step:
    """Return one step from its table.

    Args:
        where: names file and step in errors.
        row: the table as read from TOML.
        verbs: allowed verbs, each with the objects it takes (none: it stands alone).

    Raises:
        BadInput: one sentence that says what was found and what is allowed.
    """
    if not isinstance(row, dict):
        raise BadInput(f"{where}: a step is a table.")
    for key in row:
        if key not in _KEYS:
            raise BadInput(
                f"{where}: key '{key}' is not known here; allowed are {', '.join(sorted(_KEYS))}."
            )
    do = row.get("do")
    if not isinstance(do, str) or not do.split():
        raise BadInput(f"{where}: key 'do' is missing; it says what the hands do.")
    words = do.split()
    if {"raise", "lower"} <= set(words):
        raise BadInput(
            f"{where}: 'do' is {do!r}, which asks both ways at once; the control is one lever "
            "and goes one way."
        )
    verb = words[0]
    if verb not in verbs:
        raise BadInput(f"{where}: 'do' is {do!r}; allowed verbs are {', '.join(verbs)}.")
    objects = verbs[verb]
    if len(words) != (2 if objects else 1) or (objects and words[1] not in objects):
        allowed = f"'{verb}' with one of {', '.join(objects)}" if objects else f"'{verb}' alone"
        raise BadInput(f"{where}: 'do' is {do!r}; allowed is {allowed}.")
    until = row.get("until", "")
    if until and until not in CONDITIONS:
        raise BadInput(f"{where}: 'until' is {until!r}; allowed are {', '.join(CONDITIONS)}.")
    if until and "for" in row:
        raise BadInput(
            f"{where}: 'for' and 'until' exclude each other; use 'at_most' with 'until'."
        )
    expect = row.get("expect", "")
    if expect and expect not in EXPECTED:
        raise BadInput(
            f"{where}: 'expect' is {expect!r}; allowed are a state "
            f"({', '.join(STATE_NAMES)}) or the name of a fault."
        )
    for_ms = _time(where, row, "at_most", AT_MOST_MS) if until else _time(where, row, "for", 0)
    return Step(verb, words[1] if objects else "", for_ms, until, str(row.get("note", "")), expect)


def _time(where: str, row: dict[str, Any], key: str, default_ms: int) -> int:
    if key not in row:
        return default_ms
    try:
        value_ms = units.parse_quantity(row[key], "ms")
    except ValueError as error:
        raise BadInput(f"{where}: '{key}': {error}.") from None
    if not 0 <= value_ms <= 3_600_000:
        raise BadInput(f"{where}: '{key}' is {row[key]!r}; allowed are 0 s to 3600 s.")
    return round(value_ms)
