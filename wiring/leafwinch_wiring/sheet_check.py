"""What a filled sheet says: which readings are wrong, and which miswire explains them all.

A likely miswire is a guess. Whoever finds a wrong reading looks at the wires themselves, and
measures the whole sheet again after a change; a machine is never switched on to find out.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from leafwinch_wiring.block import Array
from leafwinch_wiring.continuity import ABSOLUTE_OHM, RELATIVE, in_ohm
from leafwinch_wiring.miswires import KINDS, Miswire, miswires
from leafwinch_wiring.netlist import Netlist
from leafwinch_wiring.point_candidates import QUICK_SHARE, Progress, states
from leafwinch_wiring.point_limits import CLOSED_OHM, Limits, expected_words, limits
from leafwinch_wiring.point_readings import OPEN_OHM, WIRES_OHM, Readings, exact
from leafwinch_wiring.sheet_file import FilledRow, FilledSheet

SHOWN = 10
"""How many suspects a diagnosis names at most, beside those that explain as much as the first."""

FAR_OHM = 1e12


@dataclass(frozen=True, slots=True)
class WrongRow:
    """A reading outside its limits."""

    row: FilledRow
    expected: str
    measured: str


@dataclass(frozen=True, slots=True)
class Suspect:
    """A miswire, and how many of the readings it does not explain."""

    miswire: Miswire
    mismatches: int


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """What a filled sheet says.

    Attributes:
        wrong: the readings outside their limits.
        likely: the single miswires that explain all readings best, the best first, with every one
            that explains as much as the first.
        equal: how many miswires explain them as well as the first one does.
        not_measured: numbers of the rows without a reading.
    """

    wrong: tuple[WrongRow, ...]
    likely: tuple[Suspect, ...]
    equal: int
    not_measured: tuple[int, ...]

    @property
    def complete_and_right(self) -> bool:
        """True when every row was measured and none is wrong."""
        return not self.wrong and not self.not_measured


class Predicted:
    """What the sound circuit and every miswire would read on the rows of a sheet.

    `sound` and `words` have the sound circuit's limits, one for each row.
    """

    def __init__(self, net: Netlist, rows: Sequence[FilledRow]) -> None:
        """Work out the sound circuit's limits; rows that are not measured count like any other."""
        self.net = net
        self.rows = rows
        self.sound: list[Limits] = [Limits(0.0, 0.0)] * len(rows)
        self.words: list[str] = [""] * len(rows)
        self._bands: tuple[list[Miswire], Array, Array] | None = None
        reading = Readings(net, ())
        for mask, places, pairs in self._states():
            high = reading.between(mask).read(pairs)[1]
            sound = exact(net, None, mask, pairs)
            for at, (place, ohms) in enumerate(zip(places, sound, strict=True)):
                closed = bool(high[at, 0] == 0.0)
                self.sound[place] = limits(*ohms, closed)
                self.words[place] = expected_words(*ohms, closed)

    def _states(self) -> Iterator[tuple[int, list[int], list[tuple[str, str]]]]:
        """The closed elements of each state that some row asks for, and those rows."""
        for operated, acts, mask in states(self.net):
            places = [
                place
                for place, row in enumerate(self.rows)
                if (row.operated, row.acts) == (operated, acts)
            ]
            if places:
                yield mask, places, [(self.rows[place].a, self.rows[place].b) for place in places]

    def bands(self, progress: Progress | None = None) -> tuple[list[Miswire], Array, Array]:
        """The miswires, and the limits in ohm that each (column) gives each row (row).

        Takes seconds, once.

        Args:
            progress: called with the number of states done and their total.
        """
        if self._bands is None:
            items = [m for m in miswires(self.net) if not m.harmless and m.kind != "diode"]
            lowest = np.zeros((len(self.rows), len(items)))
            highest = np.zeros((len(self.rows), len(items)))
            reading = Readings(self.net, items)
            every = list(self._states())
            for number, (mask, places, pairs) in enumerate(every, 1):
                low, high = reading.between(mask).read(pairs)
                lowest[places], highest[places] = _widened(low[:, 1:], high[:, 1:])
                if progress:
                    progress(number, len(every))
            self._bands = items, lowest, highest
        return self._bands


def _widened(low: Array, high: Array) -> tuple[Array, Array]:
    """Limits around quick readings, as `point_limits.limits` around exact ones."""
    # Open is put high but finite, so that the sums below stay numbers.
    least = np.minimum(low, FAR_OHM) * (1.0 - QUICK_SHARE)
    most = np.minimum(high, FAR_OHM) * (1.0 + QUICK_SHARE) + WIRES_OHM
    lower = np.maximum(0.0, least - np.maximum(ABSOLUTE_OHM, RELATIVE * least))
    upper = most + np.maximum(ABSOLUTE_OHM, RELATIVE * most)
    closed, opened = high == 0.0, low >= OPEN_OHM
    lower = np.where(closed, 0.0, np.where(opened, OPEN_OHM, lower))
    upper = np.where(closed, WIRES_OHM + CLOSED_OHM, np.where(high >= OPEN_OHM, np.inf, upper))
    return lower, upper


def diagnose(
    net: Netlist,
    filled: FilledSheet,
    predicted: Predicted | None = None,
    progress: Progress | None = None,
) -> Diagnosis:
    """Judge a filled sheet.

    Args:
        net: the netlist.
        filled: the sheet as it was read.
        predicted: what `Predicted(net, filled.rows)` gives, when it is known already.
        progress: called while the miswires are looked through: number of states and their total.
    """
    known = predicted or Predicted(net, filled.rows)
    wrong = []
    for place, row in enumerate(filled.rows):
        if row.ohm is not None and not known.sound[place].hold(row.ohm):
            # More digits than the limits have, or one just beyond would look like the limit.
            measured = "closed" if row.ohm == 0.0 else in_ohm(row.ohm, 5)
            wrong.append(WrongRow(row, known.words[place], measured))
    likely, equal = _likely(filled, known, len(wrong), progress) if wrong else ([], 0)
    return Diagnosis(
        wrong=tuple(wrong),
        likely=tuple(likely),
        equal=equal,
        not_measured=tuple(
            sorted([*filled.lost, *(row.number for row in filled.rows if row.ohm is None)])
        ),
    )


def _likely(
    filled: FilledSheet, known: Predicted, wrong: int, progress: Progress | None
) -> tuple[list[Suspect], int]:
    """The miswires that explain the readings best, and how many do so equally well."""
    items, low, high = known.bands(progress)
    unexplained: npt.NDArray[np.intp] = np.zeros(len(items), dtype=np.intp)
    for place, row in enumerate(filled.rows):
        if row.ohm is not None:
            # One that predicts another reading than was found does not explain it.
            unexplained += (low[place] > row.ohm) | (high[place] < row.ohm)
    kinds = list(KINDS)
    order = sorted(range(len(items)), key=lambda i: (int(unexplained[i]), _far(items[i], kinds), i))
    # A guess that explains no more than no miswire at all is none.
    useful = [i for i in order if unexplained[i] < wrong]
    equal = sum(1 for i in useful if unexplained[i] == unexplained[useful[0]])
    found = [Suspect(items[i], int(unexplained[i])) for i in useful[: max(SHOWN, equal)]]
    return found, equal


def _far(item: Miswire, kinds: Sequence[str]) -> tuple[int, int]:
    """Among equals the plainer mistake first: by kind, and ends at one device before others."""
    devices = {end.split(":")[0] for a, b, _ in item.effects.links for end in (a, b)}
    return kinds.index(item.kind), len(devices)
