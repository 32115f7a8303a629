"""The bench: firmware, contact network, machine and operator in one deterministic loop.

The control runs every 5 ms, contacts and contactors every 1 ms. While no contact, coil,
lever or pump moves, the machine advances by the whole 5 ms at once; both are checked
against each other.
"""

import math

from leafwinch_sim.bench_defects import Defect, add_defect, arm_waiting, remove_defect
from leafwinch_sim.bench_layout import (
    Layout,
    LimitRule,
    answers_differ,
    armatures_of,
    control_of,
    hands_of,
    limits_of,
    way_of,
)
from leafwinch_sim.bench_limits import move_limits
from leafwinch_sim.bench_observe import observe
from leafwinch_sim.bench_state import BenchState, restore_to, snapshot_of
from leafwinch_sim.board import STEP_MS, Board, CurrentSensor, MakeController
from leafwinch_sim.chatter import noise, noise_ratio
from leafwinch_sim.controllers import cold_record, python_controller
from leafwinch_sim.observation import Observation
from leafwinch_sim.operator import Operator
from leafwinch_sim.plant import Plant
from leafwinch_sim.scripts import Script
from leafwinch_sim.site_schema import Site
from leafwinch_sim.spread import NOMINAL, Spread, spread_site
from leafwinch_sim.switches import Lever, Switch
from leafwinch_wiring.defect_types import WiringDefect
from leafwinch_wiring.netlist import Netlist
from leafwinch_wiring.network import Circuit, Solution

