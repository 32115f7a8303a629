"""Where the deck is and how long it has travelled: ends, budget, slack rope."""

from collections.abc import Mapping

from leafwinch_sim.reference_model.timing import Clock, Held

WRONG_WAY = 8
BOTH_ENDS = 9
SLACK = 32
NOT_LEFT = 33
EARLY = 34
LATE = 35
DRIFT = 38

GOAL = {"raise": "top_end", "lower": "bottom_end"}
OTHER = {"raise": "lower", "lower": "raise"}
LIMITS = frozenset(("top_end", "bottom_end", "top_final", "bottom_final"))

LEFT_MS = 200.0
BOTH_MS = 50.0
REST_MS = 1000.0
DRIFTS_MAX = 2
TAUT_MS = 100.0


class EndRules:
    """The working limits, whose contacts open when the deck is there."""

    def __init__(self) -> None:
        self.drifts = 0
        self._left = {"top_end": Held(), "bottom_end": Held()}
        self._both = Held()
        self._rest = Held()
        self._limits: frozenset[str] = frozenset()

    def forget(self) -> None:
        """Start every timed proof again; the place at rest is taken anew."""
        for timer in (*self._left.values(), self._both, self._rest):
            timer.restart()

    def judge(self, clock: Clock, closed: set[str], energised: bool, travel: str) -> list[int]:
        """Return what speaks for a fault; travel runs or has just ended, else ''."""
        found = []
        both = not {"top_end", "bottom_end"} & closed
        self._both.watch(clock, both)
        if both and self._both.age_before >= BOTH_MS:
            found.append(BOTH_ENDS)
        for end, timer in self._left.items():
            left = timer.age >= LEFT_MS
            if end in closed:
                timer.watch(clock, True)
                continue
            if left and travel and GOAL[travel] != end:
                found.append(WRONG_WAY)
            timer.restart()
        limits = frozenset(LIMITS & closed)
        self._rest.watch(clock, not energised)
        if not energised and self._rest.age_before >= REST_MS and limits != self._limits:
            self.drifts = min(self.drifts + 1, DRIFTS_MAX)
            if self.drifts >= DRIFTS_MAX:
                found.append(DRIFT)
        self._limits = limits
        return found


class BudgetRules:
    """Energised time one way since the opposite end; the other way gives it back."""

    def __init__(self, s: Mapping[str, int]) -> None:
        self.limit = {way: float(s[f"budget_{way}_ms"]) for way in GOAL}
        self.healthy = {way: float(s[f"travel_{way}_ms"]) for way in GOAL}
        self.early = {way: float(s[f"early_{way}_ms"]) for way in GOAL}
        self.leave = {"raise": float(s["leave_bottom_ms"]), "lower": float(s["leave_top_ms"])}
        self.extra = float(s["extra_ms"])
        self.free_each = float(s["start_allow_ms"])
        self.free_all = float(s["start_allow_total_ms"])
        self.spent = dict(self.limit)  # unknown after power-up: all of it
        self.free_used = dict.fromkeys(GOAL, self.free_all)
        self.at_start = dict.fromkeys(GOAL, 0.0)  # energised with the start's end not left
        self.extra_used: set[str] = set()
        self.known = False
        self._free_now = 0.0
        self._whole = ""  # direction of a travel that began at the end and was not paused

    def allow_leaving(self) -> None:
        """A reset with the service link fitted gives both ends their full time again."""
        self.at_start = dict.fromkeys(GOAL, 0.0)

    def start(self, way: str, closed: set[str]) -> None:
        """A travel begins: grant the free part of its start."""
        self._free_now = min(self.free_each, self.free_all - self.free_used[way])
        self._whole = "" if GOAL[OTHER[way]] in closed else way

    def over(self) -> None:
        """The travel is over for good."""
        self._whole = ""
        self._free_now = 0.0

    def judge(self, clock: Clock, closed: set[str], energised: bool, way: str) -> list[int]:
        """Keep the accounts of this pass; return what speaks for a fault."""
        found = self._travelled(clock.step, closed, way) if energised and way else []
        if self._whole and GOAL[self._whole] not in closed:
            if self.spent[self._whole] < self.early[self._whole]:
                found = [EARLY]
            self._whole = ""
        reached = [name for name in GOAL if GOAL[name] not in closed]
        if not energised:
            if len(reached) == 1:
                self._arrived(reached[0])
        elif way == "raise":
            if "raise" in reached:
                self._arrived("raise")
        elif "lower" in reached:
            self._arrived("lower")
        return found

    def _travelled(self, ms: float, closed: set[str], way: str) -> list[int]:
        back = OTHER[way]
        if way + "_released" not in closed:  # it takes the contactor of this way to move at all
            self.spent[back] = max(0.0, self.spent[back] - ms)
        self.at_start[back] = 0.0
        behind = GOAL[back]
        if behind in closed:
            self.at_start[way] = 0.0
        if self._free_now > 0:
            self._free_now -= ms
            self.free_used[way] += ms
            return []
        if self.spent[way] < self.limit[way]:
            self.spent[way] += ms
        if behind not in closed:
            if self.at_start[way] >= self.leave[way]:
                return [NOT_LEFT]
            self.at_start[way] += ms
        return [LATE] if self.spent[way] >= self.limit[way] else []

    def _arrived(self, way: str) -> None:
        """The end of this direction is reached: the way back is full again."""
        back = OTHER[way]
        self.spent[back] = 0.0
        self.free_used[back] = 0.0
        self.extra_used.discard(back)
        self.at_start[way] = 0.0
        self.spent[way] = self.healthy[way]
        self.known = True

    def allows(self, way: str, service_link: bool) -> bool:
        """Tell whether a start may be; the service link grants one extra allowance."""
        if self.spent[way] < self.limit[way]:
            return True
        if not service_link or way in self.extra_used or self.extra == 0:
            return False
        self.extra_used.add(way)
        self.spent[way] = max(0.0, self.limit[way] - self.extra)
        return True


class SlackRules:
    """A slack rope stops lowering, later near the top, where gravity starts slowly."""

    def __init__(self, s: Mapping[str, int]) -> None:
        self.fitted = bool(s["slack_fitted"])
        self.allowed = float(s["slack_allow_ms"])
        self.allowed_top = float(s["slack_top_ms"])
        self.zone = float(s["slack_zone_ms"])
        self.paid_slack = 0.0
        self._taut = 0.0

    def _limit(self, budget: BudgetRules) -> float:
        near_top = budget.known and budget.spent["lower"] < self.zone
        return self.allowed_top if near_top else self.allowed

    def judge(self, clock: Clock, closed: set[str], way: str, budget: BudgetRules) -> list[int]:
        """Judge an energised pass."""
        if not self.fitted:
            return []
        if "rope_taut" in closed:
            if self._taut >= TAUT_MS:
                self.paid_slack = 0.0
            else:
                self._taut += clock.step
            return []
        self._taut = 0.0
        if way != "lower" or "bottom_end" not in closed:
            return []
        if self.paid_slack >= self._limit(budget):
            return [SLACK]
        self.paid_slack += clock.step
        return []

    def forbids_lowering(self, closed: set[str], budget: BudgetRules) -> bool:
        """Tell whether a slack rope refuses a start downwards."""
        slack = self.fitted and "rope_taut" not in closed and "bottom_end" in closed
        return slack and self.paid_slack >= self._limit(budget)
