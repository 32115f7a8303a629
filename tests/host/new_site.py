"""What the tests of `leafwinch new` share: few answers, the command, and a person at a terminal."""

import sys
from collections.abc import Iterator

import pytest

from leafwinch_host.cli import OneSentenceParser
from leafwinch_host.commands import new
from leafwinch_host.new_site.answers import Answers, Words
from leafwinch_host.new_site.asking import Dialogue
from leafwinch_host.new_site.questions import BY_KEY
from leafwinch_host.new_site.site_text import site_text
from leafwinch_sim.site import Site, parse_site
from leafwinch_wiring.errors import BadInput

DECK = {
    "over": "pit",
    "leaf_length": "1.25 m",
    "width": "1 m",
    "leaf_mass": "55 kg",
}
WINCH = {
    "winch": "mains",
    "line_pull": "3 kN",
    "line_speed": "7 m/min",
    "rope_diameter": "4 mm",
    "drum_diameter": "46 mm",
    "drum_width": "58 mm",
}
FEW = {**DECK, **WINCH}
SLIP = {**FEW, "over": "water", "winch": "battery", "line_pull": "700 N", "line_speed": "9 m/min"}


def flags(answers: dict[str, str]) -> list[str]:
    return [word for key, words in answers.items() for word in (BY_KEY[key].flag, words)]


def command(*arguments: str) -> int:
    parser = OneSentenceParser(prog="leafwinch")
    commands = parser.add_subparsers(dest="command", parser_class=OneSentenceParser)
    new.add_to(commands)
    chosen = parser.parse_args(["new", *arguments])
    code: int = chosen.handler(chosen)
    return code


def told(words: dict[str, str]) -> Words:
    return {key: (one,) for key, one in words.items()}


def answered(words: Words) -> Answers:
    return Dialogue(words, {}, {"name": "my-pit"}, True, None, print).run()


def site_of(words: Words) -> Site:
    return parse_site(site_text(answered(words)).encode(), "a site")


class Terminal:
    """Plays a person at a terminal; an exception in the list is raised."""

    def __init__(self, *lines: str | type[BaseException]) -> None:
        self.lines: Iterator[str | type[BaseException]] = iter(lines)
        self.prompts: list[str] = []

    def __call__(self, prompt: str = "") -> str:
        self.prompts.append(prompt)
        line = next(self.lines)
        if isinstance(line, str):
            return line
        raise line

    def sit_at(self, monkeypatch: pytest.MonkeyPatch) -> "Terminal":
        monkeypatch.setattr("builtins.input", self)
        monkeypatch.setattr(sys.stdin, "isatty", lambda: True)
        return self


def refused(*arguments: str) -> str:
    with pytest.raises(BadInput) as caught:
        command(*arguments)
    sentence = str(caught.value)
    assert sentence.endswith(".")
    assert "\n" not in sentence
    return sentence
