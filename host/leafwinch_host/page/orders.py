"""What happens on each message of a page."""

import math
from typing import Any

from leafwinch_host.page.bench_session import BenchSession
from leafwinch_host.page.keeping import Kept, kept_scenario
from leafwinch_host.page.loading import opening_of
from leafwinch_host.page.messages import (
    AS_FAST,
    Back,
    Bare,
    Break,
    HoldIt,
    LetGo,
    Load,
    Mend,
    Message,
    Plain,
    Press,
    Release,
    SetSpeed,
)
from leafwinch_host.page.trace_rows import Recording, recording_of
from leafwinch_sim.bench_defects import Defect
from leafwinch_wiring.errors import BadInput

DEFECTS_MAX = 8
PENDING_MAX = 16

Answer = dict[str, Any] | Recording | Kept | None


def carry_out(bench: BenchSession, page: int, message: Message) -> Answer:
    """Do what a page asks for, at once.

    Returns:
        What only this page is told, None for nothing; a trace comes as a recording, what
        happened as a scenario that is kept.

    Raises:
        BadInput: it can't be done; one sentence for the page.
    """
    with bench.lock:
        now_ms = bench.clock() * 1000.0
        bench.changes += 1
        if isinstance(message, Release):
            bench.hold.release(page)
            return None
        if isinstance(message, LetGo):
            _let_go(bench, page, message)
            return None
        if isinstance(message, Press):
            _press(bench, page, message, now_ms)
            return None
        if isinstance(message, Plain) and message.do == "trace":
            return recording_of(bench.play)
        if isinstance(message, Plain) and message.do == "keep":
            return kept_scenario(bench.play)
        if isinstance(message, Plain) and message.do == "control":
            if not bench.hold.ask(page, now_ms):
                raise BadInput("Another page holds a control at this moment.")
            return None
        _needs_right(bench, page)
        if isinstance(message, HoldIt):
            bench.hold.beat(page, message.way, message.beat, now_ms)
        else:
            _change(bench, message)
    return None


def _needs_right(bench: BenchSession, page: int) -> None:
    if not bench.hold.may(page):
        raise BadInput("Another page has the control; ask for it first.")


def _press(bench: BenchSession, page: int, message: Press, now_ms: float) -> None:
    """Press something; the emergency stop is everybody's."""
    what = message.what
    _check_hand(bench, what)
    if what == "stop":
        bench.latched.append(("stop", True))
        return
    _needs_right(bench, page)
    if what == "key":
        if message.beat is None:
            raise BadInput("The recovery key is held like the control: with a beat every 50 ms.")
        bench.hold.beat_key(page, message.beat, now_ms)
    elif what == "reset":
        bench.hold.press_reset(page)
    else:
        bench.latched.append(("isolated" if what == "power" else what, True))


def _let_go(bench: BenchSession, page: int, message: LetGo) -> None:
    what = message.what
    _check_hand(bench, what)
    if what == "key":
        bench.hold.release_key(page)
    elif what == "reset":
        bench.hold.release_reset(page)
    else:
        _needs_right(bench, page)
        bench.latched.append(("isolated" if what == "power" else what, False))


def _check_hand(bench: BenchSession, what: str) -> None:
    """Refuse what this wiring does not have, and more pressing than hands can do."""
    known = {"power", *bench.play.bench.hand_switches, *bench.play.bench.limits}
    if what not in known:
        raise BadInput(f"This wiring has no '{what}'.")
    if len(bench.latched) >= PENDING_MAX:
        raise BadInput("Too much was pressed while the bench is paused; let it go on first.")


def _change(bench: BenchSession, message: Message) -> None:
    """Carry out what changes the bench or its time."""
    if isinstance(message, Break):
        _break(bench, message)
    elif isinstance(message, Mend):
        _mend(bench, message)
    elif isinstance(message, SetSpeed):
        bench.pace.speed = math.inf if message.x == AS_FAST else float(message.x)
        bench.pace.rest(bench.clock())
    elif isinstance(message, Back):
        bench.back(message.s)
    elif isinstance(message, Bare):
        bench.put_bare(message.on)
    elif isinstance(message, Load):
        bench.opening = opening_of(message.text, bench.site, bench.net, bench.catalogue)
        bench.begin()
    elif isinstance(message, Plain):
        _time(bench, message.do)


def _time(bench: BenchSession, do: str) -> None:
    if do == "restart":
        bench.begin()
    elif do in ("pause", "go"):
        bench.paused = do == "pause"
    elif do == "step":
        bench.paused = True
        if not bench.trouble:
            bench.step(bench.clock())


def _break(bench: BenchSession, message: Break) -> None:
    defect = _known(bench, message.id)
    if message.when == "now":
        if len(bench.play.bench.defects) >= DEFECTS_MAX:
            raise BadInput(f"{DEFECTS_MAX} things are broken already; mend one first.")
        bench.add(defect)
        return
    if len(bench.pending) + len(bench.play.bench.defects) >= DEFECTS_MAX:
        raise BadInput(f"{DEFECTS_MAX} things are broken or will be; mend one first.")
    if (defect, message.when) not in bench.pending:
        bench.pending.append((defect, message.when))


def _mend(bench: BenchSession, message: Mend) -> None:
    if message.id == "all":
        bench.pending.clear()
        for defect in bench.play.bench.defects:
            bench.remove(defect)
        return
    defect = _known(bench, message.id)
    bench.pending = [row for row in bench.pending if row[0] != defect]
    bench.remove(defect)


def _known(bench: BenchSession, name: str) -> Defect:
    found = bench.catalogue.get(name)
    if found is None:
        raise BadInput(f"There is no defect '{name[:80]}' on this installation.")
    return found
