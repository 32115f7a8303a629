"""Faults that no exploration of this alphabet can reach, each with the reason."""

from collections.abc import Iterable

from leafwinch.fault_texts import FAULTS

_ENVELOPE = "the settings of an exploration have no learned envelope"

OUT_OF_REACH = {
    "jam": _ENVELOPE,
    "underload": _ENVELOPE,
    "thermal": "currents lie far below the thermal base, so that the level only falls",
    "duty": "the allowed share of energised time is 100 %, so that its account stays empty",
    "program_error": "reaching it is a broken rule, and the exploration stops there",
}
DIRECT_ONLY = {"current_wrong_way": "only direct current has a direction to be wrong"}
NOT_MET = "no letter of the alphabets explored leads to it"


def unreached(reached: Iterable[str], current_signed: int) -> dict[str, str]:
    """Return the faults that were not reached, each with the reason.

    reached: names of those that were. current_signed: the site's setting, 1 for direct current.
    """
    reasons = OUT_OF_REACH if current_signed else OUT_OF_REACH | DIRECT_ONLY
    met = set(reached)
    return {row[0]: reasons.get(row[0], NOT_MET) for row in FAULTS if row[0] not in met}
