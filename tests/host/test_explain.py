"""Every fault is explained; the numbers in the words are those of netlist, settings and proof."""

import json
import re
from pathlib import Path
from xml.etree import ElementTree

import pytest

from leafwinch.fault_texts import FAULT_NAMES, FAULTS
from leafwinch.faults import STOP_ACTUATED
from leafwinch.signals import ALL_CONTACTS, CHAIN_OK, STOP_OK
from leafwinch.states import FAULT, IDLE, RAISING
from leafwinch_host.commands import explain
from leafwinch_host.explaining import proof_table, telling
from leafwinch_host.explaining.before import before_fault, story
from leafwinch_host.explaining.causes import EXPLANATIONS
from leafwinch_host.explaining.expected import values_of
from leafwinch_host.explaining.explanation import (
    CLOSED,
    LEVEL_WORDS,
    OPEN,
    OUT_OF_USE,
    Measure,
)
from leafwinch_host.explaining.from_log import faults_in
from leafwinch_host.virtual_run import VirtualBoard, VirtualRun
from leafwinch_sim.campaign import prove
from leafwinch_sim.site import load_site
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.measure import resistances
from leafwinch_wiring.netlist import Netlist, load_netlist
from leafwinch_wiring.network import Circuit
from tests.host.command import assert_one_sentence
from tests.host.one_command import one_command

SITES = ("workshop-pit", "boat-slip")
WORKED = {
    "lever pushed by hand": "limit",
    "lever at slack": "limit",
    "pressed": "press",
    "key turned": "turn",
    "control held to raise": "raise",
    "control held to lower": "lower",
}
AT_REST = (
    "off its end",
    "rope taut",
    "pulled out",
    "key at rest",
    "control in its middle",
    "isolated",
)


def test_every_fault_is_explained_in_full() -> None:
    assert tuple(EXPLANATIONS) == FAULT_NAMES
    for name, serious, _, _ in FAULTS:
        explanation = EXPLANATIONS[name]
        assert explanation.level in LEVEL_WORDS
        assert explanation.causes
        assert explanation.measures
        assert explanation.stop, f"{name}: when must nobody go on?"
        assert explanation.clear
        if serious:
            # What survives a power loss must not be waited out.
            assert explanation.level == OUT_OF_USE, name


@pytest.mark.parametrize("site_name", SITES)
def test_every_number_can_be_filled_in_and_every_text_warns(site_name: str) -> None:
    site = load_site(site_name)
    net = load_netlist(site.wiring)
    values = values_of(site.settings, site, net)
    assert values["trip_a"] == f"{site.settings['trip_ma'] / 1000:g}"
    assert values["release_ms"] == "100"  # the firmware's default, not set by the site
    for number in range(1, len(FAULT_NAMES) + 1):
        said = telling.told(number, values, net.name, water=site.over == "water")
        text = " ".join(line for _, lines in telling.sections(said) for line in lines)
        assert "{" not in text
        assert "Crushing" in text
        assert "licensed electrician" in text
        assert "certifies nothing" in text
        assert ("Drowning" in text) == (site.over == "water")


def contact_measures() -> list[tuple[str, Measure]]:
    return [
        (name, measure)
        for name, explanation in EXPLANATIONS.items()
        for measure in explanation.measures
        if measure.expect in (CLOSED, OPEN) and re.match(r"\w+ \d+-\d+, ", measure.where)
    ]


@pytest.mark.parametrize("site_name", SITES)
def test_expected_resistances_are_those_of_the_netlist(site_name: str) -> None:
    """Against the whole network solved as resistances (Kirchhoff), all wires on, supplies off."""
    net = load_netlist(load_site(site_name).wiring)
    measures = contact_measures()
    assert len(measures) > 50
    for name, measure in measures:
        ohm = measured(net, measure)
        if measure.expect == CLOSED:
            assert ohm < 2.0, (name, measure, ohm)
        else:
            assert ohm > 1000.0, (name, measure, ohm)


