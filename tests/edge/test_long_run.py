"""An hour of operation; a day is run offline by python -m tests.edge.long_run --hours 24."""

from tests.edge.long_run import BEFORE_WRAP_MS, PASSES_AN_HOUR, run


def test_an_hour_over_the_wrap_of_the_clock_without_a_late_pass_or_a_fault() -> None:
    assert BEFORE_WRAP_MS < 5 * PASSES_AN_HOUR
    raises, lowerings, late, fault = run(PASSES_AN_HOUR)
    assert raises >= 195
    assert lowerings >= 195
    assert late == 0
    assert fault == 0
