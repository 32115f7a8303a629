"""The result of one run in plain sentences, and as JSON."""

from dataclasses import dataclass
from typing import Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

from leafwinch.fault_texts import FAULTS
from leafwinch.requirement_limits import R1_OFF_MS, R1_OVERRUN_MM, REQUIREMENTS
from leafwinch.settings import Settings
from leafwinch.settings_schema import settings_from
from leafwinch.states import STATE_NAMES
from leafwinch_host import version
from leafwinch_host.texts import fault_name, fault_sentences, requirement_limit, state_sentence
from leafwinch_sim.run import RunResult
from leafwinch_sim.scripts import Script
from leafwinch_sim.site import Site
from leafwinch_wiring.netlist import Netlist

EVENTS_PRINTED_MAX = 80


@dataclass(frozen=True, slots=True)
class Setting:
    """What was run: installation, script, defects as (id, at_ms), seed."""

    site: Site
    net: Netlist
    script: Script
    defects: list[tuple[str, int]]
    seed: int

    def defect_words(self) -> str:
        """Return the defects in words, such as "BG1:lost at 3 s"."""
        if not self.defects:
            return "nothing broken"
        return ", ".join(f"{name} at {at_ms / 1000:g} s" for name, at_ms in self.defects)

    def settings(self) -> Settings | None:
        """Return the board's settings, or None where the wiring has no board."""
        return settings_from(self.site.settings) if self.net.has_controller else None

    def origin(self, result: RunResult) -> dict[str, str]:
        """Return what is needed to repeat the run."""
        return {
            "site": self.site.name,
            "wiring": self.net.name,
            "netlist": self.net.content_hash,
            "script": self.script.name,
            "defects": self.defect_words(),
            "seed": str(self.seed),
            "interpreter": result.interpreter,
            "hash": result.hash,
        }


def run_json(result: RunResult, setting: Setting) -> dict[str, Any]:
    """Return the JSON object of one run.

    `state` and `fault` are names, null where there is none. `requirements` maps each name to
    "holds" or to the second at which it first broke; `broken` says in words what happened.
    """
    return {
        "state": None if result.state is None else STATE_NAMES[result.state],
        "fault": FAULTS[result.fault - 1][0] if result.fault else None,
        "requirements": {
            name: "holds" if broken_s is None else broken_s
            for name, broken_s in result.requirements.items()
        },
        "travel_s": result.travel_s,
        "peak_rope_n": result.peak_rope_n,
        "peak_current_a": result.peak_current_a,
        "overrun_mm": result.overrun_mm,
        "interpreter": result.interpreter,
        "hash": result.hash,
        "broken": {name: first.text for name, first in result.broken.items()},
        "faults": [FAULTS[number - 1][0] for number in result.faults],
        "peak_running_a": result.peak_running_a,
        "rope_overrun_mm": result.rope_overrun_mm,
        "reaction_ms": result.reaction_ms,
        "drop_mm": result.drop_mm,
        "site": setting.site.name,
        "wiring": setting.net.name,
        "netlist": setting.net.content_hash,
        "script": setting.script.name,
        "defects": [{"defect": name, "at_s": at_ms / 1000} for name, at_ms in setting.defects],
        "seed": setting.seed,
        "events": [{"at_s": at_ms / 1000, "text": text} for at_ms, text in result.events],
        "versions": {"leafwinch": version()},
    }


def print_summary(out: Console, result: RunResult, setting: Setting) -> None:
    """Print what happened, the final state, the requirements and the peaks."""
    out.print(
        Text(f"{setting.site.name}, {setting.script.name}", style="bold"),
        Text(f"({setting.script.summary})"),
    )
    out.print(
        f"Wiring {setting.net.name}, {setting.defect_words()}, seed {setting.seed}, "
        f"firmware in {result.interpreter}.",
        markup=False,
    )
    out.print()
    _print_events(out, result)
    out.print()
    _print_end(out, result, setting)
    out.print()
    _print_requirements(out, result, setting)
    out.print()
    _print_peaks(out, result, setting)
    out.print()
    out.print(
        "Simulated, never measured on a physical board. Keep people off and out from under a "
        "moving deck; local codes and a licensed electrician come first."
    )


def _print_events(out: Console, result: RunResult) -> None:
    events = result.events
    half = EVENTS_PRINTED_MAX // 2
    hidden = len(events) - 2 * half
    for at_ms, text in events if hidden <= 0 else events[:half]:
        _print_event(out, at_ms, text)
    if hidden > 0:
        out.print(f"{'':13}... {hidden} events left out; --json has them all", markup=False)
        for at_ms, text in events[-half:]:
            _print_event(out, at_ms, text)


def _print_event(out: Console, at_ms: int, text: str) -> None:
    row = Table.grid(padding=(0, 2))
    row.add_column(justify="right", min_width=11, no_wrap=True)
    row.add_column(overflow="fold")
    row.add_row(f"{at_ms / 1000:.3f} s", Text(text))
    out.print(row)


def _print_end(out: Console, result: RunResult, setting: Setting) -> None:
    if result.state is None:
        if setting.net.has_controller:
            out.print("It ended with the board without power, so there is no state.")
        else:
            out.print("There is no board in this wiring, so there is no state and no fault.")
        return
    out.print(f"It ended in {state_sentence(result.state)}.", markup=False)
    if result.fault:
        out.print(
            Text(f"Fault {result.fault}, {fault_name(result.fault)}:", style="bold"),
            Text(fault_sentences(result.fault)),
        )
    else:
        out.print("No fault.")


def _print_requirements(out: Console, result: RunResult, setting: Setting) -> None:
    table = Table(box=None, padding=(0, 1), header_style="")
    for heading in ("", "Result", "Requirement", "Limit"):
        table.add_column(heading, overflow="fold")
    for name, text, _ in REQUIREMENTS:
        if name not in result.requirements:
            continue
        broken_s = result.requirements[name]
        if broken_s is None:
            verdict = Text("holds", style="green")
        else:
            verdict = Text(f"BROKEN at {broken_s:.3f} s", style="bold red")
        table.add_row(name, verdict, text, requirement_limit(name, setting.site))
    out.print(table)


def _print_peaks(out: Console, result: RunResult, setting: Setting) -> None:
    settings = setting.settings()
    trips = ("", "")
    if settings is not None:
        trips = (
            f"starting trip {settings.inrush_trip_ma / 1000:g} A",
            f"running trip {settings.trip_ma / 1000:g} A",
        )
    rows = [
        ("travel", f"{result.travel_s:.1f} s", "with the motor fed"),
        (
            "peak rope tension",
            f"{result.peak_rope_n:.0f} N",
            f"rope breaks at {setting.site.rope.breaking_force:.0f} N",
        ),
        ("peak current", f"{result.peak_current_a:.1f} A", trips[0]),
        ("peak running current", f"{result.peak_running_a:.1f} A", trips[1]),
        (
            "longest overrun",
            f"{result.overrun_mm:.1f} mm",
            f"of the free end; limit {R1_OVERRUN_MM} mm after release",
        ),
        (
            "longest stop",
            f"{result.reaction_ms} ms",
            f"from limit, stop or release to brake set; after release at most {R1_OFF_MS} ms",
        ),
    ]
    table = Table(show_header=False, box=None, padding=(0, 1))
    for row in rows:
        table.add_row(*row)
    out.print(table)
