"""The circuit drawings hold what the netlist holds, once each, and can be read on paper.

What is drawn is read back from the SVG and compared with the netlist. How it must look comes
from outside: IEC 61082-1 (contacts at rest, references, connecting lines, from memory),
ISO 216 (A4), and letters of 7 points at least (common practice, no source).
"""

from collections import Counter
from functools import lru_cache
from itertools import pairwise
from pathlib import Path

import pytest

from leafwinch_wiring.drawing import Sheet, circuit_sheets
from leafwinch_wiring.drawing.texts import BOLD, crosses, overlap, text_width, wrap
from leafwinch_wiring.netlist import Netlist, load_netlist
from tests.wiring.drawing_reader import Box, Group, Page, Point, read_page, true_width

SHIPPED = ("reference", "reference-12v", "bare", "bare-12v")
POINT_MM = 25.4 / 72.0
SHAKE = 0.002
"""Coordinates are written to a thousandth of a millimetre."""

WIRING = Path(__file__).resolve().parents[2] / "wiring"
CAUTION = "Mains work by a licensed electrician; local code first. Not certified."


@lru_cache(maxsize=8)
def drawn(name: str) -> tuple[Netlist, list[Sheet], list[Page]]:
    net = load_netlist(name)
    sheets = circuit_sheets(net)
    return net, sheets, [read_page(sheet.svg) for sheet in sheets]


@pytest.fixture(params=SHIPPED)
def found(request: pytest.FixtureRequest) -> tuple[Netlist, list[Sheet], list[Page]]:
    return drawn(request.param)


Found = tuple[Netlist, list[Sheet], list[Page]]


def near(one: Point, other: Point) -> bool:
    return abs(one[0] - other[0]) < SHAKE and abs(one[1] - other[1]) < SHAKE


def names(pages: list[Page], key: str) -> list[str]:
    return sorted(name for page in pages for group in page.groups for name in group.names(key))


def check_content(net: Netlist, pages: list[Page]) -> None:
    """Every part, contact, load, winding, coil, input and terminal is drawn, and once."""
    parts = net.parts.values()
    assert {ref for page in pages for g in page.groups for ref in g.names("data-part")} == set(
        net.parts
    )
    assert names(pages, "data-contact") == sorted(net.element_names)
    assert names(pages, "data-load") == sorted(f"{p.ref}:{x.name}" for p in parts for x in p.loads)
    windings = sorted(f"{p.ref}:{x.name}" for p in parts for x in p.windings)
    assert names(pages, "data-winding") == windings
    assert names(pages, "data-coil") == sorted(p.ref for p in parts if p.coil is not None)
    inputs = [f"{p.ref}:{x.terminal}" for p in parts if p.board for x in p.board.inputs]
    assert names(pages, "data-input") == sorted(inputs)
    where = [name for page in pages for name in page.terminals]
    assert sorted(where) == sorted(f"{p.ref}:{t}" for p in parts for t in p.terminals)


def check_wires(net: Netlist, pages: list[Page]) -> None:
    """Each wire is one line from terminal to terminal, or a stub at each of its two ends."""
    lines: dict[str, list[tuple[str, str, str]]] = {}
    for page in pages:
        for wire in page.wires:
            lines.setdefault(wire.mark, []).append((wire.a, wire.b, wire.end))
            start = wire.end or wire.a
            assert any(near(wire.points[0], spot) for spot in page.terminals[start]), wire
            if not wire.end:
                assert any(near(wire.points[-1], spot) for spot in page.terminals[wire.b]), wire
    wanted = {wire.mark: (wire.a, wire.b) for wire in net.wires}
    assert set(lines) == set(wanted)
    for mark, (a, b) in wanted.items():
        assert sorted(lines[mark]) in ([(a, b, "")], sorted([(a, b, a), (a, b, b)])), mark


def test_drawing_holds_what_the_netlist_holds(found: Found) -> None:
    net, _, pages = found
    check_content(net, pages)


def test_wires_join_the_terminals_they_name(found: Found) -> None:
    net, _, pages = found
    check_wires(net, pages)


def test_every_wire_bears_its_mark_beside_its_line(found: Found) -> None:
    _, _, pages = found
    for page in pages:
        for wire in page.wires:
            texts = [text for text in page.texts if text.text.split()[0] == wire.mark]
            assert any(distance(text.box, wire.points) < 1.5 for text in texts), wire.mark


def distance(box: Box, points: list[Point]) -> float:
    """Gap in mm between a rectangle and a line of level and upright stretches."""
    best = 1e9
    for (x0, y0), (x1, y1) in pairwise(points):
        dx = max(box[0] - max(x0, x1), min(x0, x1) - box[2], 0.0)
        dy = max(box[1] - max(y0, y1), min(y0, y1) - box[3], 0.0)
        best = min(best, max(dx, dy))
    return best


