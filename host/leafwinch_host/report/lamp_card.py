"""The lamp card: what the lamps and the buzzer say, on one sheet to hang beside the control.

Every pattern is played by the firmware's own indicator, so the card can't say otherwise
than the lamps do.
"""

from dataclasses import asdict, dataclass
from typing import Literal

from leafwinch.fault_texts import FAULT_TEXTS, FAULTS
from leafwinch.indicator import BETWEEN_MS, DIM_TICKS, PAUSE_MS, Indicator
from leafwinch.signals import OUT_BUZZER, OUT_LAMP_RED, OUT_LAMP_WHITE
from leafwinch.states import FAULT, HELD, IDLE, RAISING
from leafwinch_host import version
from leafwinch_host.report.made import paper, paper_parts

STEP_MS = 5
SHOWN_MS = 4000  # of a white pattern
CODE_MS = 60_000  # longer than any code of the red lamp
DARK, DIM, BRIGHT = 0, 1, 2

Form = Literal["pdf", "svg", "png"]

WHITE_PATTERNS = (
    ("ready", IDLE, "Dim glow: ready. It also shows where the switch is at night."),
    ("moving", RAISING, "Bright: the deck moves, or is about to. Keep clear."),
    (
        "locked out until released",
        HELD,
        "Bright and dim by turns: let the control go to its middle and wait.",
    ),
)


@dataclass(frozen=True)
class Run:
    """A stretch of one brightness: 0 dark, 1 dim, 2 bright; length in ms."""

    level: int
    ms: int


@dataclass(frozen=True)
class Code:
    """One fault on the card."""

    number: int
    words: str
    flashes: str
    runs: tuple[Run, ...]
    meaning: str
    look_at: str


def white_runs(state: int) -> tuple[Run, ...]:
    """Return what the white lamp does in one state over SHOWN_MS, as the eye sees it.

    One pass lit in DIM_TICKS is seen as a dim glow.
    """
    levels = []
    for lit in _lit(state, 0, OUT_LAMP_WHITE, SHOWN_MS, DIM_TICKS * STEP_MS):
        levels.append(BRIGHT if lit == DIM_TICKS else DIM if lit else DARK)
    return _runs(levels, DIM_TICKS * STEP_MS)


def red_runs(fault: int) -> tuple[Run, ...]:
    """Return what the red lamp does with one fault (1 to len(FAULTS)), its pause left out."""
    levels = [BRIGHT if lit else DARK for lit in _lit(FAULT, fault, OUT_LAMP_RED, CODE_MS, STEP_MS)]
    code = []
    for run in _runs(levels, STEP_MS):
        if run.level == DARK and run.ms >= PAUSE_MS:
            break
        code.append(run)
    return tuple(code)


def buzzer_ms(fault: int) -> int:
    """Return for how long the buzzer sounds when a fault appears, in ms."""
    return sum(_lit(FAULT, fault, OUT_BUZZER, CODE_MS, STEP_MS)) * STEP_MS


def _lit(state: int, fault: int, lamp: int, length_ms: int, grain_ms: int) -> list[int]:
    """Return in how many passes of each grain a lamp is lit."""
    indicator = Indicator()
    passes = [
        1 if indicator.step(STEP_MS, state, fault) & lamp else 0
        for _ in range(length_ms // STEP_MS)
    ]
    grain = grain_ms // STEP_MS
    return [sum(passes[at : at + grain]) for at in range(0, len(passes), grain)]


def _runs(levels: list[int], grain_ms: int) -> tuple[Run, ...]:
    runs: list[Run] = []
    for level in levels:
        if runs and runs[-1].level == level:
            runs[-1] = Run(level, runs[-1].ms + grain_ms)
        else:
            runs.append(Run(level, grain_ms))
    return tuple(runs)


def codes() -> list[Code]:
    """Return every fault of the table in the order of what the lamp shows."""
    found = []
    for number, (name, _, group, item) in enumerate(FAULTS, start=1):
        meaning, look_at = FAULT_TEXTS[number - 1]
        found.append(
            Code(
                number,
                name.replace("_", " "),
                f"{group} long, {item} short",
                red_runs(number),
                meaning,
                look_at,
            )
        )
    return sorted(found, key=lambda code: (FAULTS[code.number - 1][2:4], code.number))


def lamp_card(form: Form = "pdf") -> bytes:
    """Return the card as one sheet A4; `form` is "pdf", "svg" or "png".

    The same firmware gives the same bytes: no date, and only fonts that the library carries.
    """
    data = {
        "version": version(),
        "white": [
            {"name": name, "words": words, "runs": [asdict(run) for run in white_runs(state)]}
            for name, state, words in WHITE_PATTERNS
        ],
        "codes": [asdict(code) for code in codes()],
        "pause_s": PAUSE_MS / 1000,
        "between_s": BETWEEN_MS / 1000,
        "buzzer_s": buzzer_ms(1) / 1000,
    }
    made = paper(paper_parts("lamp_card", data), format=form, ppi=144.0)
    # Of several sheets the library returns a list of pictures.
    if not isinstance(made, bytes):
        raise ValueError("the lamp card has grown beyond one sheet")
    return made
