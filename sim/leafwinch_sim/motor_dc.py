"""Permanent-magnet direct-current motor with armature resistance and inductance.

    U = R I + L dI/dt + k w,   air-gap torque = k I.
The current is stepped implicitly, so it stays stable for any step. A winding voltage
below `OPEN_RATIO` of nominal counts as disconnected: the current is cut by the contact
at once and there is no braking by a short.
"""

OPEN_RATIO = 0.02


class DirectCurrentMotor:
    """Torque, its slope over speed, and signed armature current, as attributes.

    Positive current and torque raise the deck.

    Args:
        voltage_v: nominal voltage.
        resistance_ohm: armature with brushes.
        inductance_h: armature inductance.
        constant: torque per ampere in N m/A, the same number as V s/rad.
        drag_nm: constant friction at the shaft.
    """

    __slots__ = (
        "armature_open",
        "constant",
        "current_a",
        "drag_nm",
        "inductance_h",
        "resistance_ohm",
        "slope",
        "torque_nm",
        "voltage_v",
    )

    def __init__(
        self,
        voltage_v: float,
        resistance_ohm: float,
        inductance_h: float,
        constant: float,
        drag_nm: float,
    ) -> None:
        self.voltage_v: float = voltage_v
        self.resistance_ohm: float = resistance_ohm
        self.inductance_h: float = inductance_h
        self.constant: float = constant
        self.drag_nm: float = drag_nm
        self.armature_open: bool = False
        self.current_a: float = 0.0
        self.torque_nm: float = 0.0
        self.slope: float = 0.0

    def update(
        self, windings: tuple[float, ...], speed_rad_s: float, supply: float, dt_s: float
    ) -> None:
        """Advance the current by `dt_s` at a speed and evaluate the torque."""
        ratio = windings[0]
        if self.armature_open or -OPEN_RATIO < ratio < OPEN_RATIO:
            self.current_a = 0.0
            self.torque_nm = 0.0
            self.slope = 0.0
            return
        per_henry = dt_s / self.inductance_h
        constant = self.constant
        driving = ratio * supply * self.voltage_v - constant * speed_rad_s
        scale = 1.0 / (1.0 + per_henry * self.resistance_ohm)
        self.current_a = (self.current_a + per_henry * driving) * scale
        self.torque_nm = constant * self.current_a
        self.slope = -constant * constant * per_henry * scale
