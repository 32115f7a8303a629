"""Keeps every finished piece of work in a file, so that a stopped proof can go on."""

import json
from pathlib import Path
from typing import Any

from leafwinch_sim.campaign_work import Job, Plan
from leafwinch_wiring.errors import BadInput


class Store:
    """One file with a line for each finished piece.

    A line that was cut off when the program was killed is left out, and the piece done again.

    Args:
        folder: where the file lies; made when the first piece is finished.
        plan: whose work it is.
        sources: hash of the sources, in the file's name.
    """

    def __init__(self, folder: Path, plan: Plan, sources: str) -> None:
        self.path = folder / f"{plan.site.name}-{plan.net.name}-{plan.key}-{sources}.jsonl"
        self.known: dict[str, Any] = {}
        if self.path.is_file():
            self._read()

    def _read(self) -> None:
        whole = 0
        data = self.path.read_bytes()
        for line in data.splitlines(keepends=True):
            if not line.endswith(b"\n"):
                break
            try:
                entry = json.loads(line)
                self.known[entry["job"]] = entry["result"]
            except (ValueError, KeyError, TypeError):
                break
            whole += len(line)
        if whole < len(data):
            with self.path.open("r+b") as file:
                file.truncate(whole)

    def result(self, job: Job) -> Any | None:
        """Return what is known of a piece, or None."""
        return self.known.get(_name(job))

    def keep(self, job: Job, result: Any) -> None:
        """Write down a finished piece; one that is known already is not written twice.

        Raises:
            BadInput: the file cannot be written.
        """
        name = _name(job)
        if name in self.known:
            return
        self.known[name] = result
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            with self.path.open("ab") as file:
                file.write(json.dumps({"job": name, "result": result}).encode() + b"\n")
        except OSError as error:
            raise BadInput(f"Cannot keep what is done in {self.path}: {error.strerror}.") from None

    def forget(self) -> None:
        """Remove the file; the result is written."""
        self.path.unlink(missing_ok=True)


def _name(job: Job) -> str:
    return json.dumps(job)
