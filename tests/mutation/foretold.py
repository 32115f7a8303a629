"""Scenarios played against what the reference model foretold for every pass of them.

The model runs once, beside the real core. A changed core is then held to the same answers,
as long as it is given the same inputs: until its first difference, which ends the play. A
stored record that differs is given to core and model alike, so there nothing is compared.
"""

import copy
import functools
import random
from array import array
from collections.abc import Iterator
from typing import Any

from leafwinch.signals import OUT_LINE_PULSE, OUT_LOWER, OUT_RAISE
from leafwinch.states import FAULT, HELD
from leafwinch.thermal import FULL
from leafwinch_sim.reference_model.rules_motor import UNCERTAIN
from tests.firmware.drive import Drive, make_controller
from tests.firmware.random_walk import wander
from tests.firmware.scenarios_faults import LONG, QUICK, WARM, quick
from tests.firmware.state_ranges import out_of_range
from tests.firmware.test_scenarios import ALL
from tests.reference_model.pair import Pair

_MOTOR = OUT_LINE_PULSE | OUT_RAISE | OUT_LOWER
_FLAGS = ((OUT_RAISE, 0), (OUT_LOWER, 1), (OUT_LINE_PULSE, 2))
LEARNED = quick(current_signed=1, envelope_learned=1, jam_margin_ma=6000)
BARE = quick(slack_fitted=0, start_allow_ms=0, missing_lower_ma=0, lower_drives=0)
WALKS = tuple((seed, (QUICK, WARM, LEARNED, LONG, BARE)[seed % 5], 35) for seed in range(5))


class Differs(ValueError):  # noqa: N818 - it is a finding
    """The core answers otherwise than the model foretold."""


class Answers:
    """What the model said in each pass of one piece of a play, and the records it was given."""

    def __init__(self) -> None:
        self.codes = array("l")
        self.heats = array("d")
        self.records: list[tuple[int, ...] | None] = []


def code_of(state: int, fault: int, out: int, record_due: int) -> int:
    """Pack what is compared into one number; out: the three bits of the motor."""
    return state | fault << 3 | record_due << 9 | out << 10


class Writing(Drive):
    """Plays core and model side by side and writes the model's answers down."""

    answers = Answers()
    sure = True

    def tick(self) -> int:
        out = super().tick()
        pair = self.core
        if not isinstance(pair, Pair):
            raise TypeError("a pair is needed")
        self.sure = self.sure and not pair.unsure
        if self.sure:
            model = pair.model
            motor = sum(bit for (bit, _), on in zip(_FLAGS, model.outputs(), strict=True) if on)
            due = 1 if model.record_due else 0
            self.answers.codes.append(code_of(model.state_number, model.fault, motor, due))
            self.answers.heats.append(model.heat.level)
        return out

    def power_up(self, boot: int) -> None:
        self.answers.records.append(self.kept)
        super().power_up(boot)

    def twin(self) -> "Writing":
        """Return an independent drive in the same state; settings are shared."""
        other = copy.copy(self)
        pair: Any = self.core
        other.core = copied = Pair.__new__(Pair)
        settings = pair.core.settings
        vars(copied).update(copy.deepcopy(vars(pair), {id(settings): settings}))
        other.coils = list(self.coils)
        other.pulled = list(self.pulled)
        return other


class Reading(Drive):
    """Plays a core alone and holds it to the answers."""

    answers = Answers()
    passed = 0
    powered = 0
    comparing = True
    longest_ms = 5

    def tick(self) -> int:
        out = super().tick()
        if self.comparing:
            answers = self.answers
            core: Any = self.core
            at = self.passed
            if at >= len(answers.codes):
                self.comparing = False  # here the model itself was unsure
                return out
            self.passed = at + 1
            due = 1 if core.record_due else 0
            if answers.codes[at] != code_of(core.state, core.fault, out & _MOTOR, due):
                raise Differs("state, fault, motor or record")
            if (core.state == HELD) != bool(core.held_reasons) and core.state != FAULT:
                raise Differs("held and its reasons")
            level = core.thermal.level / FULL
            if abs(answers.heats[at] - level) > UNCERTAIN * max(1.0, level):
                raise Differs("temperature")
        return out

    def play(self, script: str) -> None:
        super().play(script)
        wrong = out_of_range(self.core, max(self.longest_ms, self.tick_ms))
        if wrong:
            raise Differs(wrong)

    def gap(self, ms: int) -> None:
        self.longest_ms = max(self.longest_ms, ms)
        super().gap(ms)

    def power_up(self, boot: int) -> None:
        if self.powered < len(self.answers.records):
            self.comparing = self.comparing and self.kept == self.answers.records[self.powered]
        self.powered += 1
        super().power_up(boot)

    def follow_answers(self, answers: Answers) -> None:
        """Go on with the answers of the next piece of the play."""
        self.answers = answers
        self.passed = 0
        self.powered = 0

    def twin(self) -> "Reading":
        """Return an independent drive in the same state; settings are shared."""
        other = copy.copy(self)
        core: Any = self.core
        settings = core.settings
        other.core = copy.deepcopy(core, {id(settings): settings})
        other.coils = list(self.coils)
        other.pulled = list(self.pulled)
        return other


