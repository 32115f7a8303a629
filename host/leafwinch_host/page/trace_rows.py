"""The rows of what was played, as `leafwinch run --trace` writes them."""

from dataclasses import dataclass
from typing import Any

from leafwinch_host import version
from leafwinch_host.page.play import BY_HAND, Play
from leafwinch_host.run_summary import Setting
from leafwinch_host.trace_file import trace_text
from leafwinch_sim.run import TRACE_COLUMNS, RunResult
from leafwinch_sim.scripts import Script


@dataclass(frozen=True, slots=True)
class Recording:
    """Steps of a play, copied, so that writing them need not stop it.

    Attributes:
        name: of a file for it.
        rows: one every 5 ms, in TRACE_COLUMNS.
        dropped: how many older ones were not kept.
        origin: what is written above them.
    """

    name: str
    rows: list[tuple[Any, ...]]
    dropped: int
    origin: dict[str, str]

    def columns(self) -> dict[str, list[Any]]:
        """Return the rows as columns of equal length."""
        if not self.rows:
            return {name: [] for name in TRACE_COLUMNS}
        columns = map(list, zip(*self.rows, strict=True))
        return dict(zip(TRACE_COLUMNS, columns, strict=True))

    def text(self) -> str:
        """Return the whole file as comma-separated text."""
        return trace_text(self.columns(), self.origin)


def recording_of(play: Play) -> Recording:
    """Return a copy of what was played so far.

    Its origin is that of `leafwinch run --trace`: a whole script with the same seed and the same
    defects has the same text.
    """
    opening = play.opening
    script = opening.script or Script(opening.name, BY_HAND.summary, "bottom", ())
    setting = Setting(play.site, play.net, script, list(play.came), play.bench.seed)
    origin = {"leafwinch": version(), **setting.origin(RunResult(hash=_hash(play)))}
    if play.dropped:
        origin["steps left out at the beginning"] = str(play.dropped)
    return Recording(file_name(play, "trace.csv"), play.rows(), play.dropped, origin)


def file_name(play: Play, kind: str) -> str:
    """Return a name for a file of this play that every system takes."""
    name = f"{play.site.name}-{play.opening.name}"
    return "".join(c if c.isalnum() or c == "-" else "-" for c in name)[:80] + f"-{kind}"


def _hash(play: Play) -> str:
    """Return the hash over every step so far, as a run that ends here would have it."""
    digest = play.player.digest.copy()
    board = play.bench.board
    if board is not None and board.powered:
        digest.update(repr(board.controller.snapshot()).encode())
    return digest.hexdigest()
