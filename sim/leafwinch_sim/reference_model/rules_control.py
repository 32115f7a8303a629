"""The three-position control: what it asks, and whether its contacts can be believed."""

from leafwinch_sim.reference_model.timing import Clock, Held

DISAGREES = {"raise": 10, "lower": 11}
STUCK = {"raise": 12, "lower": 13}
BOTH_WAYS = 14
END_OF = {"raise": "top_end", "lower": "bottom_end"}
OTHER = {"raise": "lower", "lower": "raise"}

STUCK_MS = 50.0
BOTH_MS = 500.0
NEUTRAL_MS = 300.0
DISAGREE_MS = 50.0
DOUBT_MS = 1000.0
SLOW_HAND_MS = 100.0


class ControlRules:
    """Compares the control's NC contacts with the coil paths, with the chain live only."""

    def __init__(self) -> None:
        self.asked = ""
        self.fresh = False  # neutral was proven since the last travel ended
        self.doubted: set[str] = set()  # ends for which only the path spoke
        self._slow_hand = ""  # way whose fresh doubt a slow hand may still explain
        self._slow_hand_left = 0.0
        self.neutral = Held()
        self._stuck = {"raise": Held(), "lower": Held()}
        self._both = Held()
        self._disagree = Held()
        self._halfway = Held()

    def forget(self) -> None:
        """Start every timed proof again."""
        self.asked = ""
        self._slow_hand_left = 0.0
        for timer in (*self._stuck.values(), self._both, self._disagree, self._halfway):
            timer.restart()
        self.neutral.restart()

    def judge(self, clock: Clock, closed: set[str]) -> list[int]:
        """Return what speaks for a fault in this pass."""
        if self._slow_hand_left > 0.0:
            self._slow_hand_left -= clock.step
            if f"{self._slow_hand}_off" in closed:
                self.doubted.discard(self._slow_hand)
                self._slow_hand_left = 0.0
        if "chain_ok" not in closed:
            self.forget()
            return []
        pressed = {way for way in OTHER if f"{way}_off" not in closed}
        live = {way for way in OTHER if f"{way}_path" in closed}
        if self.neutral.watch(clock, not pressed and not live) >= NEUTRAL_MS:
            self.fresh = True
        self.asked = next(iter(pressed)) if pressed == live and len(live) == 1 else ""
        found = []
        for way, timer in self._stuck.items():
            if timer.watch(clock, way in live and way not in pressed) > STUCK_MS:
                found.append(STUCK[way])
        if self._both.watch(clock, len(pressed) == 2 or len(live) == 2) >= BOTH_MS:
            found.append(BOTH_WAYS)
        return found + self._compare_ends(clock, closed, pressed, live)

    def _compare_ends(
        self, clock: Clock, closed: set[str], pressed: set[str], live: set[str]
    ) -> list[int]:
        way = next(iter(pressed)) if len(pressed) == 1 else ""
        path = way in live
        end = way != "" and END_OF[way] in closed
        disagree = self._disagree.watch(clock, path and not end and self.fresh)
        halfway = self._halfway.watch(clock, way != "" and not path and end)
        if way and path == end:
            self.doubted.discard(way)
        if disagree > DISAGREE_MS or (halfway >= DOUBT_MS and way in self.doubted and self.fresh):
            return [DISAGREES[way]]
        return []

    def doubt_where_only_the_path_spoke(self, way: str, closed: set[str]) -> bool:
        """After a travel: doubt its end where neither end nor control explains the stop."""
        alone = "chain_ok" in closed and END_OF[way] in closed
        if alone and not {f"{way}_off", f"{way}_path"} & closed:
            self.doubted.add(way)
            self._slow_hand = way
            self._slow_hand_left = SLOW_HAND_MS
            return True
        return False
