"""The table of all steps, in their order. Nothing in it moves the deck: a person does."""

from dataclasses import replace

from leafwinch_host.commissioning.steps_before import BEFORE
from leafwinch_host.commissioning.steps_ends import ENDS
from leafwinch_host.commissioning.steps_inputs import INPUTS
from leafwinch_host.commissioning.steps_last import LAST
from leafwinch_host.commissioning.steps_moving import MOVES, MOVING
from leafwinch_host.commissioning.table import Step


def _guarded(step: Step) -> Step:
    """Let a step that moves the deck wait for two persons in this sitting, and for the settings."""
    if not step.hazard.startswith(MOVES):
        return step
    return replace(step, needs=(*step.needs, "people"), whole=(*step.whole, "settings"))


STEPS: tuple[Step, ...] = tuple(map(_guarded, (*BEFORE, *INPUTS, *MOVING, *ENDS, *LAST)))
