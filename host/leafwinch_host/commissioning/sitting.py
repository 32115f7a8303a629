"""Leads through the steps: shows each one, feeds its watches, asks, judges and keeps the record."""

from collections.abc import Sequence

from leafwinch_host.commissioning import temporary
from leafwinch_host.commissioning.asking import AskNumber, AskWords, Check
from leafwinch_host.commissioning.keyboard import LEAVE, NEXT, REPEAT, SKIP, Answers
from leafwinch_host.commissioning.left_over import left_over
from leafwinch_host.commissioning.record import Record, StepRecord
from leafwinch_host.commissioning.results import FAIL, PASS, SKIPPED, Measured, Outcome
from leafwinch_host.commissioning.screens import Screen
from leafwinch_host.commissioning.table import Context, Part, Step
from leafwinch_host.commissioning.watching import AtRest, Watch
from leafwinch_host.commissioning.welcome import first_words, next_words
from leafwinch_wiring.errors import BadInput

SILENT_S = 3.0  # a board that runs says something 20 times a second
ASKED_AGAIN = 5  # answers that are not understood
AT_ALL = -1  # `times` of a step that does not concern an installation
BLOCKED = "not done: "
BEGINS = "Enter begins, 's REASON' skips, 'q' leaves"
FIRST = "Enter, and only then do it; 's REASON' skips, 'q' leaves"
GOES_ON = "Enter goes on, 'r' repeats, 'q' leaves"
FAILED = "Enter repeats, 'n' goes on with the step failed, 's REASON' skips, 'q' leaves"
MEANWHILE = "While it watches, only 's REASON', 'r' (begin the step anew) and 'q' are understood."
PUT_BACK = "The temporary settings are put back first; 'q' once more leaves them on the board."


class Left(Exception):  # noqa: N818 - says what happened
    """The operator leaves; the record stays as it is."""


class Skip(Exception):  # noqa: N818 - says what happened
    """The operator skips the step; the words are the reason."""


