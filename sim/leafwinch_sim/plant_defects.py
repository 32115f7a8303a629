"""What can break or happen outside the wiring: the catalogue of one site.

Each entry names its physical cause. An entry marked `unpreventable` lets the deck move
by gravity or wind although everything is switched off; no control can prevent that, so
it carries a caution, an inspection and the way its drop is worked out.

Kinds of category 'limit' name a part and are carried out by whoever reads the switches:
    limit_cam_lost      the switch never operates;
    limit_cam_shifted   it operates `amount` later, in the unit it senses;
    limit_lever_stuck   it stays as it was when the defect came.
"""

from dataclasses import dataclass
from typing import Literal

from leafwinch_sim.site_schema import CapacitorRun, Limit, Site

Category = Literal["mechanism", "motor", "brake", "gear", "rope", "supply", "load", "limit"]

_DROP = (
    "The machine is run with this defect from several angles, everything switched off, "
    "until it rests: the greatest fall of the mid hinge, its greatest speed, the force on "
    "the buffer."
)
_KEEP_CLEAR = (
    "Keep everybody off and out from under the deck while it is raised, and prop the "
    "leaves before reaching beneath."
)


@dataclass(frozen=True, slots=True)
class PlantDefect:
    """One defect of the machine.

    Attributes:
        id: name used on the command line and in reports, unique within a site.
        kind: what it does; several entries may share one.
        category: where it belongs.
        cause: the physical reason in words.
        part: letter code of the part, or empty.
        amount: size of the effect, its meaning set by the kind.
        unpreventable: the deck can move by itself with everything off.
        caution, inspection, drop: texts for an unpreventable one.
    """

    id: str
    kind: str
    category: Category
    cause: str
    part: str = ""
    amount: float = 0.0
    unpreventable: bool = False
    caution: str = ""
    inspection: str = ""
    drop: str = ""


def _falls(
    id_: str, category: Category, cause: str, inspection: str, amount: float = 0.0, part: str = ""
) -> PlantDefect:
    return PlantDefect(
        id_, id_, category, cause, part, amount, True, _KEEP_CLEAR, inspection, _DROP
    )


def _plain(
    id_: str, category: Category, cause: str, amount: float = 0.0, part: str = ""
) -> PlantDefect:
    return PlantDefect(id_, id_, category, cause, part, amount)


def plant_defects(site: Site) -> tuple[PlantDefect, ...]:
    """Return every defect that the machine of a site can have, in a fixed order."""
    return (
        *_rope_defects(site),
        *_mechanism_defects(site),
        *_load_defects(site),
        *_brake_and_gear_defects(site),
        *_motor_defects(site),
        _plain("supply_low", "supply", "long cable, weak mains or a tired battery", 0.8),
        _plain("supply_high", "supply", "light load at night, or a charger at full voltage", 1.1),
        *_limit_defects(site),
    )


def _rope_defects(site: Site) -> tuple[PlantDefect, ...]:
    backwards = "slack rope was taken up the wrong way round, or a rope was fitted so"
    look = "Watch that raising winds the rope on from the marked side."
    return (
        _falls(
            "rope_parted",
            "rope",
            "broken wires, corrosion or a crushed lay until the rope parts",
            "Count broken wires and look for rust, kinks and flat places; discard by ISO 4309.",
        ),
        _falls(
            "rope_off_hook",
            "rope",
            "slack lets the hook turn and slip out past a missing or bent latch",
            "Look at the hook's latch and at the anchor's pin before every season.",
        ),
        _plain("rope_jammed", "rope", "a turn under load has cut in between the turns below"),
        _falls("rope_backwards", "rope", backwards, look)
        if site.gear.holds_one_direction
        else _plain("rope_backwards", "rope", backwards),
    )


def _mechanism_defects(site: Site) -> tuple[PlantDefect, ...]:
    always = (
        _plain("friction_tripled", "mechanism", "dirt, rust and dry bearings", 3.0),
        _plain("obstacle_below", "mechanism", "a crate, a hose or a foot under the leaves"),
        _plain("obstacle_above", "mechanism", "something leant against the wall behind the deck"),
        _plain("hinge_seized", "mechanism", "a hinge pin rusted or bent solid", 4000.0),
        _plain("wheel_blocked", "mechanism", "a wedge or a stone at the wheels", 4000.0),
    )
    if site.deck.kicker_depth == 0.0:
        return always
    return (
        *always,
        _plain("kicker_lost", "mechanism", "the kicker post's bolts have sheared off"),
        _plain("kicker_slipped", "mechanism", "the kicker post has slipped up in its clamp", 0.4),
    )