def check_layout(pages: list[Page]) -> None:
    """No text touches another or a line, none is too small, and all lies on the paper."""
    for page in pages:
        for index, text in enumerate(page.texts):
            left, top, right, low = text.box
            assert 0.0 < left < right < page.size[0], text
            assert 0.0 < top < low < page.size[1], text
            assert text.size >= 7.0 * POINT_MM, text
            for other in page.texts[index + 1 :]:
                assert not overlap(text.box, other.box), (text.text, other.text)
            for segment in page.segments:
                assert not crosses(text.box, segment), (text.text, segment)
        for x0, y0, x1, y1 in page.segments:
            assert min(x0, x1) > 0.0, (x0, y0)
            assert max(x0, x1) < page.size[0], (x1, y1)
            assert min(y0, y1) > 0.0, (x0, y0)
            assert max(y0, y1) < page.size[1], (x1, y1)


def test_texts_stay_apart_and_clear_of_lines(found: Found) -> None:
    check_layout(found[2])


def test_sheets_are_a4_on_their_side(found: Found) -> None:
    for page in found[2]:
        assert page.size == (297.0, 210.0)  # ISO 216


def test_wires_never_share_a_line_nor_pass_a_foreign_terminal(found: Found) -> None:
    for page in found[2]:
        steps: Counter[tuple[float, float, str]] = Counter()
        for wire in page.wires:
            mine = [spot for name in (wire.a, wire.b) for spot in page.terminals.get(name, [])]
            for spot in walk(wire.points):
                steps[spot] += 1
                foreign = [
                    name
                    for name, spots in page.terminals.items()
                    if any(near(spot[:2], place) for place in spots)
                    and not any(near(spot[:2], place) for place in mine)
                ]
                assert not foreign, (wire.mark, foreign)
        assert max(steps.values(), default=1) == 1


def walk(points: list[Point]) -> list[tuple[float, float, str]]:
    """Middle of every half step of the grid along a line, and which way it runs there."""
    found = []
    for (x0, y0), (x1, y1) in pairwise(points):
        count = round((abs(x1 - x0) + abs(y1 - y0)) / 1.25)
        for index in range(count):
            part = (index + 0.5) / count
            spot = (round(x0 + (x1 - x0) * part, 2), round(y0 + (y1 - y0) * part, 2))
            found.append((*spot, "level" if y0 == y1 else "upright"))
    return found


def test_terminal_numbers_stand_beside_their_terminals(found: Found) -> None:
    for page in found[2]:
        for terminal, spots in page.terminals.items():
            number = terminal.split(":")[1]
            beside = [
                text
                for text in page.texts
                if text.text in (number, terminal) and distance(text.box, spots * 2) < 4.0
            ]
            assert beside, terminal


def place_of(pages: list[Page], name: str) -> str:
    """sheet.path of a terminal, or of the coil of a part, from where it is drawn."""
    for number, page in enumerate(pages, start=1):
        if name in page.terminals:
            return f"{number}.{page.path_at(page.terminals[name][0][0])}"
    for number, page in enumerate(pages, start=1):
        for group in page.groups:
            if group.data.get("data-coil") == name:
                return f"{number}.{page.path_at(group.lines[0][0][0])}"
    raise AssertionError(f"{name} is not drawn")


def test_cross_references_point_to_where_the_thing_is(found: Found) -> None:
    net, _, pages = found
    for page in pages:
        for text in page.texts:
            if "data-xref" in text.data:
                aim = text.data["data-xref"]
                said = text.text.split("/")[-1]
                assert said == place_of(pages, aim), text.text
                if "data-ref-mark" in text.data:
                    assert text.text.startswith(f"{text.data['data-ref-mark']} {aim} /")
    for number, page in enumerate(pages, start=1):
        for group in page.groups:
            part = net.parts[group.data["data-part"]]
            if part.coil is not None and group.names("data-contact"):
                aims = [t for t in page.texts if t.data.get("data-xref") == part.ref]
                assert aims, (number, group.data)


def test_every_contactor_has_its_table_of_contacts(found: Found) -> None:
    net, _, pages = found
    for part in net.parts.values():
        if part.kind == "contactor":
            rows = [
                text
                for page in pages
                for text in page.texts
                if text.data.get("data-table") == part.ref
            ]
            aims = sorted(text.data["data-xref"] for text in rows)
            assert aims == sorted(f"{part.ref}:{c.terminals[0]}" for c in part.contacts)


def joined(group: Group, start: Point, end: Point) -> bool:
    """Whether lines that share corners lead from one point to another."""
    reached, queue = [start], [start]
    while queue:
        here = queue.pop()
        for line in group.lines:
            if any(near(corner, here) for corner in line):
                fresh = [c for c in line if not any(near(c, old) for old in reached)]
                reached += fresh
                queue += fresh
    return any(near(end, corner) for corner in reached)


def test_contacts_are_drawn_unoperated(found: Found) -> None:
    # IEC 61082-1: devices are shown unoperated and without power, so a break contact is drawn
    # closed and a make contact open. Switching devices of the supply are shown open.
    net, _, pages = found
    checked = 0
    for page in pages:
        for group in page.groups:
            kind = net.parts[group.data["data-part"]].kind
            if group.data["data-kind"] not in ("contact", "poles", "driver"):
                continue
            for name in group.names("data-contact"):
                element = net.elements[net.bit(name)]
                start, end = page.terminals[element.a][0], page.terminals[element.b][0]
                shut = element.closed_at_rest and kind not in ("isolator", "breaker")
                assert joined(group, start, end) == shut, name
                checked += 1
    assert checked > 8


