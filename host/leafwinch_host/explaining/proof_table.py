"""Which single defects lead to which fault, counted out of a proof.

`python -m leafwinch_host.explaining.proof_table PROOF.json...` renews `from_proof.json` out of what
`leafwinch prove --json` wrote, one file for each netlist.
"""

import argparse
import json
import sys
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from leafwinch.fault_texts import FAULT_NAMES
from leafwinch_host.defect_book import cause_of, defect_book
from leafwinch_host.files import write_text
from leafwinch_sim.site import load_site
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import load_netlist

TABLE = Path(__file__).with_name("from_proof.json")
KEPT = 10  # defects named for each fault; the others are only counted


@dataclass(frozen=True, slots=True)
class Lead:
    """One defect that leads to a fault: at how many of the moments, and its physical cause."""

    defect: str
    moments: int
    cause: str


@dataclass(frozen=True, slots=True)
class Leads:
    """What a proof saw of one fault.

    Attributes:
        wiring: netlist of that proof. moments: how many moments it tried.
        defects: how many single defects lead there.
        rows: the most frequent ones.
    """

    wiring: str
    moments: int
    defects: int
    rows: tuple[Lead, ...]


def counted(result: Mapping[str, Any]) -> dict[str, Any]:
    """Return, by name of the fault, how many defects a proof found by it, and the first of them.

    Only cells count in which this very fault found the defect: the script of the proof works stop
    and finals itself, and those faults tell nothing of the defect.

    Raises:
        BadInput: it is no result of a proof.
    """
    found: dict[int, Counter[str]] = {}
    causes: dict[str, str] = {}
    try:
        site = load_site(result["site"])
        book = defect_book(site, load_netlist(result["wiring"]))
        for cell in result["cells"]:
            fault = int(cell["fault"])
            if fault and str(cell["found"]).startswith(f"fault {fault}:"):
                found.setdefault(fault, Counter())[cell["defect"]] += 1
        faults = {}
        for fault, counts in sorted(found.items()):
            rows = sorted(counts.items(), key=lambda row: (-row[1], row[0]))
            faults[FAULT_NAMES[fault - 1]] = {"defects": len(rows), "rows": rows[:KEPT]}
            causes |= {name: cause_of(book, name) for name, _ in rows[:KEPT]}
        return {
            "site": result["site"],
            "seed": result["seed"],
            "moments": result["moments"],
            "faults": faults,
            "causes": dict(sorted(causes.items())),
        }
    except (KeyError, TypeError, ValueError) as error:
        raise BadInput(f"This is not the result of a proof ({error!s:.60}).") from None


def leads(fault: str, wiring: str) -> Leads | None:
    """Return what the proof of a netlist saw of a fault; None for a netlist without a proof here.

    Args:
        fault: name of the fault.
        wiring: name of the netlist.
    """
    table = proof_table().get(wiring)
    if table is None:
        return None
    seen = table["faults"].get(fault, {"defects": 0, "rows": []})
    rows = tuple(Lead(name, count, table["causes"][name]) for name, count in seen["rows"])
    return Leads(wiring, table["moments"], seen["defects"], rows)


@cache
def proof_table() -> dict[str, Any]:
    """Return the table that is shipped, by name of the netlist."""
    read: dict[str, Any] = json.loads(TABLE.read_text(encoding="utf-8"))
    return read


def main(arguments: Sequence[str] | None = None) -> int:
    """Renew the table; 2 where a file is no result of a proof."""
    parser = argparse.ArgumentParser(description="Renews the table of which defect leads where.")
    parser.add_argument("proofs", nargs="+", type=Path, metavar="PROOF.json")
    chosen = parser.parse_args(arguments)
    try:
        table = {}
        for path in chosen.proofs:
            result = json.loads(path.read_text(encoding="utf-8"))
            table[result["wiring"]] = counted(result)
    except (OSError, ValueError, KeyError, TypeError, BadInput) as error:
        print(f"{path}: {error}", file=sys.stderr)
        return 2
    write_text(TABLE, table_text(table))
    return 0


def table_text(table: Mapping[str, Mapping[str, Any]]) -> str:
    """Return the table as JSON with a line for each fault and cause, so that changes show."""
    nets = []
    for net, content in table.items():
        parts = []
        for key, value in content.items():
            if isinstance(value, dict):
                rows = [f"   {_json(name)}: {_json(row)}" for name, row in value.items()]
                parts.append(f"  {_json(key)}: {{\n" + ",\n".join(rows) + "\n  }")
            else:
                parts.append(f"  {_json(key)}: {_json(value)}")
        nets.append(f" {_json(net)}: {{\n" + ",\n".join(parts) + "\n }")
    return "{\n" + ",\n".join(nets) + "\n}\n"


def _json(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False)


if __name__ == "__main__":
    sys.exit(main())
