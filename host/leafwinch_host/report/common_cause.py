"""Defects of one cause that take out several parts at once, and what came of each."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from leafwinch_host.defect_book import Entry
from leafwinch_host.report.verdicts import VERDICTS

KINDS = {
    "common_weld": "A short in the motor welds two contactors",
    "cable_cut": "A whole cable is cut",
    "cable_crushed": "A whole cable is crushed",
    "water": "Water in a box or switch",
    "return_lost": "A common 0 V return is lost",
    "supply_lost": "The control supply or the mains is lost",
}
BRACKET = "A bracket that carries both contacts of a limit is lost"


@dataclass(frozen=True, slots=True)
class CommonCause:
    """One cause with what came of its defects.

    Attributes:
        words: the cause.
        defects: ids of its defects.
        outcome: how many runs ended how.
        worst: longest run-on and overrun of all its runs, in words.
        css: "bad" where one of them broke a requirement, else empty.
    """

    words: str
    defects: str
    outcome: str
    worst: str
    css: str


def common_causes(result: Mapping[str, Any], book: Mapping[str, Entry]) -> list[CommonCause]:
    """Return every common cause of an installation that was tried."""
    cells: dict[str, list[Mapping[str, Any]]] = {}
    for cell in result["cells"]:
        cells.setdefault(cell["defect"], []).append(cell)
    groups: dict[str, list[str]] = {}
    for entry in book.values():
        words = KINDS.get(entry.kind) or (BRACKET if entry.id.endswith(":bracket") else None)
        if words is not None and entry.id in cells:
            groups.setdefault(words, []).append(entry.id)
    rows = []
    for words, ids in groups.items():
        own = [cell for name in ids for cell in cells[name]]
        verdicts = Counter(cell["verdict"] for cell in own)
        outcome = ", ".join(
            f"{verdict.label} {verdicts[verdict.name]}"
            for verdict in reversed(VERDICTS)
            if verdicts[verdict.name]
        )
        run_on_ms = max(cell["reaction_ms"] for cell in own)
        overrun_mm = max(cell["overrun_mm"] for cell in own)
        rows.append(
            CommonCause(
                words,
                ", ".join(ids),
                outcome,
                f"{run_on_ms:g} ms, {overrun_mm:.1f} mm",
                "bad" if verdicts["broken"] else "",
            )
        )
    return rows
