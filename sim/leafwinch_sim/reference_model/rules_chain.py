"""Emergency stop, final limits, recovery key and the voltage at the end of their chain."""

from leafwinch_sim.reference_model.timing import Clock, Held

STOP = 2
TOP_FINAL = 3
BOTTOM_FINAL = 4
CHAIN_DEAD = 5
CHAIN_BRIDGED = 6
KEY_TURNED = 7
KEY_MS = 100.0


class ChainRules:
    """Names what opened the chain, and remembers how each final was met.

    `met` maps a final that is actuated to the direction in which that happened
    ('raise', 'lower' or '' for neither).
    """

    def __init__(self) -> None:
        self.met: dict[str, str] = {}
        self.excused = ""  # the final that recovery leaves open, while the key is turned
        self._key = Held()

    def forget(self) -> None:
        """Start the timed proof again."""
        self._key.restart()

    def judge(self, clock: Clock, closed: set[str], travel: str, recovering: bool) -> list[int]:
        """Return what speaks for a fault in this pass.

        travel: the direction that runs or has just ended, else ''. recovering: a
        turned key is no fault.
        """
        for final in ("top_final", "bottom_final"):
            if final in closed:
                self.met.pop(final, None)
            else:
                self.met.setdefault(final, travel)
        key = "recovery_off" not in closed
        excused = self.excused if key else ""
        stop = "stop_ok" not in closed
        tops = "top_final" not in closed
        bottoms = "bottom_final" not in closed
        alone = key and not (tops or bottoms or stop or recovering) and "chain_ok" in closed
        self._key.watch(clock, alone)
        if "chain_ok" in closed:
            # A key may bridge finals, nothing may bridge the stop.
            if stop or ((tops or bottoms) and not key):
                return [CHAIN_BRIDGED]
        elif stop:
            return [STOP]
        if tops and excused != "top_final":
            return [TOP_FINAL]
        if bottoms and excused != "bottom_final":
            return [BOTTOM_FINAL]
        if "chain_ok" not in closed:
            return [CHAIN_DEAD]
        return [KEY_TURNED] if self._key.age_before >= KEY_MS else []

    def bridged_final(self, closed: set[str]) -> str:
        """Return the one final that the turned key bridges now, or ''."""
        if "recovery_off" in closed or not {"chain_ok", "stop_ok"} <= closed:
            return ""
        actuated = [name for name in ("top_final", "bottom_final") if name not in closed]
        return actuated[0] if len(actuated) == 1 else ""
