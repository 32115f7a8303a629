"""Rules that a netlist is held to, each with its source, and what breaks them.

The rules judge the drawing, not the built machine: whoever builds it tests it, a licensed
electrician connects it, and the local code has the last word. Nothing is certified by them.
"""

from leafwinch_wiring.netlist import Netlist
from leafwinch_wiring.rules_base import Rule, RuleResult
from leafwinch_wiring.rules_bridges import BRIDGE_RULES
from leafwinch_wiring.rules_circuit import CIRCUIT_RULES
from leafwinch_wiring.rules_power import POWER_RULES
from leafwinch_wiring.rules_switches import SWITCH_RULES

RULES: tuple[Rule, ...] = (*SWITCH_RULES, *CIRCUIT_RULES, *POWER_RULES, *BRIDGE_RULES)
"""Every rule, in the order in which it is reported."""


def check_rules(net: Netlist) -> list[RuleResult]:
    """Check a netlist against every rule and return the results in the order of `RULES`.

    A rule that finds nothing to look at, such as one for contactors where there are none,
    passes and says so by `applies`.
    """
    results = []
    for rule in RULES:
        found = rule.check(net)
        results.append(
            RuleResult(
                id=rule.id,
                words=rule.words,
                source=rule.source,
                applies=found.applies,
                passed=not found.offending,
                offending=tuple(found.offending),
                notes=tuple(found.notes),
            )
        )
    return results
