"""All steps in their order."""

from leafwinch_host.commissioning.steps_before import BEFORE
from leafwinch_host.commissioning.steps_ends import ENDS
from leafwinch_host.commissioning.steps_inputs import INPUTS
from leafwinch_host.commissioning.steps_last import LAST
from leafwinch_host.commissioning.steps_moving import MOVING
from leafwinch_host.commissioning.table import Step

STEPS: tuple[Step, ...] = (*BEFORE, *INPUTS, *MOVING, *ENDS, *LAST)
