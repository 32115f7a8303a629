"""Makes the compiled build: `python -m leafwinch_host.compiled_build`.

The sources are copied, their constants are declared final, as MicroPython's compiler takes
const(), and mypyc turns the modules that run in every step into an extension. Nothing else
is changed, and a test proves both builds equal step by step.
"""

import ast
import contextlib
import importlib
import io
import os
import shutil
import sys
import time
from pathlib import Path
from typing import Any

from leafwinch_host.bad_build import BadBuild
from leafwinch_host.compiled import FOLDER, STAMP, source_folders, sources_hash

NOT_COMPILED = ("fault_texts",)  # of the firmware: words only
SIM = (
    "armature",
    "bench",
    "bench_defects",
    "bench_layout",
    "bench_limits",
    "bench_observe",
    "bench_state",
    "board",
    "brake",
    "branch_run",
    "canaries",
    "chatter",
    "controller_state",
    "deck",
    "drum",
    "every_tick",
    "explore/accounts",
    "explore/alphabet",
    "explore/evidence",
    "explore/extents",
    "explore/grammar",
    "explore/letters",
    "explore/play",
    "explore/projection",
    "explore/rules",
    "explore/search",
    "explore/violations",
    "gear",
    "mechanism",
    "monitor_state",
    "motor_capacitor_run",
    "motor_dc",
    "observation",
    "operator",
    "plant",
    "plant_configure",
    "plant_parts",
    "requirements",
    "requirements_motion",
    "requirements_starts",
    "requirements_times",
    "rope",
    "step_facts",
    "switches",
    "winch",
)
WIRING = ("block", "equivalence", "network", "resistors")


def modules() -> list[str]:
    """Return the files to compile, relative to the build's folder."""
    firmware = source_folders()["leafwinch"]
    core = [
        path.stem
        for path in sorted(firmware.glob("*.py"))
        if path.stem not in (*NOT_COMPILED, "__init__")
    ]
    return [
        *(f"leafwinch/{name}.py" for name in core),
        *(f"leafwinch_wiring/{name}.py" for name in WIRING),
        *(f"leafwinch_sim/{name}.py" for name in SIM),
    ]


def with_final_constants(text: str, values: dict[str, object]) -> str:
    """Return a module's text with each constant of plain type declared final.

    Args:
        text: the module's source.
        values: what its names stand for once it is imported.
    """
    lines = text.splitlines(keepends=True)
    body = ast.parse(text).body
    changed = False
    for node in reversed(body):
        if not isinstance(node, ast.Assign) or len(node.targets) != 1:
            continue
        target = node.targets[0]
        if not isinstance(target, ast.Name) or not target.id.isupper():
            continue
        value = values[target.id]
        plain = type(value) in (int, str) or (type(value) is float and abs(value) < 1e300)
        if plain and node.end_lineno is not None:
            lines[node.lineno - 1 : node.end_lineno] = [f"{target.id}: Final = {value!r}\n"]
            changed = True
    if not changed:
        return text
    at = 0
    for node in body:
        words = isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
        future = isinstance(node, ast.ImportFrom) and node.module == "__future__"
        if not words and not future:
            break
        at = node.end_lineno or at
    lines.insert(at, "from typing import Final\n")
    return "".join(lines)


def copy_sources(target: Path) -> None:
    """Copy the packages with what they need, their constants final where they are compiled."""
    for package, folder in source_folders().items():
        shutil.copytree(
            folder, target / package, ignore=shutil.ignore_patterns("__pycache__", "*.so", "*.pyd")
        )
    netlists = source_folders()["leafwinch_wiring"].parent
    for path in netlists.glob("*.toml"):
        shutil.copy(path, target)
    for name in modules():
        path = target / name
        module = importlib.import_module(".".join(Path(name).with_suffix("").parts))
        text = path.read_text(encoding="utf-8")
        path.write_text(with_final_constants(text, vars(module)), encoding="utf-8")


def compile_all(target: Path) -> None:
    """Turn the chosen modules in a copy of the sources into an extension.

    Raises:
        BadBuild: a tool is missing or the compiler refuses.
    """
    try:
        from mypyc.build import mypycify
        from setuptools import setup
    except ImportError as error:
        raise BadBuild(
            f"The compiled build needs {error.name}; 'pip install leafwinch[compiled]' brings it."
        ) from None
    if shutil.which(os.environ.get("CC", "cc")) is None:
        raise BadBuild("The compiled build needs a C compiler, which is not here; install gcc.")
    before = Path.cwd()
    told = io.StringIO()
    os.chdir(target)
    # mypy looks for its settings upwards; those of a checkout are not meant for the copy.
    Path("mypy.ini").write_text("[mypy]\nignore_missing_imports = true\n", encoding="ascii")
    try:
        with contextlib.redirect_stdout(told), contextlib.redirect_stderr(told):
            extensions: Any = mypycify(
                ["--config-file=mypy.ini", "--follow-imports=silent", *modules()], opt_level="2"
            )
            setup(
                name="leafwinch-compiled",
                packages=[],
                ext_modules=extensions,
                script_args=["--quiet", "build_ext", "--inplace"],
            )
    except (SystemExit, Exception) as error:
        lines = [line for line in told.getvalue().splitlines() if "error" in line.lower()]
        reason = lines[0] if lines else str(error)
        raise BadBuild(f"The sources could not be compiled: {reason}") from None
    finally:
        os.chdir(before)


def main() -> int:
    """Make the build anew; return 0, or 2 with one sentence where it cannot be made."""
    begun = time.monotonic()
    print("Compiling the control core and the bench (one to three minutes) ...", flush=True)
    work = FOLDER.with_name(f"{FOLDER.name}-{os.getpid()}")
    try:
        work.mkdir(parents=True)
        stamp = sources_hash(source_folders())
        copy_sources(work)
        compile_all(work)
        shutil.rmtree(work / "build", ignore_errors=True)
        (work / STAMP.name).write_text(stamp, encoding="ascii")
        shutil.rmtree(FOLDER, ignore_errors=True)
        work.rename(FOLDER)
    except BadBuild as error:
        print(f"leafwinch: {error}", file=sys.stderr)
        return 2
    finally:
        shutil.rmtree(work, ignore_errors=True)
    print(f"Compiled in {time.monotonic() - begun:.0f} s; 'leafwinch' uses it from now on.")
    return 0


if __name__ == "__main__":
    sys.exit(main())
