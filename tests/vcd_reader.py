"""The reader of value change dumps that the tests compare with, without its side effect.

Importing it lets a broken pipe end the process (SIGPIPE), which a worker of the tests that
talks to a program that dies must survive, as `leafwinch` itself does.
"""

import signal

_before = signal.getsignal(signal.SIGPIPE)
from vcdvcd import VCDVCD  # type: ignore[import-untyped]  # noqa: E402

signal.signal(signal.SIGPIPE, _before)

__all__ = ["VCDVCD"]
