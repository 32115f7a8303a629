"""Defects that are built into an installation, and the step of commissioning that must fail.

Each row says what is wrong, from which step on it is played (all before count as passed, with the
machine as they leave it), the step that must fail, and words that its reason must hold.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from leafwinch_host.commissioning.record import Record, StepRecord
from leafwinch_host.commissioning.results import FAIL, PASS
from leafwinch_host.commissioning.steps import STEPS
from leafwinch_sim.bench_defects import find_defect
from leafwinch_sim.site import load_site
from tests.virtual.commission_bench import BenchBoard, roomy_site, sitting_on
from tests.virtual.commission_person import Person
from tests.wiring.changed_netlist import Edit, changed

PIT = "workshop-pit"
SLIP = "boat-slip"
BOTTOM_STEPS = ("rest", "direction", "top_travel")  # at these the deck lies on its bottom end


@dataclass(frozen=True)
class Built:
    """One installation with a defect.

    Attributes:
        name: what is wrong, in words.
        begins: step from which it is played.
        fails: step that must fail.
        words: what its reason must hold, in small letters.
        ids: defects out of the catalogue.
        edits: changes of the netlist as it is really wired.
        on_board: settings that differ on the board; loaded_for: site that it was loaded for.
        settings: settings of the site itself, on the board as well.
        gain: of the current sensor.
        typed: answers that differ.
        site: the installation.
    """

    name: str
    begins: str
    fails: str
    words: str
    ids: tuple[str, ...] = ()
    edits: tuple[Edit, ...] = ()
    on_board: Mapping[str, int] = field(default_factory=dict)
    loaded_for: str = ""
    settings: Mapping[str, int] = field(default_factory=dict)
    gain: float = 1.0
    typed: Mapping[str, str] = field(default_factory=dict)
    site: str = PIT


def swapped(a: str, b: str, ends: tuple[str, str]) -> tuple[Edit, Edit]:
    """Return the edits that exchange the first ends of two wires, given as rows of the netlist.

    a, b: rows without brackets, the end to exchange written as {}; ends: what stands there.
    """
    first, second = ends
    return (
        (f"[{a.format(first)}]", f"[{a.format(second)}]"),
        (f"[{b.format(second)}]", f"[{b.format(first)}]"),
    )


BEFORE = (
    Built("barrier too low", "barrier", "barrier", "1100 mm", typed={"barrier:height": "900 mm"}),
    Built(
        "props too weak", "prop", "prop", "load that the props bear", typed={"prop:load": "120 kg"}
    ),
    Built("earth loose", "earth", "earth", "0.3 ohm", typed={"earth:earth": "1.4 ohm"}),
    Built(
        "mechanical interlock lost",
        "interlock",
        "interlock",
        "mechanical interlock is missing",
        ids=("QA1-QA2:interlock-lost",),
    ),
    Built(
        "interlock contact off its armature",
        "interlock",
        "interlock",
        "interlock contact stays closed",
        ids=("QA2.interlock:stuck-closed",),
    ),
    Built("control supply low", "motor_off", "motor_off", "control supply on", ids=("TB1:low",)),
    Built("settings of another site", "settings", "settings", "hash of the site", loaded_for=SLIP),
    Built(
        "trip set higher on the board",
        "settings",
        "settings",
        "trip_ma is 9000",
        on_board={"trip_ma": 9000},
    ),
    Built(
        "trip above standstill",
        "settings",
        "settings",
        "trip is set too high",
        settings={"trip_ma": 11_000},
    ),
    Built(
        "travel time of another winch on the board",
        "settings",
        "settings",
        "travel_raise_ms",
        on_board={"travel_raise_ms": 33_000},
    ),
)
INPUTS_1 = (
    Built(
        "cam of the bottom end lost",
        "rest",
        "rest",
        "bottom end is closed",
        ids=("bottom_end_cam_lost",),
    ),
    Built(
        "limits swapped",
        "rest",
        "rest",
        "top end is open, required is closed",
        edits=swapped('"{}", "KF1:I5", "32"', '"{}", "KF1:I6", "37"', ("XD1:23", "XD1:27")),
    ),
    Built(
        "mirror of the line contactor dead",
        "rest",
        "rest",
        "line not released",
        ids=("QA0.mirror:stuck-open",),
    ),
    Built("service link bridged", "rest", "rest", "service link", ids=("SF4.link:welded",)),
    Built(
        "stop, second contact welded",
        "stop",
        "stop",
        "stop ok did not change",
        ids=("SF0.second:welded",),
    ),
    Built(
        "stop, path contact welded",
        "stop",
        "stop",
        "chain ok did not change",
        ids=("SF0.path:welded",),
    ),
    Built("red lamp dead", "lamps", "lamps", "red lamp", ids=("W3.9:open",)),
    Built("white lamp dead", "lamps", "lamps", "white lamp", ids=("W3.8:open",)),
    Built("buzzer dead", "lamps", "lamps", "buzzer is silent", ids=("W3.10:open",)),
    Built(
        "control, raise contact dead",
        "control_raise",
        "control_raise",
        "raise path did not change",
        ids=("SF1.raise_no:dead",),
    ),
    Built(
        "control, contacts crossed",
        "control_raise",
        "control_raise",
        "did not change",
        edits=swapped('"SF1:14", "{}", "W3.2"', '"SF1:34", "{}", "W3.3"', ("XD1:7", "XD1:8")),
    ),
)
INPUTS_2 = (
    Built(
        "bottom end, path contact welded",
        "control_lower",
        "control_lower",
        "lower path changed",
        ids=("BG2.path:welded",),
    ),
    Built(
        "top end, path contact welded",
        "top_end",
        "top_end",
        "raise path did not change",
        ids=("BG1.path:welded",),
    ),
    Built(
        "finals crossed",
        "top_final",
        "top_final",
        "bottom final",
        edits=swapped('"{}", "KF1:I7", "18"', '"{}", "KF1:I8", "19"', ("XD1:17", "XD1:20")),
    ),
    Built(
        "top final does not open the chain",
        "top_final",
        "top_final",
        "chain ok did not change",
        ids=("BG3.path:welded",),
    ),
    Built(
        "bottom final, second contact welded",
        "bottom_final",
        "bottom_final",
        "bottom final did not change",
        ids=("BG4.second:welded",),
    ),
    Built(
        "recovery key does not bridge",
        "recovery_key",
        "recovery_key",
        "chain ok did not change",
        ids=("SF3.bridge:dead",),
    ),
    Built(
        "slack-rope switch dead",
        "slack_rope",
        "slack_rope",
        "rope taut did not change",
        ids=("BG5.taut:welded",),
    ),
    Built("reset button dead", "reset", "reset", "reset did not change", ids=("SF2.reset:dead",)),
    Built(
        "mirror of the raise contactor stuck",
        "motor_off",
        "contactors",
        "raise not pulled",
        ids=("QA1.mirror:stuck-closed",),
    ),
    Built(
        "contactor slow to let go",
        "motor_off",
        "contactors",
        "all contactors let go is",
        ids=("QA1:slow-diode",),
    ),
    Built(
        "coils of the direction contactors crossed",
        "motor_off",
        "contactors",
        "lower contactor pulled instead",
        edits=swapped('"{}", "QA1:A1", "36"', '"{}", "QA2:A1", "41"', ("KF1:RO", "KF1:DO")),
    ),
)
MOVING = (
    Built(
        "mains low at the pit",
        "supply",
        "supply",
        "motor supply without load",
        ids=("supply_low",),
    ),
    Built(
        "flash takes no record",
        "direction",
        "inching",
        "does not become ready",
        ids=("record_lost",),
    ),
    Built(
        "interlock contact dead",
        "direction",
        "lowering",
        "mirror contact of the lower contactor did not open",
        ids=("QA1.interlock:stuck-open",),
    ),
    Built(
        "control, lower contact dead",
        "direction",
        "lowering",
        "no start was seen",
        ids=("SF1.lower_no:dead",),
    ),
    Built(
        "motor phases swapped",
        "direction",
        "direction",
        "motor phases swapped",
        edits=swapped('"XD2:3", "{}", "W9.3"', '"XD2:4", "{}", "W9.4"', ("MA1:Z1", "MA1:Z2")),
    ),
    Built("rope backwards", "direction", "direction", "rope", ids=("rope_backwards",)),
    Built(
        "brake not connected", "direction", "direction", "motor, brake or sensor", ids=("W10:cut",)
    ),
    Built("run capacitor open", "direction", "direction", "fault", ids=("capacitor_open",)),
    Built(
        "current sensor nearly dead",
        "direction",
        "direction",
        "current missing",
        ids=("sensor_gain_low",),
    ),
    Built("sensor of another range", "direction", "release_raise", "clamp meter", gain=1.3),
    Built(
        "sensor turned round", "direction", "direction", "current wrong way", gain=-1.0, site=SLIP
    ),
    Built(
        "drum the wrong way for the eye",
        "direction",
        "direction",
        "wind rope on",
        typed={"direction:drum": "off"},
    ),
)
ENDS = (
    Built(
        "hinges and sheaves stiff", "pull", "pull", "end, lowering is", ids=("friction_tripled",)
    ),
    Built(
        "hinges and sheaves stiff at the slip",
        "pull",
        "pull",
        "end, lowering is",
        ids=("friction_tripled",),
        site=SLIP,
    ),
    Built("brake slow", "direction", "top_travel", "overrun at the top end", ids=("brake_slow",)),
    Built("brake weak", "top_travel", "top_travel", "overrun at the top end", ids=("brake_weak",)),
    Built(
        "brake weak at the slip",
        "top_travel",
        "top_travel",
        "overrun at the top end",
        ids=("brake_weak",),
        site=SLIP,
    ),
    Built(
        "supply low",
        "top_travel",
        "top_travel",
        "time to raise",
        ids=("supply_low",),
        site=SLIP,
    ),
    Built(
        "kicker slipped",
        "top_travel",
        "top_travel",
        "running current to raise, highest",
        ids=("kicker_slipped",),
    ),
    Built(
        "top end, second contact welded",
        "top_travel",
        "top_travel",
        "second contact of the top end did not open",
        ids=("BG1.second:welded",),
    ),
    Built(
        "cam of the top end lost",
        "top_travel",
        "top_travel",
        "top final actuated",
        ids=("top_end_cam_lost",),
    ),
    Built(
        "winch too slow for its settings",
        "top_travel",
        "top_travel",
        "time to raise",
        settings={"travel_raise_ms": 23_000, "early_raise_ms": 20_000},
    ),
    Built(
        "cam of the top final lost",
        "points",
        "points",
        "top final limit bg3 does not operate",
        ids=("top_final_cam_lost",),
    ),
    Built(
        "cam of the top end shifted",
        "points",
        "points",
        "top working limit bg1 operates at",
        ids=("top_end_cam_shifted",),
    ),
    Built(
        "bottom final out of its place",
        "points",
        "points",
        "bottom final limit bg4 operates at",
        ids=("bottom_final_cam_shifted",),
    ),
    Built(
        "slack-rope switch out of its place",
        "points",
        "slack_point",
        "slack-rope switch",
        ids=("slack_rope_cam_lost",),
    ),
)
ALL = (*BEFORE, *INPUTS_1, *INPUTS_2, *MOVING, *ENDS)


def played(built: Built, folder: Path) -> tuple[str, str, Record]:
    """Commission a defective installation; return the step that failed, its reason, the record."""
    site = roomy_site(built.site)
    site.settings.update(built.settings)
    net = changed(folder, site.wiring, *built.edits) if built.edits else None
    other = load_site(built.loaded_for) if built.loaded_for else None
    board = BenchBoard(site, folder / "flash", net, built.on_board, other)
    try:
        for name in built.ids:
            board.bench.add_defect(find_defect(board.bench.site, board.bench.net, name))
        board.bench.sensor.gain *= built.gain
        board.pass_time(1.0)
        person = Person(board, typed=built.typed)
        record = Record(about={})
        for step in STEPS[: [step.id for step in STEPS].index(built.begins)]:
            record.steps[step.id] = StepRecord(step.id, step.title, step.limits, PASS, times=1)
        sitting = sitting_on(board, folder / "record", person, record)
        sitting.run()
        found = record.steps.get(person.failed)
        return person.failed, found.why if found else "", record
    finally:
        board.close()


def assert_fails(built: Built, folder: Path) -> None:
    """Play it and hold the step and the words to the table."""
    failed, why, record = played(built, folder)
    assert failed == built.fails, f"{built.name}: '{failed}' failed ({why})"
    assert built.words in why.lower(), f"{built.name}: {why}"
    assert record.verdict == FAIL
    trace = (folder / "record" / "trace.log").read_text(encoding="ascii")
    assert f"step {failed}: fail" in trace
