"""Every rule passes on the reference netlists, and one changed line makes exactly it fail."""

from pathlib import Path

import pytest

from leafwinch_wiring import rules_power
from leafwinch_wiring.netlist import Netlist, load_netlist
from leafwinch_wiring.rules import RULES, check_rules
from leafwinch_wiring.rules_bridges import cable_bridges, keep_apart
from tests.wiring.changed_netlist import Edit, changed

REFERENCES = ("reference", "reference-12v")


def failing(net: Netlist) -> set[str]:
    return {result.id for result in check_rules(net) if not result.passed}


@pytest.mark.parametrize("name", REFERENCES)
def test_the_references_keep_every_rule(name: str) -> None:
    results = check_rules(load_netlist(name))
    assert [result.id for result in results] == [rule.id for rule in RULES]
    assert all(result.applies for result in results)
    assert not [result.id for result in results if result.offending]


def test_thin_wires_to_the_brake_of_the_12_volt_winch_are_found(tmp_path: Path) -> None:
    """At 12 V a short at the brake takes too little current through 1.5 mm2.

    By hand: ten wires, contacts and source of about 0.13 ohm, so about 90 A; the breaker
    opens at once from 200 A only, and 90 A burns 1.5 mm2 within seconds (k = 115).
    """
    text = load_netlist("reference-12v").path.read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if ", 0.6, 6.0]" in line]
    assert len(lines) == 6
    edits = [(line, line.replace("6.0]", "1.5]")) for line in lines]
    edits.append(("cores = 3\nmm2 = 6.0", "cores = 3\nmm2 = 1.5"))
    thin = changed(tmp_path, "reference-12v", *edits)
    assert failing(thin) == {"branch-shorts"}
    result = next(r for r in check_rules(thin) if r.id == "branch-shorts")
    assert len(result.offending) == 1
    assert "a short at MB1 takes 87 A through 1.5 mm2" in result.offending[0]


BARE_FAILS = {
    "direct-opening",
    "two-contacts",
    "finals-apart",
    "emergency-stop",
    "actuator-colours",
    "two-contactors",
    "bridges",
}


@pytest.mark.parametrize(("name", "more"), [("bare", "pelv"), ("bare-12v", "dc-rated")])
def test_what_the_bare_way_lacks(name: str, more: str) -> None:
    assert failing(load_netlist(name)) == BARE_FAILS | {more}


def test_every_rule_has_words_and_a_source() -> None:
    assert len({rule.id for rule in RULES}) == len(RULES)
    for rule in RULES:
        assert rule.words
        assert rule.source
        assert rule.source[0] != " "


QA0_COIL = (
    '  { name = "mirror", type = "nc", terminals = ["21", "22"], acts = "coil", role = "mirror",'
    " wetting_ma = 5 },\n]\n"
    'coil = { terminals = ["A1", "A2"], nominal_v = 24.0, ohm = 192.0, pull_in = 0.7,'
    ' drop_out = 0.25, suppression = "{}"'
)


def qa0_coil(suppression: str) -> str:
    return QA0_COIL.replace('"{}"', f'"{suppression}"')


def also(line: str, more: str) -> Edit:
    """An edit that leaves a wire and adds another one behind it."""
    return line, f"{line}\n  {more}"


