"""When two states count as one: the canonical form that is hashed.

Every step from the full state to the canonical form is one of these:

* dropped: the core writes it and never decides by it (lamps, warnings, what was refused, the
  later fault), or it is the time of the last pass, which every stretch takes anew;
* capped: it is only ever compared with limits up to the cap;
* dead: it is not read again before it is written anew (the limits at rest, soon after a stop);
* graded, only where `exact` is false: a travel, blocked or slack account counts only as below its
  limit or at it, and LAST_TRAVEL and UNFOLLOWED are left out. Of the states that this unites only
  the first one met is followed, so here an exploration is bounded and not exhaustive.

With currents far below the thermal base the thermal load is zero, and a level below the
restart level can only fall, without any effect: it counts as zero.
"""

from array import array
from hashlib import blake2b
from typing import Any

from leafwinch.faults import SETTINGS_BAD, SETTINGS_FOREIGN
from leafwinch.kept import KEPT_NAMES
from leafwinch.settings import Settings
from leafwinch.signals import OUT_LINE_PULSE
from leafwinch_sim.explore.evidence import EVIDENCE_FIELDS
from leafwinch_sim.explore.play import PLAY_FIELDS
from leafwinch_sim.explore.rules import RULES_FIELDS

DROPPED = (
    "controller.last_ms",
    "controller.later_fault",
    "controller.refused",
    "controller.held_reasons",
    "controller.kept_actuated_ms",
    "controller.warning",
    "controller.warnings",
    "control.halfway_said",
    "ends.drifted",
    "indicator.ticks",
    "indicator.phase_ms",
    "indicator.shown",
    "indicator.tone_ms",
)
CAPPED = (
    ("inputs.settle_ms", 100),
    ("chain.key_ms", 100),
    ("ends.top_left_ms", 200),
    ("ends.bottom_left_ms", 200),
    ("ends.both_ms", 50),
    ("ends.rest_ms", 1000),
    ("control.neutral_ms", 300),
    ("control.both_ms", 500),
    ("control.halfway_ms", 1000),
    ("contactors.off_ms", 1000),
    ("contactors.run_ms", 505),
    ("current.stalled_ms", 61),
    ("current.rest_ms", 500),
    ("current.rest_over_ms", 200),
    ("current.band_ms", 60),
    ("slack.taut_ms", 100),
    ("cause.window_ms", 40),
    ("rules.neutral_ms", 300),
    ("rules.up_gap_ms", 1000),
    ("rules.down_gap_ms", 1000),
    ("rules.off_gap_ms", 30),
    ("rules.run_ms", 505),
    ("rules.band_ms", 60),
    ("rules.taut_ms", 100),
    ("rules.rest_ms", 1300),
    ("rules.fault_ms", 1000),
    ("evidence.age_ms", 60),
    ("evidence.line_ms", 100),
    ("evidence.up_ms", 100),
    ("evidence.down_ms", 100),
)
# What is left of a travel a second after its stop: read again only if a contactor moves within a
# second after the record was stored. Followed in the first state met unless all is exact.
LAST_TRAVEL = ("contactors.way", "contactors.run_ms", "contactors.letting_go")
LONG_OFF_MS = 1000
# With accounts graded also these are followed only in the first state met.
UNFOLLOWED = (
    "contactors.park_high",
    "kept.park_high",
    "controller.pulse",
    "slack.taut_ms",
    "rules.up_ms",
    "rules.down_ms",
    "rules.up_link",
    "rules.down_link",
    "rules.blocked_ms",
    "rules.band_ms",
    "rules.slack_ms",
    "rules.taut_ms",
)
NEED_SETTINGS = (SETTINGS_BAD, SETTINGS_FOREIGN)
REST_LIMITS_MS = 1000  # before this the limits at rest are taken anew in every pass
RUNNING_FROM = 3  # phase in which the line contactor is commanded


def names_of(core: Any) -> "list[str]":
    """Return the name of every entry of a core's snapshot, such as "budget.up_ms"."""
    names = []
    for part in core.parts():
        owner = "controller" if part is core else type(part).__name__.lower()
        names += [f"{owner}.{name}" for name in part.FIELDS]
    return names


def state_names(core: Any) -> "list[str]":
    """Return the name of every entry of a full state."""
    return [
        *names_of(core),
        *(f"play.{name}" for name in PLAY_FIELDS),
        *(f"rules.{name}" for name in RULES_FIELDS),
        *(f"evidence.{name}" for name in EVIDENCE_FIELDS),
        *(f"kept.{name}" for name in KEPT_NAMES),
    ]


