"""The report of a sizing: it tells everything that was found, and its drawing is to scale."""

import json
import math
import re
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from itertools import combinations, pairwise
from typing import Any

import pytest
from matplotlib.figure import Figure
from matplotlib.text import Text

from leafwinch.setting_texts import SETTING_MEANINGS
from leafwinch.settings_schema import SETTING_NAMES
from leafwinch_host.report import end_drawing, size_plots
from leafwinch_host.report.made import paper
from leafwinch_host.report.size_pdf import size_pdf, sources
from leafwinch_host.report.size_report import SizeReport, build, size_html
from leafwinch_host.report.supply_table import supply_table
from leafwinch_sim.plant_parts import mechanism_of
from leafwinch_sim.site import load_site
from leafwinch_sim.site_schema import Site
from leafwinch_sim.sizing.finding import LEVEL_WORDS
from leafwinch_sim.sizing.force_part import CLEARLY
from leafwinch_sim.sizing.size import SENTENCES, Sizing, size_site
from leafwinch_wiring.netlist import load_netlist
from tests.host.report_page import Page, read_page

DEMOS = ("workshop-pit", "boat-slip")


def _deck(site: Site, **changes: Any) -> Site:
    return site.model_copy(update={"deck": site.deck.model_copy(update=changes)})


def no_kicker(site: Site) -> Site:
    """The flat deck is then a dead centre, and the pull has no end."""
    return _deck(site, kicker_depth=0.0)


def heavy(site: Site) -> Site:
    """Leaves of 140 kg leave hardly any room for a trip."""
    leaf_a, leaf_b = (
        leaf.model_copy(update={"mass": 140.0}) for leaf in (site.deck.leaf_a, site.deck.leaf_b)
    )
    return _deck(site, leaf_a=leaf_a, leaf_b=leaf_b)


def uneven(site: Site) -> Site:
    """Leaf B longer, a long kicker."""
    leaf_b = site.deck.leaf_b.model_copy(update={"length": 1.6, "centre": 0.8})
    return _deck(site, leaf_b=leaf_b, kicker_depth=0.6)


def misplaced(site: Site) -> Site:
    """The top end hard by its final, the bottom final beyond the dead wraps."""
    limits = site.limits
    moved = {
        "top_end": limits.top_end.model_copy(update={"at": 81.9}),
        "bottom_final": limits.bottom_final.model_copy(update={"at": 1.9}),
    }
    return site.model_copy(update={"limits": limits.model_copy(update=moved)})


def by_turns(site: Site) -> Site:
    """The top final counts turns of the drum."""
    counted = {"senses": "drum_turns", "at": 29.5, "reset_differential": 0.2}
    final = site.limits.top_final.model_copy(update=counted)
    limits = site.limits.model_copy(update={"top_final": final})
    return site.model_copy(update={"limits": limits})


def untold(site: Site) -> Site:
    """Only what the bench needs."""
    cut = {
        "nameplate": None,
        "sheaves": None,
        "supply": site.supply.model_copy(update={"cable": None}),
        "strength": type(site.strength)(),
    }
    return site.model_copy(update=cut)


def as_shipped(site: Site) -> Site:
    """Nothing changed."""
    return site


CASES: tuple[tuple[str, Callable[[Site], Site]], ...] = (
    *((name, as_shipped) for name in DEMOS),
    *((name, no_kicker) for name in DEMOS),
    *(("workshop-pit", change) for change in (heavy, uneven, misplaced, by_turns, untold)),
)
CASE_NAMES = [f"{name}-{change.__name__}" for name, change in CASES]
every_case = pytest.mark.parametrize(("name", "change"), CASES, ids=CASE_NAMES)
both_demos = pytest.mark.parametrize("name", DEMOS)


@cache
def sized(name: str, change: Callable[[Site], Site]) -> Sizing:
    """Really size it."""
    site = change(load_site(name))
    return size_site(site, load_netlist(site.wiring))


@cache
def report_of(name: str, change: Callable[[Site], Site] = as_shipped) -> SizeReport:
    """Make the texts and drawings."""
    return build(sized(name, change))


@cache
def html_of(name: str, change: Callable[[Site], Site] = as_shipped) -> str:
    """Make the page."""
    return size_html(sized(name, change), report_of(name, change))


@cache
def page_of(name: str, change: Callable[[Site], Site] = as_shipped) -> Page:
    """Read the page as a reader does."""
    return read_page(html_of(name, change))


@cache
def parts_of(name: str, change: Callable[[Site], Site] = as_shipped) -> dict[str, bytes]:
    """Make the files of the paper."""
    return sources(report_of(name, change))


