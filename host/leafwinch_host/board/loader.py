"""Loads a program onto a board: beside the one that runs, read back, and only then in its place.

Done through MicroPython's prompt with the client library that its own tool is made of. The order
of the files and folders is what main.py on the board can finish or undo after a power cut.
"""

import ast
import contextlib
import hashlib
import io
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import Any

import serial
from mpremote.transport import TransportError, TransportExecError
from mpremote.transport_serial import SerialTransport

from leafwinch_host.board.ports import plain
from leafwinch_host.firmware_build import TARGETS, Program, Target
from leafwinch_host.firmware_build.build import compiler_version
from leafwinch_sim.closing import Closing
from leafwinch_wiring.errors import BadInput

OLDEST = (1, 28)  # version of MicroPython on the board
PROMPT_S = 20.0  # from the restart into loading mode to the prompt
RETRY_S = 0.3
READ_S = 1.0
CHUNK = 256
NEXT = "next"

# Run on the board. `gone` removes a file or a folder with all that is in it.
GONE = """
import os
def gone(n):
 try: m = os.stat(n)[0]
 except OSError: return
 if m & 0x4000:
  for e in os.listdir(n): gone(n + '/' + e)
  os.rmdir(n)
 else: os.remove(n)
"""
SWAP = """
gone('previous')
try:
 os.stat('leafwinch'); os.mkdir('previous'); os.rename('leafwinch', 'previous/leafwinch')
except OSError: pass
os.rename('next/leafwinch', 'leafwinch')
os.rename('next/main.py', 'main.py')
open('trial', 'w').close()
open('restart', 'w').close()
gone('next')
"""
ABOUT = (
    "import sys\n"
    "i = sys.implementation\n"
    "print((sys.platform, tuple(i[1][:3]), getattr(i, '_mpy', 0)))"
)

Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class Interpreter:
    """MicroPython on the board. mpy: what sys.implementation._mpy says."""

    platform: str
    version: tuple[int, int, int]
    mpy: int


class Prompt(Closing):
    """The board's MicroPython prompt, in its raw mode. Use it as a context manager.

    Raises:
        BadInput: the prompt does not answer, or is lost.
    """

    def __init__(self, name: str, at_most_s: float = PROMPT_S) -> None:
        self.name = name
        until = time.monotonic() + at_most_s
        reason = "it does not answer"
        while True:
            transport: Any = None
            try:
                # The library prints what it did not understand.
                with contextlib.redirect_stdout(io.StringIO()):
                    transport = SerialTransport(name, timeout=READ_S)
                    transport.enter_raw_repl(soft_reset=False, timeout_overall=3)
                self._transport = transport
                return
            except (TransportError, serial.SerialException, OSError) as error:
                reason = plain(error)
                _close(transport)
            if time.monotonic() > until:
                raise BadInput(f"Port {name}: no MicroPython prompt ({reason}).")
            time.sleep(RETRY_S)

    def run(self, code: str) -> str:
        """Run code on the board and return what it printed."""
        try:
            return bytes(self._transport.exec(code)).decode("utf-8", "replace")
        except TransportExecError as error:
            lines = str(error.error_output).strip().splitlines() or ["an error"]
            raise BadInput(f"Port {self.name}: the board says: {lines[-1]}.") from None
        except (TransportError, serial.SerialException, OSError) as error:
            raise BadInput(f"Port {self.name} was lost: {plain(error)}.") from None

    def interpreter(self) -> Interpreter:
        """Ask which MicroPython this is."""
        try:
            platform, version, mpy = ast.literal_eval(self.run(ABOUT).strip())
            return Interpreter(platform, (version[0], version[1], version[2]), mpy)
        except (ValueError, SyntaxError, IndexError, TypeError):
            raise BadInput(f"Port {self.name}: this is no MicroPython prompt.") from None

    def write(self, name: str, data: bytes) -> None:
        """Write a file of the board."""
        try:
            self._transport.fs_writefile(name, data, chunk_size=CHUNK)
        except TransportExecError as error:
            raise BadInput(f"Port {self.name}: {name} can't be written ({error}).") from None
        except (TransportError, serial.SerialException, OSError) as error:
            raise BadInput(f"Port {self.name}: {name}: {plain(error)}.") from None

    def digest(self, name: str) -> str:
        """Return the SHA-256 of a file as the board reads it back, hexadecimal."""
        try:
            return bytes(self._transport.fs_hashfile(name, "sha256")).hex()
        except (TransportError, serial.SerialException, OSError) as error:
            raise BadInput(f"Port {self.name}: {name}: {plain(error)}.") from None

    def restart(self) -> None:
        """Restart the board; the prompt is gone after that."""
        # Some boards vanish before they answer.
        with contextlib.suppress(TransportError, serial.SerialException, OSError):
            self._transport.exec_raw_no_follow("import machine\nmachine.reset()")

    def close(self) -> None:
        """Close the port."""
        _close(self._transport)