TRIP_MS = 10  # a protective device opens so long after its trip current
POWERED_RATIO = 0.05  # a winding with less of its voltage counts as off
NOISE_CHANNEL = 900
NOISE_LENGTH = 4093  # steps after which the current's noise repeats
INTERMITTENT_CHANNEL = 901
LOOSE_MS = 23  # an intermittent contact may change its mind so often


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
        self.noise_ma = [
            spread.noise_ma * noise_ratio(seed, NOISE_CHANNEL, step) for step in range(NOISE_LENGTH)
        ]
        self.sensor = CurrentSensor(site.supply.frequency == 0)
        self.operator = Operator(script)
        self.lever = Lever(spread.throw_ms)
        self.control = control_of(net, spread, seed)
        self.limits = limits_of(net, spread, seed)
        self.hand_switches = hands_of(net, spread, seed)
        self.by_hand = list(self.hand_switches.values())
        self.hands: dict[str, bool] = {}
        self.pressed: list[bool] = [False] * len(self.by_hand)  # the same, see take_hands
        self.armatures = armatures_of(net)
        self._take_layout()
        self.defects: tuple[Defect, ...] = ()
        self.waiting: tuple[WiringDefect, ...] = ()  # present, but not taking hold yet
        self.mask_log: list[tuple[int, int]] | None = None  # set to a list: (t_ms, mask) solved
        self.circuits: dict[tuple[WiringDefect, ...], Circuit] = {(): Circuit(net)}
        self.circuit = self.circuits[()]
        self.solved = self.circuit  # the network of the present answer
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
        self.observation = Observation()
        self.observation.free_end_m = self.plant.free_end_m
        if script.starts_at == "top":
            self.plant.place(math.radians(site.limits.top_end.at + 0.2))
        self.mask = -1  # elements closed in the network's present answer; -1: none yet
        self.contact_mask = 0  # the same without the board's drivers
        self.calm = False
        self.rest_seen = False  # the observation is that of a machine at rest
        self.way = 0  # in which the motor is fed, see way_of
        self.sol: Solution
        self.ratios: tuple[float, ...] = ()
        self.answered: tuple[float, ...] = ()  # windings of the present answer, and ...
        self.windings: tuple[float, ...] = ()  # ... what the supply as it is makes of them
        self._compose()

    # --- set-up --------------------------------------------------------------------

    def _take_layout(self) -> None:
        """Look up once which bits the loop needs."""
        self.layout = Layout(self.net)
        self.line_bit = self.layout.line_bit
        self.signal_mask = self.layout.signal_mask
        self.driver_mask = self.layout.driver_mask
        self.fixed_mask = self.layout.fixed_mask
        by_name = {armature.coil.name: armature for armature in self.armatures}
        self.line = by_name.get("QA0")
        self.raising = by_name.get("QA1")
        self.lowering = by_name.get("QA2")
        limits = self.site.limits
        self.limit_rules = [LimitRule(n, getattr(limits, n), s) for n, s in self.limits.items()]
        self.top_end = self.limits.get("top_end")
        self.bottom_end = self.limits.get("bottom_end")
        self.switches: tuple[Switch, ...] = (
            *[switch for switch, _, _ in self.control],
            *self.hand_switches.values(),
            *self.limits.values(),
        )

    # --- what the operator and the requirements ask ---------------------------------

    def state(self) -> int:
        """Return the firmware's state, or -1 without a running board."""
        board = self.board
        if board is None or not board.powered:
            return -1
        core = board.core
        return core.state if core is not None else board.controller.state

    def limit_actuated(self, name: str) -> bool:
        """Tell whether a limit switch is actuated."""
        switch = self.limits.get(name)
        return switch.actuated if switch is not None else False

    def take_hands(self) -> None:
        """Look up which switches a hand is on now."""
        hands = self.hands
        for rule in self.limit_rules:
            rule.pushed = hands.get(rule.name, False)
        self.pressed = [hands.get(name, False) for name in self.hand_switches]

    def hands_moved(self) -> None:
        """Note that something was changed from outside: the next step runs ms by ms."""
        self.take_hands()
        self.calm = False
        self.rest_seen = False
        self.mask = -1

    # --- one step --------------------------------------------------------------------

    def step(self) -> Observation:
        """Advance by one control step of 5 ms and return what was observed."""
        self.operator.step(self, STEP_MS)
        observation = self.observation
        observation.both_pulled_any = False
        observation.powered_any = 0
        if self._quiet():
            self.plant.step(5.0, self.windings, self.brake_on)
            if self.plant.moving:
                move_limits(self)
            if self.board is not None:
                self.board.edge_ms += STEP_MS
            self.t_ms += STEP_MS
        else:
            for _ in range(STEP_MS):
                self._millisecond()
        if self.waiting:
            arm_waiting(self)
        board = self.board
        noise_ma = self.noise_ma[self.t_ms // STEP_MS % NOISE_LENGTH]
        current_ma = self.sensor.sample(self.plant.current_a, noise_ma)
        if board is not None:
            before = board.outputs
            board.run(self.t_ms, self.sol.inputs, current_ma, self.sol.supply_mv)
            if board.outputs != before or self.intermittent:
                self._drive()
        observe(self, current_ma)
        return observation

    def _quiet(self) -> bool:
        """Tell whether no contact, coil, lever, pump or supply moves within this step.

        Once found so it stays so until the operator, a limit or the network changes.
        """
        if self.board is not None and not self.board.pump_settled():
            return False
        if self.intermittent and self._flips():
            return False
        if not self.calm:
            self.calm = self._calm_now()
        return self.calm

    def _flips(self) -> bool:
        """Tell whether an intermittent contact changes any answer within this step."""
        circuit = self._chosen(self.t_ms + STEP_MS)
        if circuit is self.solved or self.mask < 0:
            return False
        return answers_differ(circuit.solve(self.mask), self.sol)

    def _calm_now(self) -> bool:
        if self.mask < 0 or not self.lever.resting() or self.trip_ms:
            return False
        sol = self.sol
        if sol.trip_mask & ~self.tripped:
            return False
        if self.layout.supply_bit and sol.feed_ratio < self.layout.feed_min:
            if self.unfed_ms <= self.layout.holdup_ms:
                return False
        elif self.unfed_ms:
            return False
        ratios = sol.coil_ratio
        for armature in self.armatures:
            if not armature.settled(ratios[armature.coil_index]):
                return False
        return all(switch.t_ms >= switch.settle_ms for switch in self.switches)

    def _millisecond(self) -> None:
        self.t_ms += 1
        self.lever.move()
        position = self.lever.position
        changed = self.mask < 0
        for switch, way, threshold in self.control:
            actuated = position * way > threshold
            if actuated != switch.actuated or switch.t_ms < switch.settle_ms:
                switch.move(actuated)
                changed = True
        for place, switch in enumerate(self.by_hand):
            actuated = self.pressed[place]
            if actuated != switch.actuated or switch.t_ms < switch.settle_ms:
                switch.move(actuated)
                changed = True
        if move_limits(self):
            changed = True
        if self.mask >= 0:
            ratios = self.sol.coil_ratio
            for armature in self.armatures:
                mains, mirror = armature.mains, armature.mirror
                armature.step(ratios[armature.coil_index])
                if mains != armature.mains or mirror != armature.mirror:
                    changed = True
        if self.board is not None:
            self.board.edge_ms += 1
        if self._protect() or changed:
            self._compose()
        else:
            self._drive()
        self.plant.step(1.0, self.windings, self.brake_on)
        observation = self.observation
        up, down = self.raising, self.lowering
        if up is not None and down is not None and up.mains and down.mains:
            observation.both_pulled_any = True
        observation.powered_any = self.way or observation.powered_any

    def settle_limits(self) -> None:
        """Let the limits take the state of a machine that was moved by hand."""
        for switch in self.limits.values():
            switch.t_ms = switch.settle_ms
        move_limits(self)

    def _protect(self) -> bool:
        """Open what a short opens and follow the supply's feed; tell whether that acted."""
        if self.mask < 0:
            return False
        sol = self.sol
        if sol.trip_mask & ~self.tripped:
            self.trip_ms += 1
            if self.trip_ms >= TRIP_MS:
                self.tripped |= sol.trip_mask
                self.trip_ms = 0
                return True
        else:
            self.trip_ms = 0
        if self.layout.supply_bit and sol.feed_ratio < self.layout.feed_min:
            if self.unfed_ms <= self.layout.holdup_ms:
                self.unfed_ms += 1
                return self.unfed_ms > self.layout.holdup_ms
        elif self.unfed_ms:
            self.unfed_ms = 0
            return True
        return False

    def _compose(self) -> None:
        """Collect which contacts are closed, add the drivers and solve the network."""
        t_ms = self.t_ms
        mask = self.fixed_mask & ~self.tripped
        if self.unfed_ms > self.layout.holdup_ms:
            mask &= ~self.layout.supply_bit
        for switch in self.switches:
            mask |= switch.bits(t_ms)
        for armature in self.armatures:
            mask |= armature.bits()
        self.contact_mask = mask
        self._drive()

    def drive_again(self) -> None:
        """Note that the pump behaves otherwise from now on."""
        if self.mask >= 0:
            self._drive()

    def _drive(self) -> None:
        """Add the drivers to the contacts and solve the network if anything changed."""
        mask = self.contact_mask
        board = self.board
        if board is not None:
            mask |= self.driver_mask[board.outputs]
            if board.pump_passes(self.pump_static_high, self.pump_static_low):
                mask |= self.line_bit
        circuit = self._chosen(self.t_ms) if self.intermittent else self.circuit
        if mask == self.mask and circuit is self.solved:
            return
        # Lamps and buzzer move nothing, so their changes leave the bench as calm as it was.
        if (mask ^ self.mask) & ~self.signal_mask or circuit is not self.solved:
            self.calm = False
        self.mask = mask
        self.solved = circuit
        if self.mask_log is not None:
            self.mask_log.append((self.t_ms, mask))
        sol = circuit.solve(mask)
        trips = sol.trip_mask & ~self.tripped or sol.feed_ratio < self.layout.feed_min
        if sol.coil_ratio != self.ratios or trips:
            self.calm = False
        self._answer(sol)

    def _answer(self, sol: Solution) -> None:
        """Take over what the network's answer means for coils, motor and brake."""
        self.sol = sol
        self.ratios = sol.coil_ratio
        supply: float = self.spread.supply
        if sol.windings != self.answered:
            self.answered = sol.windings
            self.windings = tuple(
                [
                    w * supply if w > POWERED_RATIO or w < -POWERED_RATIO else 0.0
                    for w in sol.windings
                ]
            )
            self.way = way_of(self.windings)
        ratio = sol.coil_ratio[self.layout.brake_index] * supply
        layout = self.layout
        self.brake_on = ratio >= (layout.brake_drop_out if self.brake_on else layout.brake_pull_in)

    def _chosen(self, t_ms: int) -> Circuit:
        """Return the network in force, which an intermittent contact changes now and then."""
        other = self.other_circuit
        if other is not None and noise(self.seed, INTERMITTENT_CHANNEL, t_ms // LOOSE_MS) & 1:
            return other
        return self.circuit

    # --- defects ---------------------------------------------------------------------

    def add_defect(self, defect: Defect) -> None:
        """Let a defect come at this moment; some take hold only once their part acts."""
        if defect not in self.defects:
            add_defect(self, defect)

    def remove_defect(self, defect: Defect) -> None:
        """Mend a defect at this moment: replace the part, close the breaker again."""
        if defect in self.defects:
            remove_defect(self, defect)

    def refit_circuit(self) -> None:
        """Choose the network that has the present wiring defects."""
        wiring = tuple(
            d for d in self.defects if isinstance(d, WiringDefect) and d not in self.waiting
        )
        steady = tuple(d for d in wiring if d.mechanics != "intermittent")
        circuit = self._circuit(steady)
        other = self._circuit(wiring) if len(steady) != len(wiring) else None
        self.calm = False
        self.rest_seen = False
        if circuit is not self.circuit or other is not self.other_circuit:
            self.circuit = circuit
            self.other_circuit = other
            self.intermittent = other is not None
            self._change_circuit()

    def _change_circuit(self) -> None:
        """Let the network that is in force now answer for the contacts as they are."""
        if self.mask < 0:
            return
        self.solved = self._chosen(self.t_ms)
        if self.mask_log is not None:
            self.mask_log.append((self.t_ms, self.mask))
        self._answer(self.solved.solve(self.mask))

    def _circuit(self, defects: tuple[WiringDefect, ...]) -> Circuit:
        if defects not in self.circuits:
            self.circuits[defects] = Circuit(self.net, defects)
        return self.circuits[defects]

    # --- snapshots ---------------------------------------------------------------------

    def snapshot(self) -> BenchState:
        """Return the whole state; restore it on this bench or on one built alike."""
        return snapshot_of(self)

    def restore(self, state: BenchState) -> None:
        """Take over a state from snapshot()."""
        restore_to(self, state)
        self.calm = False
        self.rest_seen = False
        self.solved = self._chosen(self.t_ms)
        brake_on = self.brake_on
        self._answer(self.solved.solve(self.mask) if self.mask >= 0 else self.sol)
        self.brake_on = brake_on
