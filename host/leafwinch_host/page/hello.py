"""What a page is told once, before the first frame: the installation and all its names.

    {"hello": {
        site {name, summary, over, leaf_a_m, leaf_b_m, width_m, kicker_m, drum_radius_m,
              rope_diameter_m, rope_lead_m, turns_at_flat, turns_per_layer, dead_wraps,
              buffer_deg, wall_deg, bottom_slack_mm, supply_v, supply_hz, motor},
        wiring {name, title, controller, content}, bare (name of the bare wiring, or ""),
        limits [{name, part, senses, unit, operates, at, reset_differential}],
        parts {ref: {kind, at}}, elements [{name, part, role, acts, a, b}],
        nets [names], net_of {terminal: net}, wires [{mark, a, b, cable, net}], coils [names],
        contacts [names], outputs [names], hands [names],
        defects [{id, part, kind, cause, around}], faults [{number, name, words, look, lamp_code}],
        requirements [{name, text, limit}], seed, spread {..}, sheets,
        speed {min, max}, beat_ms, lease_ms, back_s, guides [{id, title, text, steps, defect}],
        cautions [{hazard, advice}], legal}}

Lengths in m unless the name says otherwise, angles in degrees.
"""

from dataclasses import asdict
from typing import Any, get_args

from leafwinch.requirement_limits import REQUIREMENTS
from leafwinch.signals import CONTACT_NAMES, OUTPUT_NAMES
from leafwinch_host.page.frames import fault_table
from leafwinch_host.page.hold import BEAT_MS, LEASE_MS
from leafwinch_host.page.messages import BACK_MAX_S, SPEED_MAX, SPEED_MIN, Hand
from leafwinch_host.report.words import CAUTIONS, LEGAL, WATER_CAUTION
from leafwinch_host.texts import requirement_limit
from leafwinch_sim.bench_defects import Defect
from leafwinch_sim.scenario import is_surrounding
from leafwinch_sim.site_schema import SENSED_UNITS, Site
from leafwinch_sim.spread import Spread
from leafwinch_wiring.defect_types import WiringDefect
from leafwinch_wiring.netlist import Netlist


def hello_of(
    site: Site, net: Netlist, bare: str, seed: int, spread: Spread, defects: tuple[Defect, ...]
) -> dict[str, Any]:
    """Return what a page is told once; see the module's own words.

    Args:
        site: what is installed.
        net: how it is wired.
        bare: name of the bare wiring that can be put beside it, empty for none.
        seed: of bounce, skew and noise.
        spread: which healthy draw the installation is.
        defects: everything that can come, surroundings included.
    """
    cautions = [*CAUTIONS, *([WATER_CAUTION] if site.over == "water" else [])]
    return {
        "site": _site(site),
        "bare": bare,
        **_wiring(net),
        "limits": [
            {"name": name, "unit": SENSED_UNITS[limit.senses], **limit.model_dump()}
            for name in ("top_end", "bottom_end", "top_final", "bottom_final", "slack_rope")
            if (limit := getattr(site.limits, name)) is not None
        ],
        "contacts": list(CONTACT_NAMES),
        "outputs": list(OUTPUT_NAMES),
        "hands": list(get_args(Hand)),
        "defects": [
            {
                "id": defect.id,
                "part": defect.part,
                "kind": defect.kind,
                "cause": defect.cause,
                "around": is_surrounding(defect),
            }
            for defect in defects
        ],
        "faults": fault_table(),
        "requirements": [
            {"name": name, "text": text, "limit": requirement_limit(name, site)}
            for name, text, _ in REQUIREMENTS
        ],
        "seed": seed,
        "spread": asdict(spread),
        "speed": {"min": SPEED_MIN, "max": SPEED_MAX},
        "beat_ms": BEAT_MS,
        "lease_ms": LEASE_MS,
        "back_s": BACK_MAX_S,
        "guides": guides_of(net, defects),
        "cautions": [asdict(caution) for caution in cautions],
        "legal": LEGAL,
    }