def _load_defects(site: Site) -> tuple[PlantDefect, ...]:
    look = "Fold and lower only in calm weather; secure the raised deck against wind."
    pressure = site.loads.gust_pressure
    return (
        _plain("people_on_deck", "load", "people or goods at the mid hinge", site.loads.people),
        _falls("gust_lifting", "load", "wind pushes the folded leaves to the wall", look, pressure),
        _plain("gust_lowering", "load", "wind pulls the folded leaves off the wall", pressure),
    )


def _brake_and_gear_defects(site: Site) -> tuple[PlantDefect, ...]:
    locking = site.gear.back_efficiency <= 0.0
    worn = "oil on the brake lining, a tired spring or worn thickness"
    stays = "a rusted or bent armature keeps the brake off"
    oiled = "oil or wear in the load brake, so the gear alone no longer holds"
    look = "At each inspection stop halfway under load and watch that the deck stays."
    brake = (
        (
            _plain("brake_weak", "brake", worn, 0.25, "MB1"),
            _plain("brake_stuck_off", "brake", stays, 0.0, "MB1"),
        )
        if locking
        else (
            _falls("brake_weak", "brake", worn, look, 0.25, "MB1"),
            _falls("brake_stuck_off", "brake", stays, look, 0.0, "MB1"),
        )
    )
    return (
        *brake,
        _plain("brake_stuck_on", "brake", "an open coil or a rusted armature", 0.0, "MB1"),
        _plain(
            "brake_slow", "brake", "cut on the alternating side, or swollen lining", 250.0, "MB1"
        ),
        _falls(
            "gear_stripped",
            "gear",
            "worn or broken teeth, or a sheared key, between motor and drum",
            "Change the oil and look for bronze and steel in it; listen for grinding.",
        ),
        _plain("gear_not_holding", "gear", oiled, 0.6),
    )


def _motor_defects(site: Site) -> tuple[PlantDefect, ...]:
    shorted = _plain("turns_shorted", "motor", "burnt enamel lets turns touch", 0.15, "MA1")
    if isinstance(site.motor, CapacitorRun):
        return (
            _plain(
                "capacitor_open", "motor", "the capacitor's fuse link or lead is open", 0.0, "MA1"
            ),
            _plain("capacitor_halved", "motor", "the capacitor has aged", 0.5, "MA1"),
            _plain("main_open", "motor", "the main winding or its lead is open", 0.0, "MA1"),
            _plain("aux_open", "motor", "the auxiliary winding or its lead is open", 0.0, "MA1"),
            shorted,
        )
    return (
        _plain("armature_open", "motor", "worn brushes or an open winding", 0.0, "MA1"),
        _plain("magnets_weak", "motor", "magnets hurt by heat or by overcurrent", 0.7, "MA1"),
        shorted,
    )


_SHIFTS = {"leaf_angle": 2.0, "drum_turns": 0.25, "rope_slack": 40.0}


def _limit_defects(site: Site) -> tuple[PlantDefect, ...]:
    limits = site.limits
    all_limits: tuple[tuple[str, Limit | None], ...] = (
        ("top_end", limits.top_end),
        ("bottom_end", limits.bottom_end),
        ("top_final", limits.top_final),
        ("bottom_final", limits.bottom_final),
        ("slack_rope", limits.slack_rope),
    )
    found: list[PlantDefect] = []
    for name, limit in all_limits:
        if limit is None:
            continue
        part = limit.part
        rows = (
            ("limit_cam_lost", "its cam or bracket has come off", 0.0),
            ("limit_cam_shifted", "its cam has slipped on its shaft", _SHIFTS[limit.senses]),
            ("limit_lever_stuck", "dirt or ice holds its lever", 0.0),
        )
        for kind, cause, amount in rows:
            id_ = f"{name}_{kind.removeprefix('limit_')}"
            found.append(PlantDefect(id_, kind, "limit", f"{part}: {cause}", part, amount))
    return tuple(found)
