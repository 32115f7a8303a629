"""Tries every small change of the control core and reports which of them no test notices.

`python -m tests.mutation` goes through all of them and renews README.md beside this file.
Results are kept in out/mutation.json as they come; an interrupted run goes on from there.
"""

import argparse
import json
import os
import pickle
import sys
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

from tests.mutation.foretold import Foretold
from tests.mutation.isolated import ROOT
from tests.mutation.kill_set import LONGEST, MODULES, killer_of
from tests.mutation.mutants import Mutant, all_mutants, digest, modules, sample, source
from tests.mutation.report import KILLED_MIN, Result, readme, stale, unlisted
from tests.mutation.trial import Hints, outcomes

RESULTS = ROOT / "out" / "mutation.json"
README = Path(__file__).with_name("README.md")


def kill_set_digest() -> str:
    """Return a fingerprint of all tests that decide; a survivor holds for one only."""
    names = [*MODULES, *LONGEST, "tests.firmware.drive", "tests.firmware.random_walk"]
    names += ["tests.firmware.state_ranges", "tests.firmware.test_scenarios"]
    paths = [ROOT / (name.replace(".", "/") + ".py") for name in names]
    paths += sorted((ROOT / "tests" / "firmware").glob("scenarios_*.py"))
    paths += [Path(__file__).with_name(name) for name in ("kill_set.py", "foretold.py")]
    return digest(*(path.read_text(encoding="utf-8") for path in paths))


def foretold(folder: Path) -> Foretold:
    """Return the answers of the reference model, from an earlier run where nothing changed."""
    path = folder / "mutation-foretold.pickle"
    files = sorted((ROOT / "sim" / "leafwinch_sim" / "reference_model").glob("*.py"))
    files += sorted((ROOT / "tests" / "firmware").glob("[!t]*.py"))
    files.append(Path(__file__).with_name("foretold.py"))
    texts = [path.read_text(encoding="utf-8") for path in files] + list(map(source, modules()))
    key = digest(*texts)
    if path.is_file():
        kept = pickle.loads(path.read_bytes())
        if kept[0] == key and isinstance(kept[1], Foretold):
            return kept[1]
    new = Foretold()
    folder.mkdir(exist_ok=True)
    path.write_bytes(pickle.dumps((key, new)))
    return new


class Kept:
    """The results so far, in a file."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.tests = kill_set_digest()
        self.texts = {module: digest(source(module)) for module in modules()}
        self.rows: dict[str, Any] = {}
        if path.is_file():
            self.rows = json.loads(path.read_text(encoding="utf-8"))

    def get(self, mutant: Mutant) -> Result | None:
        """Return what is known and still holds."""
        row = self.rows.get(mutant.slot)
        if row is None or row["text"] != self.texts[mutant.module]:
            return None
        if not row["killer"] and row["tests"] != self.tests:
            return None
        return Result(mutant, row["words"], row["killer"])

    def add(self, result: Result) -> None:
        """Note one more."""
        self.rows[result.mutant.slot] = {
            "words": result.words,
            "killer": result.killer,
            "text": self.texts[result.mutant.module],
            "tests": "" if result.killer else self.tests,
        }

    def save(self) -> None:
        """Write the file anew, whole or not at all."""
        self.path.parent.mkdir(exist_ok=True)
        half = self.path.with_suffix(".part")
        half.write_text(json.dumps(self.rows, indent=0), encoding="utf-8")
        half.replace(self.path)


def known_results(kept: Kept, mutants: list[Mutant], hints: Hints) -> dict[str, Result]:
    """Return what need not be tried again, and learn from it."""
    known = {}
    for mutant in mutants:
        result = kept.get(mutant)
        if result is not None:
            known[mutant.slot] = result
            hints.note(mutant, result.killer)
    return known


def try_all(mutants: list[Mutant], path: Path, workers: int, console: Console) -> list[Result]:
    """Try what is not known yet, showing how far it is."""
    kept, hints = Kept(path), Hints()
    known = known_results(kept, mutants, hints)
    missing = [mutant for mutant in mutants if mutant.slot not in known]
    # What no test noticed before takes longest, and will hardly be noticed now.
    missing.sort(key=lambda mutant: mutant.slot in kept.rows)
    if missing:
        console.print("The reference model foretells every scenario ...")
        answers = foretold(path.parent)
        wrong = killer_of("budget", answers, ())
        if wrong:
            raise SystemExit(f"The unchanged core already fails: {wrong}")
        columns = (
            TextColumn("{task.completed} of {task.total} changes"),
            BarColumn(),
            TextColumn("{task.fields[survived]} unnoticed"),
            TimeRemainingColumn(),
        )
        with Progress(*columns, console=console, auto_refresh=False) as progress:
            task = progress.add_task("", total=len(mutants), completed=len(known), survived=0)
            for outcome in outcomes(missing, answers, hints, workers):
                result = Result(outcome.mutant, outcome.words, outcome.killer)
                kept.add(result)
                known[outcome.mutant.slot] = result
                survived = sum(not row.killer for row in known.values())
                progress.update(task, completed=len(known), survived=survived, refresh=True)
                if len(known) % 25 == 0:
                    kept.save()
        kept.save()
    return [known[mutant.slot] for mutant in mutants]


def main() -> int:
    """Read the command line, try, report; 1 where a survivor is not listed or a list is stale."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutation", description=__doc__)
    parser.add_argument("--sample", type=int, default=0, help="try so many, drawn by --seed")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--module", action="append", help="only this module (may be repeated)")
    parser.add_argument("--results", type=Path, default=RESULTS, help="file of results")
    options = parser.parse_args()
    console = Console(file=sys.stderr)
    every = all_mutants()
    mutants = [row for row in every if not options.module or row.module in options.module]
    if options.sample:
        mutants = sample(mutants, options.sample, options.seed)
    results = try_all(mutants, options.results, options.workers, console)
    killed = sum(bool(row.killer) for row in results)
    print(f"{killed} of {len(results)} changes noticed ({killed / len(results):.1%})")
    offences = [f"not listed: {row}" for row in unlisted(results)]
    if len(mutants) == len(every):
        offences += [f"listed, but noticed or gone: {row}" for row in stale(results)]
        README.write_text(readme(results), encoding="utf-8")
        if killed < KILLED_MIN * len(results):
            offences.append(f"at least {KILLED_MIN:.0%} must be noticed")
    for sentence in offences:
        print(sentence)
    return 1 if offences else 0


if __name__ == "__main__":
    raise SystemExit(main())