def test_title_block_names_netlist_hash_sheet_and_caution(found: Found) -> None:
    net, sheets, pages = found
    for number, (sheet, page) in enumerate(zip(sheets, pages, strict=True), start=1):
        texts = {text.text for text in page.texts}
        wanted = {net.title, CAUTION, f"netlist {net.name}", f"hash {net.content_hash[:12]}"}
        assert wanted | {f"sheet {number} of {len(sheets)}", sheet.title} <= texts
        assert sheet.name == f"{net.name}-circuit-{number}"


def test_drawings_are_the_same_every_time() -> None:
    net = load_netlist("bare-12v")
    assert circuit_sheets(net) == circuit_sheets(net)


def test_estimated_widths_cover_the_true_ones(found: Found) -> None:
    # DejaVu Sans is the widest of the typefaces a drawing asks for.
    for page in found[2]:
        for text in page.texts:
            assert text_width(text.text, 1.0) >= true_width(text.text, False), text.text
            assert text_width(text.text, BOLD) >= true_width(text.text, True), text.text


def test_lines_of_text_keep_a_unit_with_its_number() -> None:
    room = text_width("control fuse, 1")
    assert wrap("control fuse, 1 A", room) == ["control fuse,", "1 A"]


def rewired(tmp_path: Path, changes: dict[str, str]) -> list[Page]:
    """The sheets of the reference with some lines of its 24 V control changed, all checked."""
    control = (WIRING / "control-24v.toml").read_text(encoding="utf-8")
    for old, new in changes.items():
        assert control.count(old) == 1
        control = control.replace(old, new)
    (tmp_path / "control-24v.toml").write_text(control, encoding="utf-8")
    main = (WIRING / "reference.toml").read_text(encoding="utf-8")
    (tmp_path / "other.toml").write_text(main, encoding="utf-8")
    net = load_netlist(tmp_path / "other.toml")
    pages = [read_page(sheet.svg) for sheet in circuit_sheets(net)]
    check_content(net, pages)
    check_wires(net, pages)
    check_layout(pages)
    return pages


STAR = {
    '["XD1:3", "XD1:11", "5"]': '["XD1:1", "XD1:11", "5"]',
    '["XD1:11", "XD1:18", "6"]': '["XD1:1", "XD1:18", "6"]',
    '["XD1:18", "XD1:21", "7"]': '["XD1:1", "XD1:21", "7"]',
    '["XD1:21", "XD1:24", "8"]': '["XD1:1", "XD1:24", "8"]',
}


@pytest.mark.parametrize("count", [1, 4])
def test_many_wires_on_one_terminal_can_be_drawn(tmp_path: Path, count: int) -> None:
    pages = rewired(tmp_path, dict(list(STAR.items())[:count]))
    spots = [page.terminals["XD1:1"] for page in pages if "XD1:1" in page.terminals]
    # Four wires meet at a circle; each circle more on the bar takes two.
    assert [len(found) for found in spots] == [1 + (count + 1) // 2]


@pytest.mark.parametrize("count", [4, 12])
def test_a_long_chain_takes_further_columns(tmp_path: Path, count: int) -> None:
    parts, wires, last = "", "", "XD1:6"
    for number in range(count):
        ref = f"SF{10 + number}"
        parts += f"""[[part]]
ref = "{ref}"
kind = "stop_button"
at = "box"
text = "one more stop"
terminals = ["1", "2"]
contacts = [{{ name = "path", type = "nc", terminals = ["1", "2"], acts = "press" }}]

"""
        wires += f'["{last}", "{ref}:1", "{200 + number}"],\n'
        last = f"{ref}:2"
    head = '[[part]]\nref = "SF2"'
    old = '["XD1:6", "XD1:5", "21"]'
    pages = rewired(tmp_path, {head: parts + head, old: f'{wires}["{last}", "XD1:5", "21"]'})
    paths = {place_of(pages, f"SF{10 + number}:1") for number in range(count)}
    assert len(paths) >= 1 + count // 8


def test_a_changeover_contact_can_be_drawn(tmp_path: Path) -> None:
    wire = '["SF2:14", "XD1:12", "W3.7"]'
    make = (
        '{ name = "reset", type = "no", terminals = ["13", "14"], acts = "press", wetting_ma = 5 }'
    )
    rest = make.replace('"reset", type = "no"', '"rest", type = "nc"').replace('"14"', '"12"')
    ends = 'terminals = ["13", "14"]\ncontacts = [\n  '
    pages = rewired(
        tmp_path,
        {
            wire: f'{wire},\n  ["SF2:12", "SF2:14", "62"]',
            f"{ends}{make}": ends.replace('["13', '["12", "13') + f"{make},\n  {rest}",
        },
    )
    assert any("rest nc 13/12" in text.text for page in pages for text in page.texts)
