"""Forces, overrun and gaps at a moving edge against EN 12453 and ISO 13854."""

import pytest

from leafwinch_sim.sizing import force_rules
from leafwinch_sim.sizing.force_rules import force_verdict
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


def test_what_a_gap_crushes() -> None:
    """ISO 13854, from memory: 120 mm for a foot, 100 mm for a hand, 500 mm for a body."""
    assert force_rules.crushed(110) == ["body", "head", "leg", "foot", "arm"]
    assert force_rules.crushed(500) == []
