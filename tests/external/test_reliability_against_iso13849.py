"""The reliability estimate against ISO 13849-1; each row names where it comes from."""

import math
from itertools import pairwise
from types import ModuleType

import pytest

from leafwinch_wiring.reliability import formulas, parts_data, table_k1
from tests.external.changed_numbers import constants, count, ids, unnoticed
from tests.external.reliability_values import ROWS
from tests.external.sizing_rows import Row

ALL = [row for rows in ROWS.values() for row in rows]


@pytest.mark.parametrize("row", ALL, ids=[f"{n}-{row}" for n, row in enumerate(ALL)])
def test_published_value(row: Row) -> None:
    assert row.holds(), row.words()


def test_the_untested_column_is_the_rate_of_one_channel() -> None:
    """Category B and 1 find no failure: PFHD = 1 / (8760 MTTFD) in all 38 rows, to 0.5 %."""
    assert len(table_k1.ROWS) == 38
    for years, value, *_ in table_k1.ROWS:
        assert value == pytest.approx(1.0 / (8760.0 * years), rel=0.005)


def test_the_rows_are_the_series_e24_rounded() -> None:
    """MTTFD follows the series of preferred values that resistors use, IEC 60063 E24."""
    e24: tuple[float, ...] = (1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0)
    e24 += (3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2, 9.1)
    series = [value * 10**decade for decade in (0, 1, 2) for value in e24]
    wanted = [value for value in series if 3.0 <= value <= 100.0]
    assert [row[0] for row in table_k1.ROWS] == pytest.approx(wanted)


def columns() -> dict[str, list[tuple[float, float]]]:
    found = {}
    for index, (category, band) in enumerate(table_k1.COLUMNS, start=1):
        rows = [(row[0], row[index]) for row in table_k1.ROWS if len(row) > index]
        if category == "4":
            rows += table_k1.CATEGORY_4_MORE
        found[f"category {category}, {band}"] = rows
    return found


@pytest.mark.parametrize("name", columns())
def test_every_column_is_smooth(name: str) -> None:
    """Each value lies within 2 % of the straight line between its neighbours, log on log."""
    rows = [(math.log(years), math.log(value)) for years, value in columns()[name]]
    for (x0, y0), (x1, y1), (x2, y2) in zip(rows, rows[1:], rows[2:], strict=False):
        assert abs(y1 - (y0 + (y2 - y0) * (x1 - x0) / (x2 - x0))) < 0.02, math.exp(x1)
    assert all(low[1] > high[1] for low, high in pairwise(rows))


def test_more_coverage_and_more_structure_never_hurt() -> None:
    for row in table_k1.ROWS:
        assert list(row[1:]) == sorted(row[1:], reverse=True), row[0]


def two_channels(years: float, dc: float) -> float:
    """PFHD of two like channels over 20 years by a chain of two states, derived.

    A failure of one channel is found at once and repaired with the share dc. Otherwise the
    other channel's failure is dangerous, after which both are repaired. 2 % of all failures
    hit both channels (annex D, from memory).
    """
    rate, common, steps = formulas.rate_per_hour(years), 0.02, 2000
    step = formulas.MISSION_TIME_A * 8760.0 / steps
    one_failed, failures = 0.0, 0.0
    for _ in range(steps):
        both_work = 1.0 - one_failed
        failures += step * rate * (both_work * common + one_failed)
        unseen = 2.0 * (1.0 - common) * (1.0 - dc) * rate
        one_failed += step * (both_work * unseen - one_failed * rate)
    return failures / (steps * step)


def test_the_columns_of_two_channels_follow_from_two_channels() -> None:
    """Category 4 to 1 %, category 3 with medium coverage to 5 %, with low coverage to 21 %.

    With low coverage and short MTTFD the standard's own model is more favourable than this
    simple one; nowhere is the table more than 2 % above it.
    """
    for row in table_k1.ROWS:
        years, low, medium = row[0], row[4], row[5]
        assert 0.79 < low / two_channels(years, 0.60) < 1.02
        assert 0.95 < medium / two_channels(years, 0.90) < 1.02
        if len(row) > 6:
            assert row[6] == pytest.approx(two_channels(years, 0.99), rel=0.01)


def test_a_level_is_what_figure_5_says() -> None:
    """Figure 5 (from memory): the levels that a high MTTFD can give in each category."""
    for category, dc, level in (
        ("1", 0.0, "c"),
        ("2", 0.6, "d"),
        ("2", 0.9, "d"),
        ("3", 0.6, "d"),
        ("3", 0.9, "e"),
        ("4", 0.99, "e"),
    ):
        found = formulas.performance_level(table_k1.pfhd(category, 100.0, dc))
        assert found == level
        assert formulas.lower_level(found, table_k1.HIGHEST_LEVEL[category]) == found or (
            category == "2"
        )


def test_points_against_common_causes_make_100() -> None:
    """Annex F (from memory)."""
    assert sum(item.points for item in parts_data.COMMON_CAUSES.values()) == 100


def test_the_lower_level_of_two() -> None:
    """ISO 13849-1: a is the least, e the most; none at all is less than a."""
    order = "-abcde"
    for one in order:
        for other in order:
            wanted = order[min(order.index(one), order.index(other))]
            assert formulas.lower_level(one, other) == wanted
    assert formulas.bands_follow()


@pytest.mark.parametrize(("module", "name"), constants(ROWS), ids=ids(ROWS))
def test_a_changed_number_is_noticed(
    module: ModuleType, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each number 2 % smaller or greater contradicts at least one row."""
    assert unnoticed(module, name, ROWS[module], monkeypatch) == []


def test_the_numbers_are_found() -> None:
    """If the search for numbers broke, nothing would be changed at all."""
    assert count(ROWS) > 400
