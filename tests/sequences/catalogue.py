"""What can break on an installation, by kind, and which of it stays latent.

`python -m tests.sequences.catalogue RESULT.json ...` takes the latent defects of each
installation from the result files of `leafwinch prove --json` over into latent.json.
"""

import json
import sys
from dataclasses import dataclass
from pathlib import Path

from leafwinch_sim.bench_defects import all_defects
from leafwinch_sim.scenario import SURROUNDINGS
from leafwinch_sim.scenario_play import installation

LATENT = Path(__file__).with_name("latent.json")


@dataclass(frozen=True, slots=True)
class Catalogue:
    """One installation. `by_kind` maps each kind of defect to ids; `latent` are ids."""

    site: str
    wiring: str
    by_kind: dict[str, tuple[str, ...]]
    latent: tuple[str, ...]


def catalogue_of(site: str, wiring: str = "") -> Catalogue:
    """Return the catalogue of an installation; an empty wiring is the site's own."""
    by_kind: dict[str, list[str]] = {}
    for defect in all_defects(*installation(site, wiring)):
        # What comes and goes as surroundings is drawn as such.
        if defect.id not in SURROUNDINGS:
            by_kind.setdefault(defect.kind, []).append(defect.id)
    known = json.loads(LATENT.read_text(encoding="utf-8"))
    net = installation(site, wiring)[1].name
    return Catalogue(
        site,
        wiring,
        {kind: tuple(ids) for kind, ids in by_kind.items()},
        tuple(name for name in known.get(f"{site} {net}", ()) if name not in SURROUNDINGS),
    )


def renew(results: list[str]) -> None:
    """Write latent.json from result files."""
    found = {}
    for name in results:
        result = json.loads(Path(name).read_text(encoding="utf-8"))
        found[f"{result['site']} {result['wiring']}"] = [row["fault"] for row in result["latent"]]
    LATENT.write_text(json.dumps(found, indent=1, sort_keys=True) + "\n", encoding="utf-8")


if __name__ == "__main__":
    renew(sys.argv[1:])
