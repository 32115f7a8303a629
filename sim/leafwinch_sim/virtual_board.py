"""Puts the played board in the place of the bench's own: inputs to it, outputs from it."""

from leafwinch.kept import KEPT_NAMES
from leafwinch.states import HELD
from leafwinch_sim.bench import Bench
from leafwinch_sim.board import (
    BOARD_HOLDUP_MS,
    BOARD_MIN_MV,
    BOOT_MS,
    STEP_MS,
    Board,
    ControllerLike,
    MakeController,
)
from leafwinch_sim.scripts import Script
from leafwinch_sim.site_schema import Site
from leafwinch_sim.spread import NOMINAL, Spread
from leafwinch_sim.stand_in import words
from leafwinch_sim.virtual_process import BoardPlan, BoardProcess
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import Netlist

INT_MAX = 2**31 - 1


class SeenController:
    """What the bench sees of the program's core; it is the program that acts."""

    def __init__(self) -> None:
        self.state = HELD
        self.fault = 0
        self.held_reasons = 0
        self.record_due = 0  # the program writes its record itself
        self.warning = 0
        self.warnings = 0
        self.refused = 0
        self.ended = 0

    def see(self, told: tuple[int, ...]) -> None:
        """Take over the board's words; before its program has a state the last one stays."""
        if told[words.STATE] < 0:
            return
        self.state = told[words.STATE]
        self.fault = told[words.FAULT]
        self.held_reasons = told[words.HELD]
        self.warning = told[words.WARNING]
        self.warnings = told[words.WARNINGS]
        self.refused = told[words.REFUSED]
        self.ended = told[words.ENDED]

    def step(self, now_ms: int, contacts: int, current_ma: int, supply_mv: int) -> int:
        """Outputs come from the process instead."""
        raise RuntimeError("the program of a virtual board runs in its own process")

    def at_rest(self) -> bool:
        """Flash is the program's own business."""
        return False

    def record(self) -> tuple[int, ...]:
        """The record is in the board's flash; the bench gets an empty one."""
        return (0,) * len(KEPT_NAMES)

    def stored(self, now_ms: int) -> None:
        """Nothing was stored from outside."""

    def snapshot(self) -> tuple[int, ...]:
        """Return what is seen; the process itself can't be copied."""
        return (self.state, self.fault, self.held_reasons, self.warnings)

    def restore(self, snapshot: tuple[int, ...]) -> None:
        """A process can't be put back."""
        raise RuntimeError("a virtual board has no snapshots")


