"""Writes controller_state.py and monitor_state.py from the FIELDS of their parts.

Each part names its state once, in FIELDS. Reading every name anew at every snapshot is too
slow for millions of branches, so what FIELDS says is written out here as plain code.
`python -m leafwinch_sim.state_maker` renews the files; a test compares them.
"""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from leafwinch.controller import Controller
from leafwinch.settings_schema import settings_from
from leafwinch_sim.requirements_motion import Motion
from leafwinch_sim.requirements_starts import Latch, Starts
from leafwinch_sim.requirements_times import Times

HERE = Path(__file__).parent
HEAD = '''"""{what} as one tuple, quickly. Generated: do not edit.

Renew it with `python -m leafwinch_sim.state_maker`.
"""

{imports}

State = tuple[{entry}, ...]
'''
TIMELESS = ("last_ms", "warning", "warnings")  # of no influence on the contactors


def controller_parts() -> dict[str, Any]:
    """Return every part of the firmware that holds state, by its name in the controller."""
    controller = Controller(settings_from({}))
    names = {id(value): name for name, value in vars(controller).items()}
    return {names.get(id(part), "core"): part for part in controller.parts()}


def _take(name: str, kind: str, fields: tuple[str, ...]) -> str:
    values = "".join(f"        part.{field},\n" for field in fields)
    return (
        f"\n\ndef take_{name}(part: {kind}) -> State:\n"
        '    """Return the whole state of this part."""\n'
        f"    return (\n{values}    )\n"
    )


def _put(name: str, kind: str, fields: tuple[str, ...]) -> str:
    values = "".join(f"        part.{field},\n" for field in fields)
    return (
        f"\n\ndef put_{name}(part: {kind}, state: State) -> None:\n"
        '    """Take over a state of this part."""\n'
        f"    (\n{values}    ) = state\n"
    )


def _parts(kinds: Mapping[str, tuple[type[Any], tuple[str, ...]]]) -> str:
    return "".join(
        _take(name, kind.__name__, fields) + _put(name, kind.__name__, fields)
        for name, (kind, fields) in kinds.items()
    )


def _imports(kinds: Mapping[str, tuple[type[Any], tuple[str, ...]]], more: str = "") -> str:
    modules: dict[str, list[str]] = {}
    for kind, _ in kinds.values():
        modules.setdefault(kind.__module__, []).append(kind.__name__)
    lines = [f"from {module} import {', '.join(sorted(modules[module]))}" for module in modules]
    return more + "\n".join(sorted(lines))


def controller_state() -> str:
    """Return the text of controller_state.py as the firmware is now."""
    parts = controller_parts()
    kinds = {name: (type(part), part.FIELDS) for name, part in parts.items()}
    owner = {name: "core" if name == "core" else f"core.{name}" for name in parts}
    takes = "".join(f"        take_{name}({owner[name]}),\n" for name in parts)
    puts = "".join(f"    put_{n}({owner[n]}, state[{i}])\n" for i, n in enumerate(parts))
    timeless = "".join(
        f"            core.{f},\n" for f in parts["core"].FIELDS if f not in TIMELESS
    )
    others = "".join(
        f"        take_{name}({owner[name]}),\n"
        for name in parts
        if name not in ("core", "indicator")
    )
    head = HEAD.format(what="The firmware's whole state", imports=_imports(kinds), entry="int")
    return (
        f"{head}CoreState = tuple[State, ...]\n"
        + _parts(kinds)
        + "\n\ndef take(core: Controller) -> CoreState:\n"
        '    """Return the whole state."""\n'
        f"    return (\n{takes}    )\n"
        "\n\ndef put(core: Controller, state: CoreState) -> None:\n"
        '    """Take over a state from take() of a controller with equal settings."""\n'
        f"{puts}"
        "\n\ndef canonical(core: Controller) -> CoreState:\n"
        '    """Return the state without absolute time, lamp phases and warning count.\n\n'
        "    It holds what Controller.canonical() returns, part by part.\n"
        '    """\n'
        f"    return (\n        (\n{timeless}        ),\n{others}    )\n"
    )


def monitor_state() -> str:
    """Return the text of monitor_state.py as the monitors are now."""
    kinds = {
        "motion": (Motion, Motion.FIELDS),
        "starts": (Starts, Starts.FIELDS),
        "latch": (Latch, Latch.FIELDS),
        "times": (Times, Times.FIELDS),
    }
    imports = _imports(kinds, "from typing import Any\n\n")
    head = HEAD.format(what="The state of each group of requirements", imports=imports, entry="Any")
    return head + _parts(kinds)


FILES = {"controller_state.py": controller_state, "monitor_state.py": monitor_state}


if __name__ == "__main__":
    for file, text in FILES.items():
        (HERE / file).write_text(text(), encoding="utf-8")
