"""What a requirement is judged on: one row every 5 ms, from the bench or from a recorded trace."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from leafwinch_sim.board import ControllerLike


class Observation:
    """The facts of one control step.

    The `*_any` fields cover every millisecond of the step, the others its end. `asked`
    is the direction in which the control is physically actuated (any departure from the
    middle counts). `brake_fed` tells whether the brake's coil holds it off.
    """

    __slots__ = (
        "angle_deg",
        "asked",
        "board_on",
        "both_pulled_any",
        "bottom_actuated",
        "brake_fed",
        "brake_set",
        "buffer_force_n",
        "contacts",
        "current_a",
        "current_ma",
        "drum_turns",
        "fault",
        "free_end_m",
        "held_reasons",
        "hung",
        "line_pulled",
        "lower_pulled",
        "motor_rad_s",
        "outputs",
        "powered_any",
        "powered_way",
        "raise_pulled",
        "rope_out_m",
        "slack_mm",
        "state",
        "supply_mv",
        "t_ms",
        "tension_n",
        "top_actuated",
        "warning",
        "warnings",
    )

    def __init__(self) -> None:
        self.t_ms = 0
        self.asked = 0
        self.state = 0
        self.fault = 0
        self.held_reasons = 0
        self.warning = 0
        self.warnings = 0
        self.board_on = False
        self.hung = False
        self.contacts = 0
        self.outputs = 0
        self.current_ma = 0
        self.supply_mv = 0
        self.powered_way = 0
        self.powered_any = 0
        self.both_pulled_any = False
        self.line_pulled = False
        self.raise_pulled = False
        self.lower_pulled = False
        self.brake_fed = False
        self.brake_set = True
        self.current_a = 0.0
        self.motor_rad_s = 0.0
        self.angle_deg = 0.0
        self.rope_out_m = 0.0
        self.drum_turns = 0.0
        self.slack_mm = 0.0
        self.tension_n = 0.0
        self.buffer_force_n = 0.0
        self.free_end_m = 0.0
        self.top_actuated = False
        self.bottom_actuated = False

    def take_control(self, controller: "ControllerLike") -> None:
        """Take over what a controller shows that is not the firmware in this interpreter."""
        self.state = controller.state
        self.fault = controller.fault
        self.held_reasons = controller.held_reasons
        self.warning = controller.warning
        self.warnings = controller.warnings
