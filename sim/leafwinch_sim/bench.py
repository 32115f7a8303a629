"""The bench: firmware, contact network, machine and operator in one deterministic loop.

The control runs every 5 ms, contacts and contactors every 1 ms. While no contact, coil,
lever or pump moves, the machine advances by the whole 5 ms at once; both are checked
against each other.
"""

import math
from typing import Any

from leafwinch.controller import Controller
from leafwinch.settings import settings_from
from leafwinch.signals import OUT_LOWER, OUT_RAISE, OUTPUT_NAMES
from leafwinch_sim.bench_defects import Defect, action_present, carry_out, take_away
from leafwinch_sim.bench_layout import (
    armatures_of,
    brake_coil_index,
    control_of,
    hands_of,
    limits_of,
)
from leafwinch_sim.board import STEP_MS, Board, ControllerLike, CurrentSensor, MakeController
from leafwinch_sim.chatter import noise, noise_ratio
from leafwinch_sim.observation import Observation
from leafwinch_sim.operator import Operator
from leafwinch_sim.plant import Plant
from leafwinch_sim.scripts import Script
from leafwinch_sim.site_schema import Limit, Site
from leafwinch_sim.spread import NOMINAL, Spread, spread_site
from leafwinch_sim.switches import Lever
from leafwinch_wiring.defect_types import WiringDefect
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import Netlist
from leafwinch_wiring.network import Circuit, Solution

TRIP_MS = 10  # a protective device opens so long after its trip current
FED_RATIO = 0.7  # the control supply runs while it is fed with at least this
POWERED_RATIO = 0.05  # a winding with less of its voltage counts as off
NOISE_CHANNEL = 900
INTERMITTENT_CHANNEL = 901


def python_controller(site: Site) -> MakeController:
    """Return a maker of the firmware's controller in this interpreter.

    Raises:
        BadInput: one sentence for settings that the firmware's schema refuses.
    """
    try:
        settings = settings_from(site.settings)
    except ValueError as error:
        raise BadInput(f"{site.name}: {error}.") from None

    def make(kept: tuple[int, ...] | None, boot: int) -> ControllerLike:
        return Controller(settings, kept, boot)

    return make


def cold_record(make: MakeController) -> tuple[int, ...]:
    """Return the record of a commissioned board at rest with a cold motor."""
    from leafwinch.kept import KEPT_NAMES

    record = list(make(None, 0).record())
    for name in ("thermal_level", "blocked_ms", "duty_ms100"):
        record[KEPT_NAMES.index(name)] = 0
    return tuple(record)


