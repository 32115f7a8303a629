"""The moments at which the campaign lets each defect come: one for every phase of use."""

from collections.abc import Callable
from dataclasses import dataclass

from leafwinch.contactors import DIRECTION, LINE, OFF, RUNNING, WAITING
from leafwinch.controller import Controller
from leafwinch.states import HELD, IDLE
from leafwinch_sim.bench import Bench


class Situation:
    """What a moment is recognised by, read off a bench after a step."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        board = bench.board
        self.controller: Controller | None = None
        if board is not None and board.powered and isinstance(board.controller, Controller):
            self.controller = board.controller
        self.state = bench.state()
        steps = bench.operator.script.steps
        index = min(bench.operator.index, len(steps) - 1)
        self.verb = f"{steps[index].verb} {steps[index].object}".strip()
        self.step_ms = bench.operator.t_ms
        self.way = bench.way
        self.angle_deg = bench.plant.sensed("leaf_angle")

    def phase(self, wanted: int, after_ms: int = 0) -> bool:
        """Tell whether the start sequence is in this phase and the line closed so long ago."""
        c = self.controller
        return c is not None and c.contactors.phase == wanted and c.contactors.run_ms >= after_ms

    def off_for(self, least_ms: int) -> bool:
        """Tell whether everything was commanded off at least so long ago after a travel."""
        c = self.controller
        if c is None or c.contactors.phase != OFF or c.contactors.way == 0:
            return False
        return least_ms <= c.contactors.off_ms < 1000 and c.state == HELD

    def hands(self, name: str) -> bool:
        """Tell whether a hand is on this device."""
        return self.bench.hands.get(name, False)

    def bouncing(self, limit: str) -> bool:
        """Tell whether a limit has just operated and its contacts still bounce."""
        switch = self.bench.limits[limit]
        return switch.actuated and switch.t_ms < switch.settle_ms

    def quiet(self, least_ms: int) -> bool:
        """Tell whether all mirrors have been closed for so long while held."""
        c = self.controller
        return c is not None and c.state == HELD and c.contactors.quiet_ms >= least_ms


@dataclass(frozen=True, slots=True)
class Moment:
    """A named moment: the first step of the script after the one before it that fits."""

    name: str
    fits: Callable[[Situation], bool]


def _lever(s: Situation, way: int) -> bool:
    return s.bench.lever.way() == way


MOMENTS: tuple[Moment, ...] = (
    Moment("before power-up", lambda s: True),
    Moment("ready at the bottom", lambda s: s.state == IDLE),
    Moment("start: nothing pulled yet", lambda s: s.phase(WAITING)),
    Moment("start: direction commanded", lambda s: s.phase(DIRECTION)),
    Moment("start: line commanded", lambda s: s.phase(LINE)),
    Moment("inrush", lambda s: s.phase(RUNNING, 60)),
    Moment("raising off the bottom", lambda s: s.phase(RUNNING, 1000)),
    Moment("just released", lambda s: s.off_for(0)),
    Moment("pause", lambda s: s.quiet(250)),
    Moment("held halfway", lambda s: s.verb.startswith("halfway") and s.step_ms > 1500),
    Moment("straight to the other way", lambda s: s.verb == "lower" and s.state == HELD),
    Moment("stop pressed in motion", lambda s: s.hands("stop") and s.state == HELD),
    Moment("stop released, control on", lambda s: s.verb == "let stop"),
    Moment("reset pressed", lambda s: s.hands("reset") and _lever(s, 0) and s.step_ms > 1000),
    Moment("top final pushed", lambda s: s.hands("top_final") and s.state == HELD),
    Moment("recovery pulse", lambda s: s.hands("key") and s.phase(RUNNING, 100)),
    Moment("bottom final pushed", lambda s: s.hands("bottom_final")),
    Moment("raising, mid travel", lambda s: s.way == 1 and s.angle_deg > 45.0),
    Moment("top end operating", lambda s: s.bouncing("top_end")),
    Moment("at the top, control on", lambda s: _lever(s, 1) and s.quiet(1500)),
    Moment("power back, control on", lambda s: s.verb == "restore" and s.step_ms > 800),
    Moment("lowering start", lambda s: s.phase(DIRECTION)),
    Moment("power lost in motion", lambda s: s.hands("isolated") and s.step_ms > 10),
    Moment("lowering, mid travel", lambda s: s.way == -1 and s.angle_deg < 40.0),
    Moment("bottom end operating", lambda s: s.bouncing("bottom_end")),
    Moment("at the bottom, control on", lambda s: _lever(s, -1) and s.quiet(1500)),
)
