"""Leads through the steps: shows each one, feeds its watches, asks, judges and keeps the record."""

from collections.abc import Sequence
from typing import Protocol

from leafwinch_host.commissioning.asking import AskNumber, AskWords, Check
from leafwinch_host.commissioning.keyboard import LEAVE, REPEAT, SKIP, Answers
from leafwinch_host.commissioning.record import Record, StepRecord
from leafwinch_host.commissioning.results import FAIL, PASS, SKIPPED, Measured, Outcome
from leafwinch_host.commissioning.table import Context, Part, Step
from leafwinch_host.commissioning.watching import Watch
from leafwinch_wiring.errors import BadInput

SILENT_S = 3.0  # a board that runs says something 20 times a second
ASKED_AGAIN = 5  # answers that are not understood
AT_ALL = -1  # `times` of a step that does not concern an installation
BLOCKED = "not done: "


class Left(Exception):  # noqa: N818 - says what happened
    """The operator leaves; the record stays as it is."""


class Skip(Exception):  # noqa: N818 - says what happened
    """The operator skips the step; the words are the reason."""


class Again(Exception):  # noqa: N818 - says what happened
    """The operator begins the step anew."""


class Screen(Protocol):
    """Where the sitting shows what is going on."""

    def step(self, step: Step, number: int, total: int) -> None:
        """Show a new step, one screen each."""
        ...

    def part(self, part: Part) -> None:
        """Show the instruction that is due."""
        ...

    def waits(self, words: str) -> None:
        """Show what is awaited now."""
        ...

    def outcome(self, outcome: Outcome) -> None:
        """Show a verdict with what was measured."""
        ...

    def say(self, words: str) -> None:
        """Show a sentence, such as a question or what the keys do."""
        ...


