"""The dialogue: takes the answers given, asks for the rest, and judges each at once."""

from collections.abc import Callable, Mapping

from leafwinch_host.new_site.answers import PARTS, Answers, Words, tidy
from leafwinch_host.new_site.question import Question
from leafwinch_host.new_site.questions import QUESTIONS
from leafwinch_host.new_site.terminal_drawing import terminal_drawing
from leafwinch_wiring.errors import BadInput

Read = Callable[[str], str]
Say = Callable[[str], None]
_LEAF_PARTS = ("frame", "boards", "fittings")

OPENING = """\
CAUTION: a moving deck crushes and shears, a folded deck falls when a rope or a brake fails, the
open pit is a drop, over water people drown, and mains voltage kills. Prop the deck and isolate
the winch before you measure. Local codes and a licensed electrician decide what may be built.

Type an answer with its unit. Enter takes what stands in [ ]; ? explains and shows where to
measure; back returns to the question before; Ctrl-C stops and keeps the answers so far."""


class Dialogue:
    """All questions in order, of which some are answered already.

    Args:
        given: answers by options of the command line; they are not asked for again.
        kept: answers of an earlier dialogue that was stopped.
        suggestions: more suggestions by the key of a question.
        yes: take every suggestion without asking.
        read: asks one line at the terminal, or None where there is no terminal.
        say: prints at the terminal.

    Attributes:
        answers: those that were judged and taken, in any state of the dialogue.
        asked: whether anything was asked at the terminal.
    """

    def __init__(
        self,
        given: Words,
        kept: Words,
        suggestions: Mapping[str, str],
        yes: bool,
        read: Read | None,
        say: Say,
    ) -> None:
        self.given: dict[str, tuple[str, ...]] = dict(given)
        if "leaf_mass" not in given and any(key in given for key in _LEAF_PARTS):
            self.given["leaf_mass"] = (PARTS,)
        self.kept: dict[str, tuple[str, ...]] = dict(kept)
        self.suggestions = suggestions
        self.yes = yes
        self.read = read
        self.say = say
        self.answers = Answers()
        self.asked = False

    def run(self) -> Answers:
        """Return the answers to every question that applies.

        Raises:
            BadInput: an option can't be used, or is missing where nobody can be asked.
            KeyboardInterrupt, EOFError: stopped from the keyboard; `answers` are those so far.
        """
        turned: list[int] = []  # the questions that can be returned to
        place = 0
        while place < len(QUESTIONS):
            question = QUESTIONS[place]
            if not self._applies(question):
                place += 1
                continue
            words = self._without_asking(question)
            if words is None:
                words = self._ask(question)
                if words is None:
                    place = self._back(turned, place)
                    continue
            if question.key not in self.given:
                turned.append(place)
            self.answers = self.answers.having(question.key, words)
            place += 1
        return self.answers

    def _applies(self, question: Question) -> bool:
        answers = self.answers
        own = self.given.get(question.key)
        applies = question.asked(answers) or question.asked(
            answers if own is None else answers.having(question.key, own)
        )
        if not applies and own is not None:
            raise BadInput(
                f"{question.flag}: does not apply beside the other answers; leave it out."
            )
        return applies

    def _without_asking(self, question: Question) -> tuple[str, ...] | None:
        """Return the answer of an option, an earlier dialogue or, if wished, the suggestion."""
        key = question.key
        if key in self.given:
            return self._judge(question, self.given[key], question.flag)
        if key in self.kept:
            return self._judge(question, self.kept[key], f"the answer kept for {question.flag}")
        suggested = self._suggested(question)
        if self.yes and suggested is not None:
            return self._judge(question, (suggested,), f"what is suggested for {question.flag}")
        if self.read is None:
            raise BadInput(_missing(question, suggested is not None))
        return None

    def _judge(self, question: Question, words: tuple[str, ...], source: str) -> tuple[str, ...]:
        try:
            return tuple(self._taken(question, one) for one in words)
        except ValueError as error:
            raise BadInput(f"{source}: {str(error).rstrip('.')}.") from None

    def _taken(self, question: Question, words: str) -> str:
        answers = self.answers
        if question.key == "leaf_mass":
            # The one answer that excludes later ones.
            parts = {key: self.given[key] for key in _LEAF_PARTS if key in self.given}
            answers = Answers({**answers.words, **parts})
        return question.check(tidy(words), answers)

    def _suggested(self, question: Question) -> str | None:
        if question.suggest is not None:
            return question.suggest(self.answers)
        return self.suggestions.get(question.key)

    def _ask(self, question: Question) -> tuple[str, ...] | None:
        """Ask until an answer is taken; None to return to the question before."""
        if self.read is None:
            raise BadInput(_missing(question, False))
        if not self.asked:
            self.say(OPENING)
            self.asked = True
        suggested = self._suggested(question)
        shown = f"[{suggested}]" if suggested is not None else f"(such as {question.example})"
        self.say("")
        taken: list[str] = []
        while True:
            more = "one more, or Enter for no more" if taken else f"{question.words} {shown}"
            line = self.read(f"{more}: ").strip()
            if line.lower() == "back":
                return None
            if line == "?":
                self._explain(question)
                continue
            if not line:
                if taken:
                    return tuple(taken)
                if suggested is None:
                    self.say(
                        f"Not taken: found nothing, but allowed is such as {question.example}."
                    )
                    continue
                line = suggested
            try:
                taken.append(self._taken(question, line))
            except ValueError as error:
                self.say(f"Not taken: {str(error).rstrip('.')}.")
                continue
            if not question.many or taken[-1] == "none":
                return tuple(taken)

    def _explain(self, question: Question) -> None:
        self.say(question.help)
        if question.drawing:
            self.say(terminal_drawing(question.drawing, question.letter))

    def _back(self, turned: list[int], place: int) -> int:
        """Forget the answer before and return the place of its question."""
        if not turned:
            self.say("This is the first question that can be asked.")
            return place
        earlier = turned.pop()
        for question in QUESTIONS[earlier:]:
            self.kept.pop(question.key, None)
        self.answers = Answers(
            {
                question.key: self.answers.words[question.key]
                for question in QUESTIONS[:earlier]
                if question.key in self.answers
            }
        )
        return earlier


def _missing(question: Question, has_suggestion: bool) -> str:
    way = "--yes to take what is suggested" if has_suggestion else "a terminal to be asked in"
    also = " (or --frame and --boards)" if question.key == "leaf_mass" else ""
    return (
        f"{question.flag} is missing{also}: {question.words}; allowed is an answer such as "
        f"'{question.example}', or {way}."
    )
