"""Where the limit switches belong: what each must sense, and where it may operate."""

import math
from dataclasses import dataclass

import numpy as np

from leafwinch_sim.site_schema import SENSED_UNITS, Limit, Site
from leafwinch_sim.sizing.conditions import POOR_FRICTION
from leafwinch_sim.sizing.statics import slack_angle_deg
from leafwinch_sim.sizing.stopping import Overrun, Pace, StopKind, after
from leafwinch_sim.sizing.worked import Worked

ANGLE_MARGIN_DEG = 0.25  # bracket and cam may sit so far from where they were meant
UPRIGHT_MARGIN_DEG = 0.5  # short of the angle from which the deck does not come down
SLACK_MARGIN_MM = 10.0  # of rope, for its stretch and its curl
TURN_MARGIN = 0.1
LEAST_BOTTOM_DEG = 0.1


@dataclass(frozen=True, slots=True)
class EndPlace:
    """One limit: between which points it may operate, and where it does.

    Attributes:
        key: name of the limit in the site file; part: letter code.
        senses: leaf_angle, drum_turns or rope_slack; unit: of the numbers.
        given: where the site file has it.
        lowest, highest: between which it belongs; where they cross there is no such place.
        proposed: a place between them.
        overrun_rope_mm, overrun_point_mm: how far rope and fastest point go after it opened,
            at worst with a worn brake.
        behind: what comes after it, in words; words: why these bounds.
    """

    key: str
    part: str
    senses: str
    unit: str
    given: float
    lowest: float
    highest: float
    proposed: float
    overrun_rope_mm: float
    overrun_point_mm: float
    behind: str
    words: str

    @property
    def exists(self) -> bool:
        """Whether there is any place for it."""
        return self.lowest <= self.highest

    @property
    def good(self) -> bool:
        """Whether it is where it belongs."""
        return self.exists and self.lowest - 1e-9 <= self.given <= self.highest + 1e-9


def end_places(worked: Worked) -> list[EndPlace]:
    """Return the place of every limit of a site, top first."""
    bounds = _top_bounds(worked)
    places = [
        _top_end(worked, bounds),
        _top_final(worked, bounds),
        _bottom_end(worked),
        _bottom_final(worked),
    ]
    if worked.site.limits.slack_rope is not None:
        places.append(_slack_rope(worked, worked.site.limits.slack_rope))
    return places


def _place(
    key: str,
    limit: Limit,
    bounds: tuple[float, float, float],
    overrun_mm: tuple[float, float],
    behind: str,
    words: str,
) -> EndPlace:
    """Return the place of one limit: lowest, highest and proposed; overrun of rope and point."""
    lowest, highest, proposed = bounds
    rope_mm, point_mm = overrun_mm
    return EndPlace(
        key=key,
        part=limit.part,
        senses=limit.senses,
        unit=SENSED_UNITS[limit.senses],
        given=limit.at,
        lowest=lowest,
        highest=highest,
        proposed=proposed,
        overrun_rope_mm=rope_mm,
        overrun_point_mm=point_mm,
        behind=behind,
        words=words,
    )


def _nearest(paces: list[Pace], angle_deg: float) -> Pace:
    return min(paces, key=lambda pace: abs(pace.angle_deg - angle_deg))


def _up(worked: Worked, key: str) -> Overrun:
    pace = _nearest(worked.worn_up, 90.0)
    return after(worked.kind(key), pace)


def bottom_rope_mm(worked: Worked, kind: StopKind, worn: bool = True) -> float:
    """Return how much rope runs out after a stop of this kind near the flat deck, in mm."""
    down = worked.worn_down if worn else worked.down_paces
    return after(kind, _nearest(down, 0.0)).rope_mm


def _angle_of(limit: Limit, worked: Worked) -> float:
    """Return the angle at which a limit of the top operates, whatever it senses."""
    if limit.senses == "leaf_angle":
        return limit.at
    geometry = worked.geometry
    if limit.senses == "drum_turns":
        return float(np.interp(limit.at, geometry.turns, geometry.angle_deg))
    return worked.site.buffer.place


