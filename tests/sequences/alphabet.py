"""What can happen in a random sequence: the parts of the alphabet and the lengths drawn."""

from hypothesis import strategies as st

from leafwinch.reset_button import PRESS_MAX_MS, PRESS_MIN_MS
from leafwinch_sim.scripts import Step
from leafwinch_sim.spread import NOMINAL, Spread, draw

PARTS = (
    "ends",
    "taps",
    "halfway",
    "both",
    "reset",
    "stop",
    "key",
    "link",
    "limits",
    "power",
    "brown-out",
    "obstacles",
    "weather",
)
"""A run may switch off any of these; to raise, to lower, to release and to wait stay."""

# Each length in ms is a whole number of control passes. They are dense where something in
# the start and stop sequence happens: the filters, 50 ms of proof, 100 ms for a mirror, 300 ms
# of neutral, the pause of 500 ms.
SHORT_MS = (5, 10, 15, 20, 30, 40, 50, 60, 70, 80, 90, 100, 120, 150, 200, 250)
MIDDLE_MS = (300, 400, 500, 600, 800, 1000, 1500, 2000, 3000)
LONG_MS = (5000, 8000, 15000)
PRESS_MS = (
    *(5, 50, 500),
    *(PRESS_MIN_MS + offset for offset in (-60, -10, -5, 0, 5, 10, 60, 500)),
    *(PRESS_MAX_MS + offset for offset in (-500, -60, -10, -5, 0, 5, 10, 60, 2000)),
)
POWER_MS = (5, 10, 15, 20, 25, 30, 40, 60, 100, 200, 300, 1000, 3000)
PAUSES_MS = (5, 60, 100, 200, 280, 295, 300, 305, 310, 320, 350, 400, 450, 480, 500, 600)
WRAPS_MS = (20_000, 0, 1, 4, 5, 6, 995, 1000, 3000, 60_000, 2**29)

taps_ms = st.sampled_from(SHORT_MS)
lengths_ms = st.sampled_from(SHORT_MS + MIDDLE_MS)
long_ms = st.sampled_from(LONG_MS)
presses_ms = st.sampled_from(PRESS_MS)
powers_ms = st.sampled_from(POWER_MS)
pauses_ms = st.sampled_from(PAUSES_MS)
wraps_ms = st.sampled_from(WRAPS_MS)
ways = st.sampled_from(("raise", "lower"))
limits = st.sampled_from(("top_end", "bottom_end", "slack_rope"))
finals = st.sampled_from(("top_final", "bottom_final"))

EVENTS = (
    ("power", "isolate", "restore"),
    ("stop", "press stop", "let stop"),
    ("reset", "press reset", "let reset"),
    ("limits", "push top_end", "free top_end"),
    ("limits", "push bottom_end", "free bottom_end"),
    ("limits", "push slack_rope", "free slack_rope"),
    ("key", "push top_final", "free top_final"),
    ("key", "turn key", "untwist key"),
    ("brown-out", "come control_supply_40", "go control_supply_40"),
    ("brown-out", "come control_supply_25", "go control_supply_25"),
)
"""Part of the alphabet, how an event begins, and how it ends."""


def step(do: str, for_ms: int = 0) -> Step:
    """Return an act of a length, such as step("press stop", 500)."""
    verb, _, what = do.partition(" ")
    return Step(verb, what, for_ms, "", "")


def step_until(do: str, until: str, at_most_ms: int) -> Step:
    """Return an act that goes on until a condition."""
    verb, _, what = do.partition(" ")
    return Step(verb, what, at_most_ms, until, "")


def spread_of(number: int) -> Spread:
    """Return a healthy draw in few digits, 0 for the nominal installation."""
    if number == 0:
        return NOMINAL
    drawn = draw(number)
    return Spread(
        friction=round(drawn.friction, 3),
        mass=round(drawn.mass, 3),
        supply=round(drawn.supply, 3),
        bounce_ms=drawn.bounce_ms,
        skew_ms=drawn.skew_ms,
        throw_ms=drawn.throw_ms,
        noise_ma=round(drawn.noise_ma, 1),
        efficiency=round(drawn.efficiency, 3),
        drag=round(drawn.drag, 3),
    )
