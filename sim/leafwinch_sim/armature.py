"""A contactor's armature: when its poles and mirror contacts move, ms by ms."""

from leafwinch_wiring.netlist import CoilData


class Armature:
    """Follows one coil. `mains` and `mirror` tell which contacts are closed.

    Main contacts close `operate_ms` after the coil pulls and open `release_ms` after it
    lets go; the mirror contacts open before and close after them. A mechanical interlock
    keeps an armature at rest while its partner is away from rest.
    """

    __slots__ = (
        "coil",
        "coil_index",
        "dead",
        "drop_out",
        "interlock_lost",
        "mains",
        "mains_bits",
        "mirror",
        "mirror_bits",
        "mirror_close_ms",
        "mirror_open_ms",
        "on",
        "operate_ms",
        "partner",
        "pull_in",
        "release_ms",
        "settle_ms",
        "slow",
        "stuck",
        "t_ms",
        "welded",
    )

    def __init__(self, coil: CoilData, index: int, mains_bits: int, mirror_bits: int) -> None:
        self.coil = coil
        self.pull_in: float = coil.pull_in
        self.drop_out: float = coil.drop_out
        self.operate_ms: float = coil.operate_ms
        self.release_ms: float = coil.release_ms
        self.mirror_open_ms: float = coil.mirror_open_ms
        self.mirror_close_ms: float = coil.mirror_close_ms
        self.coil_index = index
        self.mains_bits = mains_bits
        self.mirror_bits = mirror_bits
        self.partner: Armature | None = None
        self.on = False
        self.t_ms = 1000.0
        self.mains = False
        self.mirror = True
        self.settle_ms = 0.0
        self.mend()

    def mend(self) -> None:
        """Take every mechanical defect away."""
        self.dead = False
        self.stuck = False
        self.welded = False
        self.interlock_lost = False
        self.slow = 1.0
        self._set_settle()

    def _set_settle(self) -> None:
        slowest = max(self.release_ms, self.mirror_close_ms) * self.slow
        rested = self.t_ms >= self.settle_ms
        self.settle_ms = max(slowest, self.operate_ms, self.mirror_open_ms)
        if rested:
            self.t_ms = self.settle_ms  # one at rest has been so for long enough

    def slow_down(self, factor: float) -> None:
        """Let it release `factor` times later."""
        self.slow = factor
        self._set_settle()

    def step(self, ratio: float) -> None:
        """Advance by 1 ms with the coil at this ratio of its nominal voltage."""
        wanted = ratio >= (self.drop_out if self.on else self.pull_in)
        if wanted and not self.on:
            partner = self.partner
            blocked = partner is not None and not partner.mirror and not self.interlock_lost
            if self.dead or (blocked and self.mirror):
                wanted = False
        if self.stuck and self.mains:
            wanted = True
        elif self.dead:
            wanted = False
        if wanted != self.on:
            self.on = wanted
            self.t_ms = 0.0
        elif self.t_ms < self.settle_ms:
            self.t_ms += 1.0
        t_ms = self.t_ms
        if self.on:
            if t_ms >= self.mirror_open_ms:
                self.mirror = False
            if t_ms >= self.operate_ms:
                self.mains = True
        else:
            if t_ms >= self.release_ms * self.slow:
                self.mains = False
            if t_ms >= self.mirror_close_ms * self.slow:
                self.mirror = not self.welded
        if self.welded:
            self.mirror = False

    def settled(self, ratio: float) -> bool:
        """Tell whether nothing will move while the coil stays at this ratio."""
        if self.t_ms < self.settle_ms:
            return False
        if self.on:
            return ratio >= self.drop_out or (self.stuck and self.mains)
        if self.welded and self.mirror:
            return False
        return (
            ratio < self.pull_in
            or self.dead
            or (self.partner is not None and (not self.partner.mirror and not self.interlock_lost))
        )

    def packed(self) -> int:
        """Return where the armature is as one number; its defects are not part of it."""
        return (
            int(self.t_ms) << 3
            | (4 if self.on else 0)
            | (2 if self.mains else 0)
            | (1 if self.mirror else 0)
        )

    def unpack(self, state: int) -> None:
        """Take over a state from packed()."""
        self.t_ms = float(state >> 3)  # whole milliseconds always
        self.on = state & 4 != 0
        self.mains = state & 2 != 0
        self.mirror = state & 1 != 0

    def bits(self) -> int:
        """Return the mask bits of the contacts that are closed now."""
        return (self.mains_bits if self.mains else 0) | (self.mirror_bits if self.mirror else 0)