def measured(net: Netlist, measure: Measure) -> float:
    found = re.match(r"(\w+) (\d+)-(\d+), ([A-Za-z0-9 ]+)", measure.where)
    assert found is not None, measure
    part, a, b, state = found.groups()
    mask = net.rest_mask
    for index, element in enumerate(net.elements):
        if element.role in ("supply", "driver"):
            mask &= ~(1 << index)
    if state == "key at rest with BG3 pushed by hand":
        # The key lies across the closed finals, so one of them has to be open to see it.
        mask = net.actuate(mask, "BG3", "limit")
    elif state in WORKED:
        mask = net.actuate(mask, part, WORKED[state])
    else:
        assert state in AT_REST, measure
    return resistances(Circuit(net), mask, [(f"{part}:{a}", f"{part}:{b}")])[0]


def test_parts_and_terminals_that_are_named_exist() -> None:
    for site_name in SITES:
        net = load_netlist(load_site(site_name).wiring)
        for name, explanation in EXPLANATIONS.items():
            texts = [*explanation.causes, *explanation.stop]
            texts += [m.where for m in explanation.measures]
            for text in texts:
                for ref in re.findall(r"\b(?:SF|BG|QA|KF|QB|FC|TB|MB|BC|XD)\d\b", text):
                    assert ref in net.parts, (name, text)
                for cable in re.findall(r"\bW\d+\b", text):
                    assert cable in net.cables, (name, text)
                for terminal in re.findall(r"\bI\d+\b", text):
                    assert f"KF1:{terminal}" in net.terminals, (name, text)


@pytest.mark.parametrize(
    ("site_name", "fault", "defect"),
    [
        ("workshop-pit", "line_not_released", "QA0.pole1:welded"),
        ("workshop-pit", "samples_stalled", "samples_stale"),
        ("workshop-pit", "top_end_disagrees", "BG1.path:welded"),
        ("boat-slip", "watchdog_boot", "board_hung"),
    ],
)
def test_the_shipped_table_agrees_with_a_proof_of_today(
    site_name: str, fault: str, defect: str
) -> None:
    site = load_site(site_name)
    net = load_netlist(site.wiring)
    fresh = proof_table.counted(prove(site, net, only=(defect,)))
    shipped = proof_table.leads(fault, net.name)
    assert shipped is not None
    known = {row.defect: row.moments for row in shipped.rows}
    assert known[defect] == fresh["faults"][fault]["rows"][0][1]
    assert defect in fresh["causes"]


def test_only_what_a_fault_itself_found_is_counted() -> None:
    cells = [
        {"defect": "BG1:stuck", "fault": 10, "found": "fault 10: top end disagrees"},
        {"defect": "BG1:stuck", "fault": 10, "found": "warning: reset refused"},
        {"defect": "SF0:lost", "fault": 2, "found": "warning: drift"},
    ]
    result = {"site": "workshop-pit", "wiring": "reference", "seed": 1, "moments": 3}
    faults = proof_table.counted({**result, "cells": cells})["faults"]
    assert faults == {"top_end_disagrees": {"defects": 1, "rows": [("BG1:stuck", 1)]}}
    with pytest.raises(BadInput, match="not the result of a proof"):
        proof_table.counted({"site": "workshop-pit"})


def stop_trace() -> dict[str, object]:
    """A board's answer: raising, 0.1 s before the fault the stop opens."""
    stopped = ALL_CONTACTS & ~STOP_OK & ~CHAIN_OK
    samples = [[ALL_CONTACTS, 0b11, RAISING, 1500, 24_000]] * 390
    samples += [[stopped, 0, RAISING, 900, 24_000]] * 9 + [[stopped, 0, FAULT, 0, 23_900]]
    return {"fault": 2, "boot": 3, "uptime_s": 40, "interval_ms": 10, "samples": samples}


def test_the_seconds_before_are_told_in_order() -> None:
    before = before_fault(stop_trace())
    assert before.time_s[0] == pytest.approx(-3.99)
    told = story(before)
    assert "4.0 s are there" in told[0]
    assert told[1:3] == ["-0.09 s: stop ok opened", "-0.09 s: chain ok opened"]
    assert any("raise (out) went off" in line for line in told)
    assert told[-2] == "+0.00 s: the fault was latched"
    assert "greatest current 1.50 A" in told[-1]
    assert "lowest 24 V supply 23.9 V" in told[-1]


@pytest.mark.parametrize("spoiled", [{"samples": []}, {"samples": [[1, 2]]}, {"fault": "x"}])
def test_a_strange_trace_is_refused(spoiled: dict[str, object]) -> None:
    with pytest.raises(BadInput, match="not of this version"):
        before_fault({**stop_trace(), **spoiled})


