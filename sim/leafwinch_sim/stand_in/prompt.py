"""The prompt of the played board: line by line for people, raw for the programs that load it.

The characters are those of MicroPython's own documentation: Ctrl-A raw prompt, Ctrl-B friendly
prompt, Ctrl-C forget the line, Ctrl-D run or restart, Ctrl-E with "A" and Ctrl-A raw paste.
"""

import select
import sys

from leafwinch_sim.stand_in import words
from leafwinch_sim.stand_in.world import World

TYPE_CHECKING = False  # type checkers read this name as true; nothing runs with it
if TYPE_CHECKING:
    from typing import Any

CTRL_A = 1
CTRL_B = 2
CTRL_C = 3
CTRL_D = 4
CTRL_E = 5
BACKSPACES = (8, 127)
WINDOW = 512  # characters of a raw paste that may be on their way
RAW = "raw REPL; CTRL-B to exit\r\n"
GREETING = "MicroPython on a virtual board with RP2040\r\n"


class Prompt:
    """Reads characters and runs what they say, for ever.

    names: the global names that commands see.
    """

    def __init__(self, world: World, names: "dict[str, Any]") -> None:
        self.world = world
        self.names = names
        self.source: Any = sys.stdin.buffer
        self.sink: Any = sys.stdout.buffer
        self.ready: Any = select.poll()  # type: ignore[attr-defined, unused-ignore]
        self.ready.register(sys.stdin, select.POLLIN)
        self.one = bytearray(1)

    def say(self, text: str) -> None:
        """Write to the serial line."""
        self.sink.write(text.encode())

    def character(self) -> int:
        """Return the next character; the board's time goes on while none is there."""
        while not self.ready.poll(0):
            self.world.advance(words.SLICE_US)
        if self.source.readinto(self.one) != 1:
            raise SystemExit
        return self.one[0]

    def run(self, raw: bool) -> None:
        """Go from one kind of prompt to the other for ever."""
        self.world.telling[words.DOING] |= words.AT_PROMPT
        while True:
            if raw:
                self.raw()
            else:
                self.friendly()
            raw = not raw

    def friendly(self) -> None:
        """Serve people until Ctrl-A."""
        self.say("\r\n" + GREETING + ">>> ")
        line = ""
        while True:
            c = self.character()
            if c == CTRL_A:
                return
            if c == CTRL_B:
                self.say("\r\n" + GREETING + ">>> ")
                line = ""
            elif c == CTRL_C:
                self.say("\r\n>>> ")
                line = ""
            elif c == CTRL_D and not line:
                self.say("\r\nMPY: soft reboot\r\n")
                self.world.end(words.END_SOFT)
            elif c in BACKSPACES:
                if line:
                    line = line[:-1]
                    self.say("\b \b")
            elif c == 13:
                self.say("\r\n")
                if line.strip():
                    self.perform(line, "single")
                line = ""
                self.say(">>> ")
            elif c >= 32:
                line += chr(c)
                self.say(chr(c))

    def raw(self) -> None:
        """Serve programs until Ctrl-B."""
        self.say(RAW + ">")
        text = bytearray()
        while True:
            c = self.character()
            if c == CTRL_A:
                self.say(RAW + ">")
                text = bytearray()
            elif c == CTRL_B:
                return
            elif c == CTRL_C:
                text = bytearray()
            elif c == CTRL_E and not text:
                if self.character() == ord("A") and self.character() == CTRL_A:
                    self.paste()
            elif c == CTRL_D:
                if not text:
                    self.say("OK\r\nMPY: soft reboot\r\n")
                    self.world.end(words.END_SOFT_RAW)
                self.say("OK")
                self.carry_out(text)
                text = bytearray()
            else:
                text.append(c)

    def paste(self) -> None:
        """Receive a text of any length by raw paste and run it."""
        self.sink.write(b"R\x01" + bytes((WINDOW & 255, WINDOW >> 8)))
        text = bytearray()
        left = WINDOW
        while True:
            c = self.character()
            if c in (CTRL_C, CTRL_D):
                break
            text.append(c)
            left -= 1
            if not left:
                left = WINDOW
                self.sink.write(b"\x01")
        self.sink.write(b"\x04")
        if c == CTRL_D:
            self.carry_out(text)
        else:
            self.sink.write(b"\x04\x04>")

    def carry_out(self, text: bytearray) -> None:
        """Run a raw text: what it prints, Ctrl-D, its error, Ctrl-D."""
        try:
            code = compile(text.decode(), "<stdin>", "exec")
            exec(code, self.names)
            self.sink.write(b"\x04")
        except Exception as error:
            self.sink.write(b"\x04")
            sys.print_exception(error)  # type: ignore[attr-defined]
        self.sink.write(b"\x04>")

    def perform(self, line: str, how: str) -> None:
        """Run a person's line and print what comes of it."""
        try:
            exec(compile(line, "<stdin>", how), self.names)
        except Exception as error:
            sys.print_exception(error)  # type: ignore[attr-defined]
