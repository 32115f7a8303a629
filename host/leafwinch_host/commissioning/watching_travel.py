"""Watches over whole travels: to an end, budget, trip, slack rope, learning, a hung program."""

from leafwinch.faults import CURRENT_TRIP, ROPE_SLACK, TRAVEL_LATE, WATCHDOG_BOOT
from leafwinch.requirement_limits import R1_OFF_MS
from leafwinch.settings import Settings
from leafwinch.state_texts import ENDINGS
from leafwinch.states import ENDED_BOTTOM, ENDED_TOP, HELD, LOWERING, RAISING
from leafwinch_host.board.serial_lines import Sample
from leafwinch_host.commissioning.results import Measured, at_most, between
from leafwinch_host.commissioning.watching import DRIVEN, SETTLED, Watch, closed, spoken
from leafwinch_host.commissioning.watching_moves import (
    LOWER,
    OUTPUT_OF,
    RAISE,
    STATE_OF,
    all_off,
    fault_words,
    powered,
)

END_OF = {RAISE: "top_end", LOWER: "bottom_end"}
START_OF = {RAISE: "bottom_end", LOWER: "top_end"}
ENDED_OF = {RAISE: ENDED_TOP, LOWER: ENDED_BOTTOM}
TRAVEL_SHARE = 0.15  # a healthy travel's time differs so much from its setting at most
PATH_MS = 300  # the path contact may open so long after the second contact of its limit
PIECE_MS = 100  # the board counts from the command on, the mirrors open a little later
FIRST_MS = 2000
FIRST_CURRENT = "lowest current in the first 2 s to"
EXTRA_MS = 150  # what a time out of the trace may be longer than the rule behind it


