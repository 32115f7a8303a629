"""What can be reached from where, once a search is closed."""

from leafwinch.fault_texts import FAULTS
from leafwinch.faults import SETTINGS_BAD, SETTINGS_FOREIGN
from leafwinch.states import FAULT
from leafwinch_sim.explore.accounts import BLOCKED_MS
from leafwinch_sim.explore.alphabet import AT_BOTTOM, AT_TOP, UNDISTURBED
from leafwinch_sim.explore.letters import disturbance_of, pattern_of
from leafwinch_sim.explore.search import BY_POWER, TO_BOTTOM, TO_TOP, Search

# These are left by loading the right settings and starting anew, never by the button.
NEED_SETTINGS = (SETTINGS_BAD, SETTINGS_FOREIGN)


def backwards(search: Search, goals: set[int], flag: int) -> set[int]:
    """Return every node from which a goal, or an edge with the flag, can be reached.

    Edges that cycle the power are not used.
    """
    before: list[list[int]] = [[] for _ in search.states]
    reached = set(goals)
    for source, target, flags in zip(search.sources, search.targets, search.flags, strict=True):
        if flags & BY_POWER:
            continue
        before[target].append(source)
        if flags & flag:
            reached.add(source)
    waiting = list(reached)
    while waiting:
        for source in before[waiting.pop()]:
            if source not in reached:
                reached.add(source)
                waiting.append(source)
    return reached


def stranded(search: Search, linked: bool) -> list[tuple[int, str]]:
    """Return (node, what cannot be reached) for each healthy node without a way to both ends.

    Healthy is a node without a latched fault under an undisturbed pattern. linked: the service
    link is in the alphabet. Without it a spent account and an unknown position have no other way
    out by design, so they are not asked.
    """
    state_at = search.state_index("controller.state")
    spent = [] if linked else spent_fields(search)
    known_at = search.state_index("budget.known")
    found = []
    for flag, end in ((TO_TOP, "top"), (TO_BOTTOM, "bottom")):
        ways = backwards(search, set(), flag)
        for node, state in enumerate(search.states):
            if node in ways or state[state_at] == FAULT:
                continue
            if disturbance_of(search.arrived[node]) != UNDISTURBED:
                continue
            first = search.parents[node] < 0 and place_of(search, node) in (AT_BOTTOM, AT_TOP)
            sound = state[known_at] and all(state[i] < limit for i, limit in spent)
            if linked or first or sound:
                found.append((node, f"the {end} end"))
    return found


def place_of(search: Search, node: int) -> int:
    """Return where the deck stands at a node."""
    return search.grammar.patterns[pattern_of(search.arrived[node])].place


def spent_fields(search: Search) -> list[tuple[int, int]]:
    """Return (index, limit) of each account that only the service link renews."""
    s = search.rules.s
    limits = (
        ("budget.up_ms", s.budget_raise_ms),
        ("budget.down_ms", s.budget_lower_ms),
        ("budget.up_leave_ms", s.leave_bottom_ms),
        ("budget.down_leave_ms", s.leave_top_ms),
        ("current.blocked_ms", BLOCKED_MS),
    )
    return [(search.state_index(name), limit) for name, limit in limits]


def without_way_out(search: Search) -> list[tuple[int, str]]:
    """Return (node, name of the fault) for each fault state that no procedure leads out of.

    A procedure is a sequence of letters without a power cycle: mend, release, press the button,
    or recover under power.
    """
    fault_at = search.state_index("controller.fault")
    free = {node for node, state in enumerate(search.states) if not state[fault_at]}
    ways = backwards(search, free, 0)
    return [
        (node, FAULTS[state[fault_at] - 1][0])
        for node, state in enumerate(search.states)
        if state[fault_at] and state[fault_at] not in NEED_SETTINGS and node not in ways
    ]
