"""`leafwinch upkeep` as it is called: files in, findings, record and page out, refusals."""

import json
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from leafwinch.states import IDLE
from leafwinch_host.commands import upkeep as command
from leafwinch_host.commissioning.record import Record as Commissioning
from leafwinch_host.commissioning.record import StepRecord
from leafwinch_host.commissioning.results import PASS
from leafwinch_host.upkeep import synthetic
from leafwinch_host.upkeep.record import keys, read_record
from leafwinch_host.virtual_run import VirtualBoard, VirtualRun
from leafwinch_sim.site import load_site
from leafwinch_wiring.netlist import load_netlist
from tests.host.command import Said, assert_one_sentence
from tests.host.one_command import one_command
from tests.host.report_page import read_page

PIT = load_site("workshop-pit")
TODAY = date(2024, 9, 30)  # the synthetic use ends the day before


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> Said:
    return one_command(capsys, command, "upkeep", "--site", "workshop-pit", *arguments)


@pytest.fixture(scope="module")
def crept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("crept")
    code = synthetic.main(["--site", "workshop-pit", "--wear", "creep", "-o", str(folder)])
    assert code == 0
    return folder


def files(folder: Path) -> list[str]:
    logs = [str(path) for path in sorted(folder.glob("*.log"))]
    journal, counters = folder / "journal.json", folder / "counters.json"
    return ["--journal", str(journal), "--counters", str(counters), "--logs", *logs]


