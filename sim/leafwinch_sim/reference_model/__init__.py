"""A second description of what the firmware must do, written from the rules in prose.

It shares no table, number or structure with the firmware, so that a mistake in one is not
repeated in the other: times are absolute, amounts are floats, faults and thresholds are
literals here. It predicts the state, the motor outputs and the fault number of each pass.
Lamps, buzzer and warnings are not its business.
"""

from leafwinch_sim.reference_model.machine import ReferenceModel

__all__ = ["ReferenceModel"]
