"""The report of a proof: everything the result says can be read back from the page."""

import re
from collections import Counter
from functools import cache
from typing import Any

import pytest

from leafwinch.requirement_limits import REQUIREMENTS
from leafwinch_host.report.prove_report import prove_html
from leafwinch_host.report.verdicts import BY_NAME, VERDICTS
from leafwinch_sim.campaign import prove
from leafwinch_sim.site import load_site
from leafwinch_wiring.netlist import load_netlist
from tests.host.report_page import Page, read_page

PIT_DEFECTS = (
    "BG1.path:welded",
    "SF0.path:welded",
    "QA0.mirror:stuck-open",
    "rope_parted",
    "control_tied_raise",
)
BARE_DEFECTS = ("BG1.path:welded", "bridge:W3.1-W3.2", "rope_parted")


@cache
def proof(site_name: str, wiring: str, defects: tuple[str, ...]) -> tuple[dict[str, Any], str]:
    """Really prove a few defects and make the report."""
    site, net = load_site(site_name), load_netlist(wiring)
    result = prove(site, net, seed=1, workers=1, only=defects)
    return result, prove_html(result, site, net)


def reference() -> tuple[dict[str, Any], str]:
    return proof("workshop-pit", "reference", PIT_DEFECTS)


def bare() -> tuple[dict[str, Any], str]:
    return proof("workshop-pit", "bare", BARE_DEFECTS)


@cache
def page_of(html: str) -> Page:
    return read_page(html)


@pytest.mark.parametrize("which", [reference, bare])
def test_the_page_is_sound_and_stands_alone(which: Any) -> None:
    _, html = which()
    page = page_of(html)
    assert page.open_tags == []
    assert page.links, "the matrix refers to its own symbols"
    assert all(link.startswith("#") for link in page.links), "nothing is loaded from elsewhere"
    assert "@import" not in html
    assert re.search(r"url\((?!#)", html) is None, "a drawing refers to its own clip paths only"
    assert "<script" not in html
    assert "prefers-color-scheme: dark" in html
    assert "@media print" in html
    assert 'name="viewport"' in html


@pytest.mark.parametrize("which", [reference, bare])
def test_the_matrix_draws_every_run_with_its_verdict(which: Any) -> None:
    result, html = which()
    page = page_of(html)
    legend = {v.name for v in VERDICTS if f"({v.label}" in html or f"{v.label}</strong>" in html}
    drawn = Counter(verdict for verdict, _ in page.cells)
    # The legend draws one symbol for each verdict that occurs.
    drawn -= Counter(dict.fromkeys(legend, 1))
    assert drawn == Counter(cell["verdict"] for cell in result["cells"])
    assert set(page.labels) == {cell["defect"] for cell in result["cells"]}
    for cell in result["cells"]:
        assert cell["verdict"] in BY_NAME
        if cell["verdict"] == "broken":
            where = f"{cell['defect']} at {cell['moment'] + 1}: BROKEN"
            assert any(title.startswith(where) for _, title in page.cells)


@pytest.mark.parametrize("which", [reference, bare])
def test_the_verdict_comes_first_in_one_sentence(which: Any) -> None:
    result, html = which()
    page = page_of(html)
    sentence = " ".join(page.texts["verdict"].split())
    assert sentence.startswith(result["verdict"].capitalize())
    assert sentence.endswith(".")
    assert f"{result['faults']} single defects at {result['moments']} moments" in sentence
    assert page.words.index(sentence[:40]) < page.words.index("Before anyone goes near it")


def test_broken_runs_carry_the_command_that_repeats_them() -> None:
    result, html = bare()
    assert result["verdict"] == "broken"
    rows = page_of(html).tables["broken"][1:]
    expected = {(row["fault"], row["requirement"]) for row in result["broken"]}
    assert {(row[0], row[2].split(":")[0]) for row in rows} == expected
    replays = {row["replay"] for row in result["broken"]}
    for row in rows:
        assert row[4] in replays
        assert re.match(r"leafwinch run --site workshop-pit --wiring bare .* --defect \S+", row[4])


def test_every_requirement_has_its_limit_and_result() -> None:
    for result, html in (reference(), bare()):
        rows = page_of(html).tables["requirements"][1:]
        assert [row[0] for row in rows] == [name for name, _, _ in REQUIREMENTS]
        broken = {row["requirement"] for row in result["broken"]}
        for name, text, limit, _, outcome in rows:
            assert text
            assert limit
            if name in broken:
                assert "broken" in outcome or name == "R6"
            elif name not in ("R6", "R11"):
                assert "holds" in outcome
    pit = load_site("workshop-pit")
    limits = page_of(reference()[1]).tables["requirements"][2][2]
    assert f"{pit.buffer.rated_force / 1000:g} kN" in limits
    assert f"{1000 * pit.allowed.bottom_slack:g} mm" in limits


def test_latent_and_unpreventable_are_listed_with_what_to_do() -> None:
    result, html = reference()
    page = page_of(html)
    assert result["unpreventable"], "a parted rope is beyond any control"
    gravity = page.texts["unpreventable"]
    for row in result["unpreventable"]:
        for text in (row["fault"], row["caution"], row["inspection"], f"{row['drop_mm']:.0f} mm"):
            assert text in gravity
    listed = {
        row[0]: row
        for name, rows in page.tables.items()
        if name.startswith("latent-")
        for row in rows[1:]
    }
    assert set(listed) == {row["fault"] for row in result["latent"]}
    for row in result["latent"]:
        assert listed[row["fault"]][1:] == [row["cause"], row["reading"], "yes"]
        assert row["proof_test"].lower() in page.words.lower()
    for row in result["residual"]:
        assert row["text"] in page.texts["residual"]


@pytest.mark.parametrize("site", ["workshop-pit", "boat-slip"])
def test_cautions_assumptions_and_origin(site: str) -> None:
    wiring = load_site(site).wiring
    result, html = proof(site, wiring, ("SF0.path:welded",))
    words = " ".join(page_of(html).words.split())
    for hazard in (
        "Crushing",
        "People or goods on the deck",
        "A second person in the opening",
        "Open edge",
        "Reaching under",
        "Rope failure",
        "Mains",
        "licensed electrician",
        "Local codes",
        "certifies nothing",
        "ever measured on a physical board",
        "Not tested",
    ):
        assert hazard in words
    assert ("Drowning" in words) == (site == "boat-slip")
    origin = page_of(html).texts["origin"]
    assert load_netlist(wiring).content_hash in origin
    assert result["versions"]["leafwinch"] in origin
    assert "every-function" in origin


def test_hostile_text_stays_text() -> None:
    result, _ = bare()
    site, net = load_site("workshop-pit"), load_netlist("bare")
    nasty = '<img src="x" onerror="y">&'
    row = {**result["broken"][0], "text": nasty, "fault": nasty}
    html = prove_html({**result, "broken": [row]}, site, net)
    assert "<img" not in html
    assert nasty in read_page(html).tables["broken"][1][2]