class Projection:
    """Turns full states into their canonical form."""

    def __init__(self, core: Any, settings: Settings, exact: bool, power: bool) -> None:
        names = state_names(core)
        dropped: tuple[str, ...] = DROPPED if exact else DROPPED + UNFOLLOWED
        if not power:
            # Without a power cycle nothing ever reads the record again.
            dropped += tuple(f"kept.{name}" for name in KEPT_NAMES)
        self.kept = [i for i in range(len(names)) if names[i] not in dropped]
        self.outs = [] if exact else [names.index("play.out"), names.index("rules.out")]
        self.boot_ms = int(core.current.boot_ms)
        self.caps = [(names.index(name), cap) for name, cap in CAPPED]
        self.caps.append((names.index("contactors.quiet_ms"), settings.pause_ms))
        self.caps.append((names.index("evidence.on_ms"), 20))
        self.exact = exact
        self.last_travel = [names.index(name) for name in LAST_TRAVEL]
        self.grades = [] if exact else graded(names, settings)
        self.restart_level = int(core.thermal.restart_level)
        self.at = [names.index(name) for name in PLACES]

    def key(self, state: "tuple[int, ...]", conditions: int) -> bytes:
        """Return the hash (128 bits) of a full state's canonical form under these conditions."""
        form = self.form(state)
        form.append(conditions)
        return blake2b(array("q", form).tobytes(), digest_size=16).digest()

    def form(self, state: "tuple[int, ...]") -> "list[int]":
        """Return the canonical form of a full state."""
        v = list(state)
        for index, cap in self.caps:
            if v[index] > cap:
                v[index] = cap
        self._dead(v)
        for index in self.outs:
            v[index] &= ~OUT_LINE_PULSE
        for index, limit in self.grades:
            v[index] = 0 if v[index] < limit else 1
        return [v[index] for index in self.kept]

    def _dead(self, v: "list[int]") -> None:
        (
            phase,
            off_ms,
            letting_go,
            released_seen,
            quiet_ms,
            pulse,
            is_open,
            ended,
            full,
            run_way,
            eased_ms,
            eased_way,
            rest_ms,
            rest_limits,
            level,
            carry,
            load_sum,
            period_ms,
            fault,
            found,
            pressed,
            rules_press,
            kept_level,
            kept_blocked,
            age_ms,
            rules_fault,
            kept_fault,
        ) = self.at
        if v[phase]:
            for index in (off_ms, letting_go, released_seen, quiet_ms):
                v[index] = 0
        elif not self.exact and v[off_ms] >= LONG_OFF_MS and not v[is_open]:
            for index in self.last_travel:
                v[index] = 0
        if v[phase] < RUNNING_FROM:
            v[pulse] = 0
        if not v[is_open]:
            v[ended] = 0
        if not v[full]:
            v[run_way] = 0
        if not v[eased_ms]:
            v[eased_way] = 0
        if v[rest_ms] < REST_LIMITS_MS:
            v[rest_limits] = 0
        if v[level] < self.restart_level and not v[load_sum]:
            v[level] = v[carry] = v[period_ms] = 0
        if v[kept_level] < self.restart_level:
            v[kept_level] = 0
        if v[kept_blocked] < self.boot_ms:
            v[kept_blocked] = self.boot_ms  # less is not taken over at power-up
        if v[fault]:
            # While latched it is asked only whether new settings alone can clear it.
            v[fault] = 2 if v[fault] in NEED_SETTINGS else 1
            v[rules_fault] = 1
            v[found] = 0
        if v[kept_fault]:
            v[kept_fault] = 1
        if not v[found]:
            v[age_ms] = 0
        for index in (pressed, rules_press):
            # Between two limits only the grade of a press counts at rest.
            if v[index] >= 2000:
                v[index] = 2000 if v[index] <= 10000 else 10001


PLACES = (
    "contactors.phase",
    "contactors.off_ms",
    "contactors.letting_go",
    "contactors.released_seen",
    "contactors.quiet_ms",
    "controller.pulse",
    "cause.is_open",
    "controller.ended",
    "budget.full",
    "budget.run_way",
    "control.eased_ms",
    "control.eased_way",
    "ends.rest_ms",
    "ends.rest_limits",
    "thermal.level",
    "thermal.carry",
    "thermal.load_sum",
    "thermal.period_ms",
    "controller.fault",
    "evidence.found",
    "resetbutton.pressed_ms",
    "rules.press_ms",
    "kept.thermal_level",
    "kept.blocked_ms",
    "evidence.age_ms",
    "rules.fault",
    "kept.fault",
)


def graded(names: "list[str]", s: Settings) -> "list[tuple[int, int]]":
    """Return (index, limit) of every account that counts only as below its limit or at it."""
    free_ms = s.start_allow_total_ms
    limits = [
        ("budget.up_ms", s.budget_raise_ms),
        ("budget.down_ms", s.budget_lower_ms),
        ("budget.up_free_ms", free_ms),
        ("budget.down_free_ms", free_ms),
        ("resetbutton.pressed_ms", 2000),
        ("rules.press_ms", 2000),
        ("rules.slack_ms", s.slack_allow_ms),
    ]
    for owner in ("budget", "kept"):
        limits.append((f"{owner}.up_leave_ms", s.leave_bottom_ms))
        limits.append((f"{owner}.down_leave_ms", s.leave_top_ms))
    for owner in ("slack", "kept"):
        limits.append((f"{owner}.slack_ms", s.slack_allow_ms))
    for owner in ("current", "kept"):
        limits.append((f"{owner}.blocked_ms", 2000))
    return [(names.index(name), limit) for name, limit in limits]