CHANGES: dict[str, tuple[str, list[Edit], set[str]]] = {
    "slack-rope switch that closes": (
        "reference",
        [('name = "taut", type = "nc"', 'name = "taut", type = "no"')],
        {"stop-by-opening"},
    ),
    "slack-rope switch without direct opening": (
        "reference",
        [
            (
                'name = "taut", type = "nc", terminals = ["11", "12"], acts = "limit",'
                " direct_opening = true",
                'name = "taut", type = "nc", terminals = ["11", "12"], acts = "limit",'
                " direct_opening = false",
            )
        ],
        {"direct-opening"},
    ),
    "second contacts of two limits in series": (
        "reference",
        [('["XD1:28", "XD1:26", "10"]', '["XD1:20", "XD1:26", "10"]')],
        {"two-contacts"},
    ),
    "key that stays where it is put": (
        "reference",
        [
            (
                'bridges the two finals only"\nspring_return = true',
                'bridges the two finals only"\nspring_return = false',
            )
        ],
        {"spring-return"},
    ),
    "control bridged": (
        "reference",
        [also('["XD1:5", "SF1:13", "W3.1"],', '["XD1:5", "XD1:7", "99"],')],
        {"only-held"},
    ),
    "working limit moved into the chain of both directions": (
        "reference",
        [
            ('["XD1:7", "BG1:11", "W6.1"]', '["XD1:6", "BG1:11", "W6.1"]'),
            ('["BG1:12", "XD1:22", "W6.2"]', '["BG1:12", "XD1:5", "W6.2"]'),
            ('["XD1:6", "XD1:5", "21"],', '["XD1:7", "XD1:22", "21"],'),
        ],
        {"limits-by-copper"},
    ),
    "final limit on the bracket of the working limit": (
        "reference",
        [('bracket = "B3"', 'bracket = "B1"')],
        {"finals-apart"},
    ),
    "stop that does not latch": (
        "reference",
        [("red on yellow, latching", "red on yellow, momentary")],
        {"emergency-stop"},
    ),
    "key that also bridges the stop": (
        "reference",
        [('["XD1:2", "SF3:13", "22"]', '["XD1:1", "SF3:13", "22"]')],
        {"key-only-finals"},
    ),
    "green control": (
        "reference",
        [("actuators black", "actuators green")],
        {"actuator-colours"},
    ),
    "red reset": ("reference", [("reset button, blue", "reset button, red")], {"actuator-colours"}),
    "grey stop": ("reference", [("red on yellow", "grey")], {"actuator-colours"}),
    "slack-rope switch bridged at the strip": (
        "reference",
        [also('["XD1:29", "KF1:I14", "42"],', '["XD1:28", "XD1:29", "98"],')],
        {"slack-read"},
    ),
    "0 V not earthed": ("reference", [('  ["TB1:-", "PE:2", "E1"],\n', "")], {"earthed-once"}),
    "0 V earthed twice": (
        "reference",
        [also('["TB1:-", "PE:2", "E1"],', '["XD1:30", "PE:3", "E2"],')],
        {"earthed-once"},
    ),
    "contact on 0 V": (
        "reference",
        [('["SF3:21", "SF4:1", "47"]', '["XD1:31", "SF4:1", "47"]')],
        {"coils-on-zero"},
    ),
    "coil reached through a contact on its earthed side": (
        "reference",
        [
            ('["XD1:25", "QA1:31", "39"]', '["XD1:25", "KF1:DI", "39"]'),
            ('["QA1:32", "KF1:DI", "40"]', '["XD1:31", "QA1:31", "40"]'),
            ('["QA1:A2", "QA2:A2", "16"]', '["QA1:32", "QA2:A2", "16"]'),
        ],
        {"coils-on-zero"},
    ),
    "two inputs swapped": (
        "reference",
        [
            (
                '"I5", signal = "top_end" },\n  { terminal = "I6", signal = "bottom_end"',
                '"I5", signal = "bottom_end" },\n  { terminal = "I6", signal = "top_end"',
            )
        ],
        {"pin-map"},
    ),
    "mirror contact bridged": (
        "reference",
        [
            (
                '["QA1:22", "KF1:I12", "49"]',
                '["QA1:22", "XD1:28", "49"], ["XD1:28", "KF1:I12", "98"]',
            )
        ],
        {"mirrors"},
    ),
    "no mechanical interlock": (
        "reference",
        [('interlocked_with = "QA1"\n', "")],
        {"mechanical-interlock"},
    ),
    "electrical interlock bridged": (
        "reference",
        [also('["QA2:32", "KF1:RI", "35"],', '["QA2:31", "QA2:32", "97"],')],
        {"electrical-interlock"},
    ),
    "line contactor bridged": (
        "reference",
        [
            also('["QA0:2", "QA1:1", "110"],', '["QA0:1", "QA0:2", "96"],'),
            also('["QA0:4", "QA1:5", "114"],', '["QA0:3", "QA0:4", "95"],'),
        ],
        {"two-contactors"},
    ),
    "plain diode": ("reference", [(qa0_coil("clamp"), qa0_coil("diode"))], {"suppression"}),
    "no suppression": ("reference", [(qa0_coil("clamp"), qa0_coil("none"))], {"suppression"}),
    "worn contact that leaves the coil too little": (
        "reference",
        [
            (
                'name = "raise_no", type = "no", terminals = ["13", "14"], acts = "raise"',
                'name = "raise_no", type = "no", terminals = ["13", "14"], acts = "raise",'
                " ohm = 40.0",
            )
        ],
        {"coil-voltage"},
    ),
    "supply without safe separation": (
        "reference",
        [("24 V DC supply with safe separation, PELV", "24 V DC supply")],
        {"pelv"},
    ),
    "brake in a control cable": (
        "reference",
        [
            (
                'name = "W8"\nends = ["box", "winch"]\ncores = 2',
                'name = "W8"\nends = ["box", "winch"]\ncores = 3',
            ),
            ('"MB1:1", "W10.1"', '"MB1:1", "W8.3"'),
        ],
        {"pelv"},
    ),
    "control fuse too large for its wires": (
        "reference",
        [("control fuse, 1 A", "control fuse, 10 A")],
        {"control-fuse"},
    ),
    "control fuse that the supply cannot blow": (
        "reference",
        [("protection = { trip_a = 4.0 }", "protection = { trip_a = 9.0 }")],
        {"control-fuse"},
    ),
    "motor cable too thin": (
        "reference",
        [
            ("breaker C6", "breaker C10"),
            ("cores = 5\nmm2 = 1.5", "cores = 5\nmm2 = 0.75"),
        ],
        {"power-wires"},
    ),
    "brake cable too thin": (
        "reference",
        [
            ("breaker C6", "breaker C10"),
            ("cores = 2\nmm2 = 1.5", "cores = 2\nmm2 = 0.75"),
        ],
        {"branch-shorts"},
    ),
    "isolator that leaves one pole": (
        "reference",
        [also('["QB0:4", "FC1:3", "104"],', '["QB0:3", "QB0:4", "94"],')],
        {"isolator"},
    ),
    "alternating-current pole in the brake's circuit": (
        "reference",
        [
            (
                'name = "pole3", type = "no", terminals = ["5", "6"], acts = "coil",'
                ' role = "main", ohm = 0.005, dc_rated = true',
                'name = "pole3", type = "no", terminals = ["5", "6"], acts = "coil",'
                ' role = "main", ohm = 0.005',
            )
        ],
        {"dc-rated"},
    ),
    "limit behind the driver, beside a live core": (
        "reference",
        [
            ('["XD1:7", "BG1:11", "W6.1"]', '["KF1:RO", "BG1:11", "W6.1"]'),
            ('["XD1:22", "QA2:31", "34"]', '["XD1:7", "QA2:31", "34"]'),
            ('["KF1:RO", "QA1:A1", "36"]', '["XD1:22", "QA1:A1", "36"]'),
        ],
        {"bridges"},
    ),
    "emergency stop bridged": (
        "reference",
        [also('["XD1:1", "XD1:3", "4"],', '["XD1:1", "XD1:2", "93"],')],
        {"emergency-stop"},
    ),
}