@cache
def pdf_of(name: str, change: Callable[[Site], Site] = as_shipped) -> bytes:
    """Set the paper."""
    return bytes(paper(parts_of(name, change)))


def plain(text: str) -> str:
    """Return a text with every stretch of blanks as one."""
    return " ".join(text.split())


@every_case
def test_the_page_is_sound_and_stands_alone(name: str, change: Callable[[Site], Site]) -> None:
    html, page = html_of(name, change), page_of(name, change)
    assert page.open_tags == []
    assert all(link.startswith("#") for link in page.links), "nothing is loaded from elsewhere"
    assert "@import" not in html
    assert re.search(r"url\((?!#)", html) is None, "a drawing refers to its own parts only"
    assert "<script" not in html
    assert "prefers-color-scheme: dark" in html
    assert "@media print" in html
    assert 'name="viewport"' in html
    ids = re.findall(r'\bid="([^"]+)"', html)
    assert len(ids) == len(set(ids)), "an id is used once"


@every_case
def test_every_finding_is_told_in_full_on_page_and_paper(
    name: str, change: Callable[[Site], Site]
) -> None:
    sizing, page = sized(name, change), page_of(name, change)
    data = json.loads(parts_of(name, change)["data.json"])
    words = plain(page.words)
    assert SENTENCES[sizing.verdict] in words
    assert data["sentence"] == SENTENCES[sizing.verdict]
    last = words.index("What was found")
    for finding, written in zip(sizing.findings, data["findings"], strict=True):
        for text in (finding.what, finding.why, finding.change):
            assert plain(text) in words
            assert text in written.values()
        assert LEVEL_WORDS[finding.level] in plain(page.texts["findings"]).lower()
        assert words.index(plain(finding.what)) > last, "worst first"
        last = words.index(plain(finding.what))


@both_demos
def test_the_same_sizing_gives_the_same_bytes(name: str) -> None:
    again = size_site(load_site(name), load_netlist(load_site(name).wiring))
    report = build(again)
    assert size_html(again, report) == html_of(name)
    assert size_pdf(again, report) == pdf_of(name)


@every_case
def test_the_paper_can_be_set(name: str, change: Callable[[Site], Site]) -> None:
    pdf = pdf_of(name, change)
    assert pdf.startswith(b"%PDF-")
    assert b"%%EOF" in pdf[-64:]


@both_demos
def test_every_setting_is_listed_with_its_meaning(name: str) -> None:
    sizing = sized(name, as_shipped)
    rows = page_of(name).tables["settings"][1:]
    assert [row[0] for row in rows] == list(SETTING_NAMES)
    for row, setting in zip(rows, sizing.parts.settings, strict=True):
        assert row[1] == str(setting.value)
        assert row[4] == SETTING_MEANINGS[setting.name]
        assert row[5] == setting.why


@every_case
def test_every_judged_number_names_its_source(name: str, change: Callable[[Site], Site]) -> None:
    tables = page_of(name, change).tables
    for key in ("pull", "start", "rope", "forces", "supply", "duty", "obstacle"):
        head, *rows = tables[key]
        assert head[1:] == ["Value", "Asked", "Result", "Source"]
        for row in rows:
            assert all(row), f"{key}: {row}"
            assert row[3] in ("✓ holds", "✕ falls short", "not judged", "–")


def test_numbers_of_standards_stand_beside_their_standard() -> None:
    """The limits themselves, as published.

    EN 12453: 400 N, then 150 N; 100 mm after the release. IEC 60364-5-52: 5 %. Machinery
    Directive, annex I, 4.1.2.4: 5 (from memory). OSHA 1910.179(h)(2)(iii): two wraps (from memory).
    """
    tables = page_of("workshop-pit").tables
    obstacle = tables["obstacle"][1]
    assert (obstacle[2], obstacle[4]) == ("at most 400 N at first, 150 N after that", "EN 12453")
    release = tables["stops"][1]
    assert release[6].startswith("100 mm: EN 12453")
    rope = {row[0]: row for row in tables["rope"]}
    factor = rope["design factor, end fittings and hardest pull"]
    assert factor[2] == "at least 5 times"
    assert "Machinery Directive" in factor[4]
    assert "OSHA 1910.179" in rope["turns left after the bottom final"][4]
    running = next(row for row in tables["supply"] if row[0] == "voltage drop while running")
    assert plain(running[2]) == "at most 5 %"
    assert "IEC 60364-5-52" in running[4]


