"""`leafwinch sites`: what is shipped, and every defect by its pasteable id."""

import shlex

import pytest

from leafwinch_host.defect_book import UNLISTED, defect_book, grouped
from leafwinch_sim.bench_defects import all_defects
from leafwinch_sim.scripts import shipped_scripts
from leafwinch_sim.site import load_site, shipped_sites
from leafwinch_wiring.netlist import load_netlist
from leafwinch_wiring.reader import shipped_names
from tests.host.command import leafwinch

Captured = pytest.CaptureFixture[str]


def test_everything_shipped_is_listed(capsys: Captured) -> None:
    said = leafwinch(capsys, "sites")
    assert said.code == 0
    words = said.out.split()
    for name in (*shipped_scripts(), *shipped_names()):
        assert name in words, name
    for name in shipped_sites():
        site = load_site(name)
        assert f"{name}: {site.summary}" in said.out
        assert f"{site.deck.leaf_a.length:g} m, {site.deck.leaf_a.mass:g} kg" in said.out
        assert f"above {site.limits.top_end.at:g} deg" in said.out


@pytest.mark.parametrize("name", shipped_sites())
def test_every_defect_is_listed_once_with_its_cause(capsys: Captured, name: str) -> None:
    site = load_site(name)
    net = load_netlist(site.wiring)
    said = leafwinch(capsys, "sites", "--defects", name)
    assert said.code == 0
    rows = [line.split(maxsplit=1) for line in said.out.splitlines() if line.startswith("  ")]
    assert sorted(row[0] for row in rows) == sorted(d.id for d in all_defects(site, net))
    assert all(len(row) == 2 and len(row[1]) > 5 for row in rows), "each has a cause"
    for defect, _ in rows:
        assert shlex.quote(defect) == defect, "an id pastes into a shell as it is"


def test_headings_cover_the_catalogue_and_strangers_are_not_lost() -> None:
    site = load_site("workshop-pit")
    book = defect_book(site, load_netlist(site.wiring))
    groups = grouped(book, [*reversed(book), "stranger"])
    assert [defect for heading, ids in groups for defect in ids if heading != UNLISTED] == [
        entry.id for heading, _ in groups for entry in book.values() if entry.group == heading
    ]
    assert groups[-1] == (UNLISTED, ["stranger"])