def _site(site: Site) -> dict[str, Any]:
    return {
        "name": site.name,
        "summary": site.summary,
        "over": site.over,
        "leaf_a_m": site.deck.leaf_a.length,
        "leaf_b_m": site.deck.leaf_b.length,
        "width_m": site.deck.width,
        "kicker_m": site.deck.kicker_depth,
        "drum_radius_m": site.drum.core_radius,
        "rope_diameter_m": site.rope.diameter,
        "rope_lead_m": site.rope.lead,
        "turns_at_flat": site.drum.turns_at_flat,
        "turns_per_layer": site.drum.turns_per_layer,
        "dead_wraps": site.drum.dead_wraps,
        "buffer_deg": site.buffer.place,
        "wall_deg": site.buffer.wall,
        "bottom_slack_mm": site.allowed.bottom_slack * 1000.0,
        "supply_v": site.supply.voltage,
        "supply_hz": site.supply.frequency,
        "motor": site.motor.kind,
    }


def _wiring(net: Netlist) -> dict[str, Any]:
    return {
        "wiring": {
            "name": net.name,
            "title": net.title,
            "controller": net.has_controller,
            "content": net.content_hash,
        },
        "parts": {ref: {"kind": part.kind, "at": part.at} for ref, part in net.parts.items()},
        "elements": [
            {"name": e.name, "part": e.part, "role": e.role, "acts": e.acts, "a": e.a, "b": e.b}
            for e in net.elements
        ],
        "nets": list(dict.fromkeys(net.net_of.values())),
        "net_of": dict(net.net_of),
        "wires": [
            {"mark": w.mark, "a": w.a, "b": w.b, "cable": w.cable, "net": net.net_of[w.a]}
            for w in net.wires
        ],
        "coils": list(net.coil_names),
    }


def guides_of(net: Netlist, defects: tuple[Defect, ...]) -> list[dict[str, Any]]:
    """Return the guided experiments; `defect` is the id of what breaks in it, empty for none.

    One that this wiring has no part for is left out.
    """
    found: list[dict[str, Any]] = [
        {
            "id": "release",
            "title": "Hold and let go",
            "text": "The deck moves only while the control is held.",
            "steps": [
                "Hold the control to raise and watch the deck rise.",
                "Let go: motor off and brake set within 0.2 s.",
            ],
            "defect": "",
        }
    ]
    wire = _open_wire(net, defects)
    if wire:
        found.append(
            {
                "id": "wire",
                "title": "Break a wire of the top limit",
                "text": "A broken wire reads like an end that is reached: the deck stops.",
                "steps": [
                    "Hold the control to raise.",
                    f"Let {wire} come while the deck rises, and go on holding.",
                    "The deck stops by itself; read what the board says, then mend the wire.",
                ],
                "defect": wire,
            }
        )
    weld = next((d.id for d in defects if d.kind == "pole_welded" and d.part == "QA1"), "")
    if weld:
        found.append(
            {
                "id": "weld",
                "title": "Weld a contactor",
                "text": "A welded raise contactor can't keep the winch running: the line "
                "contactor is the second way off.",
                "steps": [
                    "Hold the control to raise.",
                    f"Let {weld} come while the deck rises, then let go: it stops all the same.",
                    "Read the fault, and try to raise again: the board refuses.",
                ],
                "defect": weld,
            }
        )
    return found


def _open_wire(net: Netlist, defects: tuple[Defect, ...]) -> str:
    """Return the defect that opens a wire at the top limit's contact in the coil's path."""
    ends = {
        terminal
        for element in net.elements
        if element.name == "BG1:path"
        for terminal in (element.b, element.a)
    }
    marks = {wire.mark for wire in net.wires if wire.a in ends or wire.b in ends}
    for defect in defects:
        if not isinstance(defect, WiringDefect) or defect.kind != "wire_open":
            continue
        if marks & {target for target, _ in defect.series}:
            return defect.id
    return ""