def test_rows_by_iec_60898_iso_4309_and_nema() -> None:
    """A B10 needs 1.13 times 10 A to trip within an hour; the motor stands still with 7.6 A.

    ISO 4309: a 7x19 is thrown away at 5 and 10 broken wires over 6 and 30 diameters of 4 mm.
    NEMA MG 1: half a horsepower, letter K, 230 V: 17.4 to 19.5 A with the rotor locked.
    """
    tables = page_of("workshop-pit").tables
    supply = {row[0]: row for row in tables["supply"]}
    assert "no trip within an hour" in plain(supply["the motor standing still and fed"][1])
    rope = {row[0]: row for row in tables["rope"]}
    wires = plain(rope["thrown away at broken wires that show"][1])
    assert wires == "5 over 24 mm, 10 over 120 mm, or any strand"
    site = load_site("workshop-pit")
    assert site.nameplate is not None
    plate = site.nameplate.model_copy(update={"power": 372.85, "code_letter": "K"})
    parts = sized("workshop-pit", as_shipped).parts
    lettered = replace(parts.worked, site=site.model_copy(update={"nameplate": plate}))
    rows = supply_table(replace(parts, worked=lettered)).rows
    assert any("letter K: 17.4 to 19.5" in plain(cell) for row in rows for cell in row.cells)


@pytest.mark.parametrize("name", DEMOS)
def test_cautions_assumptions_and_origin(name: str) -> None:
    words = plain(page_of(name).words)
    for text in (
        "Crushing",
        "Open edge",
        "Reaching under",
        "Rope failure",
        "licensed electrician",
        "Local codes",
        "certifies nothing",
        "ever measured on a physical board",
        "Not judged",
        "Values that no standard gives",
        CLEARLY,
    ):
        assert text in words
    assert ("Drowning" in words) == (name == "boat-slip")
    net = load_netlist(load_site(name).wiring)
    origin = page_of(name).texts["origin"]
    assert net.content_hash in origin
    assert re.search(r"site SHA-256\s*[0-9a-f]{64}", origin)


def test_hostile_text_stays_text() -> None:
    nasty = '<img src="x" onerror="y">&'
    site = load_site("workshop-pit").model_copy(update={"summary": nasty})
    html = size_html(size_site(site, load_netlist(site.wiring)))
    assert "<img" not in html
    assert nasty in read_page(html).words


@every_case
def test_no_number_is_written_as_infinite(name: str, change: Callable[[Site], Site]) -> None:
    """Of what this report writes itself; the words of a finding are not its own."""
    report = report_of(name, change)
    cells = [cell for table in report.tables.values() for row in table.rows for cell in row.cells]
    cells += [words for tile in report.tiles for words in (tile.value, tile.note)]
    cells += [*report.window, *report.bands, *report.assumed]
    for cell in cells:
        assert not re.search(r"\b(inf|nan)\b", cell), cell


@both_demos
def test_without_a_kicker_the_pull_is_said_to_have_no_end(name: str) -> None:
    report = report_of(name, no_kicker)
    assert report.verdict == "no"
    assert report.tiles[0].value == "without end"
    assert report.tables["pull"].rows[0].cells[1] == "without end"


def test_what_is_not_told_is_not_judged() -> None:
    tables = page_of("workshop-pit", untold).tables
    assert {row[0]: row[3] for row in tables["pull"]}["reserve as the file says"] == "not judged"
    assert {row[0]: row[3] for row in tables["forces"]}["wall hinge"] == "not judged"
    assert {row[0]: row[3] for row in tables["supply"]}["the cable"] == "not judged"


@every_case
def test_plots_name_their_axes_with_units(name: str, change: Callable[[Site], Site]) -> None:
    drawings = report_of(name, change).drawings
    for key in ("pull", "starting", "current", "overruns", "bands"):
        named = [axes.get_xlabel() for axes in drawings[key].figure.axes]
        named = [words for words in named if words]
        assert named, key
        for words in named:
            assert re.search(r", (N m.*|N|A|s|°|times|mm|%)$|\bs after it$", words), words
    for key in ("pull", "current"):
        assert re.search(r", [NA]$", drawings[key].figure.axes[0].get_ylabel())


def _texts(figure: Figure) -> list[Text]:
    found = [text for axes in figure.axes for text in axes.texts]
    return [text for text in found if text.get_visible() and text.get_text()]


@every_case
def test_no_two_labels_overlap(name: str, change: Callable[[Site], Site]) -> None:
    """Sizes are those of DejaVu Sans, one of the widest faces a reader may have."""
    for drawing in report_of(name, change).drawings.values():
        figure = drawing.figure
        figure.draw_without_rendering()
        boxes = [(text.get_text(), text.get_window_extent()) for text in _texts(figure)]
        for (first, one), (second, other) in combinations(boxes, 2):
            across = min(one.x1, other.x1) - max(one.x0, other.x0)
            up = min(one.y1, other.y1) - max(one.y0, other.y0)
            # Half a point, since the boxes have some air around their letters.
            assert min(across, up) < 0.7, f"{drawing.name}: {first!r} over {second!r}"
        page = figure.bbox
        for words, box in boxes:
            across, up = (box.x0, page.x1 - box.x1), (box.y0, page.y1 - box.y1)
            assert min(*across, *up) >= -1.0, f"{drawing.name}: {words!r} cut off"