def _close(transport: Any) -> None:
    if transport is not None:
        with contextlib.suppress(serial.SerialException, OSError):
            transport.close()
        # The library leaves the port open where it can't set the control lines.
        with contextlib.suppress(serial.SerialException, OSError):
            transport.serial.close()


def target_for(name: str, found: Interpreter) -> Target:
    """Return what to compile for.

    Raises:
        BadInput: this interpreter can't run the program; the sentence says why.
    """
    version = ".".join(map(str, found.version))
    if found.version[:2] < OLDEST:
        raise BadInput(
            f"Port {name}: MicroPython {version} runs there, allowed is "
            f"{'.'.join(map(str, OLDEST))} or newer."
        )
    form = (found.mpy & 0xFF, found.mpy >> 8 & 3)
    if form != compiler_version():
        raise BadInput(
            f"Port {name}: MicroPython {version} there reads compiled files of version "
            f"{form[0]}.{form[1]}, the compiler here makes "
            f"{'.'.join(map(str, compiler_version()))}: update one of them."
        )
    for target in TARGETS:
        if target.arch_number == found.mpy >> 10:
            return target
    raise BadInput(
        f"Port {name}: this board ('{found.platform}', architecture {found.mpy >> 10}) is none "
        f"that leafwinch knows; allowed are {', '.join(target.words for target in TARGETS)}."
    )


def load(prompt: Prompt, program: Program, extra: Mapping[str, bytes], progress: Progress) -> None:
    """Put a program in the place of the one there; the old one is kept in previous.

    Args:
        prompt: the board.
        program: what to load.
        extra: other files of the board's root, written first; those that are there are replaced.
        progress: called with bytes done and bytes in all.

    Raises:
        BadInput: the board, the port or the flash fails; the old program is still in its place.
    """
    prompt.run(GONE)
    prompt.run(f"gone('{NEXT}')\nos.mkdir('{NEXT}')")
    folders = {
        str(parent)
        for name in program.files
        for parent in PurePosixPath(name).parents
        if str(parent) != "."
    }
    for folder in sorted(folders):
        prompt.run(f"os.mkdir('{NEXT}/{folder}')")
    total = sum(map(len, program.files.values()))
    done = 0
    for name, data in program.files.items():
        place = f"{NEXT}/{name}"
        prompt.write(place, data)
        found = prompt.digest(place)
        if found != hashlib.sha256(data).hexdigest():
            raise BadInput(
                f"Port {prompt.name}: {name} reads back with another check sum ({found[:12]}); "
                "the board's old program was left as it was."
            )
        done += len(data)
        progress(done, total)
    for name, data in extra.items():
        prompt.write(name, data)
    prompt.run(SWAP)


def differences(program: Program, found: Mapping[str, tuple[int, str]]) -> list[str]:
    """Return in words where the files of a board differ from a program; empty if nowhere."""
    wrong = []
    for name, data in program.files.items():
        if name not in found:
            wrong.append(f"{name} is missing on the board")
        elif found[name] != (len(data), hashlib.sha256(data).hexdigest()):
            wrong.append(f"{name} differs: {found[name][0]} bytes there, {len(data)} here")
    wrong += [f"{name} does not belong there" for name in found if name not in program.files]
    return wrong
