"""The table of all explanations, by the name of the fault."""

from leafwinch_host.explaining.causes_contactors import CONTACTORS
from leafwinch_host.explaining.causes_control import CONTROL
from leafwinch_host.explaining.causes_current import CURRENT
from leafwinch_host.explaining.causes_travel import TRAVEL
from leafwinch_host.explaining.explanation import Explanation

EXPLANATIONS: dict[str, Explanation] = {**CONTROL, **CONTACTORS, **CURRENT, **TRAVEL}
"""An explanation for every fault in `leafwinch.fault_texts.FAULT_NAMES`."""
