"""Findings about the ends: limits, overrun, buffer, rope left on the drum."""

from collections.abc import Iterator

from leafwinch.requirement_limits import R1_OVERRUN_MM
from leafwinch_sim.sizing.end_places import EndPlace
from leafwinch_sim.sizing.finding import Finding
from leafwinch_sim.sizing.parts import Parts
from leafwinch_sim.sizing.proposals import bottom_slack_s

NAMES = {
    "top_end": "top working limit",
    "top_final": "top final limit",
    "bottom_end": "bottom working limit",
    "bottom_final": "bottom final limit",
    "slack_rope": "slack-rope switch",
}


def place_findings(parts: Parts) -> Iterator[Finding]:
    """Find what is wrong at the ends of the travel."""
    yield from _limits(parts)
    yield from _rope_left(parts)
    yield from _overruns(parts)
    yield from _buffer(parts)
    yield from _leaving(parts)


def _limits(parts: Parts) -> Iterator[Finding]:
    buffer = parts.worked.site.buffer.place
    for place in parts.places:
        if place.good:
            continue
        name = f"{NAMES[place.key]} ({place.part})"
        at = f"{place.given:g} {place.unit}"
        if not place.exists:
            yield Finding(
                "limit_misplaced",
                "blocks",
                f"There is no place for the {name}: it would have to lie above "
                f"{place.lowest:.2f} and below {place.highest:.2f} {place.unit}.",
                f"It must operate {place.words}.",
                _more_room(place),
            )
            continue
        above = place.given > place.highest
        past_buffer = (
            above and place.key in ("top_end", "top_final") and _ends_at_buffer(place, parts)
        )
        yield Finding(
            "end_beyond_buffer" if past_buffer else "limit_misplaced",
            "blocks",
            f"The {name} operates at {at}"
            + (
                f", and the deck then runs on into the buffer at {buffer:g} deg."
                if past_buffer
                else f", {'beyond' if above else 'short of'} where it belongs."
            ),
            f"After it opens {place.overrun_rope_mm:.0f} mm of rope may follow with a worn brake; "
            f"behind it lies {place.behind}. It must operate {place.words}.",
            f"Set it to {place.proposed:.2f} {place.unit} (allowed {place.lowest:.2f} to "
            f"{place.highest:.2f}), {abs(place.given - place.proposed):.2f} {place.unit} "
            f"{'less' if place.given > place.proposed else 'more'}.",
        )


def _ends_at_buffer(place: EndPlace, parts: Parts) -> bool:
    """Tell whether a top limit is so high that the deck runs on into the buffer after it."""
    site = parts.worked.site
    final = next(other for other in parts.places if other.key == "top_final")
    room = site.buffer.place - final.highest
    return place.senses == "leaf_angle" and place.given > site.buffer.place - room


def _more_room(place: EndPlace) -> str:
    if place.key.startswith("top"):
        return (
            "Move the buffer back, or take a brake that sets faster, or wind more slowly, so "
            "that the overrun fits between end, final and buffer."
        )
    return (
        "Allow more slack at the bottom, leave more turns on the drum with the deck flat, or take "
        "a brake that sets faster."
    )


def _rope_left(parts: Parts) -> Iterator[Finding]:
    rope = parts.rope
    wraps = max(parts.worked.site.drum.dead_wraps, rope.least_turns)
    if rope.turns_left >= wraps:
        return
    yield Finding(
        "rope_runs_out",
        "blocks",
        f"Once the bottom final has stopped the winch only {rope.turns_left:.1f} turns are left on "
        f"the drum; {wraps:g} dead wraps must stay.",
        "The rope's fixing on the drum holds only because the dead wraps take most of the pull; "
        "with less, it pulls out, or the rope winds on backwards.",
        f"Fit a longer rope: at least {rope.turns_flat + wraps - rope.turns_left:.1f} turns on the "
        "drum with the deck flat.",
    )


def _overruns(parts: Parts) -> Iterator[Finding]:
    longest = max(parts.worked.overruns(worn=True), key=lambda overrun: overrun.point_mm)
    released = max(
        (o for o in parts.worked.overruns(worn=True) if o.kind.key == "release"),
        key=lambda overrun: overrun.point_mm,
    )
    if released.point_mm <= R1_OVERRUN_MM:
        return
    yield Finding(
        "overrun_long",
        "blocks" if released.point_mm > 2 * R1_OVERRUN_MM else "amend",
        f"After the control is let go the deck's fastest point runs on {released.point_mm:.0f} mm, "
        f"{released.rope_mm:.0f} mm of rope; {R1_OVERRUN_MM} mm are allowed (EN 12453, hold to "
        "run).",
        f"At {released.angle_deg:.0f} deg it is fastest. With a fault beside it the longest is "
        f"{longest.point_mm:.0f} mm.",
        "Take a brake that sets faster or holds harder, or a slower winch.",
    )


def _buffer(parts: Parts) -> Iterator[Finding]:
    rated = parts.worked.site.buffer.rated_force
    forces = parts.forces
    if forces.buffer_trip_n <= rated:
        return
    yield Finding(
        "buffer_too_weak",
        "amend",
        f"If both top limits fail, the free end is pressed on the buffer with "
        f"{forces.buffer_trip_n / 1000:.1f} kN before the current trips; it is rated for "
        f"{rated / 1000:.1f} kN.",
        f"With the motor pulling its hardest it would be {forces.buffer_stall_n / 1000:.1f} kN.",
        f"Fit a buffer, and a wall behind it, for {forces.buffer_trip_n / 1000:.1f} kN, or set the "
        "trip lower within its window.",
    )


def _leaving(parts: Parts) -> Iterator[Finding]:
    setting = next(row for row in parts.settings if row.name == "leave_bottom_ms")
    longest_s = bottom_slack_s(parts.worked)
    if setting.value / 1000.0 <= longest_s:
        return
    yield Finding(
        "leaving_too_slow",
        "amend",
        f"Leaving the bottom may take {setting.value / 1000:.1f} s, in which a rope wound "
        "backwards "
        f"pays out more than the {parts.worked.site.allowed.bottom_slack * 1000:.0f} mm of slack "
        f"allowed (that takes {longest_s:.1f} s).",
        "The firmware notices a winch that turns the wrong way at the bottom by the limit that is "
        "not left.",
        "Let the bottom working limit let go earlier (a smaller reset differential, a place nearer "
        "the flat deck), or allow more slack.",
    )
