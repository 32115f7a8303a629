"""The wiring papers and their command: what stands in them, what it returns, what it refuses."""

import csv
import random
import re
import struct
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
import typst

from leafwinch_host.cli import OneSentenceParser, one_line
from leafwinch_host.commands import wire
from leafwinch_host.report import wire_pdf as wire_pdf_module
from leafwinch_host.report.wire_apart import apart_level, apart_rows, apart_words
from leafwinch_host.report.wire_motor import motor_of
from leafwinch_host.report.wire_pdf import papers_of, sources, wire_pdf
from leafwinch_host.report.wire_report import Papers, build
from leafwinch_host.report.wire_shares import percent, share_rows
from leafwinch_sim.site import load_site
from leafwinch_wiring import point_sheet as point_sheet_module
from leafwinch_wiring.drawing import Sheet
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.miswires import Miswire
from leafwinch_wiring.netlist import Netlist, load_netlist
from leafwinch_wiring.parting import MOST_SUSPECTS, parting
from leafwinch_wiring.point_candidates import Progress, states
from leafwinch_wiring.point_readings import exact
from leafwinch_wiring.point_sheet import PointSheet, point_sheet, worked_words
from leafwinch_wiring.rules_bridges import BridgeEffect
from leafwinch_wiring.schedules.terminals import terminal_schedule
from leafwinch_wiring.sheet_check import diagnose
from leafwinch_wiring.sheet_file import FilledSheet, read_filled, write_csv
from tests.host.command import Said, assert_one_sentence
from tests.wiring.filling import filled_text, measured, reading

SITES = {"reference": "workshop-pit", "reference-12v": "boat-slip", "bare": "workshop-pit"}


@dataclass(frozen=True, slots=True)
class Made:
    """The papers of one netlist, made once for all tests."""

    net: Netlist
    points: PointSheet
    papers: Papers


@pytest.fixture(scope="module")
def made() -> dict[str, Made]:
    """Papers with a sheet that the greedy cover alone chose: quick, and as good for a test."""
    found = {}
    for name in SITES:
        net = load_netlist(name)
        # What the sheet of the other reference finds is tested beside the sheet itself.
        nothing = PointSheet(net.name, net.content_hash, (), (), (), (), 0)
        points = nothing if name == "reference-12v" else point_sheet(net, seconds=0.0)
        found[name] = Made(net, points, papers_of(net, None, points))
    return found


