"""The parts of a sizing, worked out and ready to be judged and shown."""

import math
from dataclasses import dataclass

import numpy as np

from leafwinch_sim.site_schema import Site
from leafwinch_sim.sizing.conditions import HARDEST, NOMINAL, POOR_FRICTION
from leafwinch_sim.sizing.drive import raising_torque
from leafwinch_sim.sizing.duty_rules import S3_CYCLE_S, cyclic_rise
from leafwinch_sim.sizing.end_places import EndPlace, end_places
from leafwinch_sim.sizing.force_part import ForcePart, force_part
from leafwinch_sim.sizing.plate import Rated, duty_percent, rated_current, starts_per_hour
from leafwinch_sim.sizing.proposals import Proposal, highest_rms_a, proposals, sensor_range_a
from leafwinch_sim.sizing.rope_part import RopePart, rope_part
from leafwinch_sim.sizing.rope_rules import sheave_reaction_factor
from leafwinch_sim.sizing.statics import (
    Reactions,
    end_angles_deg,
    least_kicker_m,
    reactions_of,
    slack_angle_deg,
)
from leafwinch_sim.sizing.stopping import after
from leafwinch_sim.sizing.supply_part import SupplyPart, supply_part
from leafwinch_sim.sizing.trip_window import TripWindow, trip_window
from leafwinch_sim.sizing.worked import Worked
from leafwinch_sim.spread import MASS

RESERVE = 1.25  # of line pull over the greatest as the file says (common practice, no source)


@dataclass(frozen=True, slots=True)
class PullPart:
    """Line pull against the plate; forces in newtons, depths in metres.

    Attributes:
        allowed_n: of the winch on the layer in use where the reserve is least; None without
            a plate.
        layer_share: radius there over that of the first layer.
        reserve: allowed over needed as the file says, hard_reserve: when heavy and stiff; both
            infinite without a plate.
        at_deg: where the reserve is least.
        least_kicker_m: with friction, reserve and heavy boards; None where none is enough.
        bare_kicker_m: without friction and reserve.
    """

    allowed_n: float | None
    layer_share: float
    reserve: float
    hard_reserve: float
    at_deg: float
    least_kicker_m: float | None
    bare_kicker_m: float | None


@dataclass(frozen=True, slots=True)
class StartPart:
    """Starting torque at the shaft, in N m, on the lowest supply.

    Attributes:
        torque_nm: that the motor makes; need_nm: at the worst angle as the file says, of that
            load_nm from the rope; hard_need_nm: heavy, stiff and cold.
        angle_deg: the worst angle.
    """

    torque_nm: float
    need_nm: float
    load_nm: float
    hard_need_nm: float
    angle_deg: float

    @property
    def reserve(self) -> float:
        """Torque over what is needed as the file says."""
        return self.torque_nm / self.need_nm

    @property
    def hard_reserve(self) -> float:
        """Torque over what is needed under the hardest conditions."""
        return self.torque_nm / self.hard_need_nm


@dataclass(frozen=True, slots=True)
class DutyPart:
    """How often the deck may be moved.

    Attributes:
        on_s: energised in one full cycle, hardest; rms_a: highest RMS current of a travel and
            its start; rated: that of the motor, None where nothing tells it.
        duty_percent: of S3, duty_words: who says so; starts: in an hour, None where not told.
        cycles_per_hour: that both allow. in_one_go_s: energised time that S3 allows at once.
        warmth: highest level of the motor's thermal replica in endless cycles at that rate,
            over the one that trips; warm: from which on it refuses a start.
    """

    on_s: float
    rms_a: float
    rated: Rated | None
    duty_percent: float
    duty_words: str
    starts: Rated | None
    cycles_per_hour: float
    in_one_go_s: float
    warmth: float
    warm: float


@dataclass(frozen=True, slots=True)
class LeafPart:
    """The mass of a leaf of which the file says what it is built of, in kg.

    Attributes:
        leaf: A or B.
        dry_kg: as built, with dry boards; heaviest_kg: with wet ones of heavy timber.
        covered_kg: up to which the hardest conditions count it.
    """

    leaf: str
    dry_kg: float
    heaviest_kg: float
    covered_kg: float

    @property
    def covered(self) -> bool:
        """Whether the hardest conditions count the heaviest leaf."""
        return self.heaviest_kg <= self.covered_kg


@dataclass(frozen=True, slots=True)
class Parts:
    """Everything that is judged and shown."""

    worked: Worked
    pull: PullPart
    start: StartPart
    rope: RopePart
    supply: SupplyPart
    window: TripWindow
    forces: ForcePart
    reactions: Reactions
    boards: list[LeafPart]
    duty: DutyPart
    places: list[EndPlace]
    settings: list[Proposal]
    slack_deg: float
    slack_poor_deg: float
    stands_deg: float


