"""Which letters may follow where: one change at a time, quick changes only so many in a row."""

from leafwinch.signals import LINE_RELEASED, LOWER_RELEASED, RAISE_RELEASED
from leafwinch_sim.explore.alphabet import (
    ANALOG,
    AT_BOTTOM,
    AT_BOTTOM_FINAL,
    AT_TOP,
    AT_TOP_FINAL,
    BETWEEN,
    BOTH_WAYS,
    UNDISTURBED,
    Pattern,
)
from leafwinch_sim.explore.extents import Extent
from leafwinch_sim.explore.letters import (
    EVENT,
    FEW,
    ONE,
    POWER,
    POWER_BAD,
    POWER_BLANK,
    POWER_FOREIGN,
    POWER_WATCHDOG,
    PRESS,
    PRESS_LONG,
    PRESS_SHORT,
    SETTLE,
    STRETCH,
    letter,
)

_MIRRORS = LINE_RELEASED | RAISE_RELEASED | LOWER_RELEASED

# What a node offers beside its pattern and disturbance.
MAY_BE_QUICK = 1
IS_SETTLED = 2  # reached by a letter that lasted until all was settled
IS_RUNNING = 4
IS_MOVING = 8
IS_FAULT = 16


class Grammar:
    """Lists the letters that may follow a node.

    A pattern's neighbours differ from it in one respect.
    """

    def __init__(self, patterns: list[Pattern], extent: Extent) -> None:
        self.patterns = patterns
        self.masks = [pattern.mask() for pattern in patterns]
        self.extent = extent
        self.disturbances = extent.disturbances
        self.neighbours = [
            [j for j, other in enumerate(patterns) if are_neighbours(pattern, other)]
            for pattern in patterns
        ]
        self._known: dict[tuple[int, int, int], list[int]] = {}

    def letters(self, pattern: int, disturbance: int, offers: int) -> "list[int]":
        """Return the letters that may follow, always in the same order."""
        asked = (pattern, disturbance, offers)
        known = self._known.get(asked)
        if known is None:
            known = self._list(pattern, disturbance, offers)
            self._known[asked] = known
        return known

    def _list(self, p: int, d: int, offers: int) -> "list[int]":
        quick = offers & MAY_BE_QUICK != 0
        settled = offers & IS_SETTLED != 0
        found = []
        if not settled:
            found += [letter(p, d, EVENT), letter(p, d, SETTLE)]
        if offers & IS_RUNNING:
            found.append(letter(p, d, STRETCH))
        place = self.patterns[p].place
        # From beyond a final the deck may always be brought back, by hand if need be.
        beyond = place in (AT_BOTTOM_FINAL, AT_TOP_FINAL)
        deck_may_move = self.extent.drifting or beyond or offers & IS_RUNNING
        for q in self.neighbours[p]:
            if self.patterns[q].place != place and not deck_may_move:
                continue
            found.append(letter(q, d, SETTLE))
            # The first change after a rest is no quick one.
            if quick or settled:
                found.append(letter(q, d, EVENT))
                if self.extent.bounces:
                    found.append(letter(q, d, FEW))
        if d == UNDISTURBED:
            if offers & IS_FAULT and not self.extent.fault_flips:
                return found + self._rested(p, d, offers)
            for new in self.disturbances:
                if self.changes(p, new):
                    found += self._disturbed(p, new, quick or settled)
        else:
            found.append(letter(p, UNDISTURBED, SETTLE))
            if quick:
                found.append(letter(p, UNDISTURBED, EVENT))
        return found + self._rested(p, d, offers)

    def _rested(self, p: int, d: int, offers: int) -> "list[int]":
        """Return what is done with the button and with the power."""
        settled = offers & IS_SETTLED != 0
        found = [] if offers & IS_MOVING else self._pressed(p, d, offers)
        if self.extent.power and (settled or offers & IS_MOVING):
            found.append(letter(p, d, POWER))
            if self.extent.extras and settled:
                kinds = (POWER_WATCHDOG, POWER_BAD, POWER_FOREIGN, POWER_BLANK)
                found += [letter(p, d, kind) for kind in kinds]
        return found

    def _disturbed(self, p: int, new: int, quick: bool) -> "list[int]":
        found = [letter(p, new, SETTLE)]
        if quick:
            found.append(letter(p, new, FEW))
            if self.extent.bounces and new < ANALOG[0]:
                found.append(letter(p, new, ONE))
        return found

    def _pressed(self, p: int, d: int, offers: int) -> "list[int]":
        if not offers & IS_SETTLED:
            return []
        found = [letter(p, d, PRESS)]
        if self.extent.extras and offers & IS_FAULT:
            found += [letter(p, d, PRESS_SHORT), letter(p, d, PRESS_LONG)]
        return found

    def changes(self, pattern: int, disturbance: int) -> bool:
        """Tell whether a disturbance may make a difference under this pattern."""
        if disturbance >= ANALOG[0]:
            return True
        bit, closed = 1 << (disturbance >> 1), disturbance & 1
        if bit & _MIRRORS:
            return True
        return bool(self.masks[pattern] & bit) != bool(closed)


def are_neighbours(one: Pattern, other: Pattern) -> bool:
    """Tell whether two patterns differ in one respect, the place by one step.

    From between the ends the deck may also meet an end and its final at once.
    """
    steps = (
        one.ask != other.ask,
        one.place != other.place,
        one.stopped != other.stopped,
        one.key != other.key,
        one.link != other.link,
    )
    both_limits = one.place == BETWEEN and other.place in (AT_BOTTOM_FINAL, AT_TOP_FINAL)
    return sum(steps) == 1 and (abs(one.place - other.place) <= 1 or both_limits)


def patterns_of(extent: Extent) -> list[Pattern]:
    """Return the patterns of an exploration, the plain ones first.

    Every combination of control and place; the same with the stop pressed, with the recovery key
    turned at and beyond the ends, with the service link fitted; and both ways at once between
    the ends.
    """
    asks, places = extent.asks, extent.places
    found = [Pattern(ask, place) for place in places for ask in asks]
    if extent.both:
        found.append(Pattern(BOTH_WAYS, BETWEEN))
    within = [place for place in places if place in (AT_BOTTOM, BETWEEN, AT_TOP)]
    if extent.stops:
        found += [Pattern(ask, place, stopped=True) for place in within for ask in asks]
    if extent.keys:
        near = [place for place in places if place != BETWEEN]
        found += [Pattern(ask, place, key=True) for place in near for ask in asks]
    if extent.links:
        found += [Pattern(ask, place, link=True) for place in within for ask in asks]
    return found
