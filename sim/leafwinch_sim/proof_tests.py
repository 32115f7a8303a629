"""Proof tests: what an inspection does to find defects that daily use never shows.

Each is really run against a bench or machine with the defect in place; it finds the
defect when a reading differs from the sound machine's.
"""

from collections.abc import Callable
from dataclasses import dataclass

from leafwinch_sim.armature import Armature
from leafwinch_sim.bench import Bench
from leafwinch_sim.bench_defects import Defect
from leafwinch_sim.bench_layout import LIMIT_PARTS
from leafwinch_sim.plant import Plant
from leafwinch_sim.plant_defects import PlantDefect, plant_defects
from leafwinch_sim.proof_readings import StepReading, first_difference, take_readings
from leafwinch_sim.scripts import Script, load_script
from leafwinch_sim.site_schema import Site
from leafwinch_wiring.continuity import finds, in_ohm
from leafwinch_wiring.defect_types import WiringDefect
from leafwinch_wiring.netlist import Netlist

HOLD_DEG = 20.0
HOLD_MS = 2000
HOLD_SINK_DEG = 0.3


@dataclass(frozen=True, slots=True)
class ProofTest:
    """One proof test. `how` tells a person what to do and what to compare."""

    name: str
    how: str
    find: Callable[["ProofBench", Defect], str]


class ProofBench:
    """Runs proof tests on one installation and keeps the sound machine's readings."""

    def __init__(self, site: Site, net: Netlist, seed: int) -> None:
        self.site = site
        self.net = net
        self.seed = seed
        self._sound: dict[str, list[StepReading]] = {}

    def search(self, defect: Defect) -> tuple[str, str]:
        """Return (proof test, what it found) of the first one that finds it, or two empty texts."""
        for test in PROOF_TESTS:
            found = test.find(self, defect)
            if found:
                return (test.name, found)
        return ("", "")

    def played(self, script: Script, defect: Defect | None) -> list[StepReading]:
        """Play a script with a defect present from the start; the sound readings are kept."""
        if defect is None and script.name in self._sound:
            return self._sound[script.name]
        bench = Bench(self.site, self.net, script, self.seed)
        if defect is not None:
            bench.add_defect(defect)
        readings = take_readings(bench)
        if defect is None:
            self._sound[script.name] = readings
        return readings

    def operating_points(self, defect: Defect | None) -> dict[str, float]:
        """Move the isolated machine by hand and note where each limit operates.

        Angles in degrees on the way up, then drum turns and slack on paying out rope
        from the flat deck. A limit that never operates has no entry.
        """
        bench = Bench(self.site, self.net, load_script("full-cycle"), self.seed)
        plant = bench.plant
        found: dict[str, float] = {}
        places = [(0.1 * tenth, 0.0) for tenth in range(round(self.site.buffer.wall * 10))]
        places += [(0.0, 0.002 * step) for step in range(200)]
        started = False
        for angle_deg, slack_m in places:
            plant.place(angle_deg * 0.017453292519943295, slack_m)
            bench.settle_limits()
            if not started and defect is not None:
                bench.add_defect(defect)
                bench.settle_limits()
            started = True
            for name, switch in bench.limits.items():
                limit = getattr(self.site.limits, name)
                if limit is None or name in found or not switch.actuated:
                    continue
                if limit.senses == "leaf_angle" and angle_deg == 0.0 and limit.operates == "above":
                    continue
                found[name] = plant.sensed(limit.senses)
        return found


def _play(script_name: str) -> Callable[[ProofBench, Defect], str]:
    def find(proof: ProofBench, defect: Defect) -> str:
        script = load_script(script_name)
        return first_difference(proof.played(script, None), proof.played(script, defect))

    return find


def _measure(proof: ProofBench, defect: Defect) -> str:
    return finds(proof.net, defect) if isinstance(defect, WiringDefect) else ""


_POINT_TOLERANCE = {"leaf_angle": 0.5, "drum_turns": 0.1, "rope_slack": 10.0}