class Travel(Watch):
    """Measures a whole travel from one end to the other, in one go or in pieces.

    It must stop by its working limit with the control still held, and both contacts of that
    limit must open.

    Args:
        way: "raise" or "lower".
        settings: of the site.
        highest_ma: for a whole travel, which is timed, the highest running current that is
            sound; None where it only has to arrive, from anywhere.
    """

    STOOD_MS = 700  # with the control still held

    def __init__(
        self,
        way: str,
        settings: Settings,
        highest_ma: int | None = None,
        at_most_s: float = 600.0,
    ) -> None:
        super().__init__(at_most_s)
        timed = highest_ma is not None
        self.way, self.settings, self.timed = way, settings, timed
        self.highest_ma = highest_ma or 0
        self.stood_ms = 0
        self.begun = not timed
        self.powered_ms = 0
        self.piece_ms = 0  # powered time of this piece, for the inrush
        self.currents: list[int] = []
        self.end_ms = -1
        self.path_open = False
        self.off_ms = -1
        self.waits = (
            f"the {spoken(START_OF[way])} reached, to begin from" if timed else "the travel"
        )

    def see(self, sample: Sample, before: Sample) -> None:
        """Follow the travel."""
        way, end = self.way, END_OF[self.way]
        if sample.fault:
            name = fault_words(sample.fault)
            self.fail(f"{name} came before the {spoken(end)} had stopped it")
            return
        if not self.begun:
            self.begun = not closed(sample, START_OF[way])
            if not self.begun:
                return
            self.waits = f"the travel to {way} until the {spoken(end)} stops it: keep holding"
        if powered(sample, way):
            self.powered_ms += self.t_ms - self.before_ms
            self.piece_ms += self.t_ms - self.before_ms
            if self.piece_ms > self.settings.inrush_ms + 100:
                self.currents.append(abs(sample.current_ma))
        else:
            self.piece_ms = 0
        if self.end_ms < 0 and not closed(sample, end) and sample.state in (RAISING, HELD):
            self.end_ms = self.before_ms
        if self.end_ms < 0 and not closed(sample, end) and sample.state == LOWERING:
            self.end_ms = self.before_ms
        if self.end_ms >= 0:
            self._at_end(sample)
        else:
            self._stood(sample)

    def _stood(self, sample: Sample) -> None:
        """Judge a standstill with the control still held, away from the end."""
        held = not closed(sample, f"{self.way}_off")
        stands = self.powered_ms and held and all_off(sample) and sample.state == HELD
        self.stood_ms = self.stood_ms + self.t_ms - self.before_ms if stands else 0
        if self.stood_ms > self.STOOD_MS:
            self.fail(
                f"it stopped although the second contact of the {spoken(END_OF[self.way])} did "
                f"not open: {ENDINGS[sample.ended][1]}"
            )

    def _at_end(self, sample: Sample) -> None:
        since = self.t_ms - self.end_ms
        held = not closed(sample, f"{self.way}_off")
        path = closed(sample, f"{self.way}_path")
        self.path_open = self.path_open or (held and not path)
        if self.off_ms < 0 and all_off(sample):
            self.off_ms = since
        if held and path and since > PATH_MS:
            self.fail(
                f"{spoken(self.way)} path stays live at its end: the path contact of the "
                f"{spoken(END_OF[self.way])} is welded or bridged"
            )
        elif self.off_ms >= 0 and since > PATH_MS:
            self._judge(sample)

    def _judge(self, sample: Sample) -> None:
        way, s = self.way, self.settings
        if self.timed and sample.ended != ENDED_OF[way]:
            self.fail(f"it ended otherwise: {ENDINGS[sample.ended][1]}; hold on until it stops")
            return
        if self.timed and not self.path_open:
            self.fail(f"the control was let go before it stopped at the {spoken(END_OF[way])}")
            return
        self.measured.append(at_most("limit to contactors off", self.off_ms, R1_OFF_MS, "ms"))
        if self.timed:
            self._timed(s)
        self.passed()

    def _timed(self, s: Settings) -> None:
        name = f"travel_{self.way}_ms"
        healthy = getattr(s, name) / 1000
        seconds = self.powered_ms / 1000
        share = TRAVEL_SHARE
        self.measured.append(
            between(
                f"time to {self.way}",
                seconds,
                round((1 - share) * healthy, 1),
                round((1 + share) * healthy, 1),
                "s",
            )
        )
        rows = sorted(self.currents)
        if rows:
            first = min(self.currents[: FIRST_MS // 10])
            self.measured.append(Measured(f"{FIRST_CURRENT} {self.way}", first, "mA"))
            self.measured.append(
                Measured(f"running current to {self.way}, median", rows[len(rows) // 2], "mA")
            )
            top = rows[min(len(rows) - 1, len(rows) * 99 // 100)]
            self.measured.append(
                at_most(f"running current to {self.way}, highest", top, self.highest_ma, "mA")
            )


class BudgetSpent(Watch):
    """Sees an interrupted travel stopped by its budget: pieces are added up, pauses give nothing.

    Args:
        way: "raise" or "lower".
        budget_ms, allow_ms: the budget as set, and the free part of all starts together.
        pieces: least number of pieces.
    """

    def __init__(
        self, way: str, budget_ms: int, allow_ms: int, pieces: int = 3, at_most_s: float = 180.0
    ) -> None:
        super().__init__(at_most_s)
        self.way, self.budget_ms, self.allow_ms, self.least = way, budget_ms, allow_ms, pieces
        self.powered_ms = 0
        self.pieces = 0
        self.was_on = False
        self.waits = f"short travels to {way} with pauses, until it stops by itself"

    def see(self, sample: Sample, before: Sample) -> None:
        """Add up the pieces."""
        on = powered(sample, self.way)
        if on:
            self.powered_ms += self.t_ms - self.before_ms
        if on and not self.was_on:
            self.pieces += 1
        self.was_on = on
        most = self.budget_ms + self.allow_ms + EXTRA_MS
        if self.powered_ms > most:
            self.fail(
                f"it still runs after {self.powered_ms} ms in {self.pieces} pieces, the budget is "
                f"{self.budget_ms} ms: pauses renew it"
            )
        elif sample.fault and sample.fault != TRAVEL_LATE:
            self.fail(f"{fault_words(sample.fault)} came instead of {fault_words(TRAVEL_LATE)}")
        elif sample.fault and all_off(sample):
            self.measured += [
                between(
                    "energised time in all",
                    self.powered_ms,
                    self.budget_ms - PIECE_MS * self.pieces,
                    most,
                    "ms",
                ),
                Measured(
                    "pieces", self.pieces, "", f"at least {self.least}", self.pieces >= self.least
                ),
            ]
            self.passed()


class Tripped(Watch):
    """Sees the current trip, set below the running current for the test, stop the motor.

    Args:
        way: "raise" or "lower".
        settings: as they are on the board during the test.
    """

    def __init__(self, way: str, settings: Settings, at_most_s: float = 90.0) -> None:
        super().__init__(at_most_s)
        self.way, self.settings = way, settings
        self.powered_ms = 0
        self.most_ma = 0
        self.waits = f"the control held to {way}, until the trip stops it"

    def see(self, sample: Sample, before: Sample) -> None:
        """Follow the start up to the trip."""
        s = self.settings
        if powered(sample, self.way):
            self.powered_ms += self.t_ms - self.before_ms
            if self.powered_ms > s.inrush_ms:
                self.most_ma = max(self.most_ma, abs(sample.current_ma))
        most = s.inrush_ms + s.trip_ms + EXTRA_MS
        if self.powered_ms > most + 1000:
            self.fail(
                f"no trip after {self.powered_ms} ms with {self.most_ma} mA against a level of "
                f"{s.trip_ma} mA"
            )
        elif sample.fault and sample.fault != CURRENT_TRIP:
            self.fail(f"{fault_words(sample.fault)} came instead of {fault_words(CURRENT_TRIP)}")
        elif sample.fault and all_off(sample):
            self.measured += [
                at_most("start to trip", self.powered_ms, most, "ms"),
                Measured(
                    "current above the level",
                    self.most_ma,
                    "mA",
                    f"above {s.trip_ma} mA",
                    self.most_ma > s.trip_ma,
                ),
            ]
            self.passed()
        elif not sample.outputs & DRIVEN and self.powered_ms and all_off(sample):
            self.powered_ms = 0  # let go too early: begin again


class SlackTimed(Watch):
    """Times how long the drive lowers with its slack-rope switch worked; raising is not stopped."""

    def __init__(self, settings: Settings, at_most_s: float = 120.0) -> None:
        super().__init__(at_most_s)
        self.settings = settings
        self.slack_ms = -1
        self.powered_ms = 0
        self.waits = "a travel to lower, then the slack-rope switch worked by hand"

    def see(self, sample: Sample, before: Sample) -> None:
        """Follow the slack rope until the drive stops."""
        if powered(sample, LOWER):
            self.powered_ms += self.t_ms - self.before_ms
        if self.slack_ms < 0:
            if sample.fault:
                self.fail(f"{fault_words(sample.fault)} came before the switch was worked")
            elif not closed(sample, "rope_taut") and sample.outputs & OUTPUT_OF[LOWER]:
                self.slack_ms = self.before_ms
                self.waits = "the stop"
            return
        since = self.t_ms - self.slack_ms
        limit = self.settings.slack_allow_ms + EXTRA_MS
        if sample.fault and sample.fault != ROPE_SLACK:
            self.fail(f"{fault_words(sample.fault)} came instead of {fault_words(ROPE_SLACK)}")
        elif sample.fault and all_off(sample):
            self.measured.append(at_most("slack rope to contactors off", since, limit, "ms"))
            self.passed()
        elif since > limit + 1000:
            self.fail(f"it still lowers {since} ms after the rope went slack")


class FullTravels(Watch):
    """Counts full travels from end to end without a stop, so many each way."""

    def __init__(self, each_way: int, at_most_s: float = 7200.0) -> None:
        super().__init__(at_most_s)
        self.each_way = each_way
        self.done = {RAISE: 0, LOWER: 0}
        self.way = ""
        self.full = False
        self._say()

    def _say(self) -> None:
        left = {way: max(0, self.each_way - n) for way, n in self.done.items()}
        self.waits = (
            f"full travels without a stop: {left[RAISE]} more to raise, {left[LOWER]} more to lower"
        )

    def see(self, sample: Sample, before: Sample) -> None:
        """Follow starts and ends of travels."""
        if sample.fault:
            self.fail(f"{fault_words(sample.fault)} came")
            return
        for way in (RAISE, LOWER):
            if sample.state == STATE_OF[way] and before.state != STATE_OF[way]:
                self.way = way
                self.full = not closed(before, START_OF[way])
        if self.way and sample.state == HELD and before.state == STATE_OF[self.way]:
            if self.full and sample.ended == ENDED_OF[self.way]:
                self.done[self.way] += 1
                self._say()
            self.way = ""
        if min(self.done.values()) >= self.each_way:
            self.measured += [Measured(f"full travels to {way}", n) for way, n in self.done.items()]
            self.passed()


class Hung(Watch):
    """Sees a program that stands still in motion restarted by its watchdog, with everything off."""

    gaps_allowed = True

    def __init__(self, at_most_s: float = 120.0) -> None:
        super().__init__(at_most_s)
        self.moved = False
        self.count = 0
        self.waits = "a travel, then the test plug that stops the program"

    def see(self, sample: Sample, before: Sample) -> None:
        """Follow the travel, then the first lines after the restart."""
        if sample.state in (RAISING, LOWERING):
            self.moved = True
            return
        if not self.moved or not sample.fault:
            return
        if sample.fault != WATCHDOG_BOOT:
            self.fail(f"{fault_words(sample.fault)} came instead of {fault_words(WATCHDOG_BOOT)}")
            return
        self.count = self.count + 1 if all_off(sample) else 0
        if self.count >= SETTLED:
            self.measured.append(Measured("after the restart", "all contactors off"))
            self.measured.append(Measured("latched", fault_words(sample.fault)))
            self.passed()

    def silence(self, seconds: float) -> None:
        """Nothing is said while the program stands still."""


class Lifted(Watch):
    """Sees the deck at rest and ready, away from both ends."""

    def __init__(self, settings: Settings, run_ms: int, at_most_s: float = 300.0) -> None:
        super().__init__(at_most_s)
        self.run_ms = run_ms
        self.powered_ms = 0
        self.waits = f"a travel to raise of {run_ms / 1000:g} s, then a release"

    def see(self, sample: Sample, before: Sample) -> None:
        """Add up powered time and wait for rest."""
        if sample.fault:
            self.fail(f"{fault_words(sample.fault)} came")
            return
        if powered(sample, RAISE):
            self.powered_ms += self.t_ms - self.before_ms
        ends = closed(sample, "top_end") and closed(sample, "bottom_end")
        if self.powered_ms >= self.run_ms and ends and all_off(sample):
            self.passed()
