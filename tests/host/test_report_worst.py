"""The worst runs in a report, the bare wiring beside it, and the report as PDF and anew."""

import json
import re
from functools import cache, partial
from pathlib import Path
from typing import Any

import pytest

from leafwinch.requirement_limits import R1_OFF_MS
from leafwinch_host.report import beside_bare
from leafwinch_host.report.case_plot import PLOT_COLOURS
from leafwinch_host.report.extras import complete
from leafwinch_host.report.made import paper
from leafwinch_host.report.prove_pdf import prove_pdf, sources
from leafwinch_host.report.prove_report import ProveReport, build, prove_html
from leafwinch_sim.campaign import prove
from leafwinch_sim.site import load_site
from leafwinch_wiring.netlist import load_netlist
from tests.host.command import assert_one_sentence, leafwinch
from tests.host.report_page import read_page

Captured = pytest.CaptureFixture[str]
DEFECTS = (
    "QA1.pole1:welded",
    "BG1:bracket",
    "board_hung",
    "MA1:short-welds-QA1",
    "rope_off_hook",
    "obstacle_above",
)
BARE_DEFECTS = ("BG1.path:welded", "SF1.raise_1:welded", "rope_parted")


@cache
def completed() -> dict[str, Any]:
    """Really prove a few defects, measure the worst runs, and prove a little of bare beside."""
    site, net = load_site("workshop-pit"), load_netlist("reference")
    result = prove(site, net, seed=1, workers=1, only=DEFECTS)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(beside_bare, "prove", partial(prove, only=BARE_DEFECTS))
        complete(result, site, net, workers=1)
    return result


@cache
def drawn() -> tuple[ProveReport, str]:
    """Play and draw the worst runs once."""
    site, net = load_site("workshop-pit"), load_netlist("reference")
    report = build(completed(), site, net)
    return report, prove_html(completed(), site, net, report)


def with_runs(count: int) -> dict[str, Any]:
    """Return the result with its first worst runs only, since drawing takes its time."""
    return {**completed(), "worst": completed()["worst"][:count]}


def test_every_worst_run_is_drawn_with_value_limit_and_command() -> None:
    result = completed()
    html = drawn()[1]
    page = read_page(html)
    assert page.open_tags == []
    assert {row["requirement"] for row in result["worst"]} == {
        f"R{number}" for number in range(1, 12)
    }
    for row in result["worst"]:
        shown = " ".join(page.texts[f"worst-{row['measure']}"].split())
        assert row["words"] in shown
        assert row["replay"] in shown
        assert f"worst of {row['runs_measured']} runs" in shown or row["runs_measured"] == 1
        if row["limit"] is not None:
            assert f"({row['limit_kind']} {row['limit']:g} {row['unit']})" in shown
    assert html.count('<svg class="case"') == len(result["worst"])
    ids = re.findall(r'\bid="([^"]+)"', html)
    assert len(ids) == len(set(ids)), "two drawings share an id"
    assert page.words.index("The three worst runs") < page.words.index("each other measure")


def test_the_drawings_follow_the_theme() -> None:
    html = drawn()[1]
    drawings = re.findall(r'<svg class="case".*?</svg>', html, flags=re.DOTALL)
    for drawing in drawings:
        bare_colours = re.findall(r"(?<!, )#[0-9a-f]{6}\b", drawing)
        assert bare_colours == [], "this colour would stay the same in the dark"
        for name in set(re.findall(r"--plot-(\w+),", drawing)):
            assert name in PLOT_COLOURS
    style = html[html.index("<style>") : html.index("</style>")]
    for name in PLOT_COLOURS:
        # The colours of the states by day are those in the drawing itself.
        assert style.count(f"--plot-{name}:") == (1 if name.startswith("state") else 2), name


def test_the_bare_wiring_stands_beside() -> None:
    result = completed()
    assert result["beside"]["wiring"] == "bare"
    assert result["beside"]["faults"] == len(BARE_DEFECTS)
    rows = {row.words: row for row in beside_bare.beside_rows(result)}
    alone = next(row for words, row in rows.items() if words.startswith("R6"))
    assert (alone.here, alone.bare) == ("0", "2")
    pause = next(row for words, row in rows.items() if words.startswith("R3"))
    assert (pause.here, pause.bare) == ("0", "-")
    assert beside_bare.prove_bare(load_site("workshop-pit"), load_netlist("bare"), 1, 1) is None


