"""Watches over the first moves: contactors, leaving the bottom end, inching.

Times are upper bounds: from the last sample before the cause was seen to the first one that shows
the effect, so that they are a sample (10 ms in motion) too long rather than too short.
"""

from leafwinch.settings import Settings
from leafwinch.signals import OUT_LOWER, OUT_RAISE
from leafwinch.state_texts import ENDINGS
from leafwinch.states import ENDED_RELEASED, FAULT, LOWERING, RAISING
from leafwinch_host.board.serial_lines import Sample
from leafwinch_host.commissioning.results import Measured, at_least, at_most
from leafwinch_host.commissioning.watching import DRIVEN, SETTLED, Watch, closed
from leafwinch_host.texts import fault_name

RAISE, LOWER = "raise", "lower"
OTHER = {RAISE: LOWER, LOWER: RAISE}
STATE_OF = {RAISE: RAISING, LOWER: LOWERING}
OUTPUT_OF = {RAISE: OUT_RAISE, LOWER: OUT_LOWER}
PAIR_MS = 500  # contacts of one switch may not be further apart in motion


def fault_words(fault: int) -> str:
    """Return number and name of a fault."""
    return f"fault {fault} {fault_name(fault)}"


def powered(sample: Sample, way: str) -> bool:
    """Tell whether line and direction contactor are in, by their mirrors."""
    return not closed(sample, "line_released") and not closed(sample, f"{way}_released")


def all_off(sample: Sample) -> bool:
    """Tell whether nothing is driven and all three contactors have let go."""
    return not sample.outputs & DRIVEN and all(
        closed(sample, f"{name}_released") for name in ("line", RAISE, LOWER)
    )


class Contactors(Watch):
    """Sees a direction's contactors pull and let go again, in time and no other one.

    Args:
        way: "raise" or "lower".
        settings: of the site.
        ends_with: fault that must end it (28 where the motor is taken off), or 0 for a release.
        current: True where the motor's current must be seen, False where none may flow.
    """

    def __init__(
        self, way: str, settings: Settings, ends_with: int, current: bool, at_most_s: float = 90.0
    ) -> None:
        super().__init__(at_most_s)
        self.way, self.settings = way, settings
        self.ends_with, self.current = ends_with, current
        self.times: dict[str, int] = {}
        self.most_ma = 0
        self.waits = f"the control held to {way}"

    def see(self, sample: Sample, before: Sample) -> None:
        """Note the time of each event in its order."""
        way, times = self.way, self.times
        other = OTHER[way]
        if sample.outputs & OUTPUT_OF[other] or not closed(sample, f"{other}_released"):
            self.fail(f"the {other} contactor pulled instead of or beside the {way} contactor")
            return
        if sample.fault and sample.fault != self.ends_with:
            self.fail(f"{fault_words(sample.fault)} came")
            return
        if "drive" not in times:
            if not closed(sample, f"{way}_released"):
                self.fail(f"the {way} contactor is in although it is not driven")
            elif not closed(sample, "line_released"):
                self.fail("the line contactor is in although it is not driven")
            elif sample.outputs & OUTPUT_OF[way]:
                times["drive"] = self.before_ms
                self.waits = "the contactors pull, then let the control go"
            return
        if powered(sample, way):
            self.most_ma = max(self.most_ma, abs(sample.current_ma))
        self._times(sample)

    def _times(self, sample: Sample) -> None:
        way, times = self.way, self.times
        if "pulled" not in times and not closed(sample, f"{way}_released"):
            times["pulled"] = self.t_ms
        if "line" not in times and not closed(sample, "line_released"):
            times["line"] = self.t_ms
        if "off" not in times and not sample.outputs & DRIVEN:
            times["off"] = self.before_ms
        if "off" in times and all_off(sample):
            times.setdefault("released", self.t_ms)
            if not self.ends_with or sample.state == FAULT:
                self._judge(sample)
            elif self.t_ms - times["released"] > PAIR_MS:
                self.fail(f"it ended without {fault_words(self.ends_with)}: hold it longer")

    def _judge(self, sample: Sample) -> None:
        times, s = self.times, self.settings
        if "pulled" not in times or "line" not in times:
            missing = self.way if "pulled" not in times else "line"
            self.fail(f"the mirror contact of the {missing} contactor did not open")
            return
        pull, release = times["pulled"] - times["drive"], times["released"] - times["off"]
        self.measured.append(at_most(f"{self.way} contactor pulls in", pull, s.pull_ms + 10, "ms"))
        self.measured.append(at_most("all contactors let go", release, s.release_ms + 10, "ms"))
        if self.current:
            self.measured.append(
                at_least("highest current, inrush included", self.most_ma, s.rest_ma, "mA")
            )
        else:
            self.measured.append(at_most("current without motor", self.most_ma, s.rest_ma, "mA"))
            if self.most_ma > s.rest_ma:
                self.fail("motor current flows: the motor is not taken off")
                return
        self.passed()

    def too_late(self) -> str:
        """Return what was missing when time was over."""
        if "drive" not in self.times:
            return "no start was seen"
        if "off" in self.times:
            stuck = [
                n
                for n in ("line", RAISE, LOWER)
                if self._last and not closed(self._last, f"{n}_released")
            ]
            return f"the {' and '.join(stuck) or self.way} contactor did not let go"
        return "it was never let go"


