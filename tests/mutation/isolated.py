"""Imports the control core afresh with one module changed, and all that stands on it.

Meant for a process of its own: what was imported before is dropped there.
"""

import functools
import gc
import importlib.abc
import importlib.machinery
import importlib.util
import sys
from collections.abc import Sequence
from pathlib import Path
from types import CodeType, ModuleType
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
_ROOMS = {"leafwinch": "firmware", "leafwinch_wiring": "wiring", "leafwinch_sim": "sim"}
_DROPPED = (*_ROOMS, "tests")


@functools.cache
def path_of(name: str) -> Path | None:
    """Return the source file of one of the project's modules, or None for any other name."""
    parts = name.split(".")
    if parts[0] == "tests":
        stem = ROOT.joinpath(*parts)
    elif parts[0] in _ROOMS:
        stem = ROOT.joinpath(_ROOMS[parts[0]], *parts)
    else:
        return None
    for path in (stem.with_suffix(".py"), stem / "__init__.py"):
        if path.is_file():
            return path
    return None


@functools.cache
def code_of(path: Path) -> CodeType:
    """Compile a source file, once for all processes that are forked later."""
    return compile(path.read_text(encoding="utf-8"), str(path), "exec")


def read_everything() -> None:
    """Compile every file that a change could meet, so that later edits of them do not matter."""
    for top in ("tests/firmware", "tests/reference_model", "tests/mutation", "tests/external"):
        for path in (ROOT / top).glob("*.py"):
            code_of(path)
    for package, room in _ROOMS.items():
        for path in (ROOT / room / package).rglob("*.py"):
            code_of(path)
    code_of(ROOT / "tests" / "__init__.py")
    gc.freeze()


class Finder(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Gives every module from its source, and one of them from changed source."""

    def __init__(self, changed: dict[str, str]) -> None:
        self.changed = changed

    def find_spec(
        self, fullname: str, path: Sequence[str] | None, target: ModuleType | None = None
    ) -> importlib.machinery.ModuleSpec | None:
        """Take the project's own modules; an extension module beside them is passed over."""
        found = path_of(fullname)
        if found is None:
            return None
        package = found.name == "__init__.py"
        spec = importlib.util.spec_from_loader(
            fullname, self, origin=str(found), is_package=package
        )
        if spec is not None:
            spec.has_location = True
            if package:
                spec.submodule_search_locations = [str(found.parent)]
        return spec

    def exec_module(self, module: ModuleType) -> None:
        """Run the module's text."""
        path = path_of(module.__name__)
        if path is None:
            raise ImportError(module.__name__)
        text = self.changed.get(module.__name__)
        code: Any = code_of(path) if text is None else compile(text, str(path), "exec")
        exec(code, vars(module))


def start_afresh(changed: dict[str, str]) -> None:
    """Drop every module of the project and import it from now on with these texts changed."""
    for name in list(sys.modules):
        if name.split(".")[0] in _DROPPED:
            del sys.modules[name]
    sys.meta_path.insert(0, Finder(changed))