def _points(proof: ProofBench, defect: Defect) -> str:
    if not isinstance(defect, PlantDefect | WiringDefect):
        return ""
    part = defect.part
    if part not in LIMIT_PARTS:
        return ""
    sound = proof.operating_points(None)
    found = proof.operating_points(defect)
    for name, value in sound.items():
        limit = getattr(proof.site.limits, name)
        if name not in found:
            return f"{name.replace('_', ' ')} does not operate"
        if abs(found[name] - value) > _POINT_TOLERANCE[limit.senses]:
            return f"{name.replace('_', ' ')} operates at {found[name]:.2f} instead of {value:.2f}"
    return ""


INSULATION_OHM = 1e6
"""Least resistance between separated conductors, IEC 60204-1 clause 18.3 (from memory)."""


def _insulation(proof: ProofBench, defect: Defect) -> str:
    """Measure between cores and terminals with everything clamped off at both ends."""
    if not isinstance(defect, WiringDefect) or not defect.links:
        return ""
    joined = {frozenset((wire.a, wire.b)) for wire in proof.net.wires}
    for a, b, ohm in defect.links:
        if ohm < INSULATION_OHM and frozenset((a, b)) not in joined:
            return f"{in_ohm(ohm)} between {a} and {b} instead of open"
    return ""


def _interlock(proof: ProofBench, defect: Defect) -> str:
    """Press one reversing contactor in by hand, isolated, and try the other."""
    bench = Bench(proof.site, proof.net, load_script("full-cycle"), proof.seed)
    bench.add_defect(defect)
    for armature in bench.armatures:
        partner = armature.partner
        if partner is not None and _press(armature) and _press(partner):
            return f"{armature.coil.name} and {partner.coil.name} can be pressed in together"
    return ""


def _press(armature: Armature) -> bool:
    for _ in range(100):
        armature.step(1.0)
    return armature.mains


def _hold_on_gear(proof: ProofBench, defect: Defect) -> str:
    """Release the brake by its hand lever with the deck low: gear or load brake must hold."""
    if not isinstance(defect, PlantDefect):
        return ""
    if _sinks(proof.site, None) or not _sinks(proof.site, defect):
        return ""
    return "the deck sinks with the brake held off by hand"


def _sinks(site: Site, defect: PlantDefect | None) -> bool:
    lever = next(d for d in plant_defects(site) if d.kind == "brake_stuck_off")
    plant = Plant(site)
    plant.place(HOLD_DEG * 0.017453292519943295)
    plant.apply(lever)
    if defect is not None:
        plant.apply(defect)
    windings = (0.0, 0.0) if site.supply.frequency else (0.0,)
    for _ in range(HOLD_MS):
        plant.step(1.0, windings, False)
    return plant.sensed("leaf_angle") < HOLD_DEG - HOLD_SINK_DEG


# The quick ones first: the first that finds a defect is the one reported.
PROOF_TESTS: tuple[ProofTest, ...] = (
    ProofTest(
        "operating points",
        "Isolated, move each limit's actuator by hand along its scale and note where it "
        "operates; compare with the marks made at commissioning.",
        _points,
    ),
    ProofTest(
        "measurement with the supply off",
        "Isolated and locked off, measure the resistances of the continuity sheet.",
        _measure,
    ),
    ProofTest(
        "insulation test",
        "Isolated and locked off, clamp the cable off at both ends and measure between all "
        "its cores and earth.",
        _insulation,
    ),
    ProofTest(
        "interlock by hand",
        "Isolated and locked off, press one reversing contactor in by hand and try the other.",
        _interlock,
    ),
    ProofTest(
        "hold on the gear",
        "Deck nearly down and nobody near it: hold the brake off by its hand lever and watch "
        "that the deck stays.",
        _hold_on_gear,
    ),
    ProofTest(
        "measured cycle",
        "Play the measured cycle and compare travel times, current, marks, lamps and control "
        "supply with the record of commissioning.",
        _play("proof-cycle"),
    ),
    ProofTest(
        "function walk",
        "Work every switch by hand once, in the order of the function walk, and compare what "
        "the lamp shows with the list.",
        _play("proof-walk"),
    ),
)
