"""Half an hour of operation; a day is run offline by python -m tests.edge.long_run --hours 24."""

from tests.edge.long_run import BEFORE_WRAP_MS, PASSES_AN_HOUR, run

PASSES = PASSES_AN_HOUR // 2


def test_half_an_hour_over_the_wrap_of_the_clock_without_a_late_pass_or_a_fault() -> None:
    assert BEFORE_WRAP_MS < 5 * PASSES
    raises, lowerings, late, fault = run(PASSES)
    assert raises >= 97
    assert lowerings >= 97
    assert late == 0
    assert fault == 0
