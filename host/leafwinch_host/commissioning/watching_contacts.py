"""Watches over contacts: a switch worked by hand, one contact, everything at rest."""

from collections.abc import Mapping

from leafwinch_host.board.serial_lines import Sample
from leafwinch_host.commissioning.results import Measured
from leafwinch_host.commissioning.watching import (
    BITS,
    DRIVEN,
    SETTLED,
    Steady,
    Watch,
    closed,
    spoken,
    word,
)

AT_REST = (
    "raise_off",
    "lower_off",
    "stop_ok",
    "chain_ok",
    "top_final",
    "bottom_final",
    "recovery_off",
)
"""Contacts that are closed before anything is worked, unless they are meant to be worked."""


HELD_WORDS = {"raise_off": "the control held to raise", "lower_off": "the control held to lower"}


def held_words(held: Mapping[str, bool]) -> str:
    """Return what has to be held first, in words."""
    words = (
        HELD_WORDS.get(name, f"{spoken(name)} {word(state)} and held so")
        for name, state in held.items()
    )
    return " and ".join(words)


class ContactsSeen(Watch):
    """Sees every contact of a switch change and change back, and no other one.

    Args:
        changes: contact names with their state while the switch is worked (True: closed).
        held: contacts with the state that they must have all the while, such as those of an
            actuated control.
        ignored: contacts that may do what they like.
        at_most_s: time for it all.
    """

    REST_MS = 30_000  # to let go of what was worked in the step before
    PARTLY_MS = 2500  # contacts of one switch may not be further apart

    def __init__(
        self,
        changes: Mapping[str, bool],
        held: Mapping[str, bool] | None = None,
        ignored: tuple[str, ...] = (),
        at_most_s: float = 90.0,
    ) -> None:
        super().__init__(at_most_s)
        self.changes = dict(changes)
        self.held = dict(held or {})
        self.ignored = sum(BITS[name] for name in (*changes, *self.held, *ignored))
        self.steady = Steady()
        self.base = -1  # the contacts before it is worked
        self.worked: dict[str, bool] = dict.fromkeys(changes, False)  # seen to change
        self.all_at_once = False
        self.partly_ms = -1
        self.waits = "the contacts at rest" if not held else held_words(self.held)

    def see(self, sample: Sample, before: Sample) -> None:
        """Follow the switch: at rest, worked, at rest again."""
        if sample.outputs & DRIVEN:
            self.fail("a contactor was driven, although nothing may be driven here")
            return
        mask = self.steady.take(sample.contacts)
        if mask < 0:
            return
        now = {name: bool(mask & BITS[name]) for name in self.changes}
        changed = [name for name, state in self.changes.items() if now[name] == state]
        if self.base < 0:
            self._begin(mask, changed)
            return
        if any(bool(mask & BITS[name]) != state for name, state in self.held.items()):
            self._let_go(changed)
            return
        stray = (mask ^ self.base) & ~self.ignored
        if stray:
            names = [spoken(n) for n, bit in BITS.items() if stray & bit]
            self.fail(f"{' and '.join(names)} changed as well: contacts swapped or bridged?")
            return
        self._follow(changed)

    def _begin(self, mask: int, changed: list[str]) -> None:
        if any(bool(mask & BITS[name]) != state for name, state in self.held.items()):
            return
        worked = [n for n in AT_REST if not mask & BITS[n] and not self.ignored & BITS[n]]
        if worked and not changed:
            self.waits = f"{' and '.join(map(spoken, worked))} closed, as at rest"
            if self.t_ms > self.REST_MS:
                self.fail(f"{' and '.join(map(spoken, worked))} is open before anything was worked")
        elif not changed:
            self.base = mask
            self.waits = ", ".join(
                f"{spoken(name)} {'closes' if state else 'opens'}"
                for name, state in self.changes.items()
            )
        elif self.t_ms > self.PARTLY_MS and not self.held:
            self.fail(f"{self._words(changed)} before anything was worked")

    def _follow(self, changed: list[str]) -> None:
        for name in changed:
            self.worked[name] = True
        if len(changed) == len(self.changes):
            self.all_at_once = True
            self.waits = "the contacts back at rest"
        elif self.all_at_once and not changed:
            self._seen()
        elif not self.all_at_once and any(self.worked.values()):
            if not changed:
                self._missed()
            elif self.partly_ms < 0:
                self.partly_ms = self.t_ms
            elif self.t_ms - self.partly_ms > self.PARTLY_MS:
                self._missed()

    def _let_go(self, changed: list[str]) -> None:
        """Judge when the switch that is to be held was let go: too early, or after all."""
        if self.all_at_once and not changed:
            self._seen()
        elif any(self.worked.values()) and not self.all_at_once:
            self._missed()

    def _missed(self) -> None:
        seen = [name for name, state in self.worked.items() if state]
        missed = [name for name in self.changes if name not in seen]
        self.fail(
            f"{self._words(seen)}, but {' and '.join(map(spoken, missed))} did not change: "
            "contact welded, bridged or dead, or a wire"
        )

    def _words(self, names: list[str]) -> str:
        return " and ".join(
            f"{spoken(name)} {'closed' if self.changes[name] else 'opened'}" for name in names
        )

    def _seen(self) -> None:
        for name, state in self.changes.items():
            self.measured.append(
                Measured(spoken(name), f"{word(not state)}, {word(state)}, {word(not state)}")
            )
        self.passed()

    def too_late(self) -> str:
        """Return which contacts never changed."""
        if self.base < 0:
            bad = [spoken(n) for n, s in self.changes.items() if self.steady.mask & BITS[n] and s]
            return f"the contacts were never at rest{': ' + ', '.join(bad) if bad else ''}"
        missed = [spoken(name) for name, state in self.worked.items() if not state]
        if missed:
            return f"{' and '.join(missed)} did not change"
        return "the contacts did not come back to rest"