class Sitting:
    """One sitting at a commissioning.

    Args:
        context: the installation and the board's line.
        record: what was done so far.
        answers: who types.
        screen: where things are shown.
        steps: the table of steps.
    """

    def __init__(
        self,
        context: Context,
        record: Record,
        answers: Answers,
        screen: Screen,
        steps: Sequence[Step],
    ) -> None:
        self.context = context
        self.record = record
        self.answers = answers
        self.screen = screen
        self.steps = steps
        context.values = record.values
        context.facts = record.about

    def run(self) -> bool:
        """Go through all steps that are open; tell whether the end was reached."""
        total = len(self.steps)
        try:
            for number, step in enumerate(self.steps, 1):
                if not self._closed(step):
                    self._lead(step, number, total)
        except Left:
            self._save()
            return False
        self.record.done = True
        self._save()
        return True

    def _closed(self, step: Step) -> bool:
        """Tell whether nothing is left to do for a step; notes why where it can't be done."""
        old = self.record.steps.get(step.id)
        if old is not None and not old.needed and old.verdict != FAIL:
            return True
        reason = step.wanted(self.context)
        if reason:
            self._note(step, SKIPPED, reason, AT_ALL)
            return True
        missing = [need for need in step.needs if not self.record.passed(need)]
        if missing:
            titles = {other.id: other.title for other in self.steps}
            names = ", ".join(f"'{titles.get(need, need)}'" for need in missing)
            self._note(step, SKIPPED, f"{BLOCKED}{names} did not pass", 0, needed=True)
            self.screen.say(f"{step.title}: {BLOCKED}{names} did not pass.")
            return True
        return False

    def _note(self, step: Step, verdict: str, why: str, times: int, needed: bool = False) -> None:
        row = StepRecord(step.id, step.title, step.limits, verdict, why, times=times, needed=needed)
        row.who = self.context.who
        self.record.keep(row)
        self._save()

    def _save(self) -> None:
        self.record.save(self.context.folder)

    def _lead(self, step: Step, number: int, total: int) -> None:
        """Do one step, as often as the operator wants."""
        while True:
            self.screen.step(step, number, total)
            try:
                self._obey(
                    self._reply(f"{step.id}:begin", "Enter begins, 's REASON' skips, 'q' leaves")
                )
                self.context.line.trace.note(f"step {step.id} begins")
                outcome = self._do(step)
            except Again:
                continue
            except Skip as skipped:
                self._note(step, SKIPPED, str(skipped), 0)
                return
            self._keep(step, outcome)
            self.screen.outcome(outcome)
            words = (
                "Enter goes on, 'r' repeats, 'q' leaves"
                if outcome.verdict == PASS
                else "'r' repeats, Enter goes on with the step failed, 's REASON' skips, 'q' leaves"
            )
            try:
                self._obey(self._reply(f"{step.id}:{outcome.verdict}", words))
            except Again:
                continue
            except Skip as skipped:
                self._note(step, SKIPPED, f"{skipped} (failed before: {outcome.why})", 0)
            return

    def _keep(self, step: Step, outcome: Outcome) -> None:
        row = StepRecord(step.id, step.title, step.limits, outcome.verdict, times=1)
        row.who = self.context.who
        self.record.keep(row, outcome)
        self.context.line.trace.note(f"step {step.id}: {outcome.verdict} {outcome.why}")
        self.context.line.trace.sync()
        self._save()

    def _do(self, step: Step) -> Outcome:
        """Do the parts in order; after a failure only those that must always be done."""
        measured: list[Measured] = []
        failed = ""
        left: Exception | None = None
        for part in step.parts:
            if (failed or left) and not part.always:
                continue
            try:
                outcome = self._part(step, part)
            except (Left, Skip, Again) as error:
                left = left or error
                continue
            measured += outcome.measured
            for row in outcome.measured:
                if isinstance(row.value, float | int):
                    self.context.values[row.name] = float(row.value)
            if outcome.verdict != PASS:
                failed = failed or (outcome.why or f"{part.id} failed")
        if left is not None:
            raise left
        return Outcome(FAIL if failed else PASS, failed, tuple(measured))

    def _part(self, step: Step, part: Part) -> Outcome:
        self.screen.part(part)
        asked = f"{step.id}:{part.id}"
        act = part.make(self.context)
        try:
            if isinstance(act, Watch):
                return self._watched(asked, act)
            if isinstance(act, Check):
                return self._checked(asked, act)
            return self._asked(asked, act)
        except BadInput as error:
            return Outcome(FAIL, str(error).removesuffix("."))

    def _watched(self, asked: str, watch: Watch) -> Outcome:
        line = self.context.line
        line.forget()
        shown = ""
        self.answers.glance(asked)
        while not watch.over:
            for sample in line.read():
                watch.take(sample)
            if line.silent_s() > SILENT_S:
                watch.silence(line.silent_s())
            if watch.waits != shown:
                shown = watch.waits
                self.screen.waits(shown)
            typed = self.answers.glance(asked)
            if typed:
                self._obey(typed)
        return watch.outcome()

    def _checked(self, asked: str, check: Check) -> Outcome:
        answer = ""
        if check.asks:
            answer = self._reply(asked, check.asks)
            self._obey(answer)
        self.screen.waits(check.words)
        return check.run(answer)

    def _asked(self, asked: str, ask: AskNumber | AskWords) -> Outcome:
        for _ in range(ASKED_AGAIN):
            answer = self._reply(asked, ask.words)
            self._obey(answer, ordinary=True)
            try:
                return ask.judge(answer)
            except ValueError as error:
                self.screen.say(f"{error}.")
        raise BadInput(f"{ask.name}: no answer was understood.")

    def _reply(self, asked: str, words: str) -> str:
        self.screen.say(words)
        return self.answers.reply(asked)

    def _obey(self, typed: str, ordinary: bool = False) -> None:
        """Do what keys say; other words are answers where `ordinary`, else they are ignored."""
        word, _, rest = typed.strip().partition(" ")
        if word == LEAVE and not rest:
            raise Left
        if word == REPEAT and not rest:
            raise Again
        if word == SKIP:
            if rest.strip():
                raise Skip(" ".join(rest.split()))
            if not ordinary:
                self.screen.say("A skipped step needs a reason: 's REASON'.")
                self._obey(self._reply("skip:reason", "'s REASON', or Enter to go on"))
