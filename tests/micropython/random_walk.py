"""Plausible random walks over contacts, currents and supply, starting from any moment."""

import random

from leafwinch.controller import Controller
from leafwinch.settings import settings_from
from leafwinch.signals import CONTACT_NAMES
from tests.firmware.drive import Drive

WAYS = ("raise", "lower", "nothing")
PLACES = ("bottom", "middle", "top")
HANDS = ("stop_ok", "top_final", "bottom_final", "recovery_off", "rope_taut", "reset")
CURRENTS = (0, 200, 5000, 5000, 5000, 7000, 8500, 12000, -3000)


class Walk(Drive):
    """A drive whose every pass may change one thing, driven by an explicit random source.

    Flips and bounces single contacts besides what a hand and the deck do. rows: what the
    core was given, four integers a pass.
    """

    def __init__(self, chance: random.Random, start: Drive) -> None:
        super().__init__(start.values)
        self.chance = chance
        for name in ("now", "mask", "asked", "out", "pump", "pulsing"):
            setattr(self, name, getattr(start, name))
        self.coils = list(start.coils)
        self.pulled = list(start.pulled)
        self.autostore = False
        self.bouncing = ""
        self.core: Controller = Controller(settings_from(start.values))
        self.core.restore(start.core.snapshot())
        self.rows: list[int] = []
        # Some walks are calm, so that sequences also run through.
        self.calm = chance.choice((0.02, 0.05, 0.15))

    def tick(self) -> int:
        chance = self.chance
        if self.bouncing:
            self.force(self.bouncing, chance.choice(("open", "closed", "free")))
            if chance.random() < 0.3:
                self.force(self.bouncing, "free")
                self.bouncing = ""
        if chance.random() < self.calm:
            self.change(chance)
        if chance.random() < 0.01:
            self.tick_ms = chance.choice((5, 5, 5, 6, 10, 16, 400))
        if self.core.record_due and self.core.at_rest() and chance.random() < 0.2:
            self.rows += (self.now, -1, 0, 0)
            self.core.stored(self.now)
            return 0
        self.rows += (self.now, self.contacts(), self.current(), self.supply)
        return super().tick()

    def change(self, chance: random.Random) -> None:
        """Let one plausible thing happen."""
        kind = chance.randrange(12)
        if kind < 4:
            self.ask(chance.choice(WAYS) if kind else "both")
        elif kind < 6:
            self.at(chance.choice(PLACES) if chance.random() < 0.95 else "both")
        elif kind < 8:
            name = chance.choice(HANDS)
            (self.open if chance.random() < 0.4 else self.close)(name)
        elif kind == 8:
            self.bouncing = chance.choice(CONTACT_NAMES)
        elif kind == 9:
            self.force(chance.choice(CONTACT_NAMES), chance.choice(("open", "closed", "free")))
        elif kind == 10:
            self.amps = chance.choice(CURRENTS)
            self.sampled = chance.random() < 0.95
            self.rest_amps = chance.choice((0, 0, 0, 400))
        else:
            self.supply = chance.choice((24000, 24000, 24000, 12000, 0))