class ContactIs(Watch):
    """Sees one contact in a state and settled, such as the service link fitted."""

    def __init__(self, name: str, state: bool, at_most_s: float = 120.0) -> None:
        super().__init__(at_most_s)
        self.name = name
        self.state = state
        self.waits = f"{spoken(name)} {word(state)}"
        self.count = 0

    def see(self, sample: Sample, before: Sample) -> None:
        """Count samples with the contact in its state."""
        self.count = self.count + 1 if closed(sample, self.name) == self.state else 0
        if self.count >= SETTLED:
            self.measured.append(Measured(spoken(self.name), word(self.state)))
            self.passed()


class RestPicture(Watch):
    """Compares all contacts at rest, current and supply with what must be there."""

    COUNT = 20

    def __init__(
        self,
        expected: Mapping[str, bool],
        rest_ma: int,
        supply_mv: tuple[int, int],
        at_most_s: float = 20.0,
    ) -> None:
        super().__init__(at_most_s)
        self.expected = dict(expected)
        self.rest_ma = rest_ma
        self.supply_mv = supply_mv
        self.steady = Steady()
        self.rows: list[Sample] = []
        self.waits = "everything at rest"

    def see(self, sample: Sample, before: Sample) -> None:
        """Take so many samples with steady contacts, then judge."""
        mask = self.steady.take(sample.contacts)
        if sample.contacts != mask:
            self.rows.clear()
            return
        self.rows.append(sample)
        if len(self.rows) < self.COUNT:
            return
        for name, state in self.expected.items():
            found = bool(mask & BITS[name])
            self.measured.append(
                Measured(spoken(name), word(found), "", word(state), found == state)
            )
        current = max(abs(row.current_ma) for row in self.rows)
        self.measured.append(
            Measured(
                "current at rest",
                current,
                "mA",
                f"at most {self.rest_ma} mA",
                current <= self.rest_ma,
            )
        )
        supply = [row.supply_mv for row in self.rows]
        low, high = self.supply_mv
        self.measured.append(
            Measured(
                "control supply",
                round(sum(supply) / len(supply) / 1000, 2),
                "V",
                f"{low / 1000:g} to {high / 1000:g} V",
                low <= min(supply) and max(supply) <= high,
            )
        )
        self.passed()
