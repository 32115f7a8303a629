"""Turns the results of all defects into the data of the report."""

import platform
import sys
from importlib.metadata import PackageNotFoundError, version
from typing import Any

from leafwinch_sim.bench_defects import Defect
from leafwinch_sim.board import STEP_MS
from leafwinch_sim.build_kind import build_kind
from leafwinch_sim.campaign_work import (
    SCRIPT,
    DefectResult,
    Plan,
    is_condition,
    is_unpreventable,
)
from leafwinch_sim.control_defects import ControlDefect
from leafwinch_sim.nominal import Nominal
from leafwinch_sim.outcomes import BROKEN, DORMANT, FOUND, Outcome
from leafwinch_sim.plant_defects import PlantDefect
from leafwinch_sim.plant_drop import worst_drop
from leafwinch_sim.tick_results import TickCell, TickResults
from leafwinch_wiring.netlist import Netlist

PACKAGES = ("leafwinch", "numpy", "scipy", "pydantic")


class Summary:
    """Turns the results of all defects into the data of the report."""

    def __init__(
        self,
        plan: Plan,
        nominal: Nominal,
        defects: tuple[Defect, ...],
        wanted: list[int],
        results: list[DefectResult],
        ticks: list[TickResults],
    ) -> None:
        self.plan = plan
        self.site = plan.site
        self.net = plan.net
        self.nominal = nominal
        self.defects = defects
        self.results = results
        self.ticks = ticks  # none, or one for each script whose every tick was tried
        self.place_of = {index: place for place, index in enumerate(wanted)}
        self.broken: list[dict[str, Any]] = []
        self.latent: list[dict[str, Any]] = []
        self.unpreventable: list[dict[str, Any]] = []
        self.residual: list[dict[str, Any]] = []
        self.tolerated: list[dict[str, Any]] = []
        self.undetected: list[str] = []
        self.cells: list[dict[str, Any]] = []
        self.worst_overrun_mm = 0.0
        self.worst_reaction_ms = 0

    def as_data(self) -> dict[str, Any]:
        """Return the result of the proof."""
        for result in self.results:
            self._add(self.defects[result.index], result)
        moments = len(self.nominal.moments)
        holds = not self.broken and not self.undetected
        columns = [("", name, t_ms) for name, t_ms in self.nominal.moments]
        for result_of in self.ticks[1:]:
            columns += [(result_of.script, name, t_ms) for name, t_ms in result_of.columns]
        data: dict[str, Any] = {
            "verdict": "holds" if holds else "broken",
            "site": self.site.name,
            "options": self.site.options,
            "wiring": self.net.name,
            "script": SCRIPT,
            "faults": len(self.results),
            "moments": moments,
            "moment_names": [name for _, name, _ in columns],
            "moment_s": [t_ms / 1000.0 for _, _, t_ms in columns],
            "moment_scripts": [script or SCRIPT for script, _, _ in columns],
            "runs": len(self.results) * moments,
            "branches_run": sum(result.ran for result in self.results),
            "faults_merged": sum(result.ran == 0 for result in self.results),
            "broken": self.broken,
            "latent": self.latent,
            "unpreventable": self.unpreventable,
            "residual": self.residual,
            "tolerated": self.tolerated,
            "undetected": self.undetected,
            "worst_overrun_mm": round(self.worst_overrun_mm, 2),
            "worst_reaction_ms": self.worst_reaction_ms,
            "seed": self.plan.seed,
            "every_tick": bool(self.ticks),
            "cells": self.cells,
            "versions": _versions(self.net),
        }
        if self.ticks:
            data["ticks"] = sum(piece["ticks"] for r in self.ticks for piece in r.pieces)
            data["tick_scripts"] = [result_of.script for result_of in self.ticks]
            data["branches_run"] = sum(result_of.run for result_of in self.ticks)
            data["branches_merged"] = sum(result_of.merged for result_of in self.ticks)
        return data

    def _add(self, defect: Defect, result: DefectResult) -> None:
        falls = is_unpreventable(defect)
        every = self._tick_cells(result)
        found = any(outcome.verdict == FOUND for outcome in result.outcomes) or any(
            FOUND in cell.ticks for cells in every for cell in cells
        )
        broke = self._tick_breaks(defect, every, falls)
        for moment, outcome in enumerate(result.outcomes):
            gravity = falls and _by_gravity(outcome.requirement, outcome.fed)
            if outcome.verdict == BROKEN and not gravity:
                broke = True
                self._break(defect, self._moment(moment), outcome.requirement, outcome.text)
            if not falls:
                self.worst_overrun_mm = max(self.worst_overrun_mm, outcome.overrun_mm)
                self.worst_reaction_ms = max(self.worst_reaction_ms, outcome.reaction_ms)
        after = result.aftermath
        if after is not None and after.broken is not None:
            broke = True
            name, broken = after.broken
            self._break(defect, self._moment(0), name, f"on insisting: {broken.text}")
        elif after is not None and not after.healed:
            broke = True
            self._break(defect, self._moment(0), "R10", after.text)
        rest = "unaffected"
        if falls:
            self._fall(defect, result)
            rest = "unpreventable"
        elif not found and not broke and is_condition(defect):
            self.tolerated.append({"fault": defect.id, "cause": defect.cause})
        elif not found and not broke:
            rest = "latent" if result.proof_test else "undetected"
            if result.proof_test:
                self.latent.append(
                    {
                        "fault": defect.id,
                        "cause": defect.cause,
                        "proof_test": result.proof_test,
                        "proof_found": True,
                        "reading": result.proof_found,
                    }
                )
            else:
                self.undetected.append(defect.id)
        if isinstance(defect, ControlDefect) and defect.residual:
            self.residual.append({"fault": defect.id, "text": defect.residual})
        self._add_cells(defect, result, rest, falls, every)

    def _moment(self, moment: int) -> tuple[str, str, int]:
        name, t_ms = self.nominal.moments[moment]
        return (SCRIPT, name, t_ms)

    def _tick_cells(self, result: DefectResult) -> list[list[TickCell]]:
        """Return the cells of every script whose ticks were tried."""
        return [ticks.cells(self.place_of[result.index]) for ticks in self.ticks]

    def _tick_breaks(self, defect: Defect, every: list[list[TickCell]], falls: bool) -> bool:
        """List what broke at a tick; tell whether anything did."""
        broke = False
        for ticks, cells in zip(self.ticks, every, strict=True):
            for (name, _), cell in zip(ticks.columns, cells, strict=True):
                for requirement, text, tick, fed in cell.breaks:
                    if falls and _by_gravity(requirement, fed):
                        continue
                    broke = True
                    place = (ticks.script, name, tick * STEP_MS)
                    self._break(defect, place, requirement, text)
                if not falls:
                    self.worst_overrun_mm = max(self.worst_overrun_mm, cell.overrun_mm)
                    self.worst_reaction_ms = max(self.worst_reaction_ms, cell.reaction_ms)
        return broke

    def _add_cells(
        self,
        defect: Defect,
        result: DefectResult,
        rest: str,
        falls: bool,
        every: list[list[TickCell]],
    ) -> None:
        column = 0
        first = every[0] if every else [None] * len(result.outcomes)
        for outcome, ticked in zip(result.outcomes, first, strict=True):
            verdict = _shown(outcome.verdict, outcome.requirement, outcome.fed, rest, falls)
            cell = _cell(defect, column, verdict, outcome)
            if ticked is not None:
                self._widen(cell, ticked, rest, falls, self.nominal.moments[column][1])
            self.cells.append(cell)
            column += 1
        for cells in every[1:]:
            for ticked in cells:
                cell = _cell(defect, column, "unaffected", Outcome(DORMANT))
                self._widen(cell, ticked, rest, falls, 0)
                self.cells.append(cell)
                column += 1

    def _widen(
        self, cell: dict[str, Any], ticked: TickCell, rest: str, falls: bool, moment_ms: int
    ) -> None:
        """Let a cell stand for all the ticks of its column as well."""
        worst_ms = reaction_ms = moment_ms
        if ticked.reaction_ms > cell["reaction_ms"]:
            reaction_ms = ticked.reaction_tick * STEP_MS
        if ticked.overrun_mm > cell["overrun_mm"]:
            worst_ms = ticked.overrun_tick * STEP_MS
        cell["reaction_ms"] = max(cell["reaction_ms"], ticked.reaction_ms)
        cell["overrun_mm"] = max(cell["overrun_mm"], round(ticked.overrun_mm, 2))
        if not cell["found"] and ticked.found:
            cell["found"], cell["fault"] = ticked.found, ticked.fault
        if ticked.breaks:
            requirement, _, tick, fed = ticked.breaks[0]
            verdict = _shown(BROKEN, requirement, fed, rest, falls)
            worst_ms = tick * STEP_MS
        else:
            verdict = _shown(ticked.verdict, "", False, rest, falls)
        if _RANK[verdict] > _RANK[cell["verdict"]]:
            cell["verdict"] = verdict
        cell["ticks"] = sum(ticked.ticks.values())
        cell["ticks_by_verdict"] = ticked.ticks
        cell["worst_ms"] = worst_ms
        cell["reaction_at_ms"] = reaction_ms

    def _break(
        self, defect: Defect, place: tuple[str, str, int], requirement: str, text: str
    ) -> None:
        script, moment, t_ms = place
        self.broken.append(
            {
                "fault": defect.id,
                "cause": defect.cause,
                "at_s": t_ms / 1000.0,
                "moment": moment,
                "requirement": requirement,
                "text": text,
                "replay": f"leafwinch run {self.site.options} --wiring {self.net.name} "
                f"--script {script} --defect {defect.id} --at {t_ms / 1000:g} "
                f"--seed {self.plan.seed}",
            }
        )

    def _fall(self, defect: Defect, result: DefectResult) -> None:
        """List a defect that no control can prevent, with its drop worked out."""
        if not isinstance(defect, PlantDefect):
            return
        drop = worst_drop(self.site, defect)
        drop_mm = round(max(0.0, drop.fall_m) * 1000.0)
        shown = [outcome.found for outcome in result.outcomes if outcome.found]
        self.unpreventable.append(
            {
                "fault": defect.id,
                "cause": defect.cause,
                "drop_mm": drop_mm,
                "detection": shown[0] if shown else "by eye only",
                "caution": defect.caution,
                "inspection": defect.inspection,
                "facts": [
                    ("fall of the mid hinge", f"{drop_mm} mm"),
                    ("fastest", f"{drop.fastest_m_per_s:.2f} m/s"),
                    ("noticed by the drive", shown[0] if shown else "no, by eye only"),
                    ("caution", defect.caution),
                    ("inspection", defect.inspection),
                ],
            }
        )