def _as_sensed(limit: Limit, worked: Worked, angle_deg: float) -> float:
    """Return an angle of the top in what the limit senses."""
    if limit.senses == "drum_turns":
        geometry = worked.geometry
        return float(np.interp(angle_deg, geometry.angle_deg, geometry.turns))
    return angle_deg


@dataclass(frozen=True, slots=True)
class _TopBounds:
    """Highest angles of end and final, and the lowest of the final, in degrees."""

    end_high: float
    end_best: float
    final_low: float
    final_high: float
    upright: float
    stopped_by_final: bool


def _top_bounds(worked: Worked) -> _TopBounds:
    """Work both limits of the top out together, so that a wrong one does not spoil the other."""
    site = worked.site
    second_deg = _up(worked, "end_by_second_way").deg + ANGLE_MARGIN_DEG
    upright = slack_angle_deg(site, POOR_FRICTION)
    before_upright = upright - _up(worked, "end").deg - UPRIGHT_MARGIN_DEG
    final_high = site.buffer.place - _up(worked, "final").deg - ANGLE_MARGIN_DEG
    final = min(_angle_of(site.limits.top_final, worked), final_high)
    end_high = min(final - second_deg, before_upright)
    # With the final moved up as far as it may be, this is the best that can be had.
    end_best = min(_quarter(final_high) - second_deg, before_upright)
    end = min(_angle_of(site.limits.top_end, worked), end_best)
    return _TopBounds(
        end_high=end_high,
        end_best=end_best,
        final_low=end + _up(worked, "end").deg + ANGLE_MARGIN_DEG,
        final_high=final_high,
        upright=upright,
        stopped_by_final=final - second_deg <= before_upright,
    )


def _top_final(worked: Worked, bounds: _TopBounds) -> EndPlace:
    site = worked.site
    limit = site.limits.top_final
    overrun = _up(worked, "final")
    return _place(
        "top_final",
        limit,
        (
            _as_sensed(limit, worked, bounds.final_low),
            _as_sensed(limit, worked, bounds.final_high),
            _as_sensed(limit, worked, _quarter(bounds.final_high)),
        ),
        (overrun.rope_mm, overrun.point_mm),
        behind=f"the buffer at {site.buffer.place:g} deg",
        words="beyond where a healthy stop ends, early enough to stop the deck before the buffer",
    )


def _top_end(worked: Worked, bounds: _TopBounds) -> EndPlace:
    limit = worked.site.limits.top_end
    final = worked.site.limits.top_final
    overrun = _up(worked, "end")
    behind = f"{bounds.upright:.1f} deg, from where the deck does not come down by itself"
    if bounds.stopped_by_final:
        behind = f"the final limit at {final.at:g} {SENSED_UNITS[final.senses]}"
    return _place(
        "top_end",
        limit,
        (
            _as_sensed(limit, worked, 0.5 * bounds.end_high),
            _as_sensed(limit, worked, bounds.end_high),
            _as_sensed(limit, worked, _quarter(min(bounds.end_best, bounds.end_high))),
        ),
        (overrun.rope_mm, overrun.point_mm),
        behind=behind,
        words="so low that even the second way of stopping ends before the final, and that the "
        "deck still comes down by itself",
    )


def _bottom_end(worked: Worked) -> EndPlace:
    site = worked.site
    limit = site.limits.bottom_end
    rope_mm = bottom_rope_mm(worked, worked.kind("end"))
    second_mm = bottom_rope_mm(worked, worked.kind("end_by_second_way"))
    point = max(after(worked.kind("end"), pace).point_mm for pace in worked.worn_down)
    lowest, highest = LEAST_BOTTOM_DEG, 2.0
    words = "just before the deck lies down, so that little rope follows"
    if limit.senses == "drum_turns":
        flat = site.drum.turns_at_flat
        lowest = flat - _turns(worked, site.allowed.bottom_slack * 1000.0 - second_mm)
        highest = flat + _turns(worked, second_mm)
        words = "within the turns that the flat deck needs and the slack that is allowed"
    elif limit.senses == "rope_slack":
        lowest = SLACK_MARGIN_MM
        highest = site.allowed.bottom_slack * 1000.0 - second_mm
        words = "once the deck lies, before more rope follows than is allowed"
    return _place(
        "bottom_end",
        limit,
        (lowest, highest, min(max(limit.at, lowest), highest)),
        (rope_mm, point),
        behind="the flat deck on its bearers",
        words=words,
    )


