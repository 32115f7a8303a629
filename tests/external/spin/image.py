"""The map from the real core to the reduced model, and what the explored core shows under it.

After each pass the core is mapped to (mode, phase, ask, chain, proven, window):

* mode: held 0, idle 1, raising 2, lowering 3, fault 4
* phase of the start sequence: off 0, waiting 1, direction 2, line 3, running 4
* ask, as the core reads the control: neutral 0, raise 1, lower 2, anything else 3
* chain: 1 while the core sees it live
* proven: 1 while neutral has been seen for 300 ms
* window: 1 while a cause is being sought

Passes in which the inputs are still settling after a record was stored are left out: the core
judges nothing in them.
"""

from typing import Any

from leafwinch.numbers import LOWER, RAISE
from leafwinch.signals import CHAIN_OK, LOWER_OFF, LOWER_PATH, RAISE_OFF, RAISE_PATH
from leafwinch_sim.explore.alphabet import AT_BOTTOM, AT_TOP, stuck
from leafwinch_sim.explore.exploration import build, make_real, shortened
from leafwinch_sim.explore.extents import Extent

# Two contacts may read open: one asks halfway from idle, the other gives a cause at rest. The
# long pause leaves the drive held for a while with neutral proven.
EXTENT = Extent(
    "reduced model",
    places=(AT_BOTTOM, AT_TOP),
    disturbances=(stuck(0, False), stuck(12, False)),
    quick_max=0,
    stops=True,
)
PAUSE = {"pause_ms": 2000}
State = tuple[int, int, int, int, int, int]

_OFFS = RAISE_OFF | LOWER_OFF
_CONTROL = _OFFS | RAISE_PATH | LOWER_PATH


def mapped(core: Any) -> State:
    """Return the state of the reduced model that this core stands for."""
    seen = core.inputs.seen
    if core.control.asked == RAISE:
        ask = 1
    elif core.control.asked == LOWER:
        ask = 2
    else:
        ask = 0 if seen & _CONTROL == _OFFS else 3
    return (
        core.state,
        core.contactors.phase,
        ask,
        1 if seen & CHAIN_OK else 0,
        1 if core.control.neutral() else 0,
        core.cause.is_open,
    )


class Watched:
    """The real core behind a window: everything is handed on, and every pass is mapped."""

    def __init__(self, core: Any, image: set[State]) -> None:
        object.__setattr__(self, "core", core)
        object.__setattr__(self, "image", image)

    def __getattr__(self, name: str) -> Any:
        return getattr(self.core, name)

    def __setattr__(self, name: str, value: Any) -> None:
        setattr(self.core, name, value)

    def step(self, now_ms: int, contacts: int, current_ma: int, supply_mv: int) -> int:
        out: int = self.core.step(now_ms, contacts, current_ma, supply_mv)
        if self.core.inputs.ready():
            self.image.add(mapped(self.core))
        return out


def explored_image() -> set[State]:
    """Explore the real core and return every state of the reduced model that it shows."""
    image: set[State] = set()

    def make(values: dict[str, int], kept: tuple[int, ...] | None, boot: int) -> Watched:
        return Watched(make_real(values, kept, boot), image)

    search = build(EXTENT, shortened(PAUSE), make)
    while search.expand():
        pass
    if search.violation:
        raise AssertionError("the exploration broke a rule")
    return image