class Branch:
    """One step of a play and what may follow it; scenarios that begin alike share branches."""

    def __init__(self, step: str) -> None:
        self.step = step
        self.next: dict[str, Branch] = {}
        self.answers = Answers()
        self.names: list[str] = []

    def first_name(self) -> str:
        """Return the first scenario that comes through here."""
        if self.names:
            return self.names[0]
        return next(iter(self.next.values())).first_name()


def steps_of(script: str) -> list[str]:
    """Return the steps of a script, each in one spelling."""
    return [" ".join(step.split()) for step in script.split(";") if step.strip()]


Values = tuple[tuple[str, int], ...]


class Foretold:
    """The answers of the model to every scenario and to some random walks.

    Holds plain data only, so that a changed core in another process can be held to it.
    """

    def __init__(self) -> None:
        self.roots: dict[Values, Branch] = {}
        self.paths: dict[str, tuple[Values, list[Branch]]] = {}
        self.walks: list[Answers] = []
        for name, values, script in ALL:
            self._plan(name, tuple(values.items()), script)
        for kept_values, root in self.roots.items():
            Writing.answers = root.answers
            _write_on(Writing(dict(kept_values), Pair), root)
        for seed, values, changes in WALKS:
            Writing.answers = answers = Answers()
            wander(Writing(values, Pair), random.Random(seed), changes)
            self.walks.append(answers)
        Writing.answers = Answers()

    def _plan(self, name: str, values: Values, script: str) -> None:
        branch = self.roots.setdefault(values, Branch(""))
        path = [branch]
        for step in steps_of(script):
            branch = branch.next.setdefault(step, Branch(step))
            path.append(branch)
        branch.names.append(name)
        self.paths[name] = (values, path)


def _write_on(drive: Writing, branch: Branch) -> None:
    """Play everything that follows a branch, beginnings that are shared once."""
    following = list(branch.next.values())
    for index, after in enumerate(following):
        mine = drive if index == len(following) - 1 else drive.twin()
        mine.answers = after.answers
        mine.play(after.step)
        _write_on(mine, after)


def start(values: Values, branch: Branch) -> Reading:
    """Return a drive that begins a play."""
    Reading.answers = branch.answers
    return Reading(dict(values), make_controller)


def play_one(foretold: Foretold, name: str) -> None:
    """Play one scenario; raises where an expectation or an answer of the model is not met."""
    values, path = foretold.paths[name]
    drive = start(values, path[0])
    for branch in path[1:]:
        drive.follow_answers(branch.answers)
        drive.play(branch.step)


def play_all(foretold: Foretold) -> str:
    """Play all scenarios, shared beginnings once; return the first that fails, or ''."""
    for values, root in foretold.roots.items():
        try:
            drive = start(values, root)
        except Exception:
            return root.first_name()
        failed = _play_on(drive, root)
        if failed:
            return failed
    return ""


def _play_on(drive: Reading, branch: Branch) -> str:
    """Play everything that follows a branch; the last one may use up the drive."""
    following = list(branch.next.values())
    for index, after in enumerate(following):
        last = index == len(following) - 1
        try:
            mine = drive if last else drive.twin()
            mine.follow_answers(after.answers)
            mine.play(after.step)
        except Exception:
            return after.first_name()
        failed = _play_on(mine, after)
        if failed:
            return failed
    return ""


def walk_names() -> Iterator[str]:
    """Name the walks."""
    for seed, _, _ in WALKS:
        yield f"walk {seed}"


def play_walk(foretold: Foretold, index: int) -> None:
    """Play one random walk; raises where an answer of the model is not met."""
    seed, values, changes = WALKS[index]
    Reading.answers = foretold.walks[index]
    drive = Reading(values, functools.partial(make_controller))
    wander(drive, random.Random(seed), changes)
