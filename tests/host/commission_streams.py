"""Synthetic trace samples for watches: one sound stream each, and the evidence it rests on."""

from collections.abc import Callable
from dataclasses import dataclass, replace

from leafwinch.settings_schema import default_settings
from leafwinch.signals import CONTACT_NAMES, OUT_LOWER, OUT_RAISE
from leafwinch.states import (
    ENDED_BOTTOM,
    ENDED_RELEASED,
    ENDED_TOP,
    FAULT,
    HELD,
    IDLE,
    LOWERING,
    RAISING,
)
from leafwinch_host.board.serial_lines import Sample
from leafwinch_host.commissioning import watching as w
from leafwinch_host.commissioning import watching_contacts as wc
from leafwinch_host.commissioning import watching_moves as wm
from leafwinch_host.commissioning import watching_stops as ws
from leafwinch_host.commissioning import watching_supply as wsu
from leafwinch_host.commissioning import watching_travel as wt

BITS = w.BITS
AT_REST = sum(BITS[name] for name in CONTACT_NAMES) & ~sum(
    BITS[name] for name in ("raise_path", "lower_path", "reset", "service_link")
)
SETTINGS = default_settings()
OUT = {"raise": OUT_RAISE, "lower": OUT_LOWER}
STATE = {"raise": RAISING, "lower": LOWERING}
ENDED = {"raise": ENDED_TOP, "lower": ENDED_BOTTOM}
REST = {name: bool(AT_REST & BITS[name]) for name in CONTACT_NAMES}