class VirtualEdge:
    """Runs the process in step with the bench.

    `cut`: the board is without any power, whatever the bench says. `cut_after`: power fails after
    so many pieces of flash operations since the board's start, 0 for never. `restarts`: ends of the
    process by itself, as numbers of `stand_in.words`, in order. `late`: late passes of the loop,
    restarts included.
    """

    def __init__(self, bench: Bench, seen: SeenController, process: BoardProcess) -> None:
        self.bench = bench
        self.seen = seen
        self.process = process
        self.cut = False
        self.restarts: list[int] = []
        self.dropped = 0
        self.cut_after = 0
        self.late = 0
        self._late_before = 0
        self._cause = words.POWER_ON
        self._raw = False
        self._bitten = False  # the watchdog has ended a program that stood still

    @property
    def at_prompt(self) -> bool:
        """Whether the program is over and the prompt waits."""
        return bool(self.process.words[words.DOING] & words.AT_PROMPT)

    @property
    def program_runs(self) -> bool:
        """Whether the program's loop has begun and goes on."""
        told = self.process.words
        running = told[words.PASSES] > 0 and told[words.STATE] >= 0
        return running and not self.at_prompt

    @property
    def pieces(self) -> int:
        """Pieces of flash operations since the board's start."""
        return self.process.words[words.PIECES]

    @property
    def writing(self) -> bool:
        """Whether flash is being erased or written at this moment."""
        return bool(self.process.words[words.DOING] & words.WRITING)

    def run(self, board: Board, t_ms: int, supply_mv: int) -> None:
        """Let 5 ms pass on the board; power makes it boot and its loss kills it.

        For the bench the board is on from the first pass of its program on, as its own board is.
        """
        process = self.process
        if not self._supplied(board, supply_mv):
            if process.running:
                self.lose_power()
            board.powered = False
            board.set_outputs(0)
            return
        if not process.running:
            process.start(self._cause, board.outputs << words.OUTPUT_AT, self._raw)
            self._late_before = self.late
        told = process.exchange(self._inputs(board, supply_mv))
        board.set_outputs(told[words.GPIO])
        self.late = self._late_before + told[words.LATE]
        self.dropped = told[words.DROPPED]
        if told[words.END]:
            self._end(board, told[words.END])
        elif self.program_runs:
            self.seen.see(told)
            board.powered = True
            if self._bitten:
                self._bitten = False
                board.hung = False
        else:
            board.powered = False

    def _supplied(self, board: Board, supply_mv: int) -> bool:
        """Tell whether the regulator has held its voltage long enough, or holds it still."""
        if self.cut:
            board.boot_ms = 0
            return False
        if supply_mv >= BOARD_MIN_MV or board.usb:
            board.low_ms = 0
            board.boot_ms = min(board.boot_ms + STEP_MS, BOOT_MS)
            return board.boot_ms >= BOOT_MS
        board.low_ms += STEP_MS
        if board.low_ms > BOARD_HOLDUP_MS:
            board.boot_ms = 0
        return self.process.running and board.boot_ms > 0

    def lose_power(self) -> None:
        """Kill the process as a power cut does, at once."""
        self.process.kill()
        self.process.forget_line()
        self._cause = words.POWER_ON
        self._raw = False
        self._bitten = False
        self.process.words = (0,) * words.OUT_WORDS

    def _end(self, board: Board, how: int) -> None:
        """End the process as it asked for; it starts again in the next step that has power."""
        board.powered = False
        if how == words.END_CUT:
            self.cut = True
            self.cut_after = 0
            self.lose_power()
            board.set_outputs(0)
            return
        self.process.kill()
        self.process.words = (0,) * words.OUT_WORDS
        self.restarts.append(how)
        self._raw = how == words.END_SOFT_RAW
        if how not in (words.END_SOFT, words.END_SOFT_RAW):
            self._cause = words.WATCHDOG_RESET
            self._bitten = board.hung
            board.set_outputs(0)

    def _inputs(self, board: Board, supply_mv: int) -> tuple[int, ...]:
        bench = self.bench
        sensor = bench.sensor
        flags = words.HANG if board.hung and not self._bitten else 0
        flags |= 0 if board.watchdog else words.UNWATCHED
        flags |= words.STALE if sensor.stale else 0
        flags |= words.FLASH_DEAD if board.flash_dead else 0
        flags |= words.SENSOR_LOST if sensor.lost else 0
        current_ma = round(bench.plant.current_a * 1000.0 * sensor.gain)
        return (
            bench.sol.inputs,
            max(-INT_MAX, min(INT_MAX, current_ma)),
            supply_mv,
            round(sensor.offset_ma),
            board.clock_percent,
            board.every,
            flags,
            self.cut_after,
        )

    def close(self) -> None:
        """End the process."""
        self.process.close()


def virtual_bench(
    site: Site,
    net: Netlist,
    script: Script,
    plan: BoardPlan,
    seed: int = 1,
    spread: Spread = NOMINAL,
) -> tuple[Bench, VirtualEdge]:
    """Return a bench whose board is a played one, and the edge that drives it.

    Raises:
        BadInput: the netlist has no controller.
    """
    seen = SeenController()

    def make(_kept: tuple[int, ...] | None, _boot: int) -> ControllerLike:
        return seen

    maker: MakeController = make
    bench = Bench(site, net, script, seed, spread, maker)
    if bench.board is None:
        raise BadInput(f"Wiring {net.name} has no controller, so there is no board to play.")
    edge = VirtualEdge(bench, seen, BoardProcess(plan))
    bench.board.edge = edge
    bench.hands_moved()  # without a script nothing else makes the limits look at the deck
    return bench, edge