def _silhouettes(svg: str) -> dict[str, list[tuple[float, float]]]:
    """Read the corners of each silhouette back from the drawing, in its own units."""
    found = {}
    for name, path in re.findall(r'id="ends-silhouette-(\w+)">\s*<path d="([^"]+)"', svg):
        numbers = [float(word) for word in re.findall(r"-?\d+(?:\.\d+)?", path)]
        found[name] = list(zip(numbers[::2], numbers[1::2], strict=True))
    return found


@every_case
def test_the_drawing_is_to_scale(name: str, change: Callable[[Site], Site]) -> None:
    """Corners within half a unit of where the law of cosines puts them.

    For two leaves a and b with leaf A at an angle the free end lies at
    a cos(angle) + sqrt(b^2 - a^2 sin^2(angle)), textbook geometry of a slider crank.
    """
    sizing = sized(name, change)
    parts = sizing.parts
    site = parts.worked.site
    svg = str(report_of(name, change).drawings["ends"].page_svg())
    found = _silhouettes(svg)
    angles = dict(end_drawing.silhouettes(parts))
    assert set(found) == set(angles) == {"flat", "top_end", "top_final", "buffer"}
    a, b = site.deck.leaf_a.length, site.deck.leaf_b.length
    hinge_x, hinge_y = found["flat"][0]
    scale = (found["flat"][2][0] - hinge_x) / (a + b)
    for key, angle_deg in angles.items():
        angle = math.radians(angle_deg)
        free = a * math.cos(angle) + math.sqrt(b * b - (a * math.sin(angle)) ** 2)
        wanted = ((0.0, 0.0), (a * math.cos(angle), a * math.sin(angle)), (free, 0.0))
        assert len(found[key]) == 3
        for (x, y), (right, up) in zip(found[key], wanted, strict=True):
            assert x == pytest.approx(hinge_x + scale * right, abs=0.5)
            assert y == pytest.approx(hinge_y - scale * up, abs=0.5)
        mechanism = mechanism_of(site)
        mechanism.update(angle)
        assert found[key][2][0] == pytest.approx(hinge_x + scale * mechanism.free_end_m, abs=0.5)


@every_case
def test_the_drawing_names_every_limit(name: str, change: Callable[[Site], Site]) -> None:
    parts = sized(name, change).parts
    words = [text.get_text() for text in _texts(report_of(name, change).drawings["ends"].figure)]
    whole = "\n".join(words)
    for place in parts.places:
        assert any(line.startswith(f"{place.part} ") for line in words)
        assert f"{place.overrun_rope_mm:.0f} mm of rope" in whole
        assert ("(wrong)" in whole) or place.good


def _luminance(colour: str) -> float:
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_words_in_plots_can_be_read_in_both_themes(theme: str) -> None:
    """Contrast of at least 4.5 to 1, WCAG 2.1, 1.4.3."""
    style = html_of("workshop-pit").split("</style>")[0]
    blocks = re.findall(r"(@media[^{]*\{\s*)?:root \{([^}]*)\}", style)
    colours: dict[str, str] = {}
    for media, block in blocks:
        if "print" in media or ("dark" in media and theme == "light"):
            continue
        colours.update(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", block))
    paper = _luminance(colours["card"])
    for name in ("ink", "rope", "angle", "trip", "mark"):
        letters = _luminance(colours[f"plot-{name}"])
        contrast = (max(paper, letters) + 0.05) / (min(paper, letters) + 0.05)
        assert contrast >= 4.5, f"{name}: {contrast:.1f}"


def test_silhouettes_can_be_told_apart_without_colour() -> None:
    """They differ by lightness alone: each step at least 1.3 to 1, common practice, no source."""
    steps = [_luminance(tone) + 0.05 for tone in end_drawing.TONES]
    assert steps == sorted(steps, reverse=True)
    assert all(light / dark > 1.3 for light, dark in pairwise(steps))


def test_levels_close_together_keep_their_words_apart() -> None:
    near = [(1.0, "a", ""), (1.01, "b", ""), (1.02, "c", ""), (5.0, "d", "")]
    places = [at for at, _, _ in size_plots.spread_out(near, 0.2)]
    assert places == pytest.approx([1.0, 1.2, 1.4, 5.0])