@pytest.mark.parametrize("case", CHANGES)
def test_one_change_breaks_exactly_its_rule(case: str, tmp_path: Path) -> None:
    name, edits, wanted = CHANGES[case]
    found = {
        r.id: r.offending for r in check_rules(changed(tmp_path, name, *edits)) if not r.passed
    }
    assert set(found) == wanted, found


def test_every_rule_is_broken_by_some_change() -> None:
    alone = {next(iter(wanted)) for _, _, wanted in CHANGES.values() if len(wanted) == 1}
    assert alone == {rule.id for rule in RULES}


@pytest.mark.parametrize("name", ["reference", "reference-12v"])
def test_only_the_outputs_of_drivers_must_never_share_a_cable(name: str) -> None:
    """What a single bridge can start lies behind the drivers, and that stays in the box."""
    net = load_netlist(name)
    outputs = {net.net_of[f"KF1:{terminal}"] for terminal in ("LO", "RO", "DO")}
    found = keep_apart(net)
    assert found
    for effect in found:
        assert effect.starts
        assert not effect.lost
        assert len({effect.a, effect.b} & outputs) == 1, effect.label
    leaving = {net.net_of[wire.a] for wire in net.wires if wire.cable}
    assert not outputs & leaving


def test_a_bridge_across_a_path_contact_is_left_to_the_board() -> None:
    """Read from the wiring by eye: cores 1 and 2 of W2 are the stop's contact in the chain."""
    found = {effect.label: effect for effect in cable_bridges(load_netlist("reference"))}
    assert found["W2.1-W2.2"].watched == (
        "SF0 operated while raising",
        "SF0 operated while lowering",
    )
    assert found["W6.1-W6.2"].watched == ("BG1 operated while raising",)
    assert found["W2.1-W2.4"].watched == ()
    assert not any(effect.hazardous for effect in found.values())
    notes = next(r.notes for r in check_rules(load_netlist("reference")) if r.id == "bridges")
    hidden = [note for note in notes if "nobody sees" in note]
    assert hidden == ["W8.1-W8.2: nobody sees BG5, which has no copper path"]


def test_capacities_are_those_of_iec_60364_at_40_degrees() -> None:
    """Table B.52.2, method B2, two loaded, times 0.87 of B.52.14 (from memory).

    IEC 60204-1 table 6, method B2, for 0.75 and 1 mm2 (from memory).
    """
    for mm2, amps in (
        (1.5, 16.5),
        (2.5, 23.0),
        (4.0, 30.0),
        (6.0, 38.0),
        (10.0, 52.0),
        (16.0, 69.0),
        (25.0, 90.0),
    ):
        assert rules_power.capacity_a(mm2) == pytest.approx(0.87 * amps, abs=0.06)
    assert rules_power.capacity_a(0.75) == 8.5
    assert rules_power.capacity_a(1.0) == 10.1
    assert rules_power.capacity_a(0.5) == 0.0
    assert rules_power.capacity_a(2.0) == rules_power.capacity_a(1.5)


def test_rated_current_is_read_from_the_words_of_a_part() -> None:
    for name, ref, amps in (
        ("reference", "FC1", 6.0),
        ("reference", "FC2", 1.0),
        ("reference-12v", "FC1", 60.0),
    ):
        assert rules_power.rated_a(load_netlist(name).parts[ref]) == amps
