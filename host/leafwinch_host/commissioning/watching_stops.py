"""Watches over stops: release, a cause in motion, lost power, refusals and broken wires.

Times are upper bounds: from the last sample before the cause was seen to the first one that shows
the effect, so that they are a sample (10 ms in motion) too long rather than too short.
"""

from leafwinch.faults import CURRENT_MISSING
from leafwinch.requirement_limits import R1_OFF_MS
from leafwinch.settings import Settings
from leafwinch.state_texts import ENDINGS, REFUSALS
from leafwinch.states import ENDED_RELEASED, HELD, LOWERING, RAISING
from leafwinch_host.board.serial_lines import Sample
from leafwinch_host.commissioning.results import Measured, at_least, at_most
from leafwinch_host.commissioning.watching import (
    DRIVEN,
    SETTLED,
    TIME_MASK,
    Watch,
    closed,
    spoken,
)
from leafwinch_host.commissioning.watching_moves import PAIR_MS, all_off, fault_words, powered

LATEST = 30  # samples of 10 ms
TRIED_MS = 1000  # a control held so long without a start is refused


class ReleaseTimed(Watch):
    """Times a release in motion: until the outputs, contactors and current are off.

    Args:
        way: "raise" or "lower".
        settings: of the site.
        run_ms: least powered time before the release.
    """

    def __init__(
        self, way: str, settings: Settings, run_ms: int = 1500, at_most_s: float = 120.0
    ) -> None:
        super().__init__(at_most_s)
        self.way, self.settings, self.run_ms = way, settings, run_ms
        self.powered_ms = 0
        self.release_ms = -1
        self.off_ms = -1
        self.let_go_ms = -1
        self.currents: list[int] = []
        self.waits = f"a travel to {way} of {run_ms / 1000:g} s or more, then a release"

    @property
    def running_ma(self) -> int:
        """Median of the current in the last 0.3 s before the release, in mA; 0 without samples."""
        rows = sorted(self.currents[-LATEST:])
        return rows[len(rows) // 2] if rows else 0

    def see(self, sample: Sample, before: Sample) -> None:
        """Follow one travel from its start to standstill."""
        if sample.fault:
            self.fail(f"{fault_words(sample.fault)} came")
            return
        way = self.way
        actuated = not closed(sample, f"{way}_off")
        if self.release_ms < 0:
            if powered(sample, way):
                self.powered_ms += self.t_ms - self.before_ms
                if self.powered_ms > self.settings.inrush_ms and actuated:
                    self.currents.append(abs(sample.current_ma))
            if not self.powered_ms or actuated:
                if self.powered_ms and all_off(sample):
                    self.fail(f"it ended before the release: {ENDINGS[sample.ended][1]}")
                return
            if self.powered_ms < self.run_ms:
                self.powered_ms = 0  # too short to count; the next one may do
                self.currents.clear()
                return
            self.release_ms = self.before_ms
            self.waits = "standstill"
        self._stopping(sample)

    def _stopping(self, sample: Sample) -> None:
        since = self.t_ms - self.release_ms
        if self.off_ms < 0 and not sample.outputs & DRIVEN:
            self.off_ms = since
        if self.let_go_ms < 0 and all_off(sample):
            self.let_go_ms = since
        if self.let_go_ms >= 0 and abs(sample.current_ma) <= self.settings.rest_ma:
            if sample.ended != ENDED_RELEASED:
                self.fail(f"it ended otherwise: {ENDINGS[sample.ended][1]}")
                return
            self.measured += [
                Measured(f"running current, {self.way}", self.running_ma, "mA"),
                at_most("release to outputs off", self.off_ms, R1_OFF_MS, "ms"),
                at_most("release to contactors off", self.let_go_ms, R1_OFF_MS, "ms"),
                at_most("release to no current", since, R1_OFF_MS, "ms"),
            ]
            self.passed()
        elif since > 5 * R1_OFF_MS:
            self.fail(
                f"{since} ms after the release the contactors or the current are still on, "
                f"required is at most {R1_OFF_MS} ms"
            )


class StopTimed(Watch):
    """Times a stop by a cause in motion, such as the emergency stop, and sees its fault latched.

    Args:
        way: the travel, "raise" or "lower".
        opens: contacts that the cause opens, all of them.
        fault: the fault that must be latched.
        run_ms: least powered time before it.
    """

    def __init__(
        self,
        way: str,
        opens: tuple[str, ...],
        fault: int,
        run_ms: int = 500,
        at_most_s: float = 120.0,
    ) -> None:
        super().__init__(at_most_s)
        self.way, self.opens, self.fault, self.run_ms = way, opens, fault, run_ms
        self.powered_ms = 0
        self.cause_ms = -1
        self.off_ms = -1
        self.open_ms: dict[str, int] = {}
        self.waits = f"a travel to {way}, then {' and '.join(map(spoken, opens))} open"

    def see(self, sample: Sample, before: Sample) -> None:
        """Follow the travel, the cause and the stop."""
        if self.cause_ms < 0:
            if sample.fault:
                self.fail(f"{fault_words(sample.fault)} came before the stop")
                return
            if powered(sample, self.way):
                self.powered_ms += self.t_ms - self.before_ms
            if all(closed(sample, name) for name in self.opens):
                if self.powered_ms and all_off(sample):
                    self.powered_ms = 0  # it was let go: begin again
                return
            if self.powered_ms < self.run_ms:
                self.fail("it was worked before the deck moved: repeat in motion")
                return
            self.cause_ms = self.before_ms
        since = self.t_ms - self.cause_ms
        for name in self.opens:
            if not closed(sample, name):
                self.open_ms.setdefault(name, since)
        if self.off_ms < 0 and all_off(sample):
            self.off_ms = since
        self._judge(sample, since)

    def _judge(self, sample: Sample, since: int) -> None:
        missing = [spoken(name) for name in self.opens if name not in self.open_ms]
        if since > PAIR_MS and missing:
            self.fail(f"{' and '.join(missing)} stayed closed: contact welded or bridged?")
        elif sample.fault and sample.fault != self.fault:
            closed_still = f", {' and '.join(missing)} stayed closed" if missing else ""
            self.fail(
                f"{fault_words(sample.fault)} came instead of {fault_words(self.fault)}"
                f"{closed_still}"
            )
        elif sample.fault and self.off_ms >= 0 and not missing:
            name = f"stop in the way to {self.way}, to contactors off"
            self.measured.append(at_most(name, self.off_ms, R1_OFF_MS, "ms"))
            self.measured.append(Measured("latched", fault_words(sample.fault)))
            self.passed()
        elif since > 3 * PAIR_MS:
            self.fail("the contactors did not let go, or no fault was latched")


class PowerLost(Watch):
    """Sees power lost in motion and given back with the control still actuated: no start.

    Args:
        way: the travel.
        settings: of the site.
    """

    gaps_allowed = True  # a board without USB power restarts

    def __init__(self, way: str, settings: Settings, at_most_s: float = 180.0) -> None:
        super().__init__(at_most_s)
        self.way, self.settings = way, settings
        self.powered_ms = 0
        self.lost_ms = -1
        self.off_ms = -1
        self.tried_ms = 0
        self.waits = f"a travel to {way}, then the isolator off"

    def see(self, sample: Sample, before: Sample) -> None:
        """Follow travel, loss, return and the refused start."""
        dead = sample.supply_mv < self.settings.supply_low_mv
        if self.lost_ms < 0:
            if powered(sample, self.way) and not dead:
                self.powered_ms += self.t_ms - self.before_ms
            if not dead:
                # A supply that holds up outlives the motor's current, which is missed first.
                if sample.fault and sample.fault != CURRENT_MISSING:
                    self.fail(f"{fault_words(sample.fault)} came before power was lost")
                return
            if self.powered_ms < 500:
                self.fail("power was taken before the deck moved: repeat in motion")
                return
            self.lost_ms = self.before_ms
            self.waits = "power back, with the control still held"
        if self.off_ms < 0 and not sample.outputs & DRIVEN:
            self.off_ms = self.t_ms - self.lost_ms
        if self.off_ms >= 0 and sample.outputs & DRIVEN:
            self.fail("it started by itself when power came back with the control actuated")
        elif self.off_ms >= 0 and not dead:
            if not closed(sample, f"{self.way}_off"):
                self.tried_ms += self.t_ms - self.before_ms
            elif self.tried_ms >= TRIED_MS:
                self.measured += [
                    at_most("loss to outputs off", self.off_ms, R1_OFF_MS, "ms"),
                    at_least("control held after power was back", self.tried_ms, TRIED_MS, "ms"),
                ]
                self.passed()
            elif sample.contacts & 1 << 8 and self.tried_ms == 0:
                self.waits = "power back with the control still held: repeat if it was let go"


class Refused(Watch):
    """Sees a demand that does not start anything, for a whole second, and why.

    Args:
        way: what is asked.
        refusals: refusal numbers that are right; empty: any refusal or fault.
    """

    def __init__(self, way: str, refusals: tuple[int, ...] = (), at_most_s: float = 60.0) -> None:
        super().__init__(at_most_s)
        self.way, self.refusals = way, refusals
        self.tried_ms = 0
        self.waits = f"the control held to {way} for more than a second"

    def see(self, sample: Sample, before: Sample) -> None:
        """Add up the time of the demand."""
        if sample.outputs & DRIVEN or sample.state in (RAISING, LOWERING):
            self.fail("it started, although it had to refuse")
            return
        if closed(sample, f"{self.way}_off"):
            self.tried_ms = 0
            return
        self.tried_ms += self.t_ms - self.before_ms
        if self.tried_ms < TRIED_MS:
            return
        if self.refusals and sample.refused not in self.refusals:
            found = REFUSALS[sample.refused][1] if not sample.fault else fault_words(sample.fault)
            self.fail(f"it refused for another reason: {found}")
            return
        why = fault_words(sample.fault) if sample.fault else REFUSALS[sample.refused][1]
        self.measured.append(Measured(f"{self.way} refused", why))
        self.passed()


class WireBroken(Watch):
    """Sees a broken wire read as an actuated limit: no start towards it, then whole again.

    Args:
        contact: the contact whose wire is pulled.
        way: the travel that it must prevent.
    """

    def __init__(self, contact: str, way: str, at_most_s: float = 180.0) -> None:
        super().__init__(at_most_s)
        self.contact, self.way = contact, way
        self.open_count = 0
        self.tried_ms = 0
        self.why = ""
        self.whole = 0
        self.waits = f"{spoken(contact)} open"

    def see(self, sample: Sample, before: Sample) -> None:
        """Follow the wire off, the refused demand, the wire back."""
        if sample.outputs & DRIVEN:
            self.fail(f"it started with the wire of {spoken(self.contact)} off")
            return
        state = closed(sample, self.contact)
        if self.tried_ms < TRIED_MS:
            self.open_count = 0 if state else self.open_count + 1
            if self.open_count < SETTLED:
                self.tried_ms = 0
                return
            self.waits = f"the control held to {self.way} for more than a second: it must not start"
            actuated = not closed(sample, f"{self.way}_off")
            self.tried_ms = self.tried_ms + self.t_ms - self.before_ms if actuated else 0
            if self.tried_ms >= TRIED_MS:
                self.why = (
                    fault_words(sample.fault) if sample.fault else REFUSALS[sample.refused][1]
                )
                self.waits = "the control let go and the wire back in its terminal"
            return
        released = closed(sample, f"{self.way}_off")
        self.whole = self.whole + 1 if state and released else 0
        if self.whole >= SETTLED:
            self.measured.append(Measured(f"{spoken(self.contact)} without its wire", "open"))
            self.measured.append(Measured(f"{self.way} not started", self.why or "held"))
            self.passed()


class Restarted(Watch):
    """Sees the board begin anew after it was without any power, with everything off."""

    gaps_allowed = True

    def __init__(self, at_most_s: float = 300.0) -> None:
        super().__init__(at_most_s)
        self.anew = False
        self.count = 0
        self.waits = "the board without power, and back"

    def see(self, sample: Sample, before: Sample) -> None:
        """Look for a clock that begins anew, then for contactors that are off."""
        if sample.outputs & DRIVEN:
            self.fail("a contactor was driven")
            return
        if (sample.t_ms - before.t_ms) & TIME_MASK > TIME_MASK // 2:
            self.anew = True
        supplied = not (sample.state == HELD and sample.held_reasons & 1)
        self.count = self.count + 1 if self.anew and supplied and all_off(sample) else 0
        if self.count >= SETTLED:
            self.measured.append(Measured("after power-up", "all contactors off"))
            self.passed()

    def silence(self, seconds: float) -> None:
        """Nothing is said while it has no power."""