def parts_of(worked: Worked) -> Parts:
    """Work out every part of a sizing."""
    site = worked.site
    window = trip_window(worked, sensor_range_a(worked))
    end = worked.kind("end")
    top_pace = max(worked.worn_up, key=lambda pace: pace.angle_deg)
    sheaves = site.sheaves
    lead = sheave_reaction_factor(90.0 if sheaves is None else sheaves.lead_between)
    settings = proposals(worked, window)
    return Parts(
        worked=worked,
        pull=_pull(worked),
        start=_start(worked),
        rope=rope_part(worked),
        supply=supply_part(worked),
        window=window,
        forces=force_part(worked, window),
        reactions=reactions_of(
            site, worked.geometry, worked.worst_tension, float(HARDEST.friction), lead
        ),
        boards=_boards(site),
        duty=_duty(worked, settings),
        places=end_places(worked),
        settings=settings,
        slack_deg=slack_angle_deg(site),
        slack_poor_deg=slack_angle_deg(site, POOR_FRICTION),
        stands_deg=end_angles_deg(site)[1] + after(end, top_pace).deg,
    )


def _boards(site: Site) -> list[LeafPart]:
    return [
        LeafPart(name, leaf.built.mass_kg, leaf.built.heaviest_kg, MASS[1] * leaf.mass)
        for name, leaf in (("A", site.deck.leaf_a), ("B", site.deck.leaf_b))
        if leaf.built is not None
    ]


def _pull(worked: Worked) -> PullPart:
    site = worked.site
    plate = site.nameplate
    if plate is None:
        return PullPart(None, 1.0, math.inf, math.inf, 0.0, None, None)
    inside = worked.up_range()
    first = site.drum.core_radius + 0.5 * site.rope.diameter
    share = worked.geometry.radius_m[inside] / first
    allowed = plate.line_pull / share
    reserve = allowed / worked.tension.raise_n[inside]
    hard = allowed / worked.worst_tension.raise_n[inside]
    index = int(np.argmin(reserve))
    # The kicker decides about the start, where the rope lies as it does on the flat deck.
    kickers = [
        least_kicker_m(site, float(allowed[0]) / RESERVE),
        least_kicker_m(site, float(allowed[0]), HARDEST),
    ]
    whole = [depth for depth in kickers if depth is not None]
    return PullPart(
        allowed_n=float(allowed[index]),
        layer_share=float(share[index]),
        reserve=float(reserve[index]),
        hard_reserve=float(np.min(hard)),
        at_deg=float(worked.geometry.angle_deg[index]),
        least_kicker_m=max(whole) if len(whole) == len(kickers) else None,
        bare_kicker_m=least_kicker_m(_frictionless(site), float(allowed[0])),
    )


def _frictionless(site: Site) -> Site:
    deck = site.deck.model_copy(update={"hinge_friction": 0.0, "wheel_resistance": 0.0})
    rope = site.rope.model_copy(update={"sheave_factor": 1.0})
    return site.model_copy(update={"deck": deck, "rope": rope})


def _start(worked: Worked) -> StartPart:
    site, geometry = worked.site, worked.geometry
    inside = worked.up_range()
    need = raising_torque(site, geometry, worked.tension.raise_n, NOMINAL)[inside]
    hard = raising_torque(site, geometry, worked.worst_tension.raise_n, HARDEST)[inside]
    index = int(np.argmax(need))
    drag = site.motor.drag + site.drum.drag / site.gear.ratio
    return StartPart(
        torque_nm=float(worked.stalled_low.pull_up_nm),
        need_nm=float(need[index]),
        load_nm=float(need[index]) - drag,
        hard_need_nm=float(np.max(hard)),
        angle_deg=float(geometry.angle_deg[index]),
    )


def _duty(worked: Worked, settings: list[Proposal]) -> DutyPart:
    site = worked.site
    on_s = max(float(d.raising.seconds) + float(d.lowering.seconds) for d in worked.corners)
    duty, starts = duty_percent(site), starts_per_hour(site)
    cycles = 3600.0 * duty.value / 100.0 / on_s
    if starts is not None:
        cycles = min(cycles, starts.value / 2.0)
    value = {row.name: float(row.value) for row in settings}
    rms_a = highest_rms_a(worked)
    warmth = (1000.0 * rms_a / value["thermal_base_ma"]) ** 2
    if math.isfinite(on_s):
        off_s = max(0.0, 3600.0 / cycles - on_s)
        heat_s, cool_s = value["thermal_heat_s"], value["thermal_cool_s"]
        warmth = cyclic_rise(warmth, on_s, off_s, heat_s, cool_s)
    return DutyPart(
        on_s=on_s,
        rms_a=rms_a,
        rated=rated_current(site),
        duty_percent=duty.value,
        duty_words=duty.words,
        starts=starts,
        cycles_per_hour=cycles,
        in_one_go_s=S3_CYCLE_S * duty.value / 100.0,
        warmth=warmth,
        warm=value["thermal_restart_pct"] / 100.0,
    )
