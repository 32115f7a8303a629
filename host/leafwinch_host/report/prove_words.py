"""The verdict of a proof in one sentence, in plain words, and in numbers."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from leafwinch.requirement_limits import R1_OFF_MS, R1_OVERRUN_MM, REQUIREMENTS

TICK_MS = 5


@dataclass(frozen=True, slots=True)
class Tile:
    """One large number with its words and, if it has one, its limit."""

    words: str
    value: str
    note: str = ""


def extent(result: Mapping[str, Any]) -> str:
    """Return what was tried, in words."""
    faults, moments, runs = result["faults"], result["moments"], result["runs"]
    if result.get("every_tick"):
        return f"{faults} single defects at every one of {result['ticks']} control ticks"
    return f"{faults} single defects at {moments} moments ({runs} runs)"


def sentence(result: Mapping[str, Any]) -> str:
    """Return the verdict in one sentence."""
    if result["verdict"] == "holds":
        found = f"{len(result['latent'])} latent ones are all found by their proof tests"
        gravity = len(result["unpreventable"])
        return (
            f"Holds: of {extent(result)} none started the winch without the control, kept it "
            f"running or drove it past an end; {found}, and {gravity} in which the deck moves by "
            "gravity or wind are listed as beyond any control."
        )
    if result["verdict"] == "unfinished":
        return (
            f"Unfinished: stopped after {extent(result)} out of {result['faults_wanted']} "
            "defects. Nothing broke so far, which proves nothing about the others."
        )
    by_requirement: dict[str, set[str]] = {}
    for row in result["broken"]:
        by_requirement.setdefault(row["requirement"], set()).add(row["fault"])
    parts = [
        f"{name} by {len(by_requirement[name])}"
        for name, _, _ in REQUIREMENTS
        if name in by_requirement
    ]
    everyone = {row["fault"] for row in result["broken"]}
    reasons = []
    if everyone:
        reasons.append(f"that break a requirement: {len(everyone)} ({', '.join(parts)})")
    unproven = [row for row in result["latent"] if not row["proof_found"]]
    if unproven:
        reasons.append(f"latent that escape their proof test: {len(unproven)}")
    if result["undetected"]:
        reasons.append(f"that nothing finds: {len(result['undetected'])}")
    return f"Broken: of {extent(result)}, those {'; those '.join(reasons)}."


def plain_words(result: Mapping[str, Any]) -> list[str]:
    """Return what the result means for someone who builds and uses the floor."""
    every = f"every {TICK_MS} ms" if result.get("every_tick") else "at many moments"
    tried = (
        f"One part after another was broken in a simulation, {result['faults']} defects in all, "
        f"each {every} of a working day: switches, wires, contactors, the board, the winch, the "
        "rope."
    )
    lines = [tried]
    if result["verdict"] == "holds":
        lines.append(
            "Not once did the winch start by itself, run on after the hand let go, or drive the "
            "floor past an end. Whatever broke, it stopped or stayed at rest."
        )
    elif result["verdict"] == "broken":
        lines.append(
            "In the runs listed as broken it did what it must not. Don't build it like this, and "
            "don't use it if it is built."
        )
    if result["verdict"] != "broken":
        lines.append(
            f"Letting go switched motor and brake off within {result['worst_reaction_ms']:g} ms "
            "in the worst run, and the free end of the floor went on by "
            f"{result['worst_overrun_mm']:.0f} mm at most. Keep hands and feet farther away."
        )
    if result["latent"]:
        lines.append(
            f"{len(result['latent'])} defects show no sign in daily use. The proof tests below "
            "find them, and nothing else does: do them at the stated intervals."
        )
    if result["unpreventable"]:
        lines.append(
            f"{len(result['unpreventable'])} defects let the floor fall although everything is "
            "switched off, such as a parted rope. No control can prevent that: keep everybody "
            "off and out from under a raised floor, and prop it."
        )
    return lines


def tiles(result: Mapping[str, Any]) -> list[Tile]:
    """Return the large numbers at the top."""
    if result.get("every_tick"):
        tried = [
            Tile("control ticks each", f"{result['ticks']}", f"one every {TICK_MS} ms"),
            Tile("branches run", f"{result['branches_run']}"),
            Tile("branches merged", f"{result['branches_merged']}", "equal to one that was run"),
        ]
    else:
        tried = [Tile("moments each", f"{result['moments']}"), Tile("runs", f"{result['runs']}")]
    return [
        Tile("single defects", f"{result['faults']}"),
        *tried,
        Tile("runs that broke", f"{len(result['broken'])}"),
        Tile("found by nothing", f"{len(result['undetected'])}", "0 required"),
        Tile("latent", f"{len(result['latent'])}", "each has a proof test"),
        Tile("beyond any control", f"{len(result['unpreventable'])}", "gravity or wind"),
        Tile(
            "longest run-on",
            f"{result['worst_reaction_ms']:g} ms",
            f"release to motor and brake coil off, limit {R1_OFF_MS} ms",
        ),
        Tile(
            "longest overrun",
            f"{result['worst_overrun_mm']:.1f} mm",
            f"limit {R1_OVERRUN_MM} mm, free end",
        ),
    ]
