"""Plausible random changes of contacts, currents and supply, from an explicit random source."""

import random

from leafwinch.signals import CONTACT_NAMES
from tests.firmware.drive import Drive

WAYS = ("raise", "lower", "nothing")
PLACES = ("bottom", "middle", "top")
HANDS = ("stop_ok", "top_final", "bottom_final", "recovery_off", "rope_taut", "reset")
CURRENTS = (0, 200, 5000, 5000, 5000, 7000, 8500, 12000, -3000)
HEAL_MS = 2500
LENGTHS_MS = (5, 10, 20, 60, 60, 200, 700, 2500)


def change(drive: Drive, chance: random.Random) -> None:
    """Let one plausible thing happen: by hand, by the deck, or by a single contact."""
    kind = chance.randrange(12)
    if kind < 4:
        drive.ask(chance.choice(WAYS) if kind else "both")
    elif kind < 6:
        drive.at(chance.choice(PLACES) if chance.random() < 0.95 else "both")
    elif kind < 8:
        name = chance.choice(HANDS)
        (drive.open if chance.random() < 0.4 else drive.close)(name)
    elif kind == 8:
        bounce(drive, chance, chance.choice(CONTACT_NAMES))
    elif kind == 9:
        drive.force(chance.choice(CONTACT_NAMES), chance.choice(("open", "closed", "free")))
    elif kind == 10:
        drive.amps = chance.choice(CURRENTS)
        drive.sampled = chance.random() < 0.95
        drive.rest_amps = chance.choice((0, 0, 0, 400))
    else:
        drive.supply = chance.choice((24000, 24000, 24000, 12000, 0))


def bounce(drive: Drive, chance: random.Random, name: str) -> None:
    """Let one contact bounce for a few passes."""
    for _ in range(chance.randrange(1, 8)):
        drive.force(name, chance.choice(("open", "closed", "free")))
        drive.tick()
    drive.force(name, "free")


def mend(drive: Drive, chance: random.Random) -> None:
    """Put everything right again, reset, and wait until a start may be possible."""
    drive.place()
    drive.at(chance.choice(PLACES))
    drive.run(600)
    drive.press(HEAL_MS)
    drive.run(1200)


def travel(drive: Drive, chance: random.Random) -> None:
    """Ask for a travel and let the deck leave its end."""
    drive.ask(chance.choice(("raise", "lower")))
    drive.run(300)
    drive.at("middle")
    drive.run(chance.choice((50, 300, 1500)))


def wander(drive: Drive, chance: random.Random, changes: int) -> None:
    """Let many things happen, with repairs in between, so that travels happen too."""
    mend(drive, chance)
    travel(drive, chance)
    for _ in range(changes):
        dice = chance.random()
        if dice < 0.12:
            mend(drive, chance)
            travel(drive, chance)
        elif dice < 0.15:
            drive.gap(chance.choice((14, 16, 40, 400)))
        elif dice < 0.18:
            drive.power_up(chance.choice((0, 0, 0, 1)))
        else:
            change(drive, chance)
        drive.run(chance.choice(LENGTHS_MS))
