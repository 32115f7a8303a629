"""Shared by every test: their order, how Hypothesis draws, one thread for small matrices."""

import os
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

# The same as in `leafwinch_wiring`, which comes too late where a test imports numpy before it:
# more threads for matrices of a few hundred rows take ten times the processor time.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

# The suite must give the same answer every time and everywhere, so the default profile
# draws the same examples on each run. A longer hunt with fresh examples is asked for by
# `pytest --hypothesis-profile=hunt`; what it finds belongs in the suite as a literal.
settings.register_profile(
    "default",
    derandomize=True,
    deadline=None,
    max_examples=60,
    stateful_step_count=40,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.register_profile(
    "hunt",
    derandomize=False,
    deadline=None,
    max_examples=2000,
    stateful_step_count=120,
    suppress_health_check=[HealthCheck.too_slow],
    print_blob=True,
)
settings.load_profile("default")

# Files that take long go first, so that no worker is left with one of them at the end, and those
# that mostly wait for a browser or a board stand between those that calculate.
FIRST = (
    "page/test_long_look.py",
    "wiring/test_point_sheet.py",
    "page/test_page.py",
    "mutation/test_mutation.py",
    "page/test_page_looks.py",
    "virtual/test_board_flow.py",
    "host/test_wire.py",
    "page/test_page_experiments.py",
    "host/test_size_report.py",
    "host/test_report_worst.py",
    "virtual/test_commission.py",
    "host/test_prove.py",
    "wiring/test_rules.py",
    "wiring/test_defect_catalogue.py",
    "explore/test_exploration.py",
    "sim/test_healthy_spread.py",
    "seeded_bugs/test_seeded_bugs.py",
    "sequences/test_random.py",
    "sim/test_campaign.py",
    "sim/test_worst_cases.py",
)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put the files of FIRST at the beginning; the others stay in their order."""
    place = {name: number for number, name in enumerate(FIRST)}
    here = Path(__file__).parent

    def order(item: pytest.Item) -> int:
        return place.get(item.path.relative_to(here).as_posix(), len(place))

    items.sort(key=order)