@pytest.fixture
def quick(made: dict[str, Made], monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the command take what is in `made`, and still say how far it is."""

    def kept(net: Netlist, progress: Progress | None = None) -> PointSheet:
        if progress is not None:
            progress(1, 1)
        return made[net.name].points

    def papers(net: Netlist, _: object, points: PointSheet, progress: Progress) -> Papers:
        assert points is made[net.name].points
        progress(1, 1)
        return made[net.name].papers

    monkeypatch.setattr(point_sheet_module, "point_sheet", kept)
    monkeypatch.setattr(wire_pdf_module, "papers_of", papers)


def said(capsys: pytest.CaptureFixture[str], *arguments: str | Path) -> Said:
    """Run the command as `leafwinch` runs its commands."""
    parser = OneSentenceParser(prog="leafwinch")
    wire.add_to(parser.add_subparsers(dest="command", parser_class=OneSentenceParser))
    capsys.readouterr()
    try:
        chosen = parser.parse_args(["wire", *map(str, arguments)])
        code = chosen.handler(chosen)
    except BadInput as error:
        captured = capsys.readouterr()
        return Said(2, captured.out, f"leafwinch: {one_line(str(error))}\n" + captured.err)
    captured = capsys.readouterr()
    return Said(code, captured.out, captured.err)


# ---- the papers --------------------------------------------------------------------------
@pytest.mark.parametrize("name", list(SITES))
def test_the_papers_say_everything_that_was_worked_out(name: str, made: dict[str, Made]) -> None:
    item = made[name]
    site = load_site(SITES[name])
    data = build(site, item.net, item.papers)
    terminals = [row[1] for strip in data["strips"] for row in strip["rows"]]
    assert terminals == [row.terminal for row in terminal_schedule(item.net)]
    assert [row[0] for row in data["cables"]] == list(item.net.cables)
    marks = {row[0] for row in (*data["cores"], *data["wires"])}
    assert marks >= {wire.mark for wire in item.net.wires}
    refs = [ref for part in data["parts"] for ref in part["refs"].split(", ")]
    assert sorted(refs) == sorted(item.net.parts)
    assert len(data["points"]) == len(item.points.rows)
    assert len(data["rules"]) == len(item.papers.rules)
    assert len(data["estimates"]) == len(item.papers.estimates)
    assert [d["title"] for d in data["drawings"]] == [s.title for s in item.papers.sheets]
    assert bool(data["walk"]) == item.net.has_controller
    counted = [sum(map(int, row[1:])) for row in data["miswires"]]
    every = item.papers.miswires + len(item.points.harmless)
    assert sum(counted) == every
    assert int(data["shares"][0][1]) == len(item.points.found)
    assert int(data["shares"][-1][1]) == len(item.papers.shares.neither)
    pairs = sum(len(row["others"]) for row in data["apart"]["rows"])
    assert pairs == len(item.papers.apart)
    words = " ".join(c["hazard"] for c in data["cautions"])
    assert ("Drowning" in words) == (site.over == "water")
    assert "licensed electrician" in data["legal"]
    assert "certify nothing" in data["legal"]
    assert len(data["sign"]) >= 6
    signed = " ".join(data["sign"])
    assert ("Inputs walked" in signed) == item.net.has_controller
    assert ("Residual current" in signed) == (item.net.drive == "capacitor_run")


def test_broken_rules_come_first_and_are_named_on_the_cover(made: dict[str, Made]) -> None:
    item = made["bare"]
    data = build(load_site("workshop-pit"), item.net, item.papers)
    results = [rule["result"] for rule in data["rules"]]
    broken = results.count("BROKEN")
    assert broken == len(item.papers.rules_broken) > 0
    assert results[:broken] == ["BROKEN"] * broken
    assert data["verdict"][0]["level"] == "bad"
    for rule in item.papers.rules_broken:
        assert rule.id in data["verdict"][0]["text"]


def test_what_is_said_once_does_not_stand_at_every_estimate(made: dict[str, Made]) -> None:
    data = build(load_site("workshop-pit"), made["reference"].net, made["reference"].papers)
    assert "certifies nothing" in " ".join(data["estimate_words"])
    for item in data["estimates"]:
        assert "certifies nothing" not in item["sentence"]
        assert len(item["ways"]) >= 1


@pytest.mark.parametrize("name", ["reference", "reference-12v"])
def test_what_must_not_share_a_cable_stands_there_with_what_a_short_does(
    name: str, made: dict[str, Made]
) -> None:
    """Read from the diagrams by eye: behind a driver there is only its contactor's coil.

    So what feeds that conductor from the outside pulls the contactor in. ISO 13849-2 table D.4
    asks to assume a short between any two conductors of a cable (from memory).
    """
    item = made[name]
    rows = apart_rows(item.net, item.papers.apart)
    coils = {"KF1:LO": "QA0", "KF1:RO": "QA1", "KF1:DO": "QA2"}
    assert [row.one.name for row in rows] == list(coils)
    for row in rows:
        coil = coils[row.one.name]
        assert row.effect.startswith(f"gives {coil} (")
        assert row.one.words.endswith(f"{coil}:A1")
        assert row.one.where == "in no cable"
        others = {other.name for other in row.others}
        # Plus from the fuse on, and the end of the chain, which is live while nothing is open.
        assert {item.net.net_of["FC2:2"], item.net.net_of["XD1:5"]} <= others
        assert not others & {item.net.net_of["TB1:-"], *coils}
    assert apart_level(item.net, rows) == "good"
    assert apart_words(item.net, rows).endswith("as drawn none does")


def test_conductors_that_share_a_cable_against_the_rule_are_named(made: dict[str, Made]) -> None:
    """W2 leads to the emergency stop, and W4 carries its two sides on, each by a core."""
    net = made["reference"].net
    effect = BridgeEffect("x", net.net_of["SF0:11"], net.net_of["SF0:12"], (), ("SF0 at all",), ())
    rows = apart_rows(net, [effect])
    assert [row.shared for row in rows] == [("W2", "W4")]
    assert rows[0].effect == "takes these stops away, unseen: SF0 at all"
    assert apart_level(net, rows) == "bad"
    assert apart_words(net, rows).endswith("as drawn some do, in W2, W4")
    bare = made["bare"]
    assert apart_rows(bare.net, bare.papers.apart) == []
    assert apart_level(bare.net, []) == "amend"


def test_shares_add_up_and_never_round_to_all_or_none(made: dict[str, Made]) -> None:
    shares = made["reference"].papers.shares
    count = {words: int(number) for words, number, _ in share_rows(shares, walked=True)}
    assert count["the continuity sheet"] == count["both of them"] + count["the sheet alone"]
    assert count["the walk over the inputs"] == count["both of them"] + count["the walk alone"]
    everything = count["the continuity sheet"] + count["the walk alone"] + count["neither"]
    assert everything == shares.total == made["reference"].papers.miswires
    assert len(share_rows(shares, walked=False)) == 2
    assert percent(99_999, 100_000) == "99.99 %"
    assert percent(1, 100_000) == "0.01 %"
    assert percent(3, 3) == "all"
    assert percent(0, 3) == "none"


@pytest.mark.parametrize("name", list(SITES))
def test_each_drawing_has_a_page_on_its_side_and_all_else_stands(
    name: str, made: dict[str, Made]
) -> None:
    item = made[name]
    site = load_site(SITES[name])
    document = wire_pdf(site, item.net, item.papers.sheets, item.papers)
    assert document.startswith(b"%PDF-")
    assert document == wire_pdf(site, item.net, item.papers.sheets, item.papers)
    with TemporaryDirectory() as folder:
        for file, data in sources(site, item.net, item.papers).items():
            (Path(folder) / file).write_bytes(data)
        pages = str(Path(folder) / "page{0p}.png")
        main = str(Path(folder) / "main.typ")
        typst.compile(main, pages, root=folder, format="png", ppi=20, ignore_system_fonts=True)
        heads = [path.read_bytes()[16:24] for path in sorted(Path(folder).glob("page*.png"))]
    sizes = [struct.unpack(">II", head) for head in heads]
    lying = [number for number, (wide, high) in enumerate(sizes) if wide > high]
    assert len(lying) == len(item.papers.sheets)
    assert all(after == before + 1 for before, after in pairwise(lying))
    assert len(heads) > len(lying) + 5


def test_strange_letters_in_a_netlist_do_not_become_markup(made: dict[str, Made]) -> None:
    """What a person wrote into a netlist is printed as it stands, never run as typesetting."""
    site = load_site("workshop-pit").model_copy(
        update={"summary": "#panic() $x$ *not bold* <a> \\ \" ' _ @ // /* `code`"}
    )
    item = made["bare"]
    sheets = [Sheet("x", "#panic() [", item.papers.sheets[0].svg)]
    papers = replace(item.papers, sheets=sheets)
    assert wire_pdf(site, item.net, sheets, papers).startswith(b"%PDF-")


def test_the_motors_currents_come_from_the_plate_and_its_circuit() -> None:
    """Textbook: a stalled direct-current motor takes U / R; here 1.1 x 12 V."""
    slip = load_site("boat-slip")
    motor = motor_of(slip)
    assert motor is not None
    assert slip.nameplate is not None
    assert slip.motor.kind == "permanent-magnet"
    ohm = slip.motor.resistance + slip.supply.source_resistance
    assert motor.rated_a == slip.nameplate.current
    assert motor.start_a == pytest.approx(1.1 * 12.0 / ohm)
    assert motor_of(slip.model_copy(update={"nameplate": None})) is None
    pit = motor_of(load_site("workshop-pit"))
    assert pit is not None
    assert 3.0 < pit.start_a / pit.rated_a < 8.0


def test_without_a_current_the_power_of_the_plate_tells_it() -> None:
    """NEC table 430-148: half a horsepower (372.85 W) takes 4.9 A at 230 V."""
    site = load_site("workshop-pit")
    assert site.nameplate is not None
    plate = site.nameplate.model_copy(update={"current": None, "power": 372.0})
    motor = motor_of(site.model_copy(update={"nameplate": plate}))
    assert motor is not None
    assert motor.rated_a == 4.9


# ---- the command -------------------------------------------------------------------------
@pytest.mark.usefixtures("quick")
def test_it_writes_drawings_papers_and_the_sheet(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, made: dict[str, Made]
) -> None:
    folder = tmp_path / "papers"
    answer = said(capsys, "--site", "workshop-pit", "-o", folder)
    assert answer.code == 0
    item = made["reference"]
    names = {f"{sheet.name}.svg" for sheet in item.papers.sheets}
    assert {path.name for path in folder.iterdir()} == {*names, "wiring.pdf", "continuity.csv"}
    for sheet in item.papers.sheets:
        assert (folder / f"{sheet.name}.svg").read_text(encoding="utf-8") == sheet.svg
    assert (folder / "wiring.pdf").read_bytes().startswith(b"%PDF-")
    assert (folder / "continuity.csv").read_text(encoding="utf-8") == write_csv(item.points)
    assert f"of {len(item.papers.rules)} rules of the wiring are kept" in answer.out
    count = f"find {len(item.points.found)} of {item.papers.miswires} single miswires"
    assert count in " ".join(answer.out.split())
    assert re.search(r"\b99\.\d\d %", answer.out)
    for row in share_rows(item.papers.shares, walked=True):
        assert re.search(r"\s+".join(map(re.escape, row)), answer.out)
    for pair in item.papers.apart:
        assert pair.a in answer.out
        assert pair.b in answer.out
    assert "walk over the inputs" in answer.err
    assert "licensed electrician" in answer.out
    assert "continuity sheet" in answer.err  # the bar goes beside the result, not into it
    assert said(capsys, "--site", "workshop-pit", "-o", folder).code == 0  # and over itself


@pytest.mark.usefixtures("quick")
def test_a_broken_rule_is_named_and_gives_exit_code_1(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, made: dict[str, Made]
) -> None:
    answer = said(capsys, "--site", "workshop-pit", "--wiring", "bare", "-o", tmp_path)
    assert answer.code == 1
    for rule in made["bare"].papers.rules_broken:
        assert f"{rule.id}:" in answer.out
    assert "single miswires, all" in " ".join(answer.out.split())
    assert (tmp_path / "wiring.pdf").is_file()


def filled(item: Made, miswire: Miswire | None) -> str:
    """A sheet filled in at random within what a meter shows."""
    return filled_text(item.points, measured(item.net, item.points, miswire, random.Random(7)))


def test_a_sheet_filled_on_a_sound_circuit_gives_exit_code_0(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, made: dict[str, Made]
) -> None:
    path = tmp_path / "filled.csv"
    path.write_text(filled(made["bare"], None), encoding="utf-8-sig")
    for more in ((), ("--wiring", "bare"), ("--site", "workshop-pit", "--wiring", "bare")):
        answer = said(capsys, "--check", path, *more)
        assert answer.code == 0, answer
        assert "as drawn" in answer.out


def test_a_miswire_is_named_and_gives_exit_code_1(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, made: dict[str, Made]
) -> None:
    item = made["bare"]
    wrong = next(found for found in item.points.found if found.kind == "left-out")
    path = tmp_path / "filled.csv"
    path.write_text(filled(item, wrong), encoding="utf-8")
    answer = said(capsys, "--check", path)
    assert answer.code == 1
    assert "not as drawn" in answer.out
    assert wrong.id in answer.out
    assert "Never switch on to find out" in answer.out


def between_equals(item: Made) -> tuple[Miswire, FilledSheet]:
    """A miswire that the sheet alone does not tell from another, and the sheet filled in on it."""
    for found in item.points.found:
        sheet = read_filled(filled(item, found), "filled.csv", item.net)
        equal = diagnose(item.net, sheet)
        if 2 <= equal.equal <= 5:
            suspects = [suspect.miswire for suspect in equal.likely[: equal.equal]]
            after = parting(item.net, suspects)
            if after is not None and found.id in (*after.off, *after.within):
                return found, sheet
    raise AssertionError("the sheet tells every miswire from every other")


@pytest.mark.parametrize("delimiter", [";", ","])
def test_the_next_measurement_is_named_and_read_from_the_line_added_for_it(
    delimiter: str, capsys: pytest.CaptureFixture[str], tmp_path: Path, made: dict[str, Made]
) -> None:
    item = made["bare"]
    wrong, sheet = between_equals(item)
    path = tmp_path / "filled.csv"
    text = filled(item, wrong)
    if delimiter != ";":
        # As a spreadsheet saves it.
        text = re.sub(r"(?m)^(?!#)(.*)$", lambda m: m[0].replace(", ", "~").replace(";", ","), text)
        text = re.sub(r"[^,\n]*~[^,\n]*", lambda m: f'"{m[0].replace("~", ", ")}"', text)
    path.write_text(text, encoding="utf-8")
    first = said(capsys, "--check", path)
    assert first.code == 1
    assert "Measure next" in first.out
    number = len(item.points.rows) + 1
    line = next(line for line in first.out.splitlines() if line.startswith(f"{number}{delimiter}"))
    cells = next(csv.reader([line], delimiter=delimiter))
    what = next(
        (operated, acts, mask)
        for operated, acts, mask in states(item.net)
        if worked_words(operated, acts) == cells[3]
    )
    [(low, high)] = exact(item.net, wrong, what[2], [(cells[1], cells[2])])
    value = reading(random.Random(5), low, high)
    line = re.sub(rf"{delimiter}{{2}}$", f"{delimiter}{value}{delimiter}", line)
    path.write_text(f"{text}{line}\n", encoding="utf-8")
    again = said(capsys, "--check", path)
    assert again.code == 1
    assert wrong.id in again.out
    before = diagnose(item.net, sheet).equal
    after = diagnose(item.net, read_filled(path.read_text(encoding="utf-8"), "x", item.net)).equal
    assert 1 <= after < before


def test_too_many_equals_ask_for_the_rest_of_the_sheet(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, made: dict[str, Made]
) -> None:
    item = made["bare"]
    path = tmp_path / "filled.csv"
    for row in item.points.rows:
        values = [""] * len(item.points.rows)
        values[row.number - 1] = "open" if row.what.closed else "closed"
        text = filled_text(item.points, values)
        if diagnose(item.net, read_filled(text, "x", item.net)).equal > MOST_SUSPECTS:
            path.write_text(text, encoding="utf-8")
    answer = said(capsys, "--check", path)
    assert answer.code == 1
    assert "too many to be told apart" in answer.out
    assert "Measure next" not in answer.out


def test_a_sheet_with_gaps_is_not_complete(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, made: dict[str, Made]
) -> None:
    path = tmp_path / "filled.csv"
    path.write_text(write_csv(made["bare"].points), encoding="utf-8")
    answer = said(capsys, "--check", path)
    assert answer.code == 1
    assert "not complete" in answer.out
    assert "not measured: 1, 2, 3" in answer.out


def test_bad_input_is_one_sentence(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, made: dict[str, Made]
) -> None:
    file = tmp_path / "file"
    file.write_text("x", encoding="utf-8")
    site = ("--site", "workshop-pit")
    bytes_file = tmp_path / "bytes.csv"
    bytes_file.write_bytes(b"# netlist: reference\n\xff\n")
    other = tmp_path / "other.csv"
    other.write_text(write_csv(made["bare"].points), encoding="utf-8")
    strange = tmp_path / "strange.csv"
    strange.write_text("# netlist: mine\n", encoding="utf-8")
    huge = tmp_path / "huge.csv"
    huge.write_bytes(b" " * (wire.MAX_SHEET_BYTES + 1))
    for arguments, named in (
        ((), ("--site", "--check")),
        (site, ("--output",)),
        (("-o", tmp_path), ("--site",)),
        ((*site, "-o", file), ("this is a file",)),
        ((*site, "-o", tmp_path / "no" / "where"), ("does not exist",)),
        ((*site, "--wiring", "reference-12v", "-o", tmp_path), ("capacitor_run",)),
        ((*site, "--check", other, "-o", tmp_path), ("leave --output away",)),
        (("--check", tmp_path / "none.csv"), ("none.csv", "can't be read")),
        (("--check", tmp_path), ("can't be read",)),
        (("--check", file), ("--site or --wiring",)),
        (("--check", bytes_file), ("line 2", "0xff")),
        (("--check", huge), ("at most",)),
        (("--check", strange), ("mine",)),
        ((*site, "--check", other), ("bare", "make the sheet anew")),
    ):
        assert_one_sentence(said(capsys, *arguments), *named)
