"""What came of all pieces of one script: for each defect and column a verdict and figures."""

import bisect
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from leafwinch_sim.board import STEP_MS
from leafwinch_sim.outcomes import BROKEN, DORMANT, FOUND, SILENT

Code = tuple[str, str, str, str, int, bool]  # as Piece.codes has them

UNUSED: Code = (DORMANT, "", "", "", 0, False)
_SEVERITY = {DORMANT: 0, SILENT: 1, FOUND: 2, BROKEN: 3}


@dataclass(slots=True)
class TickCell:
    """One defect in one column of one script.

    Attributes:
        verdict: the worst of all its ticks: broken, found, silent or dormant.
        ticks: how many ticks it stands for, by their verdict.
        breaks: requirement, text, tick and whether fed, of the first break of each
            requirement.
        found, fault: how the defect showed itself at the first tick at which it did.
        reaction_ms, reaction_tick, overrun_mm, overrun_tick: the worst of the branches run.
    """

    verdict: str = DORMANT
    ticks: dict[str, int] = field(default_factory=dict)
    breaks: list[tuple[str, str, int, bool]] = field(default_factory=list)
    found: str = ""
    fault: int = 0
    reaction_ms: int = 0
    reaction_tick: int = 0
    overrun_mm: float = 0.0
    overrun_tick: int = 0

    def add(self, code: Code, tick: int, ticks: int) -> None:
        """Enter `ticks` ticks from `tick` on that ended alike."""
        verdict, requirement, text, found, fault, fed = code
        self.ticks[verdict] = self.ticks.get(verdict, 0) + ticks
        if _SEVERITY[verdict] > _SEVERITY[self.verdict]:
            self.verdict = verdict
        if requirement and all(requirement != name for name, _, _, _ in self.breaks):
            self.breaks.append((requirement, text, tick, fed))
        if found and not self.found:
            self.found, self.fault = found, fault

    def add_worst(self, worst: list[Any]) -> None:
        """Enter the worst figures of one piece."""
        if worst[0] > self.reaction_ms:
            self.reaction_ms, self.reaction_tick = worst[0], worst[1]
        if worst[2] > self.overrun_mm:
            self.overrun_mm, self.overrun_tick = worst[2], worst[3]


class TickResults:
    """All pieces of one script put together.

    Args:
        script: its name.
        columns: (name, begin in ms) of each column, ascending.
        ticks: how many ticks the script has.
        pieces: what the pieces gave as data, in any order, each once.
    """

    def __init__(
        self,
        script: str,
        columns: list[tuple[str, int]],
        ticks: int,
        pieces: Iterable[dict[str, Any]],
    ) -> None:
        self.script = script
        self.columns = columns
        self.ticks = ticks
        self.pieces = sorted(pieces, key=lambda piece: int(piece["first"]))
        self.run = sum(piece["run"] for piece in self.pieces)
        self.merged = sum(piece["merged"] for piece in self.pieces)

    def cells(self, index: int) -> list[TickCell]:
        """Return the cells of the defect with this index, one for each column."""
        cells = [TickCell() for _ in self.columns]
        starts = [-(-t_ms // STEP_MS) for _, t_ms in self.columns]
        for tick, end, code in self.spans(index):
            column = max(0, bisect.bisect_right(starts, tick) - 1)
            while tick < end:
                last = column + 1 == len(starts)
                until = end if last else min(end, starts[column + 1])
                if until > tick:
                    cells[column].add(code, tick, until - tick)
                tick = max(tick, until)
                column += 1
        for piece in self.pieces:
            for column_text, worst in piece["worst"].get(str(index), {}).items():
                cells[int(column_text)].add_worst(worst)
        return cells

    def spans(self, index: int) -> list[tuple[int, int, Code]]:
        """Return (tick, end, code) of one defect, every 'ends as that tick does' looked up."""
        raw: list[tuple[int, int, Code | int]] = []
        for piece in self.pieces:
            codes = [tuple(code) for code in piece["codes"]]
            spans = piece["spans"][str(index)]
            ends = [tick for tick, _ in spans[1:]] + [piece["first"] + piece["ticks"]]
            for (tick, code), end in zip(spans, ends, strict=True):
                raw.append((tick, end, codes[code] if code >= 0 else -1 - code))
        starts = [tick for tick, _, _ in raw]
        known: list[Code] = [UNUSED] * len(raw)
        for place in range(len(raw) - 1, -1, -1):
            code = raw[place][2]
            if not isinstance(code, int):
                known[place] = code
            else:
                other = bisect.bisect_right(starts, code) - 1
                # Beyond the last tick, or in a piece that is not there, nothing more is known.
                if other > place and code < raw[other][1]:
                    known[place] = known[other]
        return [(tick, end, known[place]) for place, (tick, end, _) in enumerate(raw)]
