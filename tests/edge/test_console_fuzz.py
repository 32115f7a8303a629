"""A hundred thousand lines of anything, in every state: no error, no output, nothing grows.

A twin without a console gets the same contacts; its outputs must be the same in every pass.
"""

import functools
import random
import string

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from leafwinch.edge.console import COMMAND
from leafwinch.signals import OUT_LINE_PULSE, OUT_LOWER, OUT_RAISE
from leafwinch.states import STATE_NAMES
from tests.edge.flash import Flash
from tests.edge.life import QUICK, Life, commission
from tests.edge.views import journal_view, settings_view
from tests.firmware.drive import Drive, make_controller

SEED = 11
LINES = 20_000  # from the generator, in each state
COMMANDS = (
    "help", "version", "inputs", "counters", "settings", "setting trip_ma", "journal 3", "fault",
    "files", "change trip_ms 70", "change trip_ma 9100", "staged", "discard", "keep", "learn",
    "learn arm", "learn drop", "learn accept", "load", "journal 512",
)  # fmt: skip
PREPARED = {
    "held": "at middle; ask raise; run 1500",
    "idle": "at bottom; settle; run 21500",
    "raising": "at bottom; settle; run 21500; ask raise; run 400; at middle; run 100",
    "lowering": "at top; settle; run 21500; ask lower; run 400; at middle; run 100",
    "fault": "at bottom; settle; close service_link; open top_final; run 1500",
}


def new_life(state: str) -> Life:
    flash = Flash()
    commission(flash, QUICK)
    life = Life(flash)
    life.restart = False
    life.play(PREPARED[state])
    if state == "idle":
        life.play("close service_link; run 21500")
    assert STATE_NAMES[life.core.state] == state
    return life


def mutated(chance: random.Random) -> bytes:
    """A valid command, or one with a few changes."""
    line = bytearray(chance.choice(COMMANDS).encode())
    for _ in range(chance.choice((0, 0, 1, 1, 2, 5))):
        at = chance.randrange(len(line) + 1)
        what = chance.randrange(4)
        if what == 0:
            line[at:at] = bytes([chance.randrange(256)])
        elif what == 1:
            del line[at : at + 1]
        elif what == 2:
            line[at : at + 1] = chance.choice(string.printable).encode()
        else:
            line += b" " + chance.choice(COMMANDS).encode()
    return bytes(line)


def any_line(chance: random.Random) -> bytes:
    if chance.random() < 0.6:
        return mutated(chance)
    return chance.randbytes(chance.choice((0, 1, 3, 10, 59, 60, 61, 62, 200)))


def feed(life: Life, line: bytes) -> None:
    """Give the console a whole line and let it answer to the end, without time passing."""
    console = life.console
    life.port.typed = bytearray(line)
    life.port.at = 0
    for _ in range(2000):
        console.step()
        life.keeper.want = 0  # as if it was written, or one 'keep' would make all that follows wait
        assert console.length <= COMMAND + 1
        if life.port.at >= len(line) and not console.busy:
            break
    life.port.sent.clear()


@pytest.mark.parametrize("state", list(PREPARED))
def test_lines_by_the_ten_thousand_in_every_state(state: str) -> None:
    chance = random.Random(f"{SEED} {state}")
    life = new_life(state)
    core = life.core
    before = core.snapshot()
    settings_before = settings_view(life.files)
    for number in range(LINES):
        feed(life, any_line(chance) + chance.choice((b"\n", b"\r\n", b"\r")))
        if number % 500 == 0:
            # Commands may change staged settings, armed learning and what waits to be written.
            assert core.snapshot() == before
            assert len(life.console.staged) <= 2
            assert life.keeper.journal.waiting <= 24
            life.keeper.want = 0
            life.keeper.journal.waiting = 0
    assert core.snapshot() == before
    assert settings_view(life.files) == settings_before
    assert life.port.sized
    assert life.requests == []


@functools.cache
def idle_life() -> Life:
    return new_life("idle")


@settings(max_examples=100, deadline=None)
@given(st.lists(st.one_of(st.text(max_size=80), st.sampled_from(COMMANDS)), max_size=12))
def test_any_text_of_any_characters(texts: list[str]) -> None:
    life = idle_life()
    before = life.core.snapshot()
    for text in texts:
        feed(life, text.encode() + b"\n")
    assert life.core.snapshot() == before


def script(chance: random.Random) -> dict[int, list[str]]:
    """Steps of a hand by the pass: travels, some of them inched, the link in and out."""
    hands: dict[int, list[str]] = {0: ["at bottom", "close service_link"]}
    at = 300
    way, end, other = "raise", "top", "bottom"
    while at < 11_000:
        hands[at] = [f"ask {way}", f"at {other}"]
        hands[at + 80] = ["at middle"]
        if chance.random() < 0.3:
            hands[at + 150] = ["ask nothing"]
            hands[at + 420] = [f"ask {way}"]
            at += 420
        hands[at + 300] = [f"at {end}"]
        hands[at + 340] = ["ask nothing"]
        if chance.random() < 0.3:
            hands[at + 400] = [chance.choice(("open", "close")) + " service_link"]
        at += chance.choice((700, 800, 1500))
        way, end, other = ("lower" if way == "raise" else "raise"), other, end
    return hands


@pytest.mark.parametrize("seed", [0, 1, 3, 4])
def test_outputs_are_those_of_a_twin_without_a_console(seed: int) -> None:
    chance = random.Random(seed)
    flash = Flash()
    commission(flash, QUICK)
    life = Life(flash)
    life.restart = False
    twin = Drive(QUICK, make_controller)
    twin.autostore = False
    twin.kept = life.kept
    twin.power_up(0)
    twin.now = life.now
    motor = OUT_LINE_PULSE | OUT_RAISE | OUT_LOWER
    moved = 0
    write_all = life.write_all

    def also_the_twin(core: object) -> None:
        # Writing lets the core take its time anew, whoever asked for it.
        due = twin.core.record_due
        write_all(core)
        if due and not life.core.record_due:
            twin.core.stored(twin.now)
        else:
            twin.core.resync(twin.now)  # type: ignore[attr-defined]

    pending: list[object] = []
    life.write_all = pending.append  # type: ignore[method-assign, assignment]
    lines = 0
    hands = script(chance)
    for index in range(12_000):
        for words in hands.get(index, ()):
            for drive in (life, twin):
                drive.play(words)
        if life.port.at >= len(life.port.typed):
            life.port.type(any_line(chance) + b"\n")
            lines += 1
        out = life.tick()
        assert out == twin.tick(), index
        assert life.core.snapshot() == twin.core.snapshot(), index
        if pending:
            also_the_twin(pending.pop())
        moved += 1 if out & motor & ~OUT_LINE_PULSE else 0
        life.port.sent.clear()
        life.port.traced.clear()
    assert moved > 500, (life.fault(), moved)
    assert lines > 500
    assert settings_view(flash)[0] == 0
    assert journal_view(flash)
