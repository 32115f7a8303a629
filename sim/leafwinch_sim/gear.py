"""Reduction gear: losses when it drives the load and when the load drives it.

Both directions are described by friction at the motor shaft in proportion to the load
torque. Driving, a motor torque of load / efficiency is needed, so the friction is
(1/efficiency - 1) of the load torque. Overhauling, the fraction `back_efficiency` of
the load torque reaches the shaft, so the friction is 1 - back_efficiency of it. With
back_efficiency at or below 0 the gear or its load brake is self-locking: the motor has
to push the load down. The common textbook relation for a gear with equal friction both
ways, back_efficiency = 2 - 1/efficiency, gives self-locking below an efficiency of 50 %.
"""


class Gear:
    """Ratio and losses.

    Args:
        ratio: motor turns per drum turn.
        efficiency: driving, above 0 to 1.
        back_efficiency: overhauling, -1 to 1; 0 or less is self-locking.
    """

    __slots__ = ("back_friction", "drive_friction", "intact", "ratio", "slip_friction")

    def __init__(self, ratio: float, efficiency: float, back_efficiency: float) -> None:
        self.ratio: float = ratio
        self.drive_friction: float = 1.0 / efficiency - 1.0
        self.back_friction: float = 1.0 - back_efficiency
        # What is left when the load pulls in the direction that does not hold.
        self.slip_friction: float = min(self.drive_friction, self.back_friction)
        self.intact: bool = True

    @property
    def self_locking(self) -> bool:
        """Whether the load alone cannot turn the drum."""
        return self.back_friction >= 1.0