class Leaves(Watch):
    """Sees an inch up lift the deck off its bottom end within the time that is allowed."""

    def __init__(self, settings: Settings, slack_fitted: bool, at_most_s: float = 90.0) -> None:
        super().__init__(at_most_s)
        self.settings = settings
        self.slack_fitted = slack_fitted
        self.powered_ms = 0
        self.left_ms = -1
        self.count = 0
        self.waits = "the control held to raise, until the bottom end is left"

    def see(self, sample: Sample, before: Sample) -> None:
        """Add up powered time until the bottom end's contact has closed and stays so."""
        if sample.fault:
            self.fail(
                f"{fault_words(sample.fault)} came when raising: motor phases swapped, rope wound "
                "the wrong way round, motor, brake or sensor wired wrongly?"
            )
            return
        if sample.outputs & OUT_LOWER or not closed(sample, "lower_released"):
            self.fail("the lower contactor pulled when raising")
            return
        if powered(sample, RAISE):
            self.powered_ms += self.t_ms - self.before_ms
        self.count = self.count + 1 if closed(sample, "bottom_end") else 0
        if self.powered_ms and self.count >= SETTLED and self.left_ms < 0:
            self.left_ms = self.powered_ms
            self.waits = "let the control go"
        if self.left_ms >= 0 and all_off(sample) and sample.state != RAISING:
            limit = self.settings.leave_bottom_ms
            self.measured.append(at_most("bottom end left after", self.left_ms, limit, "ms"))
            if self.slack_fitted and not closed(sample, "rope_taut"):
                self.fail("the rope is slack after raising: wound the wrong way round?")
                return
            self.passed()

    def too_late(self) -> str:
        """Return why it fails when time is over."""
        if not self.powered_ms:
            return "no start was seen"
        return "the deck did not leave its bottom end: drum or rope the wrong way round?"


class Inches(Watch):
    """Sees short travels one way, each stopped by release and with the pause kept between them."""

    def __init__(self, way: str, count: int, settings: Settings, at_most_s: float = 120.0) -> None:
        super().__init__(at_most_s)
        self.way, self.count, self.settings = way, count, settings
        self.starts = 0
        self.off_ms = -1
        self.pauses: list[int] = []
        self.waits = f"{count} short taps to {way}"
        self.was_on = False
        self.ran = False

    def see(self, sample: Sample, before: Sample) -> None:
        """Count starts and stops."""
        if sample.fault:
            self.fail(f"{fault_words(sample.fault)} came")
            return
        if sample.outputs & OUTPUT_OF[OTHER[self.way]]:
            self.fail(f"the {OTHER[self.way]} contactor was driven")
            return
        on = bool(sample.outputs & OUTPUT_OF[self.way])
        self.ran = self.ran or powered(sample, self.way)
        if on and not self.was_on and self.off_ms >= 0:
            self.pauses.append(self.t_ms - self.off_ms)
        if self.was_on and not on:
            self.off_ms = self.t_ms
        if self.off_ms >= 0 and not on and all_off(sample) and self.ran:
            if sample.ended != ENDED_RELEASED:
                self.fail(f"a tap ended otherwise: {ENDINGS[sample.ended][1]}")
                return
            self.ran = False
            self.starts += 1
            self.waits = f"{self.count - self.starts} more short taps to {self.way}"
        self.was_on = on
        if self.starts >= self.count:
            self.measured.append(Measured("taps that started and stopped", self.starts))
            if self.pauses:
                self.measured.append(
                    at_least(
                        "shortest pause between",
                        min(self.pauses),
                        self.settings.pause_ms - 20,
                        "ms",
                    )
                )
            self.passed()
