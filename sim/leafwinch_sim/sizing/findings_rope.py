"""Findings about rope, drum, sheaves and the parts that bear the pull."""

import math
from collections.abc import Iterator

from leafwinch_sim.sizing.finding import Finding
from leafwinch_sim.sizing.parts import Parts
from leafwinch_sim.sizing.rope_part import FLEET_LIMIT_DEG
from leafwinch_sim.sizing.rope_rules import least_pitch_diameter_m


def rope_findings(parts: Parts) -> Iterator[Finding]:
    """Find what is wrong with the rope and what carries it."""
    yield from _strength(parts)
    yield from _bearers(parts)
    yield from _bending(parts)
    yield from _drum(parts)


def _strength(parts: Parts) -> Iterator[Finding]:
    rope = parts.rope
    given = parts.worked.site.rope
    if math.isinf(rope.peak_n):
        return  # the missing lever is a finding already, and no rope would do
    if not rope.strong_enough:
        needed_kn = rope.breaking_n * rope.needed / max(rope.factor, 1e-9) / 1000.0
        yield Finding(
            "rope_too_thin",
            "blocks",
            f"The rope is too weak: its breaking force of {rope.breaking_n / 1000:.2f} kN, less "
            "its "
            f"end fittings ({given.end_strength:g}), is {rope.factor:.1f} times the greatest "
            "pull of "
            f"{rope.worst_n:.0f} N.",
            f"{rope.needed:g} times is the rule for ropes of lifting gear (Machinery Directive, "
            "annex I, 4.1.2.4, from memory).",
            f"Take a rope of at least {needed_kn:.1f} kN: of the same construction "
            f"{rope.least_diameter_m * 1000:.1f} mm instead of {given.diameter * 1000:g} mm. "
            "Look at "
            "the drum's size for it.",
        )
    if not rope.certificate_fits and rope.by_formula_n is not None:
        yield Finding(
            "rope_certificate",
            "amend",
            f"A breaking force of {rope.breaking_n / 1000:.2f} kN is more than a "
            f"{given.diameter * 1000:g} mm {given.construction} rope of {given.grade:g} N/mm2 can "
            f"have ({rope.by_formula_n / 1000:.2f} kN by EN 12385-4).",
            "Either the construction, the grade or the force is wrong.",
            "Look at the rope's certificate; until then reckon with the lower figure.",
        )


def _bearers(parts: Parts) -> Iterator[Finding]:
    strength = parts.worked.site.strength
    reactions = parts.reactions
    for words, bears, needs in (
        ("The rope's anchor", strength.anchor, reactions.anchor_n),
        ("The wall hinge", strength.hinge, reactions.hinge_n),
        ("The wheels", strength.wheels, reactions.wheels_n),
        ("The free end of leaf B", strength.free_end, 2.0 * parts.rope.worst_n),
    ):
        if bears is None or bears >= needs or math.isinf(needs):
            continue
        plural = words.endswith("wheels")
        yield Finding(
            "part_too_weak",
            "blocks",
            f"{words} bear{'' if plural else 's'} {bears:.0f} N, but healthy work asks for "
            f"{needs:.0f} N.",
            "That is without any jam, gust or person on the deck.",
            f"Strengthen {'them' if plural else 'it'} to at least {1.5 * needs:.0f} N.",
        )


def _bending(parts: Parts) -> Iterator[Finding]:
    rope = parts.rope
    diameter = parts.worked.site.rope.diameter
    if rope.drum_ratio < rope.drum_needed:
        yield Finding(
            "drum_too_small",
            "note",
            f"The drum bends the rope sharply: its pitch diameter is {rope.drum_ratio:.1f} rope "
            f"diameters, group {rope.group} asks for {rope.drum_needed:g} (ISO 4308-1, from "
            "memory).",
            "Wires break earlier than they would on a larger drum.",
            "A pitch diameter of "
            f"{least_pitch_diameter_m(rope.drum_needed, diameter) * 1000:.0f} mm would do. With "
            "this "
            "one look at the rope twice as often and discard it by ISO 4309.",
        )
    if rope.sheave_ratio is not None and rope.sheave_ratio < rope.sheave_needed:
        yield Finding(
            "sheave_too_small",
            "note",
            f"The smallest sheave bends the rope sharply: {rope.sheave_ratio:.1f} rope diameters, "
            f"group {rope.group} asks for {rope.sheave_needed:g} (ISO 4308-1, from memory).",
            "Wires break earlier, and the sheave costs more pull.",
            f"Take sheaves with a tread of {(rope.sheave_needed - 1) * diameter * 1000:.0f} mm.",
        )
    if rope.fleet_deg is not None and rope.fleet_deg > FLEET_LIMIT_DEG:
        away = rope.fleet_deg / FLEET_LIMIT_DEG
        yield Finding(
            "fleet_angle",
            "note",
            f"The rope comes to the drum at up to {rope.fleet_deg:.1f} deg to the side; on a "
            "smooth "
            f"drum {FLEET_LIMIT_DEG:g} deg is usual (common practice, no source).",
            "It then winds on unevenly, cuts in between turns and climbs at the flanges.",
            f"Put the first sheave {away:.1f} times as far from the drum.",
        )


def _drum(parts: Parts) -> Iterator[Finding]:
    rope = parts.rope
    flange = parts.worked.site.drum.flange_radius
    if flange is not None and flange < rope.flange_needed_m:
        yield Finding(
            "drum_overfull",
            "amend",
            f"The folded deck fills the drum with {rope.layers} layers up to "
            f"{rope.outer_m * 1000:.0f} mm; its flanges reach {flange * 1000:.0f} mm.",
            "Rope that climbs over a flange jams or falls off the drum.",
            f"The flanges must reach {rope.flange_needed_m * 1000:.0f} mm, one and a half rope "
            "diameters more than the rope; or fit a shorter rope, or a wider drum.",
        )