def _bottom_final(worked: Worked) -> EndPlace:
    """The bottom final must not see a healthy stop, and must keep slack and dead wraps."""
    site = worked.site
    limit = site.limits.bottom_final
    after_end_mm = bottom_rope_mm(worked, worked.kind("end_by_second_way"))
    overrun_mm = bottom_rope_mm(worked, worked.kind("final"))
    allowed_mm = site.allowed.bottom_slack * 1000.0
    if limit.senses == "drum_turns":
        flat = site.drum.turns_at_flat
        slack_left = flat - _turns(worked, allowed_mm - overrun_mm)
        wraps_left = site.drum.dead_wraps + _turns(worked, overrun_mm)
        lowest = max(slack_left, wraps_left)
        highest = flat - _turns(worked, after_end_mm) - TURN_MARGIN
        proposed = lowest + 0.75 * (highest - lowest)
        words = (
            f"below the {flat:g} turns of the flat deck less what a stop runs on, above the "
            f"{site.drum.dead_wraps:g} dead wraps and the slack that is allowed"
        )
    else:
        lowest = after_end_mm + SLACK_MARGIN_MM
        highest = allowed_mm - overrun_mm
        proposed = lowest + 0.25 * (highest - lowest)
        words = (
            "beyond the slack that a stop at the bottom leaves, before the slack allowed is used up"
        )
    return _place(
        "bottom_final",
        limit,
        (lowest, highest, proposed),
        (overrun_mm, 0.0),
        behind=f"{allowed_mm:.0f} mm of slack, {site.drum.dead_wraps:g} dead wraps",
        words=words,
    )


def _slack_rope(worked: Worked, limit: Limit) -> EndPlace:
    site = worked.site
    pace = _nearest(worked.worn_down, 90.0)
    overrun = after(worked.kind("end"), pace)
    return _place(
        "slack_rope",
        limit,
        (SLACK_MARGIN_MM, max(SLACK_MARGIN_MM, 0.5 * site.allowed.bottom_slack * 1000.0), limit.at),
        (overrun.rope_mm, overrun.point_mm),
        behind="a deck that hangs while rope runs out",
        words="as little slack as the rope's curl lets it tell; it stops lowering only",
    )


def _turns(worked: Worked, rope_mm: float) -> float:
    """Return the drum turns near the flat deck that hold so much rope."""
    return rope_mm / 1000.0 / (2.0 * math.pi * float(worked.geometry.radius_m[0]))


def _quarter(angle_deg: float) -> float:
    """Round down to a quarter of a degree, as a cam can be set, and not to the very edge."""
    return math.floor(angle_deg * 4.0 - 0.8) / 4.0


def rope_left_turns(worked: Worked) -> float:
    """Return the least turns on the drum once the bottom final has stopped the winch."""
    site = worked.site
    limit = site.limits.bottom_final
    overrun = _turns(worked, bottom_rope_mm(worked, worked.kind("final")))
    if limit.senses == "drum_turns":
        return limit.at - overrun
    return site.drum.turns_at_flat - _turns(worked, limit.at) - overrun


def site_angles(site: Site, worked: Worked) -> dict[str, float]:
    """Return the angles of ends, finals and buffer for a drawing, in degrees."""
    limits = site.limits
    return {
        "top_end": _angle_of(limits.top_end, worked),
        "top_final": _angle_of(limits.top_final, worked),
        "buffer": site.buffer.place,
        "wall": site.buffer.wall,
        "bottom_end": limits.bottom_end.at if limits.bottom_end.senses == "leaf_angle" else 0.0,
    }
