"""Months of synthetic use in the formats of the tools, with wear where it is asked for.

`python -m leafwinch_host.upkeep.synthetic --site workshop-pit --wear creep -o FOLDER` writes
journal.json, counters.json and one log a recorded day. All numbers are invented: they follow the
site's settings, not a machine. Of the trace every tenth line is kept, as a slow reader would.
"""

import argparse
import json
import math
import random
import sys
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from leafwinch.signals import (
    ALL_CONTACTS,
    BOTTOM_END,
    LINE_RELEASED,
    LOWER_OFF,
    LOWER_RELEASED,
    OUT_LINE_PULSE,
    OUT_LOWER,
    OUT_RAISE,
    RAISE_OFF,
    RAISE_RELEASED,
    RESET,
    SERVICE_LINK,
    TOP_END,
)
from leafwinch.states import HELD, LOWERING, RAISING
from leafwinch_host.board.answers import Event, event_words
from leafwinch_host.explaining.expected import all_settings
from leafwinch_host.files import write_text
from leafwinch_sim.site import load_site
from leafwinch_wiring.errors import BadInput

WEARS = ("none", "creep", "hinge", "brake")
START = datetime(2024, 4, 1, 9, 0, tzinfo=UTC)
KEPT_EVENTS = 512  # as many as the board's journal holds
LINE_MS = 100
CREEP = 0.3  # running current more at the end
HINGE = 0.18  # running current more after a hinge seized
HINGE_AT = 0.6  # of the whole time
BRAKE_FROM = 0.5
BRAKE_S = 0.5  # later lifting at the end
NOISE = {"current": 0.012, "time": 0.004, "start": 0.03}  # standard deviations, of the value
SUPPLY_MV = 24_000
ENDING = {RAISING: 2, LOWERING: 3}  # rows of the firmware's endings: top end, bottom end


@dataclass(frozen=True, slots=True)
class Use:
    """How much is used and worn.

    wear: one of WEARS; days: how long; cycles_per_day: mean; recorded_per_week: cycles with a log.
    """

    wear: str = "none"
    days: int = 182
    cycles_per_day: float = 1.3
    recorded_per_week: float = 2.0
    seed: int = 1


@dataclass(frozen=True, slots=True)
class Travel:
    """One travel: energised seconds, running current in A, start and leaving in s."""

    state: int
    seconds: float
    amperes: float
    start_s: float
    leave_s: float


@dataclass
class Made:
    """Journal and counters as the board tells them, and the text of each log by its name."""

    journal: list[dict[str, Any]]
    counters: dict[str, int]
    logs: dict[str, str]
    cycles: int


def make(settings: dict[str, int], use: Use) -> Made:
    """Return synthetic use of a site; equal seeds give equal files.

    Args:
        settings: all of them, by name.
        use: how much, and what wears.
    """
    rng = random.Random(use.seed)
    book = _Book()
    logs: dict[str, str] = {}
    cycle = 0
    for day in range(use.days):
        recorded = rng.random() < use.recorded_per_week / 7.0
        cycles = max(int(recorded), _poisson(rng, use.cycles_per_day))
        for number in range(cycles):
            done = day / use.days
            at = START + timedelta(days=day, hours=2 * number)
            pair = [_travel(rng, settings, state, done, use.wear) for state in (RAISING, LOWERING)]
            for travel in pair:
                book.travel(travel, at)
            if recorded and number == 0:
                name = f"cycle-{at:%Y-%m-%d}.log"
                logs[name] = "".join(_log(rng, settings, pair, at))
            cycle += 1
    return Made(book.newest(), book.counters(use.days), logs, cycle)


def _poisson(rng: random.Random, mean: float) -> int:
    """Return a number of events by Knuth's product of uniform numbers."""
    limit, product, count = math.exp(-mean), rng.random(), 0
    while product > limit:
        product *= rng.random()
        count += 1
    return count


def _travel(
    rng: random.Random, settings: dict[str, int], state: int, done: float, wear: str
) -> Travel:
    up = state == RAISING
    creep = CREEP * done if wear == "creep" else 0.0
    seized = HINGE if wear == "hinge" and done >= HINGE_AT else 0.0
    late_s = 0.0
    if wear == "brake" and done > BRAKE_FROM:
        late_s = BRAKE_S * (done - BRAKE_FROM) / (1.0 - BRAKE_FROM)
    more = creep + seized
    healthy_s = settings["travel_raise_ms" if up else "travel_lower_ms"] / 1000.0
    healthy_a = (0.62 if up else 0.45) * settings["run_max_ma"] / 1000.0
    leave_s = 0.35 * settings["leave_bottom_ms" if up else "leave_top_ms"] / 1000.0
    start_s = 0.35 * settings["inrush_ms"] / 1000.0
    return Travel(
        state=state,
        seconds=healthy_s * (1.0 + 0.1 * more) * rng.gauss(1.0, NOISE["time"]) + late_s,
        amperes=healthy_a * (1.0 + more) * rng.gauss(1.0, NOISE["current"]),
        start_s=start_s * rng.gauss(1.0, NOISE["start"]) + 0.4 * late_s,
        leave_s=leave_s * rng.gauss(1.0, NOISE["start"]) + late_s,
    )


