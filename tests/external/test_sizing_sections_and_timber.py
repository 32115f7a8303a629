"""Mass of tubes and boards against EN 10219-2, USDA and engineers' handbooks."""

import pytest

from leafwinch_sim.sizing.section_mass import parse_tube, rectangular_tube_kg_per_m, timber_density
from tests.external.sizing_rows import Row
from tests.external.sizing_values import SECTION_ROWS


@pytest.mark.parametrize("row", SECTION_ROWS, ids=str)
def test_published_value(row: Row) -> None:
    """Each row names its source."""
    assert row.holds(), row.words()


@pytest.mark.parametrize(
    ("words", "sizes"),
    [
        ("40x40x3 mm", (40.0, 40.0, 3.0)),
        (" 60 x 40 x 2.5mm ", (60.0, 40.0, 2.5)),
        ("20x20x1.5", (20.0, 20.0, 1.5)),
    ],
)
def test_tube_is_read_from_words(words: str, sizes: tuple[float, float, float]) -> None:
    """Height x width x wall is how tables of sections name them, common practice, no source."""
    assert parse_tube(words) == sizes


@pytest.mark.parametrize("words", ["", "40x40", "40x40x3 cm", "-40x40x3", "40x40x0", "40x10x3"])
def test_what_is_no_tube_is_refused_with_what_is_allowed(words: str) -> None:
    """EN 10219-2: corners of 2 T leave no room in a side below 4 T."""
    with pytest.raises(ValueError, match=r"allowed is"):
        parse_tube(words)


def test_a_tube_is_a_little_lighter_than_with_sharp_corners() -> None:
    """Sharp corners of 20x20x1.5 would be 0.871 kg/m, by elementary geometry."""
    sharp = 4 * 1.5 * (20 - 1.5) * 7850e-6
    assert sharp == pytest.approx(0.871, abs=6e-4)
    assert 0.93 * sharp < rectangular_tube_kg_per_m(20, 20, 1.5) < sharp


def test_density_in_pounds_per_cubic_foot() -> None:
    """USDA report FPL-GTR-113: specific gravity 0.48 at 12 % is 31.9 lb/ft3."""
    assert timber_density(0.48, 12) / 16.0185 == pytest.approx(31.9, abs=0.05)


@pytest.mark.parametrize("gravity", [0.0, -0.4, 1.6])
def test_gravity_out_of_range_is_refused(gravity: float) -> None:
    """Wood substance itself has about 1.5, USDA Wood Handbook."""
    with pytest.raises(ValueError, match="allowed is"):
        timber_density(gravity, 12)