def test_common_causes_tell_how_their_runs_ended() -> None:
    result = completed()
    page = read_page(drawn()[1])
    rows = {row[1]: row for row in page.tables["common"][1:]}
    assert set(rows) == {"BG1:bracket", "MA1:short-welds-QA1"}
    for name, row in rows.items():
        own = [cell for cell in result["cells"] if cell["defect"] == name]
        assert sum(int(count) for count in re.findall(r" (\d+)", row[2])) == len(own)
        assert row[3].startswith(f"{max(cell['reaction_ms'] for cell in own)} ms")


def test_the_document_holds_what_the_page_holds() -> None:
    result = completed()
    site, net = load_site("workshop-pit"), load_netlist("reference")
    report = drawn()[0]
    parts = sources(report)
    data = json.loads(parts["data.json"])
    assert data["sentence"] == report.sentence
    assert [row["limit"] for row in data["requirements"]] == [
        row.limit for row in report.requirements
    ]
    named = [case["file"] for key in ("three", "others") for case in data[key]]
    assert len(named) == len(result["worst"])
    for name in (*named, *(block["file"] for block in data["blocks"])):
        assert parts[name].lstrip().startswith((b"<?xml", b"<svg"))
    first = paper(parts)
    assert first.startswith(b"%PDF-")
    assert len(first) > 50_000
    assert prove_pdf(result, site, net, report) == first, "the same report, the same bytes"


def test_every_tick_is_shown_where_it_was_done() -> None:
    result = {
        **with_runs(0),
        "every_tick": True,
        "ticks": 24_000,
        "branches_run": 1234,
        "branches_merged": 98_766,
        "seconds": 321.5,
        "versions": {**completed()["versions"], "build": "compiled"},
    }
    page = read_page(prove_html(result, load_site("workshop-pit"), load_netlist("reference")))
    words = " ".join(page.words.split())
    assert f"{len(DEFECTS)} single defects at every one of 24000 control ticks" in words
    for text in ("1234", "98766", "321.5", "compiled", "every control tick from its moment"):
        assert text in words


def test_report_makes_the_same_page_from_the_file(capsys: Captured, tmp_path: Path) -> None:
    source, html, pdf = tmp_path / "proof.json", tmp_path / "p.html", tmp_path / "p.pdf"
    source.write_text(json.dumps(with_runs(2)), encoding="utf-8")
    said = leafwinch(capsys, "report", str(source), "--html", str(html), "--pdf", str(pdf))
    assert said.code == 0, said.err
    expected = prove_html(with_runs(2), load_site("workshop-pit"), load_netlist("reference"))
    assert html.read_text(encoding="utf-8") == expected
    assert pdf.read_bytes().startswith(b"%PDF-")


@pytest.mark.parametrize(
    ("change", "named"),
    [
        ({"wiring": "bare"}, ("netlist hash", "new proof")),
        ({"site": "no-such-site"}, ("no-such-site",)),
        ({"versions": {"netlist": "0" * 64}}, ("netlist hash", "0000")),
    ],
)
def test_report_refuses_another_installation(
    capsys: Captured, tmp_path: Path, change: dict[str, Any], named: tuple[str, ...]
) -> None:
    source = tmp_path / "proof.json"
    source.write_text(json.dumps({**completed(), **change}), encoding="utf-8")
    said = leafwinch(capsys, "report", str(source), "--html", str(tmp_path / "p.html"))
    assert_one_sentence(said, *named)


@pytest.mark.parametrize("text", ["", "[1, 2]", '{"verdict": "holds"}', "no JSON at all"])
def test_report_refuses_what_is_no_proof(capsys: Captured, tmp_path: Path, text: str) -> None:
    source = tmp_path / "proof.json"
    source.write_text(text, encoding="utf-8")
    said = leafwinch(capsys, "report", str(source), "--html", str(tmp_path / "p.html"))
    assert_one_sentence(said, "proof.json", "allowed is")
    said = leafwinch(capsys, "report", str(source))
    assert_one_sentence(said, "nothing to write")


def test_a_run_on_beyond_its_limit_is_the_worst_run() -> None:
    site, net = load_site("workshop-pit"), load_netlist("bare")
    result = prove(site, net, seed=1, workers=1, only=("SF1.raise_1:welded",))
    complete(result, site, net, workers=1)
    assert result["beside"] is None
    run_on = next(row for row in result["worst"] if row["measure"] == "run_on")
    assert run_on["defect"] == "SF1.raise_1:welded"
    assert run_on["value"] > R1_OFF_MS
    words = {row["measure"] for row in result["worst"]}
    assert "hung" not in words, "there is no controller that could hang"