class Bench:
    """One installation with its firmware, played by an operator.

    Args:
        site: what is installed.
        net: how it is wired.
        script: what the operator does.
        seed: of bounce, contact skew and noise.
        spread: which healthy draw this installation is.
        make: maker of controllers; the firmware in this interpreter by default.

    `observation` holds the facts of the last step. `defects` are those present now.
    """

    def __init__(
        self,
        site: Site,
        net: Netlist,
        script: Script,
        seed: int = 1,
        spread: Spread = NOMINAL,
        make: MakeController | None = None,
    ) -> None:
        self.site = site
        self.net = net
        self.seed = seed
        self.spread = spread
        self.plant = Plant(spread_site(site, spread))
        self.make = make if make is not None else python_controller(site)
        self.board: Board | None = None
        if net.has_controller:
            self.board = Board(self.make, cold_record(self.make))
        self.sensor = CurrentSensor(site.supply.frequency == 0)
        self.operator = Operator(script)
        self.lever = Lever(spread.throw_ms)
        self.control = control_of(net, spread, seed)
        self.limits = limits_of(net, spread, seed)
        self.hand_switches = hands_of(net, spread, seed)
        self.hands: dict[str, bool] = {}
        self.armatures = armatures_of(net)
        self._take_layout()
        self.defects: tuple[Defect, ...] = ()
        self.waiting: tuple[WiringDefect, ...] = ()  # present, but not taking hold yet
        self.mask_log: list[tuple[int, int]] | None = None  # set to a list: (t_ms, mask) solved
        self.circuits: dict[tuple[WiringDefect, ...], Circuit] = {(): Circuit(net)}
        self.circuit = self.circuits[()]
        self.other_circuit: Circuit | None = None  # while a contact is intermittent
        self.intermittent = False
        self.pump_static_high = False
        self.pump_static_low = False
        self.limit_shift: dict[str, float] = {}
        self.t_ms = 0
        self.tripped = 0
        self.trip_ms = 0
        self.unfed_ms = 0
        self.brake_on = False
        self.contacts = 0
        self.observation = Observation()
        if script.starts_at == "top":
            self._start_at_top()
        self.mask = -1
        self.sol: Solution
        self.windings: tuple[float, ...] = ()
        self._compose()

    # --- set-up --------------------------------------------------------------------

    def _take_layout(self) -> None:
        """Look up once which bits the loop needs."""
        net = self.net
        self.driver_bits: list[tuple[int, int]] = []
        self.line_bit = 0
        self.supply_bit = 0
        for bit, element in enumerate(net.elements):
            if element.role == "driver":
                output = 1 << OUTPUT_NAMES.index(element.signal)
                if element.signal == "line_pulse":
                    self.line_bit = 1 << bit
                else:
                    self.driver_bits.append((output, 1 << bit))
            elif element.role == "supply" and net.parts[element.part].kind == "control_supply":
                self.supply_bit = 1 << bit
        self.fixed_mask = sum(
            1 << bit
            for bit, element in enumerate(net.elements)
            if element.closed_at_rest and element.role in ("protect", "supply")
        )
        holdups = [p.source.holdup_ms for p in net.parts.values() if p.source and p.source.fed_by]
        self.holdup_ms = holdups[0] if holdups else 0.0
        self.brake_index = brake_coil_index(net)
        self.brake_coil = net.coils[self.brake_index]
        by_name = {armature.coil.name: armature for armature in self.armatures}
        self.line = by_name.get("QA0")
        self.raising = by_name.get("QA1")
        self.lowering = by_name.get("QA2")
        limits: dict[str, Limit | None] = {
            "top_end": self.site.limits.top_end,
            "bottom_end": self.site.limits.bottom_end,
            "top_final": self.site.limits.top_final,
            "bottom_final": self.site.limits.bottom_final,
            "slack_rope": self.site.limits.slack_rope,
        }
        self.limit_rules = [(n, limits[n], s) for n, s in self.limits.items()]

    def _start_at_top(self) -> None:
        self.plant.place(math.radians(self.site.limits.top_end.at + 0.2))

    # --- what the operator and the requirements ask ---------------------------------

    def state(self) -> int:
        """Return the firmware's state, or -1 without a running board."""
        board = self.board
        return board.controller.state if board is not None and board.powered else -1

    def limit_actuated(self, name: str) -> bool:
        """Tell whether a limit switch is actuated."""
        switch = self.limits.get(name)
        return switch.actuated if switch is not None else False

    def hands_moved(self) -> None:
        """Note that the operator changed something: the next step runs ms by ms."""
        self.mask = -1

    # --- one step --------------------------------------------------------------------

    def step(self) -> Observation:
        """Advance by one control step of 5 ms and return what was observed."""
        self.operator.step(self, STEP_MS)
        observation = self.observation
        observation.both_pulled_any = False
        observation.powered_any = 0
        if self.mask >= 0 and self._quiet():
            self.plant.step(float(STEP_MS), self.windings, self.brake_on)
            self._move_limits()
            if self.board is not None:
                self.board.edge_ms += STEP_MS
            self.t_ms += STEP_MS
        else:
            for _ in range(STEP_MS):
                self._millisecond()
        if self.waiting:
            self._arm_waiting()
        board = self.board
        noise_ma = self.spread.noise_ma * noise_ratio(self.seed, NOISE_CHANNEL, self.t_ms)
        current_ma = self.sensor.sample(self.plant.current_a, noise_ma)
        if board is not None:
            before = board.outputs
            board.run(self.t_ms, self.sol.inputs, current_ma, self.sol.supply_mv)
            if board.outputs != before:
                self._compose()
        self._observe(current_ma)
        return observation

    def _quiet(self) -> bool:
        """Tell whether no contact, coil, lever, pump or supply moves within this step."""
        if not self.lever.resting() or self.intermittent or self.trip_ms or self.unfed_ms:
            return False
        board = self.board
        if board is not None and not board.pump_settled():
            return False
        ratios = self.sol.coil_ratio
        for armature in self.armatures:
            if not armature.settled(ratios[armature.coil_index]):
                return False
        for switch in self.limits.values():
            if switch.t_ms < switch.settle_ms:
                return False
        for switch, _, _ in self.control:
            if switch.t_ms < switch.settle_ms:
                return False
        return all(s.t_ms >= s.settle_ms for s in self.hand_switches.values())

    def _millisecond(self) -> None:
        self.t_ms += 1
        self.lever.move()
        position = self.lever.position
        for switch, way, threshold in self.control:
            switch.move(position * way > threshold)
        for name, switch in self.hand_switches.items():
            switch.move(self.hands.get(name, False))
        self._move_limits()
        if self.mask >= 0:
            ratios = self.sol.coil_ratio
            for armature in self.armatures:
                armature.step(ratios[armature.coil_index])
        board = self.board
        if board is not None:
            board.edge_ms += 1
        self._protect()
        self._compose()
        self.plant.step(1.0, self.windings, self.brake_on)
        observation = self.observation
        up, down = self.raising, self.lowering
        if up is not None and down is not None and up.mains and down.mains:
            observation.both_pulled_any = True
        way = self.powered_way()
        if way:
            observation.powered_any = way

    def _move_limits(self) -> None:
        plant = self.plant
        hands = self.hands
        for name, limit, switch in self.limit_rules:
            if limit is None:
                actuated = False
            else:
                shift = self.limit_shift.get(name, 0.0) if self.limit_shift else 0.0
                sensed = plant.sensed(limit.senses) - shift
                actuated = limit.is_actuated(sensed, switch.actuated)
            switch.move(actuated or (name in hands and hands[name]))

    def _protect(self) -> None:
        """Open what a short or an overload opens, and follow the control supply's feed."""
        if self.mask < 0:
            return
        sol = self.sol
        if sol.trip_mask & ~self.tripped:
            self.trip_ms += 1
            if self.trip_ms >= TRIP_MS:
                self.tripped |= sol.trip_mask
                self.trip_ms = 0
        else:
            self.trip_ms = 0
        if self.supply_bit and sol.feed_ratio < FED_RATIO:
            if self.unfed_ms <= self.holdup_ms:
                self.unfed_ms += 1
        else:
            self.unfed_ms = 0

    def _compose(self) -> None:
        """Collect which elements are closed and solve the network if that changed."""
        t_ms = self.t_ms
        mask = self.fixed_mask & ~self.tripped
        if self.unfed_ms > self.holdup_ms:
            mask &= ~self.supply_bit
        for switch, _, _ in self.control:
            mask |= switch.bits(t_ms)
        for switch in self.hand_switches.values():
            mask |= switch.bits(t_ms)
        for switch in self.limits.values():
            mask |= switch.bits(t_ms)
        for armature in self.armatures:
            mask |= armature.bits()
        board = self.board
        if board is not None:
            outputs = board.outputs
            for output, bit in self.driver_bits:
                if outputs & output:
                    mask |= bit
            if board.pump_passes(self.pump_static_high, self.pump_static_low):
                mask |= self.line_bit
        if mask == self.mask and not self.intermittent:
            return
        self.mask = mask
        if self.mask_log is not None:
            self.mask_log.append((t_ms, mask))
        circuit = self.circuit
        if (
            self.other_circuit is not None
            and noise(self.seed, INTERMITTENT_CHANNEL, t_ms // 23) & 1
        ):
            circuit = self.other_circuit
        sol = circuit.solve(mask)
        self.sol = sol
        supply = self.spread.supply
        self.windings = tuple(
            [w * supply if w > POWERED_RATIO or w < -POWERED_RATIO else 0.0 for w in sol.windings]
        )
        ratio = sol.coil_ratio[self.brake_index] * supply
        coil = self.brake_coil
        self.brake_on = ratio >= (coil.drop_out if self.brake_on else coil.pull_in)

    def powered_way(self) -> int:
        """Return the direction in which the motor is fed: 1, -1, 0, or 2 for fed without one.

        A capacitor-run motor with one winding dead has no direction of its own.
        """
        windings = self.windings
        if not any(windings):
            return 0
        product = windings[0] if len(windings) == 1 else windings[0] * windings[1]
        if product == 0.0:
            return 2
        return 1 if product > 0.0 else -1

    def _observe(self, current_ma: int) -> None:
        o = self.observation
        plant = self.plant
        o.t_ms = self.t_ms
        o.asked = self.lever.way()
        board = self.board
        if board is not None:
            controller = board.controller
            o.board_on = board.powered
            o.hung = board.hung
            o.outputs = board.outputs
            if board.powered:
                o.state = controller.state
                o.fault = controller.fault
                o.held_reasons = controller.held_reasons
                o.warning = controller.warning
                o.warnings = controller.warnings
        o.contacts = self.sol.inputs
        o.supply_mv = self.sol.supply_mv
        o.current_ma = current_ma
        way = self.powered_way()
        o.powered_way = way
        if way:
            o.powered_any = way
        if self.line is not None and self.raising is not None and self.lowering is not None:
            o.line_pulled = self.line.mains
            o.raise_pulled = self.raising.mains
            o.lower_pulled = self.lowering.mains
        o.brake_set = plant.brake_set
        o.brake_fed = self.brake_on
        o.current_a = plant.current_a
        o.motor_rad_s = plant.motor_rad_s
        o.angle_deg = plant.angle_rad * 57.29577951308232
        o.rope_out_m = plant.rope_out_m
        o.drum_turns = plant.drum_turns
        o.slack_mm = plant.slack_m * 1000.0
        o.tension_n = plant.tension_n
        o.buffer_force_n = plant.buffer_force_n
        free_end_m = plant.free_end_m
        o.free_end_mm_per_s = (free_end_m - o.free_end_m) * (1e6 / STEP_MS)
        o.free_end_m = free_end_m
        o.top_actuated = self.limit_actuated("top_end")
        o.bottom_actuated = self.limit_actuated("bottom_end")

    # --- defects ---------------------------------------------------------------------

    def add_defect(self, defect: Defect) -> None:
        """Let a defect come at this moment; some take hold only once their part acts."""
        if defect in self.defects:
            return
        self.defects = (*self.defects, defect)
        if isinstance(defect, WiringDefect) and defect.arms_on:
            self.waiting = (*self.waiting, defect)
            self._arm_waiting()
        else:
            carry_out(self, defect)
            self.refit_circuit()

    def _arm_waiting(self) -> None:
        armed = [d for d in self.waiting if action_present(self, d.arms_on)]
        if armed:
            self.waiting = tuple(d for d in self.waiting if d not in armed)
            for defect in armed:
                carry_out(self, defect)
            self.refit_circuit()

    def remove_defect(self, defect: Defect) -> None:
        """Mend a defect at this moment: replace the part, close the breaker again."""
        if defect in self.defects:
            self.defects = tuple(d for d in self.defects if d != defect)
            if defect in self.waiting:
                self.waiting = tuple(d for d in self.waiting if d != defect)
            else:
                take_away(self, defect)
            for other in self.defects:
                if other not in self.waiting:
                    carry_out(self, other)
            self.tripped = 0
            self.refit_circuit()

    def refit_circuit(self) -> None:
        """Choose the network that has the present wiring defects."""
        wiring = tuple(
            d for d in self.defects if isinstance(d, WiringDefect) and d not in self.waiting
        )
        steady = tuple(d for d in wiring if d.mechanics != "intermittent")
        self.circuit = self._circuit(steady)
        self.intermittent = len(steady) != len(wiring)
        self.other_circuit = self._circuit(wiring) if self.intermittent else None
        self.mask = -1

    def _circuit(self, defects: tuple[WiringDefect, ...]) -> Circuit:
        if defects not in self.circuits:
            self.circuits[defects] = Circuit(self.net, defects)
        return self.circuits[defects]

    # --- snapshots ---------------------------------------------------------------------

    def snapshot(self) -> tuple[Any, ...]:
        """Return the whole state; restore it on this bench or on one built alike."""
        return (
            self.defects,
            self.waiting,
            self.t_ms,
            self.mask,
            self.tripped,
            self.trip_ms,
            self.unfed_ms,
            self.brake_on,
            self.lever.position,
            self.lever.target,
            self.lever.tied,
            tuple(self.hands.items()),
            tuple(self.limit_shift.items()),
            tuple([(s.actuated, s.t_ms, s.lost, s.jammed) for s in self._switches()]),
            tuple([(a.on, a.t_ms, a.mains, a.mirror) for a in self.armatures]),
            self.plant.snapshot(),
            self.board.snapshot() if self.board is not None else (),
            self.sensor.ring,
            self.operator.snapshot(),
        )

    def _switches(self) -> list[Any]:
        return [
            *[switch for switch, _, _ in self.control],
            *self.hand_switches.values(),
            *self.limits.values(),
        ]

    def restore(self, state: tuple[Any, ...]) -> None:
        """Take over a state from snapshot()."""
        held = [d for d in self.defects if d not in self.waiting]
        wanted = [d for d in state[0] if d not in state[1]]
        for defect in held:
            if defect not in wanted:
                take_away(self, defect)
        self.defects = state[0]
        self.waiting = state[1]
        for defect in wanted:
            if defect not in held:
                carry_out(self, defect)
        (
            _,
            _,
            self.t_ms,
            mask,
            self.tripped,
            self.trip_ms,
            self.unfed_ms,
            self.brake_on,
            self.lever.position,
            self.lever.target,
            self.lever.tied,
            hands,
            shifts,
            switches,
            armatures,
            plant,
            board,
            self.sensor.ring,
            operator,
        ) = state
        self.hands = dict(hands)
        self.limit_shift = dict(shifts)
        for switch, values in zip(self._switches(), switches, strict=True):
            switch.actuated, switch.t_ms, switch.lost, switch.jammed = values
        for armature, values in zip(self.armatures, armatures, strict=True):
            armature.on, armature.t_ms, armature.mains, armature.mirror = values
        self.plant.restore(plant)
        if self.board is not None:
            self.board.restore(board)
        self.operator.restore(operator)
        self.refit_circuit()
        brake_on = self.brake_on
        self._compose()
        self.brake_on = brake_on
        self.mask = mask


def outputs_way(outputs: int) -> int:
    """Return the direction that the outputs command: 1, -1 or 0."""
    if outputs & OUT_RAISE:
        return 1
    return -1 if outputs & OUT_LOWER else 0
