"""What a question of the dialogue is made of."""

from collections.abc import Callable
from dataclasses import dataclass

from leafwinch_host.new_site.answers import Answers
from leafwinch_host.new_site.checks import Check


def _always(answers: Answers) -> bool:
    return True


@dataclass(frozen=True, slots=True)
class Question:
    """One question.

    Attributes:
        key: of the answer; the option is the same with hyphens.
        place: the key or keys of the site file that it fills.
        words: what is asked.
        example: an answer that is accepted.
        help: what to know and how to measure it.
        check: judges tidy words beside the answers before.
        suggest: what Enter takes, or None where only the builder knows.
        asked: whether it applies beside the answers before.
        many: whether it is asked again until there is no more.
        letter: where the drawing shows it, or empty.
        drawing: the picture of the terminal: side, flat, drum or none.
    """

    key: str
    place: str
    words: str
    example: str
    help: str
    check: Check
    suggest: Callable[[Answers], str] | None = None
    asked: Callable[[Answers], bool] = _always
    many: bool = False
    letter: str = ""
    drawing: str = ""

    @property
    def flag(self) -> str:
        """The option of the command line."""
        return "--" + self.key.replace("_", "-")


def fixed(words: str) -> Callable[[Answers], str]:
    """Return a suggestion that does not depend on other answers."""
    return lambda answers: words
