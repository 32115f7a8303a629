"""Everything about one site that several parts of sizing need, worked out once."""

from dataclasses import dataclass

import numpy as np

from leafwinch_sim.site_schema import Site
from leafwinch_sim.sizing import start
from leafwinch_sim.sizing.conditions import EASIEST, HARDEST, NOMINAL, Conditions
from leafwinch_sim.sizing.drive import Drive, Stall, drive_of, stall
from leafwinch_sim.sizing.statics import (
    Geometry,
    Tension,
    angles_of,
    end_angles_deg,
    geometry_of,
    tension_of,
)
from leafwinch_sim.sizing.stopping import (
    DOWN,
    UP,
    Overrun,
    Pace,
    StopKind,
    paces,
    stop_kinds,
    worst_overrun,
)
from leafwinch_sim.spread import SUPPLY
from leafwinch_wiring.netlist import Netlist

TRIP_MS = 60  # time above the trip level before it trips; see settings_schema

CORNERS = (
    ("hardest, low supply", HARDEST),
    ("hardest, high supply", HARDEST.at_supply(SUPPLY[1])),
    ("easiest, low supply", EASIEST.at_supply(SUPPLY[0])),
    ("easiest, high supply", EASIEST),
)


@dataclass(frozen=True, slots=True)
class Worked:
    """What was worked out of one site.

    Attributes:
        site, net: what is installed and how it is wired.
        geometry: over the angles from flat to the wall.
        tension: as the file says; worst_tension: aged friction and heavy boards.
        nominal: the drive as the file says; corners: at the corners of what may differ.
        stalled: at nominal supply; stalled_low, stalled_high: at its lowest and highest.
        starting: the run-up from the flat deck under the hardest conditions.
        slack: how gravity follows at the top.
        kinds: of stops; up_paces, down_paces: with a sound brake; worn_up, worn_down: with
            a worn one.
    """

    site: Site
    net: Netlist
    geometry: Geometry
    tension: Tension
    worst_tension: Tension
    nominal: Drive
    corners: tuple[Drive, ...]
    stalled: Stall
    stalled_low: Stall
    stalled_high: Stall
    starting: start.RunUp
    slack: start.TopSlack
    kinds: tuple[StopKind, ...]
    up_paces: list[Pace]
    down_paces: list[Pace]
    worn_up: list[Pace]
    worn_down: list[Pace]

    def kind(self, key: str) -> StopKind:
        """Return the kind of stop of that key."""
        return next(kind for kind in self.kinds if kind.key == key)

    def overruns(self, worn: bool) -> list[Overrun]:
        """Return the worst overrun of every kind of stop, both ways."""
        up, down = (self.worn_up, self.worn_down) if worn else (self.up_paces, self.down_paces)
        return [worst_overrun(kind, part) for kind in self.kinds for part in (up, down)]

    def highest_running_a(self) -> float:
        """Return the greatest healthy current after the start, either way, in amperes."""
        return max(
            float(np.max(np.abs(part.current_a[travel])))
            for drive in self.corners
            for part, travel in (
                (drive.up, self.up_range()),
                (drive.down, self.down_range()),
            )
        )

    def up_range(self) -> slice:
        """Return the part of the angles that raising passes, up to where it is stopped."""
        return slice(0, self._index(end_angles_deg(self.site)[1]) + 1)

    def down_range(self) -> slice:
        """Return the part of the angles that lowering passes."""
        bottom, top = end_angles_deg(self.site)
        return slice(max(0, self._index(bottom) - 1), self._index(top) + 1)

    def _index(self, angle_deg: float) -> int:
        return int(np.searchsorted(self.geometry.angle_deg, angle_deg - 1e-9))


def work_out(site: Site, net: Netlist) -> Worked:
    """Work a site out; about a quarter of a second, most of it simulated stops and starts."""
    geometry = geometry_of(site, angles_of(site))
    tension = tension_of(site, geometry)
    nominal = drive_of(site, geometry, tension)
    corners = tuple(_drive(site, geometry, conditions) for _, conditions in CORNERS)
    bottom, top = end_angles_deg(site)
    leaves_kicker = float(np.degrees(np.arcsin(_share(site))))
    middle = 0.5 * (bottom + top)
    up = tuple(sorted({2.0, leaves_kicker, middle, top}))
    down = tuple(sorted({bottom + 1.0, min(leaves_kicker, top), middle, top}))
    return Worked(
        site=site,
        net=net,
        geometry=geometry,
        tension=tension,
        worst_tension=tension_of(site, geometry, HARDEST),
        nominal=nominal,
        corners=corners,
        stalled=stall(site, 1.0),
        stalled_low=stall(site, SUPPLY[0]),
        stalled_high=stall(site, SUPPLY[1]),
        starting=start.run_up(site),
        slack=start.top_slack(site),
        kinds=stop_kinds(net, TRIP_MS),
        up_paces=paces(site, up, UP, worn=False),
        down_paces=paces(site, down, DOWN, worn=False),
        worn_up=paces(site, up, UP, worn=True),
        worn_down=paces(site, down, DOWN, worn=True),
    )


def _share(site: Site) -> float:
    """Return the sine of the angle at which the rope leaves the kicker's roller."""
    return min(1.0, site.deck.kicker_depth / site.deck.leaf_a.length)


def _drive(site: Site, geometry: Geometry, conditions: Conditions) -> Drive:
    return drive_of(site, geometry, tension_of(site, geometry, conditions), conditions)


__all__ = ["CORNERS", "NOMINAL", "TRIP_MS", "Worked", "work_out"]
