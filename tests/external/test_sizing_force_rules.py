"""Forces, overtravel and gaps at a moving edge against EN 12453 and ISO 13854."""

import pytest

from leafwinch_sim.sizing.force_rules import (
    HOLD_TO_RUN_OVERTRAVEL_MM,
    force_verdict,
    overtravel_mm,
)
from tests.external.sizing_rows import Row
from tests.external.sizing_values import FORCE_ROWS


@pytest.mark.parametrize("row", FORCE_ROWS, ids=str)
def test_published_value(row: Row) -> None:
    """Each row names its source."""
    assert row.holds(), row.words()


def test_words_of_a_verdict() -> None:
    """The limits of EN 12453, in words."""
    assert force_verdict(250, 120).words == (
        "Within EN 12453: 250 N of 400 N for at most 0.75 s, then 120 N of 150 N."
    )
    assert force_verdict(450, 160).words == (
        "Above EN 12453: 450 N at first, allowed are 400 N and 160 N after that, "
        "allowed are 150 N; this can crush a person."
    )
    assert "450" not in force_verdict(300, 160).words
    assert "after that" not in force_verdict(450, 100).words


def test_a_slow_free_end_stops_within_the_overtravel() -> None:
    """EN 12453 for hold-to-run: 100 mm; 0.10 m/s and 0.25 s are 25 mm by kinematics."""
    assert overtravel_mm(0.10, 0.25, float("inf")) < HOLD_TO_RUN_OVERTRAVEL_MM
    assert overtravel_mm(0.45, 0.25, float("inf")) > HOLD_TO_RUN_OVERTRAVEL_MM


@pytest.mark.parametrize(
    ("speed", "stop", "deceleration"),
    [(0.1, 0.1, 0.0), (0.1, 0.1, float("nan")), (-0.1, 0.1, 1.0), (0.1, float("inf"), 1.0)],
)
def test_motion_that_has_no_overtravel_is_refused(
    speed: float, stop: float, deceleration: float
) -> None:
    """The formula has no meaning there."""
    with pytest.raises(ValueError, match="allowed is"):
        overtravel_mm(speed, stop, deceleration)
