"""Shared by every test: how Hypothesis draws its examples, and one thread for small matrices."""

import os

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
