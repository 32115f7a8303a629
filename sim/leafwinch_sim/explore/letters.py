"""Letters of the alphabet: pattern, disturbance and for how long, packed in one number."""

from leafwinch_sim.explore.alphabet import Pattern, disturbance_words

# For how long, or what is done.
ONE = 0
FEW = 1
EVENT = 2
STRETCH = 3
SETTLE = 4
PRESS = 5
PRESS_SHORT = 6
PRESS_LONG = 7
POWER = 8
POWER_WATCHDOG = 9
POWER_BAD = 10
POWER_FOREIGN = 11
POWER_BLANK = 12

KIND_WORDS = (
    "for one pass",
    "for three passes",
    "until the core takes a step",
    "for 40 passes more",
    "until all is settled",
    "and the reset button pressed for 2.1 s",
    "and the reset button pressed for 1.9 s",
    "and the reset button pressed for 10.2 s",
    "power off and on",
    "restart by the watchdog",
    "power-up with settings bad",
    "power-up with settings of another site",
    "power-up without a stored record",
)
BOOT_FLAGS = {POWER: 0, POWER_WATCHDOG: 1, POWER_BAD: 2, POWER_FOREIGN: 4, POWER_BLANK: 0}

_KINDS = 16
_DISTURBANCES = 128


def letter(pattern: int, disturbance: int, kind: int) -> int:
    """Pack a letter; pattern: index into the list of patterns; disturbance: -1 for none."""
    return (pattern * _DISTURBANCES + disturbance + 1) * _KINDS + kind


def kind_of(packed: int) -> int:
    """Return for how long, or what is done."""
    return packed % _KINDS


def disturbance_of(packed: int) -> int:
    """Return the disturbance, or -1."""
    return packed // _KINDS % _DISTURBANCES - 1


def pattern_of(packed: int) -> int:
    """Return the index of the pattern."""
    return packed // (_KINDS * _DISTURBANCES)


def letter_words(packed: int, patterns: "list[Pattern]") -> str:
    """Return a letter as words."""
    pattern = patterns[pattern_of(packed)]
    wrong = disturbance_words(disturbance_of(packed))
    parts = [pattern.words()]
    if wrong:
        parts.append(f"but {wrong}")
    return f"{', '.join(parts)}: {KIND_WORDS[kind_of(packed)]}"
