"""What a plot says around its curves, taken from the run and its installation."""

from leafwinch.states import STATE_NAMES
from leafwinch_host.plots import PlotNotes
from leafwinch_host.run_summary import Setting
from leafwinch_host.texts import fault_name
from leafwinch_sim.run import RunResult


def notes_of(result: RunResult, setting: Setting) -> PlotNotes:
    """Return titles, levels and events for the plot of one run."""
    limits = setting.site.limits
    settings = setting.settings()
    named = (
        ("top end", limits.top_end),
        ("top final", limits.top_final),
        ("bottom end", limits.bottom_end),
    )
    return PlotNotes(
        title=f"{setting.site.name}, {setting.script.name}, wiring {setting.net.name}",
        subtitle=f"{setting.defect_words()}, seed {setting.seed}; {outcome(result)}",
        trip_a=None if settings is None else settings.trip_ma / 1000.0,
        limit_angles_deg=tuple(
            (name, limit.at) for name, limit in named if limit.senses == "leaf_angle"
        ),
        events=tuple((at_ms / 1000.0, text) for at_ms, text in result.events),
    )


def outcome(result: RunResult) -> str:
    """Return how a run ended, in a few words."""
    broken = [name for name, at_s in result.requirements.items() if at_s is not None]
    words = f"breaks {', '.join(broken)}" if broken else "every requirement holds"
    if result.state is None:
        return words
    ending = f"ends in {STATE_NAMES[result.state]}"
    if result.fault:
        ending += f" ({fault_name(result.fault)})"
    return f"{ending}; {words}"
