"""What the operator types: from the keyboard, or from a file of answers."""

import contextlib
import queue
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Protocol

from leafwinch_wiring.errors import BadInput

REPEAT = "r"
SKIP = "s"
NEXT = "n"
LEAVE = "q"


class Answers(Protocol):
    """Who answers: a person at the keyboard, a file, or a test."""

    def reply(self, asked: str) -> str:
        """Wait for one line. asked: what is asked, as 'step:part'."""
        ...

    def glance(self, asked: str) -> str | None:
        """Return a line that was typed meanwhile, or None."""
        ...


class Keyboard:
    """The keyboard; a thread reads it, so that a line can be taken while something is watched.

    Attributes:
        meanwhile: called again and again while it waits for a line.
    """

    def __init__(self) -> None:
        self.meanwhile: Callable[[], None] | None = None
        self._lines: queue.SimpleQueue[str | None] = queue.SimpleQueue()
        threading.Thread(target=self._read, name="keyboard", daemon=True).start()

    def _read(self) -> None:
        # Without a keyboard, reading fails; that is its end as well.
        with contextlib.suppress(OSError, ValueError):
            for line in sys.stdin:
                self._lines.put(line.strip())
        self._lines.put(None)

    def reply(self, asked: str) -> str:
        """Wait for one line; the end of input leaves."""
        while True:
            try:
                # Short waits, so that Ctrl-C is seen on every system.
                line = self._lines.get(timeout=0.01 if self.meanwhile else 0.5)
            except queue.Empty:
                if self.meanwhile:
                    self.meanwhile()
                continue
            return LEAVE if line is None else line

    def glance(self, asked: str) -> str | None:
        """Return a line that was typed meanwhile, or None."""
        try:
            line = self._lines.get_nowait()
        except queue.Empty:
            return None
        return LEAVE if line is None else line


class AnswerFile:
    """Scripted answers, one a line, in order; lines that begin with '#' are remarks."""

    def __init__(self, path: Path) -> None:
        self.path = path
        try:
            text = path.read_text(encoding="utf-8")
        except OSError as error:
            raise BadInput(f"--answers {path}: can't be read ({error.strerror}).") from None
        except UnicodeDecodeError:
            raise BadInput(f"--answers {path}: this is no UTF-8 text.") from None
        self._lines = [line.strip() for line in text.splitlines() if not line.startswith("#")]
        self._next = 0

    def reply(self, asked: str) -> str:
        """Return the next answer.

        Raises:
            BadInput: there is none left.
        """
        if self._next >= len(self._lines):
            raise BadInput(
                f"--answers {self.path}: {len(self._lines)} answers, but '{asked}' wants one more."
            )
        self._next += 1
        return self._lines[self._next - 1]

    def glance(self, asked: str) -> str | None:
        """Answers wait until they are asked for."""
        return None