def _cell(defect: Defect, column: int, verdict: str, outcome: Outcome) -> dict[str, Any]:
    return {
        "defect": defect.id,
        "moment": column,
        "verdict": verdict,
        "fault": outcome.fault,
        "reaction_ms": outcome.reaction_ms,
        "overrun_mm": round(outcome.overrun_mm, 2),
        "found": outcome.found,
    }


def _by_gravity(requirement: str, fed: bool) -> bool:
    """Tell whether a break is the deck's own fall: an end passed, or a run-on without power."""
    if requirement == "R1":
        return not fed
    return requirement in ("R2", "R11")


# Which verdict a cell shows that stands for several.
_RANK = {"unaffected": 0, "tolerated": 1, "latent": 2, "found": 3, "unpreventable": 4}
_RANK.update(undetected=5, broken=6)


def _shown(verdict: str, requirement: str, fed: bool, rest: str, falls: bool) -> str:
    """Return how a cell shows a verdict; `rest` is what an unnoticed one is for this defect."""
    if verdict == BROKEN and falls and _by_gravity(requirement, fed):
        return "unpreventable"
    if verdict in (BROKEN, FOUND):
        return verdict
    return rest if verdict != DORMANT or rest != "unpreventable" else "unaffected"


def _versions(net: Netlist) -> dict[str, str]:
    found = {"python": platform.python_version(), "platform": sys.platform}
    found["build"] = build_kind()
    for name in PACKAGES:
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            found[name] = "not installed"
    found["netlist"] = net.content_hash
    return found
