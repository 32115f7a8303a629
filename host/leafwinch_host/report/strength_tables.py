"""Tables of the sizing report about what must bear the pull: rope, drum, hinge, wheels, anchor."""

from leafwinch_host.report.size_tables import (
    NO_BREAK,
    PRACTICE,
    STATED,
    WORKED_OUT,
    Row,
    Table,
    judge,
    judged,
    num,
    told,
)
from leafwinch_sim.sizing.parts import Parts
from leafwinch_sim.sizing.rope_part import FLEET_LIMIT_DEG
from leafwinch_sim.sizing.rope_rules import DISCARD_LENGTHS, GROUPS


def rope_table(parts: Parts) -> Table:
    """Return rope, drum and sheaves against handbooks and standards."""
    return judged(
        "rope",
        [*_rope_rows(parts), *_drum_rows(parts), _length_row(parts), _discard_row(parts)],
    )


def _rope_rows(parts: Parts) -> list[Row]:
    rope, site = parts.rope, parts.worked.site
    iso = f"ISO 4308-1, group {rope.group}, from memory"
    asks = GROUPS[rope.group].running
    formula = rope.by_formula_n
    return [
        judge(
            "design factor, end fittings and hardest pull",
            num(rope.factor, ".1f", "times"),
            f"at least {rope.needed:g} times",
            rope.strong_enough,
            "Machinery Directive, annex I, 4.1.2.4, from memory; "
            f"ISO 4308-1 asks {asks:g} of group {rope.group}",
        ),
        judge(
            f"breaking force of {site.rope.diameter * 1000:g} mm rope",
            num(rope.breaking_n / 1000.0, ".2f", "kN"),
            "a construction"
            if formula is None
            else f"at most {num(formula / 1000, '.2f', 'kN')} and 5{NO_BREAK}%",
            None if formula is None else rope.certificate_fits,
            "EN 12385-4 and ISO 2408, as in Feyrer, Wire Ropes; the 5 % are common practice",
        ),
        judge(
            "drum, pitch diameter over rope",
            num(rope.drum_ratio, ".1f"),
            f"at least {rope.drum_needed:g}",
            rope.drum_ratio >= rope.drum_needed,
            iso,
        ),
        judge(
            "smallest sheave, pitch diameter over rope",
            num(rope.sheave_ratio, ".1f"),
            f"at least {rope.sheave_needed:g}",
            None if rope.sheave_ratio is None else rope.sheave_ratio >= rope.sheave_needed,
            iso,
        ),
    ]


def _discard_row(parts: Parts) -> Row:
    """Return at how many broken wires the rope is thrown away."""
    what, source = (
        "thrown away at broken wires that show",
        "ISO 4309, groups M1 to M4, ordinary lay",
    )
    found = parts.rope.discard
    if found is None:
        return told(what, "not listed for this rope; ask its maker", source)
    diameter = parts.worked.site.rope.diameter
    counts = (
        f"{wires} over {num(1000.0 * lengths * diameter, '.0f', 'mm')}"
        for wires, lengths in zip(found, DISCARD_LENGTHS, strict=True)
    )
    return told(what, f"{', '.join(counts)}, or any strand", source)


def _length_row(parts: Parts) -> Row:
    rope = parts.rope
    mass = "" if rope.mass_kg is None else f", {num(rope.mass_kg, '.2g', 'kg')}"
    return told(
        "rope from its fixing on the drum to its dead end",
        f"{num(rope.length_m, '.1f', 'm')}{mass}",
        f"{WORKED_OUT}, end fittings not counted; mass as in Feyrer, Wire Ropes",
    )


def _drum_rows(parts: Parts) -> list[Row]:
    rope, site = parts.rope, parts.worked.site
    wraps = max(site.drum.dead_wraps, rope.least_turns)
    flange = site.drum.flange_radius
    return [
        told(
            "turns on the drum, flat and folded",
            f"{rope.turns_flat:.1f} and {rope.turns_folded:.1f}, {rope.layers} layers",
            WORKED_OUT,
        ),
        judge(
            "turns left after the bottom final",
            num(rope.turns_left, ".2f"),
            f"at least {wraps:g}",
            rope.turns_left >= wraps,
            "site file, and two by OSHA 1910.179(h)(2)(iii), from memory",
        ),
        judge(
            "radius of the flanges",
            num(None if flange is None else flange * 1000.0, ".0f", "mm"),
            f"at least {rope.flange_needed_m * 1000:.0f} mm",
            None if flange is None else flange >= rope.flange_needed_m,
            PRACTICE,
        ),
        judge(
            "fleet angle to either side",
            num(rope.fleet_deg, ".2f") + ("" if rope.fleet_deg is None else "°"),
            f"at most {FLEET_LIMIT_DEG:g}°",
            None if rope.fleet_deg is None else rope.fleet_deg <= FLEET_LIMIT_DEG,
            f"smooth drum, {PRACTICE}",
        ),
        told(
            "load on the rope's fixing on the drum",
            num(rope.anchor_n, ".0f", "N"),
            "EN 14492-1 with the friction of the wraps left, from memory",
        ),
    ]


def forces_table(parts: Parts) -> Table:
    """Return the forces on what bears deck and rope against what it is stated to bear."""
    site, forces, reactions = parts.worked.site, parts.forces, parts.reactions
    strength = site.strength
    rated = site.buffer.rated_force
    statics = "balance of forces, heavy and stiff"
    rows = [
        judge(
            what,
            num(needs, ".0f", "N"),
            "not stated" if bears is None else f"at most {num(bears, '.0f', 'N')}",
            None if bears is None else needs <= bears,
            f"{statics}; {STATED}",
        )
        for what, needs, bears in (
            ("wall hinge", reactions.hinge_n, strength.hinge),
            ("wheels, all together", reactions.wheels_n, strength.wheels),
            ("the rope's anchor", reactions.anchor_n, strength.anchor),
            ("free end of leaf B", 2.0 * parts.rope.worst_n, strength.free_end),
        )
    ]
    rows += [
        judge(
            f"leaf {leaf.leaf}, with wet boards of heavy timber",
            f"{num(leaf.heaviest_kg, '.1f', 'kg')} ({leaf.dry_kg:.1f} dry)",
            f"at most {num(leaf.covered_kg, '.1f', 'kg')}, called heavy",
            leaf.covered,
            "EN 10219-2; handbooks of timber; USDA report FPL-GTR-113",
        )
        for leaf in parts.boards
    ]
    rows.append(
        told(
            "sheave that leads to the drum",
            num(reactions.lead_sheave_n, ".0f", "N"),
            "parallelogram of the rope's two pulls, wire-rope handbooks",
        )
    )
    rows.append(
        judge(
            "buffer, both top limits failed, at the trip",
            num(forces.buffer_trip_n, ".0f", "N"),
            f"at most {num(rated, '.0f', 'N')}",
            forces.buffer_trip_n <= rated,
            "balance of work; site file",
        )
    )
    rows.append(
        told(
            "buffer, the motor pulling its hardest",
            num(forces.buffer_stall_n, ".0f", "N"),
            "balance of work",
        )
    )
    return judged("forces", rows)
