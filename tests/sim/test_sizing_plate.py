"""What a plate leaves out and tables of standards tell, and what parts say of each other."""

from dataclasses import replace
from importlib import resources

import pytest

from leafwinch_sim.site import Site, parse_site
from leafwinch_sim.sizing.finding import Finding
from leafwinch_sim.sizing.findings_drive import drive_findings
from leafwinch_sim.sizing.findings_lift import lift_findings
from leafwinch_sim.sizing.parts import Parts, parts_of
from leafwinch_sim.sizing.plate import (
    ON_PLATE,
    Rated,
    duty_percent,
    locked_rotor_band_a,
    rated_current,
    starts_per_hour,
)
from leafwinch_sim.sizing.worked import work_out
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import load_netlist

SITES = resources.files("leafwinch_sim") / "sites"
PIT = (SITES / "workshop-pit.toml").read_text("utf-8")
SLIP = (SITES / "boat-slip.toml").read_text("utf-8")
CURRENT, DUTY, STARTS = 'current = "1.9 A"\n', 'duty = "25 %"\n', "starts_per_hour = 60\n"

Edit = tuple[str, str]


def site_of(*edits: Edit, text: str = PIT) -> Site:
    for old, new in edits:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return parse_site(text.encode(), "plate.toml")


def parts(*edits: Edit) -> Parts:
    site = site_of(*edits)
    return parts_of(work_out(site, load_netlist(site.wiring)))


def found(of: Parts, code: str) -> Finding:
    both = [*drive_findings(of), *lift_findings(of)]
    return next(finding for finding in both if finding.code == code)


def codes(of: Parts) -> set[str]:
    return {finding.code for finding in drive_findings(of)}


@pytest.fixture(scope="module")
def shipped() -> Parts:
    return parts()


@pytest.mark.parametrize(("group", "duty", "starts"), [("M1", 15, 90), ("M5", 40, 240)])
def test_the_hoist_group_stands_for_duty_and_starts(group: str, duty: int, starts: int) -> None:
    """FEM 9.683, from memory."""
    site = site_of((DUTY, ""), (STARTS, ""), ('group = "M2"', f'group = "{group}"'))
    assert duty_percent(site).value == pytest.approx(duty)
    assert "FEM 9.683" in duty_percent(site).words
    allowed = starts_per_hour(site)
    assert allowed is not None
    assert allowed.value == starts


def test_the_plate_comes_before_its_group_and_nothing_stands_for_both() -> None:
    site = site_of()
    assert duty_percent(site).value == 25.0
    assert duty_percent(site).words == ON_PLATE
    bare = site_of((DUTY, ""), (STARTS, ""), ('group = "M2"\n', ""))
    assert duty_percent(bare).value == 25.0
    assert "no source" in duty_percent(bare).words
    assert starts_per_hour(bare) is None


@pytest.mark.parametrize(
    ("power", "voltage", "amps"),
    [
        ("0.5 hp", "230 V", 4.9),
        ("373 W", "240 V", 6.9),  # a little more than half a horsepower: the next line
        ("0.37 kW", "115 V", 9.8),
        ("0.37 kW", "200 V", None),
        ("3 kW", "230 V", None),
    ],
)
def test_power_stands_for_the_current(power: str, voltage: str, amps: float | None) -> None:
    """NEC table 430-148."""
    site = site_of(
        (CURRENT, f'power = "{power}"\n'), ('voltage = "230 V"', f'voltage = "{voltage}"')
    )
    rated = rated_current(site)
    assert (None if rated is None else rated.value) == amps


def test_power_of_a_battery_winch_is_in_no_table() -> None:
    site = site_of(('current = "14 A"\n', 'power = "150 W"\n'), text=SLIP)
    assert rated_current(site) is None


def test_a_code_letter_tells_the_current_of_a_locked_rotor() -> None:
    """NEMA MG 1: half a horsepower, letter K, 230 V: 17.4 to 19.5 A; without a letter none."""
    band = locked_rotor_band_a(site_of((DUTY, f'{DUTY}power = "0.5 hp"\ncode_letter = "K"\n')))
    assert band == pytest.approx((17.4, 19.5), abs=0.06)
    assert locked_rotor_band_a(site_of()) is None


@pytest.mark.parametrize("letter", ["I", "k", ""])
def test_a_letter_that_is_none_is_refused(letter: str) -> None:
    with pytest.raises(BadInput, match=r"code_letter is .*; allowed are A, B"):
        site_of((DUTY, f'{DUTY}power = "0.5 hp"\ncode_letter = "{letter}"\n'))


def test_a_letter_without_a_power_is_refused() -> None:
    with pytest.raises(BadInput, match="says nothing without power"):
        site_of((DUTY, f'{DUTY}code_letter = "K"\n'))


def test_a_stronger_start_by_the_letter_counts_everywhere() -> None:
    """Breaker, starting trip and sensor follow from 1.1 times 19.5 A."""
    of = parts((DUTY, f'{DUTY}power = "0.5 hp"\ncode_letter = "K"\n'))
    assert of.supply.start_a == pytest.approx(1.1 * 19.5, abs=0.1)
    assert "17.4 to 19.5 A" in found(of, "motor_differs").what
    settings = {row.name: row.value for row in of.settings}
    assert settings["inrush_trip_ma"] == pytest.approx(1250 * of.supply.start_a, rel=0.02)