class Again(Exception):  # noqa: N818 - says what happened
    """The operator begins the step anew."""


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
        self.passed_over: list[str] = []  # steps that could not be offered, for the next screen
        context.values = record.values
        context.facts = record.about
        context.keep = self._save

    def run(self) -> bool:
        """Go through all steps that are open; tell whether the end was reached."""
        total = len(self.steps)
        begun = bool(self.record.steps)
        try:
            self._wait_for_rest()
            self._put_back_first()
            self._welcome(begun)
            for number, step in enumerate(self.steps, 1):
                if not self._closed(step, begun):
                    self._lead(step, number, total)
                    self._put_back_first()
        except Left:
            self._save()
            return False
        self._say_passed_over()
        self.record.done = True
        self._save()
        return True

    def _welcome(self, begun: bool) -> None:
        """Say on a screen of its own what is needed, or where it goes on."""
        if begun:
            title, lines = next_words(self.record, self.steps)
        else:
            title, lines = first_words(self.context, len(self.steps))
        self.screen.welcome(title, lines)
        self._choice("welcome:begin", "Enter goes on, 'q' leaves")

    def _wait_for_rest(self) -> None:
        """Wait until nothing is driven: a board that moves the deck answers nothing else."""
        watch = AtRest()
        self._watched("welcome:rest", watch)
        if watch.verdict != PASS:
            raise BadInput(f"{watch.why}.")

    def _put_back_first(self) -> None:
        """Lead through putting back what a broken off test has left on the board."""
        while (found := left_over(self.context, self.record)) is not None:
            self.screen.step(found.step, 0, 0)
            try:
                self._choice("left_over:begin", "Enter begins, 'q' leaves the settings as they are")
                outcome = self._do(found.step)
            except (Again, Skip):
                continue
            self.screen.outcome(outcome)
            self.context.line.trace.note(f"settings put back: {outcome.verdict} {outcome.why}")
            if outcome.verdict == PASS:
                temporary.tell(self.context, found.test, found.names)
            self._choice(
                f"left_over:{outcome.verdict}",
                "Enter goes on, 'q' leaves"
                if outcome.verdict == PASS
                else "Enter repeats, 'q' leaves the settings as they are",
            )

    def _closed(self, step: Step, begun: bool) -> bool:
        """Tell whether nothing is left to do for a step; notes why where it can't be done."""
        old = self.record.steps.get(step.id)
        if old is not None and not old.open and not (begun and step.each_sitting):
            return True
        reason = step.wanted(self.context)
        if reason:
            self._note(step, SKIPPED, reason, AT_ALL)
            return True
        missing = [need for need in step.needs if not self.record.passed(need)]
        missing += [need for need in step.whole if self.record.failed(need)]
        if missing:
            titles = {other.id: other.title for other in self.steps}
            names = ", ".join(f"'{titles.get(need, need)}'" for need in missing)
            if old is None or old.needed:  # what was measured before stays in the record
                self._note(step, SKIPPED, f"{BLOCKED}{names} did not pass", 0, needed=True)
            self.passed_over.append(f"{step.title}: {BLOCKED}{names} did not pass.")
            return True
        return False

    def _say_passed_over(self) -> None:
        """Tell which steps could not be offered: the first in full, the others by their number."""
        if self.passed_over:
            self.screen.say(self.passed_over[0])
        if len(self.passed_over) > 1:
            self.screen.say(
                f"{len(self.passed_over) - 1} more steps wait for others. Leave with 'q' and start "
                "the same command again to come back to what failed."
            )
        self.passed_over.clear()

    def _note(self, step: Step, verdict: str, why: str, times: int, needed: bool = False) -> None:
        row = StepRecord(step.id, step.title, step.limits, verdict, why, times=times, needed=needed)
        row.who = self.context.who
        self.record.keep(row)
        self._save()

    def _save(self) -> None:
        self.record.save(self.context.folder)

    def _lead(self, step: Step, number: int, total: int) -> None:
        """Do one step, as often as the operator wants."""
        watched = bool(step.parts) and isinstance(step.parts[0].make(self.context), Watch)
        while True:
            self.screen.step(step, number, total)
            self._say_passed_over()
            try:
                self._choice(f"{step.id}:begin", FIRST if watched else BEGINS)
                self.context.line.trace.note(f"step {step.id} begins")
                outcome = self._do(step)
            except Again:
                continue
            except Skip as skipped:
                self._note(step, SKIPPED, str(skipped), 0)
                return
            self._keep(step, outcome)
            self.screen.outcome(outcome)
            good = outcome.verdict == PASS
            try:
                word = self._choice(
                    f"{step.id}:{outcome.verdict}",
                    GOES_ON if good else FAILED,
                    () if good else (NEXT,),
                )
            except Again:
                continue
            except Skip as skipped:
                why = f"{skipped} (failed before: {outcome.why})"
                self._note(step, SKIPPED, str(skipped) if good else why, 0)
                return
            if good or word == NEXT:
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
            if failed or left:
                if not part.always:
                    continue
                if left and not temporary.noted(self.context):
                    continue  # nothing was sent yet, so nothing has to be put back
            try:
                outcome = self._part(step, part)
            except (Left, Skip, Again) as error:
                if left is None and temporary.noted(self.context):
                    self.screen.say(PUT_BACK)
                left = left or error
                continue
            measured += outcome.measured
            for row in outcome.measured:
                if isinstance(row.value, float | int):
                    self.context.values[row.name] = float(row.value)
                else:
                    self.context.said[row.name] = row.value
            if outcome.verdict != PASS:
                failed = failed or (outcome.why or f"{part.id} failed")
        if left is not None:
            raise left
        return Outcome(FAIL if failed else PASS, failed, tuple(measured))

    def _part(self, step: Step, part: Part) -> Outcome:
        if len(step.parts) > 1 and not part.quiet:  # else it stands right above
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
            if watch.waits != shown and not watch.over:
                shown = watch.waits
                self.screen.waits(f"waiting for: {shown}")
            typed = self.answers.glance(asked)
            if typed and not self._obey(typed):
                self.screen.say(MEANWHILE)
        return watch.outcome()

    def _checked(self, asked: str, check: Check) -> Outcome:
        for _ in range(ASKED_AGAIN):
            answer = ""
            if check.asks:
                answer = self._reply(asked, check.asks)
                self._obey(answer)
            self.screen.waits(f"{check.words} ...")
            try:
                return check.run(answer)
            except BadInput as error:
                if not check.again:
                    raise
                self.screen.say(str(error))
        raise BadInput("no answer was understood.")

    def _asked(self, asked: str, ask: AskNumber | AskWords) -> Outcome:
        for _ in range(ASKED_AGAIN):
            answer = self._reply(asked, ask.question())
            self._obey(answer)
            try:
                return ask.judge(answer)
            except ValueError as error:
                self.screen.say(f"{error}.")
        raise BadInput(f"{ask.name}: no answer was understood.")

    def _reply(self, asked: str, words: str) -> str:
        self.screen.ask(words)
        return self.answers.reply(asked)

    def _choice(self, asked: str, words: str, also: tuple[str, ...] = ()) -> str:
        """Ask what to do until it is understood; return one of `also`, or nothing for Enter."""
        while True:
            typed = self._reply(asked, words)
            self._obey(typed)
            word = typed.strip().lower()
            if word in ("", *also):
                return word
            if word == SKIP:
                self.screen.say("A skipped step needs a reason: 's REASON'.")
            else:
                self.screen.say(f"'{typed.strip()}' is not understood here.")

    def _obey(self, typed: str) -> bool:
        """Do what keys say; tell whether there was nothing else to understand."""
        word, _, rest = typed.strip().partition(" ")
        if word.lower() == LEAVE and not rest:
            raise Left
        if word.lower() == REPEAT and not rest:
            raise Again
        if word == SKIP and rest.strip():
            raise Skip(" ".join(rest.split()))
        return not word
