"""The control core with one bug, imported apart from the real one."""

import importlib
import shutil
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

from tests.seeded_bugs.bugs import Bug

# The sources, whatever is imported: the core may also have been compiled.
CORE = Path(__file__).resolve().parents[2] / "firmware" / "leafwinch"
Make = Callable[[dict[str, int], "tuple[int, ...] | None", int], Any]


def patched_source(bug: Bug) -> str:
    """Return the file with the bug in it.

    Raises:
        ValueError: where the text to replace is not there exactly once.
    """
    text = (CORE / bug.file).read_text(encoding="utf-8")
    if text.count(bug.old) != 1:
        raise ValueError(f"{bug.name}: its text occurs {text.count(bug.old)} times in {bug.file}")
    return text.replace(bug.old, bug.new)


def _core_modules() -> dict[str, Any]:
    return {
        name: module
        for name, module in sys.modules.items()
        if name == "leafwinch" or name.startswith("leafwinch.")
    }


def maker_of(bug: Bug) -> Make:
    """Return a maker of cores with this bug; the real core stays as it was imported."""
    kept = _core_modules()
    writes = sys.dont_write_bytecode
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder, "leafwinch")
        shutil.copytree(CORE, copy, ignore=shutil.ignore_patterns("__pycache__", "*.so", "*.pyd"))
        (copy / bug.file).write_text(patched_source(bug), encoding="utf-8")
        for name in kept:
            del sys.modules[name]
        sys.path.insert(0, folder)
        sys.dont_write_bytecode = True
        importlib.invalidate_caches()
        try:
            controller = importlib.import_module("leafwinch.controller")
            settings = importlib.import_module("leafwinch.settings_schema")
        finally:
            sys.dont_write_bytecode = writes
            sys.path.remove(folder)
            for name in _core_modules():
                del sys.modules[name]
            sys.modules.update(kept)
            importlib.invalidate_caches()

    def make(values: dict[str, int], record: tuple[int, ...] | None, boot: int) -> Any:
        return controller.Controller(settings.settings_from(values), record, boot)

    return make