def test_the_command_reads_what_the_tools_write(
    crept: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    page = tmp_path / "upkeep.html"
    said = run(capsys, *files(crept), "--on", "2024-09-30", "--html", str(page))
    assert said.code == 1, said  # nothing was ever inspected
    assert "No record says" in said.out
    assert "running current raising rises slowly" in said.out
    for word in ("Crushing", "licensed electrician", "certifies nothing"):
        assert word in " ".join(said.out.split())

    shown = read_page(page.read_text(encoding="utf-8"))
    assert shown.open_tags == []
    assert len(shown.tables["due"]) == 1 + len(keys())
    assert len(shown.tables["series"]) == 1 + 8
    assert "rises slowly" in shown.texts["findings"]
    assert "Crushing" in shown.words
    assert all(link.startswith("#") for link in shown.links)


def test_json_has_everything(crept: Path, capsys: pytest.CaptureFixture[str]) -> None:
    said = run(capsys, *files(crept), "--on", "2024-09-30", "--json")
    read = json.loads(said.out)
    assert read["on"] == "2024-09-30"
    assert read["urgent"] is True
    series = {row["key"]: row for row in read["series"]}
    assert series["raise_a"]["drifts"] is True
    assert series["raise_a"]["reserve"] > 0
    assert {row["key"] for row in read["due"]} == set(keys())
    assert read["cycles_per_day"] == pytest.approx(1.3, abs=0.2)


def test_inspections_are_noted_until_nothing_is_due(
    crept: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    record = tmp_path / "record.json"
    base = ("--record", str(record), "--counters", str(crept / "counters.json"))
    today = datetime.now(UTC).astimezone().date()
    for key in keys():
        said = run(capsys, *base, "--done", key, "--who", "caretaker")
        assert said.code in (0, 1)
    said = run(capsys, *base)
    assert said.code == 0, said
    kept = json.loads(record.read_text(encoding="utf-8"))
    assert [entry["what"] for entry in kept["done"]] == list(keys())
    assert {entry["on"] for entry in kept["done"]} == {today.isoformat()}
    assert kept["readings"][-1]["counters"]["raises"] > 200
    assert len(kept["readings"]) == 1

    later = today + timedelta(days=31)
    said = run(capsys, *base, "--on", later.isoformat())
    assert said.code == 1
    assert "emergency stop SF0 and control SF1: overdue for 1 days" in said.out
    assert "rope" not in said.out.split("series")[0].split("Next inspections")[0]


def test_an_old_inspection_is_noted_with_its_day(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    record = tmp_path / "record.json"
    said = run(
        capsys,
        "--record",
        str(record),
        "--done",
        "rope",
        "--who",
        "caretaker",
        "--on",
        "2024-01-05",
    )
    assert said.code == 1
    assert "rope, hook and anchor: overdue" in " ".join(said.out.split())
    entry = read_record(record, "workshop-pit").done[0]
    assert (entry.on, entry.who, entry.counters) == (date(2024, 1, 5), "caretaker", {})


@pytest.mark.parametrize(
    ("arguments", "named"),
    [
        (("--done", "rope"), "--record"),
        (("--who", "caretaker"), "--done"),
        (("--commissioned", "absent"), "--record"),
        (("--commissioned", "absent", "--record", "r.json"), "no record of a commissioning"),
        (("--port", "COM9", "--journal", "j.json"), "--port"),
        (("--on", "30.9.2024"), "2031-05-17"),
        (("--journal", "absent.json"), "absent.json"),
        (("--counters", "absent.json"), "absent.json"),
        (("--logs", "absent.log"), "absent.log"),
        (("--record", "record.txt"), ".json"),
        (("--html", "page.pdf"), ".html"),
    ],
)
def test_bad_input_is_one_sentence(
    arguments: tuple[str, ...], named: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert_one_sentence(run(capsys, *arguments), named)


@pytest.mark.parametrize(
    ("option", "text"),
    [
        ("--journal", "{}"),
        ("--journal", '[{"kind": "travel"}]'),
        ("--journal", "[1]"),
        ("--counters", "[]"),
        ("--counters", '{"raises": "many"}'),
        ("--counters", '{"raises": -1}'),
        ("--logs", "no log at all\n"),
    ],
)
def test_strange_files_are_refused(
    option: str, text: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "strange"
    path.write_text(text, encoding="utf-8")
    assert_one_sentence(run(capsys, option, str(path)), "strange")


def test_a_board_is_asked(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with VirtualBoard(VirtualRun(PIT, load_netlist(PIT.wiring), tmp_path / "flash"), 20.0) as board:
        assert board.wait_state(IDLE, 10)
        record = tmp_path / "record.json"
        said = run(capsys, "--port", board.port, "--record", str(record), "--json")
    assert said.code == 1, said
    assert json.loads(said.out)["series"] == []
    assert read_record(record, "workshop-pit").readings[0].counters["boots"] == 1


def commissioned(folder: Path, site: str, passed: tuple[str, ...]) -> Path:
    """Write the record of a commissioning in which some steps have passed."""
    folder.mkdir()
    found = Commissioning({"site": site, "counters": {"faults": 12, "boots": 3}})
    for step in passed:
        found.steps[step] = StepRecord(step, step, "", PASS, times=1, who="A. Person")
        found.steps[step].utc = "2024-03-01T10:00:00+00:00"
    found.save(folder)
    return folder


def test_what_a_commissioning_inspected_is_taken_over_once(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = commissioned(
        tmp_path / "c", "workshop-pit", ("points", "continuity", "interlock", "stop", "lamps")
    )
    counters = tmp_path / "counters.json"
    counters.write_text('{"faults": 12, "boots": 5}', encoding="utf-8")
    path = tmp_path / "r.json"
    arguments = ("--record", str(path), "--commissioned", str(folder), "--on", "2024-03-02")
    said = run(capsys, *arguments, "--counters", str(counters))
    record = read_record(path, "workshop-pit")
    done = {entry.what for entry in record.done}
    assert done == {"operating_points", "measurement_with_the_supply_off", "interlock_by_hand"}
    assert {(entry.on.isoformat(), entry.who) for entry in record.done} == {
        ("2024-03-01", "A. Person")
    }
    assert "more faults" not in said.out  # those that the commissioning made on purpose
    run(capsys, *arguments)
    assert len(read_record(path, "workshop-pit").done) == 3

    other = commissioned(tmp_path / "slip", "boat-slip", ("points",))
    said = run(capsys, "--record", str(path), "--commissioned", str(other))
    assert_one_sentence(said, "boat-slip")