@pytest.mark.parametrize("asked", ["26", "current_trip", "Current trip", "current-trip"])
def test_a_fault_is_found_by_number_or_name(asked: str, capsys: pytest.CaptureFixture[str]) -> None:
    said = one_command(capsys, explain, "explain", asked, "--site", "workshop-pit", "--json")
    assert said.code == 0, said
    read = json.loads(said.out)
    assert read["fault"] == 26
    assert "4 A for 60 ms" in said.out  # the site's own trip


@pytest.mark.parametrize(
    ("arguments", "named"),
    [
        (("44",), "1 to 43"),
        (("trip",), "near it: current_trip"),
        (("3", "-o", "x.svg"), "none is there"),
        (("3", "-o", "x.pdf"), "--output"),
        (("3", "--wiring", "bare"), "--site"),
        (("--log", "absent.log"), "absent.log"),
    ],
)
def test_bad_input_is_one_sentence(
    arguments: tuple[str, ...], named: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert_one_sentence(one_command(capsys, explain, "explain", *arguments), named)


def log_line(second: float, sequence: int, contacts: int, state: int, fault: int) -> str:
    text = (
        f"T {sequence:04X} {round(second * 1000):08X} {contacts:05X} 03 {state:X} {fault:02d} 0000 "
        f"000 +001500 24000 00 00"
    )
    return f"2031-05-01T10:00:{second:06.3f}+00:00 {text}\n"


def test_the_last_fault_of_a_log_is_explained_and_drawn(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    log = tmp_path / "pit.log"
    stopped = ALL_CONTACTS & ~STOP_OK
    lines = [log_line(i / 100, i, ALL_CONTACTS, RAISING, 0) for i in range(800)]
    lines += [log_line(8 + i / 100, 800 + i, stopped, FAULT, STOP_ACTUATED) for i in range(200)]
    log.write_text("# start\n! damaged\n" + "".join(lines) + "2031-05-01T10:0", encoding="ascii")
    (found,) = faults_in(log)
    assert found.fault == STOP_ACTUATED
    assert found.time_s[0] == pytest.approx(-4.0)

    plot = tmp_path / "before.svg"
    said = one_command(capsys, explain, "explain", "--log", str(log), "-o", str(plot))
    assert said.code == 0, said
    assert "Fault 2 stop actuated" in said.out
    assert "stop ok opened" in said.out
    texts = "".join(ElementTree.fromstring(plot.read_text(encoding="utf-8")).itertext())
    for word in ("Before fault 2", "current, A", "trip", "stop ok", "time before the fault, s"):
        assert word in texts
    assert_one_sentence(
        one_command(capsys, explain, "explain", "7", "--log", str(log)), "fault 7", "not recorded"
    )


def test_a_log_that_is_none_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    log = tmp_path / "notes.txt"
    log.write_text("the deck went up\n", encoding="ascii")
    said = one_command(capsys, explain, "explain", "--log", str(log))
    assert_one_sentence(said, "notes.txt, line 1", "leafwinch log")


def test_the_last_fault_of_a_board_is_explained(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """On the virtual board: a pole of the line contactor welds amid a raise."""
    site = load_site("workshop-pit")
    run = VirtualRun(site, load_netlist(site.wiring), tmp_path / "flash")
    plot = tmp_path / "before.png"
    with VirtualBoard(run, 20.0) as board:
        assert board.wait_state(IDLE, 10)
        board.do("raise")
        board.pass_time(3)
        board.do("defect QA0.pole1:welded")
        board.pass_time(1)
        board.do("release")
        assert board.wait_state(FAULT, 5)
        board.pass_time(2)  # the trace is written at rest
        said = one_command(capsys, explain, "explain", "--port", board.port, "-o", str(plot))
        other = one_command(capsys, explain, "explain", "3", "--port", board.port)
    assert said.code == 0, said
    assert "Fault 18 line not released" in said.out
    assert "out of use" in said.out
    assert "QA0.pole1:welded" in said.out  # what the proof saw
    assert "lower released" not in said.out
    assert "raise off closed" in said.out  # the control was let go
    assert plot.read_bytes().startswith(b"\x89PNG")
    assert other.code == 0, other
    assert "The seconds before it" not in other.out  # its trace is another fault's
