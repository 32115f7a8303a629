"""Sites made wrong on purpose: each gets the right finding first, and its cure cures it."""

from collections.abc import Callable
from importlib import resources

import pytest

from leafwinch_sim.site import Site, parse_site
from leafwinch_sim.sizing.finding import LEVELS, ORDER
from leafwinch_sim.sizing.size import NO, Sizing, size_site
from leafwinch_wiring.netlist import load_netlist

PIT = (resources.files("leafwinch_sim") / "sites" / "workshop-pit.toml").read_text("utf-8")

Edit = tuple[str, str]


def pit(*edits: Edit) -> Site:
    text = PIT
    for old, new in edits:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return parse_site(text.encode(), "wrong.toml")


def sized(site: Site) -> Sizing:
    return size_site(site, load_netlist(site.wiring))


WEAK = ('line_pull = "1226 N"', 'line_pull = "600 N"')
SHORT = ('kicker_depth = "210 mm"', 'kicker_depth = "90 mm"')
BEYOND = (('at = "79 deg"', 'at = "84.5 deg"'), ('at = "82 deg"', 'at = "86 deg"'))
UPRIGHT = (
    ('place = "84 deg"', 'place = "88.8 deg"'),
    ('wall = "88 deg"', 'wall = "89.5 deg"'),
    ('at = "79 deg"', 'at = "87.4 deg"'),
    ('at = "82 deg"', 'at = "88.3 deg"'),
)
THIN = (
    ('diameter = "4 mm"', 'diameter = "2.5 mm"'),
    ('breaking_force = "10.25 kN"', 'breaking_force = "4.0 kN"'),
)
TRIPS = ('breaker = "B10"', 'breaker = "B2"')
DRIVEN_BACK = ("back_efficiency = -0.05", "back_efficiency = 0.5")
ONE_WAY = ("holds_one_direction = false", "holds_one_direction = true")

WRONG: dict[str, tuple[str, str, tuple[Edit, ...]]] = {
    "winch too small": ("winch_too_weak", "blocks", (WEAK,)),
    "kicker too short": ("kicker_too_short", "blocks", (SHORT,)),
    "end beyond the buffer": ("end_beyond_buffer", "blocks", BEYOND),
    "stands too upright": ("does_not_come_down", "blocks", UPRIGHT),
    "rope too thin": ("rope_too_thin", "blocks", THIN),
    "breaker trips at the start": ("breaker_trips", "blocks", (TRIPS,)),
    "back-drivable gear, no load brake": ("load_not_held", "blocks", (DRIVEN_BACK,)),
    "holds one winding direction": ("holds_one_way", "amend", (ONE_WAY,)),
}


@pytest.mark.parametrize("name", WRONG)
def test_the_right_finding_comes_first(name: str) -> None:
    code, level, edits = WRONG[name]
    sizing = sized(pit(*edits))
    first = sizing.findings[0]
    assert (first.code, first.level) == (code, level)
    assert (sizing.verdict == NO) == (level == "blocks")
    for text in (first.what, first.why, first.change):
        assert text.endswith((".", ").")), text
        assert "inf" not in text.split()
        assert "nan" not in text


def test_the_untouched_site_has_none_of_these() -> None:
    codes = {finding.code for finding in sized(pit()).findings}
    assert not codes & {code for code, _, _ in WRONG.values()}


def test_findings_come_worst_first() -> None:
    sizing = sized(pit(SHORT, DRIVEN_BACK, ONE_WAY, TRIPS))
    ranks = [(LEVELS.index(f.level), ORDER.index(f.code)) for f in sizing.findings]
    assert ranks == sorted(ranks)
    assert sizing.findings[0].code == "load_not_held"
    assert len(sizing.findings) >= 4


def _cure_kicker(sizing: Sizing) -> Edit:
    least = sizing.parts.pull.least_kicker_m
    assert least is not None
    return ('kicker_depth = "210 mm"', f'kicker_depth = "{least * 1000 + 1:.0f} mm"')


def _cure_rope(sizing: Sizing) -> Edit:
    rope = sizing.parts.rope
    needed = rope.breaking_n * rope.needed / rope.factor
    return ('breaking_force = "10.25 kN"', f'breaking_force = "{needed * 1.02 / 1000:.3f} kN"')


def _cure_breaker(sizing: Sizing) -> Edit:
    return ('breaker = "B10"', f'breaker = "{sizing.parts.supply.breaker}"')


@pytest.mark.parametrize(
    ("name", "cure"),
    [
        ("kicker too short", _cure_kicker),
        ("rope too thin", _cure_rope),
        ("breaker trips at the start", _cure_breaker),
    ],
)
def test_what_is_proposed_cures_it(name: str, cure: Callable[[Sizing], Edit]) -> None:
    code, _, edits = WRONG[name]
    old, new = cure(sized(pit(*edits)))
    others = tuple(edit for edit in edits if edit[0] != old)
    assert code not in {f.code for f in sized(pit(*others, (old, new))).findings}


@pytest.mark.parametrize("name", ["end beyond the buffer", "stands too upright"])
def test_proposed_places_are_good_places(name: str) -> None:
    code, _, edits = WRONG[name]
    sizing = sized(pit(*edits))
    places = {place.key: place for place in sizing.parts.places}
    moved = []
    for key, old in (("top_end", 'at = "79 deg"'), ("top_final", 'at = "82 deg"')):
        moved.append((old, f'at = "{places[key].proposed:.2f} deg"'))
    rest = tuple(edit for edit in edits if edit[0] not in {old for old, _ in moved})
    again = sized(pit(*rest, *moved))
    assert code not in {f.code for f in again.findings}
    assert all(place.good for place in again.parts.places if place.key.startswith("top"))


def test_a_flat_deck_without_a_kicker_cannot_be_lifted() -> None:
    sizing = sized(pit(('kicker_depth = "210 mm"', 'kicker_depth = "0 mm"')))
    assert sizing.findings[0].code == "kicker_too_short"
    assert "without end" in sizing.findings[0].what
    for finding in sizing.findings:
        for text in (finding.what, finding.why, finding.change):
            assert "inf" not in text.split()
            assert "nan" not in text.split()


def test_a_weak_anchor_leaves_no_room_for_a_trip() -> None:
    sizing = sized(pit(('anchor = "5 kN"', 'anchor = "1.0 kN"')))
    first = sizing.findings[0]
    assert first.code == "trip_window_empty"
    assert "anchor" in first.why
    assert "anchor" in first.change
    assert not sizing.parts.window.open


def test_too_little_rope_on_the_drum() -> None:
    sizing = sized(
        pit(
            ('turns_at_flat = "4 turn"', 'turns_at_flat = "2.2 turn"'),
            ('at = "3.6 turn"', 'at = "1.9 turn"'),
        )
    )
    codes = [finding.code for finding in sizing.findings]
    assert "rope_runs_out" in codes
    assert sizing.verdict == NO


def test_an_overloaded_cable() -> None:
    sizing = sized(pit(('breaker = "B10"', 'breaker = "B32"')))
    assert sizing.findings[0].code == "cable_too_thin"
    assert "mm2" in sizing.findings[0].change
