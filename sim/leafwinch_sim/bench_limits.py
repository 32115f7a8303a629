"""Lets the limit switches follow the machine, and hands that push them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from leafwinch_sim.switches import snap_action

if TYPE_CHECKING:
    from leafwinch_sim.bench import Bench


def move_limits(bench: Bench) -> bool:
    """Let the limits follow the machine; tell whether one of them moves or bounces."""
    changed = False
    plant = bench.plant
    angle_deg = plant.sensed("leaf_angle")
    turns = plant.drum_turns
    slack_mm = plant.slack_m * 1000.0
    for rule in bench.limit_rules:
        senses = rule.senses
        switch = rule.switch
        if senses < 0:
            actuated = False
        else:
            sensed = angle_deg if senses == 0 else turns if senses == 1 else slack_mm
            past = (sensed - rule.at) * rule.sign
            if bench.limit_shift:
                past -= bench.limit_shift.get(rule.name, 0.0)
            actuated = snap_action(past, rule.differential, switch.actuated)
        if rule.pushed:
            actuated = True
        if switch.t_ms < switch.settle_ms or actuated != switch.actuated:
            switch.move(actuated)
            changed = True
    if changed:
        bench.calm = False
    return changed