class Stream:
    """Makes samples: set what is there, then let time pass."""

    def __init__(self, **contacts: bool) -> None:
        self.rows: list[Sample] = []
        self.now = Sample(0, 5000, AT_REST, 0, IDLE, 0, 0, 0, 0, 0, 0, 24_000, 0, 0)
        self.set(**contacts)

    def set(self, **contacts: bool) -> "Stream":
        """Set contacts by name; others stay."""
        mask = self.now.contacts
        for name, state in contacts.items():
            mask = mask | BITS[name] if state else mask & ~BITS[name]
        self.now = replace(self.now, contacts=mask)
        return self

    def has(self, **values: int) -> "Stream":
        """Set other columns."""
        self.now = replace(self.now, **values)
        return self

    def wait(self, ms: int, step: int = 10) -> "Stream":
        """Let time pass, a sample every so many ms."""
        for _ in range(max(1, ms // step)):
            self.now = replace(
                self.now, t_ms=self.now.t_ms + step, sequence=self.now.sequence + 1 & 0xFFFF
            )
            self.rows.append(self.now)
        return self

    def start(self, way: str, ma: int = 1200) -> "Stream":
        """Actuate the control and let the contactors follow."""
        self.set(**{f"{way}_off": False, f"{way}_path": True}).has(state=STATE[way]).wait(50)
        self.has(outputs=OUT[way]).wait(30).set(**{f"{way}_released": False}).wait(20)
        return self.set(line_released=False).has(current_ma=ma).wait(20)

    def stop(self, way: str, ended: int = ENDED_RELEASED, let_go: bool = True) -> "Stream":
        """End a travel; contactors follow in 30 ms."""
        if let_go:
            self.let_go(way)
        self.has(outputs=0, state=HELD, ended=ended).wait(30)
        return self.set(line_released=True, **{f"{way}_released": True}).has(current_ma=0).wait(20)

    def let_go(self, way: str) -> "Stream":
        """Let the control go."""
        return self.set(**{f"{way}_off": True, f"{way}_path": False})

    def fault(self, number: int) -> "Stream":
        """Latch a fault: everything goes off."""
        self.has(outputs=0, state=FAULT, fault=number).wait(30)
        self.set(line_released=True, raise_released=True, lower_released=True)
        return self.has(current_ma=0).wait(400)


Change = Callable[[Sample], Sample]


def never(name: str, state: bool) -> Change:
    """Return the change that keeps a contact from ever being in a state."""

    def change(sample: Sample) -> Sample:
        mask = sample.contacts & ~BITS[name] if state else sample.contacts | BITS[name]
        return replace(sample, contacts=mask)

    return change


def always(**values: int) -> Change:
    """Return the change that keeps a column at a value."""
    return lambda sample: replace(sample, **values)


@dataclass(frozen=True)
class Case:
    """A watch, a sound stream that it passes, and changes each of which takes evidence away."""

    name: str
    make: Callable[[], w.Watch]
    rows: tuple[Sample, ...]
    without: tuple[Change, ...]
    gaps: bool = False  # gaps are part of what it watches


def _travel(way: str) -> Stream:
    start, end = ("bottom_end", "top_end") if way == "raise" else ("top_end", "bottom_end")
    stream = Stream(**{start: False}).wait(200).start(way)
    stream.set(**{start: True}).wait(29_800)
    stream.set(**{end: False, f"{way}_path": False}).wait(20)
    return stream.stop(way, ENDED[way], let_go=False).wait(600, 50)


def _pieces() -> Stream:
    stream = Stream()
    for _ in range(3):
        stream.wait(600, 50).start("raise").wait(1960).stop("raise")
    return stream.wait(600, 50).start("raise").wait(100).fault(35)


def _both_ways(times: int) -> tuple[Sample, ...]:
    stream = Stream(bottom_end=False).wait(200)
    for _ in range(times):
        for way, start, end in (
            ("raise", "bottom_end", "top_end"),
            ("lower", "top_end", "bottom_end"),
        ):
            stream.start(way).set(**{start: True}).wait(3000)
            stream.set(**{end: False, f"{way}_path": False}).stop(way, ENDED[way]).wait(500, 50)
            stream.has(state=IDLE).wait(200, 50)
    return tuple(stream.rows)


def _power() -> Stream:
    stream = Stream().wait(200).start("raise").wait(800)
    stream.has(supply_mv=0, contacts=0, outputs=0, state=HELD, held_reasons=1, current_ma=0)
    stream.wait(1000, 50).has(supply_mv=24_000, contacts=AT_REST, held_reasons=128)
    stream.set(raise_off=False, raise_path=True).wait(2000, 50)
    return stream.let_go("raise").wait(300, 50)


def _dead_live() -> Stream:
    stream = Stream().wait(300, 50).has(supply_mv=0, contacts=0, state=HELD, held_reasons=1)
    stream.wait(1000, 50).has(supply_mv=24_000, contacts=AT_REST, held_reasons=2)
    return stream.wait(1500, 50)


def _latched() -> Stream:
    stream = Stream().wait(300, 50).set(stop_ok=False, chain_ok=False).fault(2).wait(2000, 50)
    return stream.set(stop_ok=True, chain_ok=True).wait(500, 50)


def _hung() -> tuple[Sample, ...]:
    stream = Stream().wait(200).start("raise").wait(500).stop("raise")
    return tuple(stream.fault(42).wait(300, 50).rows)


def _slack() -> tuple[Sample, ...]:
    stream = Stream().wait(300, 50).start("lower").wait(1000).set(rope_taut=False)
    return tuple(stream.wait(600).fault(32).rows)


def _restart() -> Stream:
    stream = Stream().wait(300, 50).has(t_ms=20, sequence=0, state=HELD, held_reasons=4)
    return stream.wait(1000, 50)


def _wire() -> Stream:
    stream = Stream().wait(300, 50).set(top_end=False).wait(500, 50)
    stream.set(raise_off=False).has(refused=1).wait(2000, 50)
    return stream.set(raise_off=True).wait(300, 50).set(top_end=True).wait(300, 50)


def _worked(**contacts: bool) -> tuple[Sample, ...]:
    stream = Stream().wait(500, 50).set(**contacts).wait(1000, 50)
    return tuple(stream.set(**{n: not s for n, s in contacts.items()}).wait(500, 50).rows)


def _held() -> tuple[Sample, ...]:
    stream = Stream().wait(300, 50).set(raise_off=False, raise_path=True).wait(500, 50)
    stream.set(top_end=False, raise_path=False).wait(500, 50)
    stream.set(top_end=True, raise_path=True).wait(500, 50).let_go("raise").wait(300, 50)
    return tuple(stream.rows)


def _ready() -> tuple[Sample, ...]:
    stream = Stream().has(state=FAULT, fault=2).wait(500, 50).set(reset=True).wait(2500, 50)
    stream.set(reset=False).has(state=HELD, fault=0, held_reasons=512).wait(500, 50)
    return tuple(stream.has(state=IDLE, held_reasons=0).wait(300, 50).rows)


def _taps() -> tuple[Sample, ...]:
    stream = Stream()
    for _ in range(3):
        stream.wait(700, 50).start("raise").wait(300).stop("raise").wait(300)
    return tuple(stream.rows)


CASES = (
    Case(
        "contacts",
        lambda: wc.ContactsSeen({"stop_ok": False, "chain_ok": False}),
        _worked(stop_ok=False, chain_ok=False),
        (never("stop_ok", False), never("chain_ok", False), never("stop_ok", True)),
    ),
    Case(
        "contacts with another held",
        lambda: wc.ContactsSeen({"top_end": False, "raise_path": False}, held={"raise_off": False}),
        _held(),
        (never("top_end", False), never("raise_off", False), never("raise_path", True)),
    ),
    Case(
        "one contact",
        lambda: wc.ContactIs("service_link", True),
        tuple(Stream().wait(300, 50).set(service_link=True).wait(300, 50).rows),
        (never("service_link", True),),
    ),
    Case(
        "rest",
        lambda: wc.RestPicture(REST, 300, (20_400, 28_800)),
        tuple(Stream().wait(2000, 50).rows),
        (
            never("top_end", True),
            never("reset", False),
            always(current_ma=301),
            always(supply_mv=20_000),
            always(supply_mv=29_000),
        ),
    ),
    Case("ready", w.Ready, _ready(), (always(state=HELD), always(state=FAULT, fault=2)), True),
    Case(
        "contactors, motor off",
        lambda: wm.Contactors("raise", SETTINGS, 28, current=False),
        tuple(Stream().wait(300, 50).start("raise", 0).wait(300).fault(28).rows),
        (
            never("raise_released", False),
            never("line_released", False),
            never("lower_released", True),
            never("raise_released", True),
            always(current_ma=900),
            always(fault=0, state=HELD),
        ),
    ),
    Case(
        "contactors, motor on",
        lambda: wm.Contactors("lower", SETTINGS, 0, current=True),
        tuple(Stream().wait(300, 50).start("lower").wait(500).stop("lower").wait(300).rows),
        (never("lower_released", False), never("line_released", False), always(current_ma=0)),
    ),
    Case(
        "bottom left",
        lambda: wm.Leaves(SETTINGS, slack_fitted=True),
        tuple(
            Stream(bottom_end=False)
            .wait(300, 50)
            .start("raise")
            .wait(500)
            .set(bottom_end=True)
            .wait(300)
            .stop("raise")
            .wait(300)
            .rows
        ),
        (
            never("bottom_end", True),
            never("raise_released", False),
            never("rope_taut", True),
            always(fault=33),
        ),
    ),
    Case(
        "inches",
        lambda: wm.Inches("raise", 3, SETTINGS),
        _taps(),
        (never("raise_released", False), always(outputs=0), always(ended=2)),
    ),
    Case(
        "release",
        lambda: ws.ReleaseTimed("raise", SETTINGS),
        tuple(Stream().wait(300, 50).start("raise").wait(2000).stop("raise").wait(300).rows),
        (
            never("raise_released", False),
            never("raise_off", True),
            never("line_released", True),
            always(current_ma=900),
            always(outputs=OUT_RAISE),
            always(ended=2),
        ),
    ),
    Case(
        "stop",
        lambda: ws.StopTimed("raise", ("stop_ok", "chain_ok"), 2),
        tuple(
            Stream()
            .wait(300, 50)
            .start("raise")
            .wait(1000)
            .set(stop_ok=False, chain_ok=False)
            .wait(10)
            .fault(2)
            .wait(1000)
            .rows
        ),
        (
            never("stop_ok", False),
            never("chain_ok", False),
            never("raise_released", True),
            never("line_released", False),
            always(fault=0, state=HELD),
            always(fault=5),
        ),
    ),
    Case(
        "power lost",
        lambda: ws.PowerLost("raise", SETTINGS),
        tuple(_power().rows),
        (
            always(supply_mv=24_000),
            never("line_released", False),
            never("raise_off", False),
            always(outputs=OUT_RAISE),
        ),
        gaps=True,
    ),
    Case(
        "refused",
        lambda: ws.Refused("raise", (2,)),
        tuple(Stream().wait(300, 50).set(raise_off=False).has(refused=2).wait(2000, 50).rows),
        (never("raise_off", False), always(refused=1), always(state=RAISING)),
    ),
    Case(
        "wire broken",
        lambda: ws.WireBroken("top_end", "raise"),
        tuple(_wire().rows),
        (
            never("top_end", False),
            never("raise_off", False),
            never("top_end", True),
            always(outputs=OUT_RAISE),
        ),
    ),
    Case(
        "supply",
        lambda: wsu.SupplySeen((20_400, 28_800)),
        tuple(_dead_live().rows),
        (always(supply_mv=24_000), always(supply_mv=0), always(supply_mv=15_000)),
        gaps=True,
    ),
    Case(
        "supply gone",
        wsu.SupplyGone,
        tuple(_dead_live().rows),
        (always(supply_mv=24_000), never("stop_ok", False)),
        gaps=True,
    ),
    Case(
        "latched",
        lambda: w.Latched(2),
        tuple(_latched().rows),
        (always(fault=0, state=HELD), always(fault=28), never("stop_ok", True)),
        gaps=True,
    ),
    Case(
        "restart",
        ws.Restarted,
        tuple(_restart().rows),
        (never("line_released", True), always(outputs=OUT_LOWER)),
        gaps=True,
    ),
    Case(
        "travel up",
        lambda: wt.Travel("raise", SETTINGS, 2000),
        tuple(_travel("raise").rows),
        (
            never("top_end", False),
            never("bottom_end", False),
            never("line_released", False),
            never("raise_path", False),
            never("raise_off", False),
            always(ended=1),
            always(current_ma=2100),
            always(fault=3),
        ),
    ),
    Case(
        "travel down",
        lambda: wt.Travel("lower", SETTINGS, 2000),
        tuple(_travel("lower").rows),
        (never("bottom_end", False), never("lower_path", False), never("line_released", True)),
    ),
    Case(
        "budget",
        lambda: wt.BudgetSpent("raise", 6000, 200),
        tuple(_pieces().rows),
        (always(fault=0, state=HELD), always(fault=26), never("raise_released", False)),
    ),
    Case(
        "trip",
        lambda: wt.Tripped("raise", SETTINGS),
        tuple(Stream().wait(300, 50).start("raise", 9500).wait(440).fault(26).rows),
        (always(current_ma=8900), always(fault=0, state=HELD), always(fault=28)),
    ),
    Case(
        "slack",
        lambda: wt.SlackTimed(SETTINGS),
        _slack(),
        (never("rope_taut", False), always(fault=0, state=LOWERING), never("line_released", True)),
    ),
    Case(
        "full travels",
        lambda: wt.FullTravels(3),
        _both_ways(3),
        (
            never("bottom_end", False),
            never("top_end", False),
            always(ended=1),
            always(state=IDLE),
            always(fault=30),
        ),
    ),
    Case(
        "hung",
        wt.Hung,
        _hung(),
        (always(fault=0), always(fault=43), always(state=HELD), never("line_released", True)),
        gaps=True,
    ),
    Case(
        "lifted",
        lambda: wt.Lifted(SETTINGS, 3000),
        tuple(Stream().wait(200).start("raise").wait(3500).stop("raise").wait(300).rows),
        (never("line_released", False), never("bottom_end", True), never("raise_released", True)),
    ),
)
