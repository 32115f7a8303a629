"""Asks the program that runs on a board, and listens to it; never waits for ever."""

import time
from typing import Any

import serial

from leafwinch_host.board.ports import open_port, plain
from leafwinch_host.board.serial_lines import Line, LineReader, Listener
from leafwinch_sim.closing import Closing
from leafwinch_wiring.errors import BadInput

QUIET_S = 3.0  # a running program says something far more often
ANSWER_S = 20.0  # longest answer: check sums of all files
PIECE = 4096
PROMPT = b">>> "
TRIES = 3


class Refused(BadInput):
    """The board's program refused a command; the message has its words."""


class BoardLink(Closing):
    """The serial line of a board whose program runs. Use it as a context manager.

    Args:
        name: port.
        listener: called with every line that belongs to no answer.

    Raises:
        BadInput: the port can't be opened, is unplugged, or nothing that a board says comes.
    """

    def __init__(self, name: str, listener: Listener | None = None) -> None:
        self.name = name
        self.listener = listener
        self.reader = LineReader()
        self.at_prompt = False  # MicroPython's prompt was seen instead of a program
        self._port: Any = open_port(name)

    def read(self) -> list[Line]:
        """Return the lines that came, after a short wait at most."""
        try:
            data = self._port.read(self._port.in_waiting or 1)
        except (serial.SerialException, OSError) as error:
            raise BadInput(f"Port {self.name} was lost: {plain(error)}.") from None
        if PROMPT in data:
            self.at_prompt = True
        lines = self.reader.feed(data)
        if self.listener is not None:
            for line in lines:
                if line.kind in "TG":
                    self.listener(line)
        return lines

    def send(self, data: bytes) -> None:
        """Send bytes."""
        try:
            self._port.write(data)
        except (serial.SerialException, OSError) as error:
            raise BadInput(f"Port {self.name} takes nothing: {plain(error)}.") from None

    def runs(self, at_most_s: float | None = None) -> bool:
        """Tell whether a program of ours is heard within so many seconds (QUIET_S)."""
        until = time.monotonic() + (QUIET_S if at_most_s is None else at_most_s)
        while time.monotonic() < until:
            if any(line.kind in "TG" for line in self.read()):
                return True
        return False

    def must_run(self) -> None:
        """Raise BadInput unless a program of ours is heard."""
        if self.runs():
            return
        self.send(b"\r\n")
        self.runs(0.5)
        if self.at_prompt:
            raise BadInput(
                f"Port {self.name}: MicroPython's prompt answers, but no leafwinch program runs; "
                "'leafwinch board load' loads one."
            )
        if self.reader.counted.bad:
            raise BadInput(f"Port {self.name}: what comes is not the speech of a leafwinch board.")
        raise BadInput(
            f"Port {self.name}: nothing came for {QUIET_S:g} s: not the board's port, or no power."
        )

    def ask(self, command: str) -> list[str]:
        """Send a command and return the lines of its answer, without the kind.

        Raises:
            Refused: the program refuses it.
            BadInput: no answer came, or only part of it, several times.
        """
        for _ in range(TRIES):
            self.send(command.encode("ascii") + b"\r\n")
            answer = self._answer(command)
            if answer is not None:
                return answer
        raise BadInput(f"Port {self.name}: no whole answer to '{command}' came.")

    def _answer(self, command: str) -> list[str] | None:
        until = time.monotonic() + ANSWER_S
        heard = time.monotonic()
        words: list[str] = []
        while time.monotonic() < until:
            lines = self.read()
            if lines:
                heard = time.monotonic()
            elif time.monotonic() - heard > QUIET_S:
                break
            for line in lines:
                if line.kind == "A":
                    words.append(line.text[2:])
                elif line.kind == "Z":
                    return words if line.text[2:] == str(len(words)) else None
                elif line.kind == "E":
                    raise Refused(f"The board refuses '{command}': {line.text[2:]}.")
        return None

    def close(self) -> None:
        """Close the port."""
        self._port.close()
