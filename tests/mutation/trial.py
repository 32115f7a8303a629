"""One change in a process of its own: what notices it, and how long that took."""

import multiprocessing
import resource
import signal
import time
from collections.abc import Iterable, Iterator
from multiprocessing.connection import Connection, wait
from typing import Any, NamedTuple

from tests.mutation.isolated import read_everything, start_afresh
from tests.mutation.mutants import Mutant, mutated, words

CPU_S = 6  # far beyond the two seconds that the tests take
TIMEOUT_S = 120.0  # the same by the clock, for a machine with much else to do
TIMED_OUT = "(it never ends)"
NOT_IMPORTED = "(it does not even start)"


class Outcome(NamedTuple):
    """The change in words, what noticed it ('' for nothing), and the seconds it took."""

    mutant: Mutant
    words: str
    killer: str
    seconds: float


def _try(mutant: Mutant, foretold: Any, hints: tuple[str, ...], answer: Connection) -> None:
    """Change, import afresh, test, and send (words, killer)."""
    resource.setrlimit(resource.RLIMIT_CPU, (CPU_S, CPU_S + 2))
    text = mutated(mutant)
    said = words(mutant, text)
    answer.send(said)
    start_afresh({f"leafwinch.{mutant.module}": text})
    try:
        from tests.mutation.kill_set import killer_of

        killer = killer_of(mutant.module, foretold, hints)
    except Exception:
        killer = NOT_IMPORTED
    answer.send(killer)


class Hints:
    """Remembers which tests noticed changes in each function; they are tried first there."""

    def __init__(self, most: int = 3) -> None:
        self.most = most
        self.counts: dict[tuple[str, str], dict[str, int]] = {}

    def note(self, mutant: Mutant, killer: str) -> None:
        """Count one."""
        if killer and not killer.startswith("("):
            counts = self.counts.setdefault((mutant.module, mutant.function), {})
            counts[killer] = counts.get(killer, 0) + 1

    def of(self, mutant: Mutant) -> tuple[str, ...]:
        """Return the best few."""
        counts = self.counts.get((mutant.module, mutant.function), {})
        return tuple(sorted(counts, key=lambda name: (-counts[name], name))[: self.most])


class _Running(NamedTuple):
    mutant: Mutant
    process: Any
    answer: Connection
    began: float


def outcomes(
    mutants: Iterable[Mutant], foretold: Any, hints: Hints, workers: int
) -> Iterator[Outcome]:
    """Try every change, some at a time, and yield each outcome as it comes."""
    read_everything()
    fork = multiprocessing.get_context("fork")
    waiting = iter(mutants)
    running: list[_Running] = []
    more = True
    while more or running:
        while more and len(running) < workers:
            mutant = next(waiting, None)
            if mutant is None:
                more = False
                break
            receiving, sending = fork.Pipe(duplex=False)
            process = fork.Process(
                target=_try, args=(mutant, foretold, hints.of(mutant), sending), daemon=True
            )
            process.start()
            sending.close()
            running.append(_Running(mutant, process, receiving, time.monotonic()))
        wait([row.process.sentinel for row in running], timeout=1.0)
        for row in list(running):
            seconds = time.monotonic() - row.began
            if row.process.is_alive() and seconds < TIMEOUT_S:
                continue
            running.remove(row)
            outcome = _outcome(row, seconds)
            hints.note(row.mutant, outcome.killer)
            yield outcome


def _outcome(row: _Running, seconds: float) -> Outcome:
    """Collect what a finished or hanging process sent."""
    ended = not row.process.is_alive()
    if not ended:
        row.process.kill()
    row.process.join()
    sent: list[str] = []
    try:
        while row.answer.poll():
            sent.append(row.answer.recv())
    except EOFError:
        pass
    row.answer.close()
    if not sent:
        raise RuntimeError(f"{row.mutant.slot}: the change could not be made")
    if len(sent) == 1:
        hung = not ended or row.process.exitcode == -signal.SIGXCPU
        sent.append(TIMED_OUT if hung else NOT_IMPORTED)
    return Outcome(row.mutant, sent[0], sent[1], seconds)