def test_a_letter_that_fits_the_motor_is_no_finding(shipped: Parts) -> None:
    """The pit's motor takes 7.6 A: at 0.25 hp and 230 V that is 7 kVA/hp, letter H."""
    stall_a = float(shipped.worked.stalled.current_a)
    assert 6.3 * 0.25 * 1000 / 230 < stall_a < 7.09 * 0.25 * 1000 / 230
    fitting = site_of((DUTY, f'{DUTY}power = "0.25 hp"\ncode_letter = "H"\n'))
    of = replace(shipped, worked=replace(shipped.worked, site=fitting))
    assert "motor_differs" not in codes(of)


def test_too_short_a_duty_names_the_preferred_one_that_lasts(shipped: Parts) -> None:
    """IEC 60034-1, from memory: 15, 25, 40 and 60 %; 58 s of 600 s are 10 %."""
    of = replace(shipped, duty=replace(shipped.duty, duty_percent=5.0, in_one_go_s=30.0))
    assert "S3 15 %" in found(of, "travel_too_long").change
    slow = replace(shipped, duty=replace(shipped.duty, on_s=200.0))
    assert "S3 40 %" in found(slow, "travel_too_long").change
    slowest = replace(shipped, duty=replace(shipped.duty, on_s=500.0))
    assert "continuous duty" in found(slowest, "travel_too_long").change
    rare = replace(shipped.duty, cycles_per_hour=3.0, starts=Rated(6, ON_PLATE))
    assert "at least 8 starts" in found(replace(shipped, duty=rare), "travel_too_long").change


def test_a_motor_that_the_duty_would_overheat_is_named(shipped: Parts) -> None:
    assert 0.0 < shipped.duty.warmth < shipped.duty.warm
    assert "motor_warm" not in codes(shipped)
    hot = replace(shipped, duty=replace(shipped.duty, warmth=0.9))
    assert "90 %" in found(hot, "motor_warm").what


def test_a_start_heats_the_motor_too(shipped: Parts) -> None:
    """The RMS of start and travel lies between that of the travel and that of the start."""
    travels = [float(d.raising.rms_a) for d in shipped.worked.corners]
    assert max(travels) < shipped.duty.rms_a < shipped.worked.starting.rms_a
    assert shipped.worked.starting.rms_a <= shipped.worked.starting.peak_a


def test_wet_boards_of_heavy_timber_are_told_where_they_are_not_covered(shipped: Parts) -> None:
    """Larch ends below what is called heavy; spruce, 480 to 780 kg/m3, does not."""
    assert [leaf.covered for leaf in shipped.boards] == [True, True]
    site = site_of()
    built = site.deck.leaf_a.built
    assert built is not None
    spruce = tuple(board.model_copy(update={"species": "spruce"}) for board in built.boards)
    changed = built.model_copy(update={"boards": spruce})
    # 27 mm of 1.25 m2. A gravity of 0.599 has 630 kg/m3 at 12 % and 670 at 30 %; times 780 / 630.
    assert changed.mass_kg - built.mass_kg == pytest.approx(0.03375 * (630 - 530))
    assert changed.heaviest_kg - changed.mass_kg == pytest.approx(0.03375 * (830 - 630), abs=0.02)
    leaf = replace(shipped.boards[0], heaviest_kg=61.0)
    what = found(replace(shipped, boards=[leaf]), "boards_vary").what
    assert "leaf A" in what
    assert "61.0 kg" in what


def test_a_gear_that_holds_by_a_brake_only_is_told(shipped: Parts) -> None:
    """Khurmi and Gupta: below one half it holds by friction; the pit's has 0.76."""
    assert "0.76" in found(shipped, "held_by_brake").what
    worm = site_of(("efficiency = 0.76", "efficiency = 0.45"))
    of = replace(shipped, worked=replace(shipped.worked, site=worm))
    assert "held_by_brake" not in {finding.code for finding in lift_findings(of)}


def test_sheaves_better_than_any_handbook_has_are_told(shipped: Parts) -> None:
    assert "sheave_friction" not in codes(shipped)
    smooth = site_of(("sheave_factor = 1.04 ", "sheave_factor = 1.01 "))
    of = replace(shipped, worked=replace(shipped.worked, site=smooth))
    assert "1.04" in found(of, "sheave_friction").why


def test_the_rope_to_buy(shipped: Parts) -> None:
    """By hand: two parts of 2.5 m, a kicker more, 1.5 m of lead, 4 turns of 50 mm diameter."""
    rope = shipped.rope
    assert rope.length_m == pytest.approx(2 * 2.5 + 1.5 + 4 * 3.1416 * 0.050, rel=0.02)
    # Feyrer, Wire Ropes, table 1.9: 0.381 kg for 100 m and mm2 of a 7x19.
    assert rope.mass_kg == pytest.approx(0.381 * 16 / 100 * rope.length_m)
    assert rope.discard == (5, 10)