class _Book:
    """Writes down travels as the board's journal and counters do."""

    def __init__(self) -> None:
        self.events: list[Event] = []
        self.raises = 0
        self.seconds = {RAISING: 0.0, LOWERING: 0.0}
        self._add("boot", START, 0, 102_00, "0")

    def travel(self, travel: Travel, at: datetime) -> None:
        way = 1 if travel.state == RAISING else -1
        ms = str(round(travel.seconds * 1000))
        self._add("travel", at, ENDING[travel.state], way, ms)
        self.raises += way > 0
        self.seconds[travel.state] += travel.seconds

    def _add(self, kind: str, at: datetime, a: int, b: int, c: str) -> None:
        uptime_s = round((at - START).total_seconds())
        words = event_words(kind, a, b, c)
        self.events.append(Event(len(self.events), 1, uptime_s, kind, a, b, c, words))

    def newest(self) -> list[dict[str, Any]]:
        return [asdict(event) for event in reversed(self.events[-KEPT_EVENTS:])]

    def counters(self, days: int) -> dict[str, int]:
        travels = 2 * self.raises
        return {
            "raises": self.raises,
            "lowerings": self.raises,
            "raise_s": round(self.seconds[RAISING]),
            "lower_s": round(self.seconds[LOWERING]),
            "starts": travels,
            "line_operations": travels,
            "raise_operations": self.raises,
            "lower_operations": self.raises,
            "faults": 0,
            "boots": 1,
            "watchdog_boots": 0,
            "late_passes": 0,
            "dropped_lines": 0,
            "uptime_h": 24 * days,
            "lost_events": 0,
            "flash_trouble": 0,
        }


def _log(
    rng: random.Random, settings: dict[str, int], pair: Sequence[Travel], at: datetime
) -> Iterator[str]:
    """Yield the lines of one recorded cycle, from rest at the bottom to rest there."""
    t_ms = 60_000
    rest = ALL_CONTACTS & ~RESET & ~SERVICE_LINK
    lines: list[tuple[int, int, int, int, int]] = [(t_ms, rest & ~BOTTOM_END, 0, HELD, 0)]
    for travel in pair:
        lines += _moving(rng, settings, travel, t_ms, rest)
        t_ms += round(1000 * travel.seconds)
        end = TOP_END if travel.state == RAISING else BOTTOM_END
        lines += [(t_ms + n * LINE_MS, rest & ~end, 0, HELD, 0) for n in range(20)]
        t_ms += 20 * LINE_MS
    began = lines[0][0]
    for when, contacts, outputs, state, ma in lines:
        moment = at + timedelta(milliseconds=when - began)
        text = (
            f"T {when // 10 & 0xFFFF:04X} {when:08X} {contacts:05X} {outputs:02X} {state:X} 00 "
            f"0000 000 {ma:+07d} {SUPPLY_MV:05d} 00 00"
        )
        yield f"{moment.isoformat(timespec='milliseconds')} {text}\n"


def _moving(
    rng: random.Random, settings: dict[str, int], travel: Travel, t_ms: int, rest: int
) -> Iterator[tuple[int, int, int, int, int]]:
    up = travel.state == RAISING
    worked, pulled, driver = (
        (RAISE_OFF, RAISE_RELEASED, OUT_RAISE) if up else (LOWER_OFF, LOWER_RELEASED, OUT_LOWER)
    )
    left = BOTTOM_END if up else TOP_END
    moving = rest & ~worked & ~pulled & ~LINE_RELEASED
    sign = -1 if settings["current_signed"] and not up else 1
    start_ma = 1.3 * settings["run_max_ma"]
    step_ms = 20  # the start is short, so every second line of it is kept
    ms = 0
    while ms < 1000 * travel.seconds:
        share = ms / (1000 * travel.seconds)
        # Folding takes most at the start; a motor that drives down takes about the same all along.
        level = travel.amperes * (1.0 - 0.25 * share if up else 0.95 + 0.05 * share) * 1000
        ma = start_ma if ms < 1000 * travel.start_s else level + rng.gauss(0.0, 0.004 * level)
        contacts = moving & ~left if ms < 1000 * travel.leave_s else moving
        yield (t_ms + ms, contacts, driver | OUT_LINE_PULSE, travel.state, sign * round(ma))
        step_ms = 20 if ms < 2000 else LINE_MS
        ms += step_ms


def write(made: Made, folder: Path) -> list[Path]:
    """Write journal.json, counters.json and the logs into a folder, which is made.

    Raises:
        BadInput: it can't be written.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise BadInput(f"{folder}: can't be made ({error.strerror}).") from None
    files = {
        "journal.json": json.dumps(made.journal, indent=2) + "\n",
        "counters.json": json.dumps(made.counters, indent=2) + "\n",
        **made.logs,
    }
    for name, text in files.items():
        write_text(folder / name, text)
    return [folder / name for name in files]


def main(arguments: Sequence[str] | None = None) -> int:
    """Write synthetic use; 2 for bad input."""
    parser = argparse.ArgumentParser(description="Writes months of synthetic use of a site.")
    parser.add_argument("--site", required=True, metavar="NAME|FILE")
    parser.add_argument("--wear", choices=WEARS, default="none")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--output", "-o", type=Path, required=True, metavar="FOLDER")
    chosen = parser.parse_args(arguments)
    try:
        settings = all_settings(load_site(chosen.site).settings)
        made = make(settings, Use(wear=chosen.wear, seed=chosen.seed))
        files = write(made, chosen.output)
    except BadInput as error:
        print(error, file=sys.stderr)
        return 2
    print(f"{made.cycles} cycles, {len(files)} files in {chosen.output}.")
    return 0


if __name__ == "__main__":
    sys.exit(main())
