"""Pseudo-terminals: what looks like a serial port to every program on this machine."""

import os
import sys

from leafwinch_wiring.errors import BadInput

READ_BYTES = 4096


class PseudoTerminal:
    """One pair of ends: `path` is for others, this side reads and writes without waiting.

    Raises:
        BadInput: on a system without pseudo-terminals.
    """

    def __init__(self) -> None:
        if sys.platform == "win32":
            raise BadInput(
                "A virtual board needs pseudo-terminals, which Windows does not have; allowed are "
                "Linux and macOS, or Linux inside Windows."
            )
        import pty
        import tty

        self.end, self._other = pty.openpty()
        # The other end stays open here, or every reader that leaves would break the line, and
        # raw, or the line would send back to the board what it has just said.
        tty.setraw(self._other)
        os.set_blocking(self.end, False)
        self.path = os.ttyname(self._other)
        self.waiting = bytearray()  # what found no room yet

    def read(self) -> bytes:
        """Return what has come, or nothing."""
        try:
            return os.read(self.end, READ_BYTES)
        except BlockingIOError:
            return b""

    def write(self, data: bytes) -> None:
        """Write as much as finds room and keep the rest in `waiting`."""
        self.waiting += data
        try:
            while self.waiting:
                count = os.write(self.end, self.waiting)
                del self.waiting[:count]
        except BlockingIOError:
            return

    def close(self) -> None:
        """Let the terminal vanish, as when the cable is pulled out."""
        os.close(self.end)
        os.close(self._other)
