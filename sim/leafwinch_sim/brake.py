"""Spring-applied brake on the motor shaft, released by its coil after a delay."""


class Brake:
    """Whether the brake grips; its friction torque belongs to the winch.

    `steady` tells that the last update found it where its coil wants it.

    Args:
        release_ms: from the coil being energised to the shaft being free.
        set_ms: from the coil being de-energised to the full torque.
    """

    __slots__ = (
        "is_set",
        "release_ms",
        "set_ms",
        "steady",
        "stuck_off",
        "stuck_on",
        "timer_ms",
    )

    def __init__(self, release_ms: float, set_ms: float) -> None:
        self.release_ms: float = release_ms
        self.set_ms: float = set_ms
        self.stuck_on: bool = False
        self.stuck_off: bool = False
        self.is_set: bool = True
        self.steady: bool = True
        self.timer_ms: float = 0.0

    def update(self, dt_ms: float, energised: bool) -> None:
        """Advance by `dt_ms` with the coil energised or not."""
        released = energised
        if self.stuck_on:
            released = False
        elif self.stuck_off:
            released = True
        self.steady = released != self.is_set
        if self.steady:
            self.timer_ms = 0.0
            return
        self.timer_ms += dt_ms
        if self.timer_ms >= (self.release_ms if released else self.set_ms):
            self.is_set = not released
            self.timer_ms = 0.0
