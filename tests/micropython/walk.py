"""A random walk from any moment, which keeps what the core was given."""

import random

from leafwinch.controller import Controller
from leafwinch.settings_schema import settings_from
from leafwinch_sim.lockstep_server import checksum
from tests.firmware.drive import Drive
from tests.firmware.random_walk import change

SUM_EVERY = 20  # passes between two checksums


class Walk(Drive):
    """A drive in whose every pass something may change.

    rows: what the core was given, four integers a pass; see lockstep_server.batch.
    """

    def __init__(self, chance: random.Random, start: Drive) -> None:
        super().__init__(start.values)
        self.chance = chance
        for name in ("now", "mask", "asked", "out", "pump", "pulsing"):
            setattr(self, name, getattr(start, name))
        self.coils = list(start.coils)
        self.pulled = list(start.pulled)
        self.autostore = False
        self.core: Controller = Controller(settings_from(start.values))
        self.core.restore(start.core.snapshot())
        self.rows: list[int] = []
        self.outputs: list[int] = []
        self.sums: list[int] = []
        self.states: set[tuple[int, int]] = set()
        # Some walks are calm, so that sequences also run through.
        self.calm = chance.choice((0.02, 0.05, 0.15))

    def walk(self, passes: int) -> None:
        """Run at least so many passes."""
        chance = self.chance
        while len(self.outputs) < passes:
            if chance.random() < self.calm:
                change(self, chance)
            if chance.random() < 0.01:
                self.tick_ms = chance.choice((5, 5, 5, 6, 10, 16, 400))
            if self.core.record_due and self.core.at_rest() and chance.random() < 0.2:
                self.rows += (self.now, -1, 0, 0)
                self.core.stored(self.now)
                self.note(0)
            self.tick()

    def tick(self) -> int:
        self.rows += (self.now, self.contacts(), self.current(), self.supply)
        out = super().tick()
        self.note(out)
        return out

    def note(self, out: int) -> None:
        """Keep an output, the state, and now and then a checksum of all of it."""
        self.outputs.append(out)
        self.states.add((self.core.state, self.core.fault))
        if len(self.outputs) % SUM_EVERY == 0:
            self.sums.append(checksum(self.core.snapshot()))
