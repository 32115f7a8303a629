"""A sizing as plain data, for JSON: no infinities, since JSON has none, but None."""

import math
from dataclasses import asdict
from typing import Any

import numpy as np

from leafwinch_sim.sizing.conditions import NAMES, RANGES
from leafwinch_sim.sizing.parts import Parts
from leafwinch_sim.sizing.size import Sizing
from leafwinch_sim.sizing.stopping import UP

DIGITS = 4


def as_data(sizing: Sizing) -> dict[str, Any]:
    """Return a sizing as numbers, texts, lists and mappings."""
    parts = sizing.parts
    worked = parts.worked
    window = parts.window
    whole = {
        "site": worked.site.name,
        "wiring": worked.net.name,
        "verdict": sizing.verdict,
        "findings": [asdict(finding) for finding in sizing.findings],
        "tension_n": {
            "angle_deg": worked.geometry.angle_deg,
            "raise": worked.tension.raise_n,
            "lower": worked.tension.lower_n,
            "raise_hardest": worked.worst_tension.raise_n,
        },
        "peak_rope_n": parts.rope.peak_n,
        "peak_rope_hardest_n": parts.rope.worst_n,
        "peak_rope_start_n": worked.starting.peak_line_n,
        "reserve": parts.pull.reserve,
        "least_kicker_mm": _mm(parts.pull.least_kicker_m),
        "least_kicker_bare_mm": _mm(parts.pull.bare_kicker_m),
        "slack_angle_deg": parts.slack_deg,
        "slack_angle_poor_deg": parts.slack_poor_deg,
        "travel_s": {
            "raise": worked.nominal.raising.seconds,
            "lower": worked.nominal.lowering.seconds,
        },
        "current_a": {
            "angle_deg": worked.geometry.angle_deg,
            "raise": worked.nominal.up.current_a,
            "lower": worked.nominal.down.current_a,
        },
        "overrun_mm": _overruns(parts),
        "end_places": [
            {**asdict(place), "exists": place.exists, "good": place.good} for place in parts.places
        ],
        "trip_window_a": {
            "low": window.low_a,
            "high": window.high_a,
            "chosen": window.chosen_a,
            "open": window.open,
            "stall": window.stall_a,
            "strength": window.strength_a,
            "weakest": window.weakest.words,
        },
        "settings": sizing.settings,
        "start": {**asdict(parts.start), "reserve": parts.start.reserve},
        "rope": asdict(parts.rope),
        "reactions_n": asdict(parts.reactions),
        "built_leaves_kg": [asdict(leaf) for leaf in parts.boards],
        "supply": {
            **{key: value for key, value in asdict(parts.supply).items() if key != "given"},
            "given": None if parts.supply.given is None else str(parts.supply.given),
        },
        "duty": asdict(parts.duty),
        "forces_n": asdict(parts.forces),
        "bands": [{**asdict(band), "matters_most": band.matters_most} for band in sizing.bands],
        "spread": {name: list(limits) for name, limits in zip(NAMES, RANGES, strict=True)},
    }
    return {key: _plain(value) for key, value in whole.items()}


def _mm(depth_m: float | None) -> float | None:
    return None if depth_m is None else depth_m * 1000.0


def _overruns(parts: Parts) -> list[dict[str, Any]]:
    rows = []
    for worn in (False, True):
        for overrun in parts.worked.overruns(worn):
            rows.append(
                {
                    "stop": overrun.kind.key,
                    "words": overrun.kind.words,
                    "why": overrun.kind.why,
                    "fed_ms": overrun.kind.fed_ms,
                    "way": "raise" if overrun.way == UP else "lower",
                    "brake": "worn" if worn else "sound",
                    "angle_deg": overrun.angle_deg,
                    "rope": overrun.rope_mm,
                    "fastest_point": overrun.point_mm,
                    "leaf_deg": overrun.deg,
                }
            )
    return rows


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(part) for key, part in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(part) for part in value]
    if isinstance(value, np.ndarray):
        return _plain(value.tolist())
    if isinstance(value, float | np.floating):
        number = float(value)
        return round(number, DIGITS) if math.isfinite(number) else None
    return value
