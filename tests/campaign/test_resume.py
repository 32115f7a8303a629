"""A proof that was killed goes on where it was, and its report is the same."""

import json
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from leafwinch_sim.campaign_store import Store
from leafwinch_sim.campaign_work import Plan
from leafwinch_sim.site import load_site
from leafwinch_wiring.netlist import load_netlist

COMMAND = """
import sys
from pathlib import Path
from leafwinch_sim.campaign import prove
from leafwinch_sim.campaign_store import Store
from leafwinch_sim.campaign_work import Plan
from leafwinch_sim.site import load_site
from leafwinch_wiring.netlist import load_netlist

only = ("SF1.raise_no:welded", "W2:cut", "brake_slow")
site = load_site("workshop-pit")
net = load_netlist(site.wiring)
store = Store(Path(sys.argv[1]), Plan(site, net, 1, False, only), "test")
print(len(store.known), prove(site, net, only=only, store=store)["hash"])
"""


def started(folder: Path) -> "subprocess.Popen[str]":
    return subprocess.Popen(
        [sys.executable, "-c", COMMAND, str(folder)],
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "LEAFWINCH_BUILD": "plain"},
    )


def test_killed_three_times_at_random_it_ends_with_the_same_result(tmp_path: Path) -> None:
    draw = random.Random(11)
    begun = time.monotonic()
    whole, _ = started(tmp_path / "whole").communicate()
    lasts_s = time.monotonic() - begun
    killed = 0
    for _ in range(3):
        process = started(tmp_path / "killed")
        try:
            process.wait(draw.uniform(0.3, 0.9) * lasts_s)
        except subprocess.TimeoutExpired:
            process.send_signal(signal.SIGKILL)
            killed += 1
        process.communicate()
    rest, _ = started(tmp_path / "killed").communicate()
    assert killed > 0
    assert whole.split()[0] == "0"
    assert int(rest.split()[0]) > 0
    assert rest.split()[1] == whole.split()[1]


def plan() -> Plan:
    site = load_site("workshop-pit")
    return Plan(site, load_netlist(site.wiring), 1, False)


def test_a_line_cut_off_is_done_again_and_the_others_are_kept(tmp_path: Path) -> None:
    store = Store(tmp_path, plan(), "a")
    store.keep(("moments", [1, 2]), ["x"])
    store.keep(("moments", [3]), ["y"])
    store.keep(("moments", [3]), ["never twice"])
    data = store.path.read_bytes()
    assert data.count(b"\n") == 2
    store.path.write_bytes(data[:-7])
    again = Store(tmp_path, plan(), "a")
    assert again.result(("moments", [1, 2])) == ["x"]
    assert again.result(("moments", [3])) is None
    again.keep(("moments", [3]), ["z"])
    assert Store(tmp_path, plan(), "a").result(("moments", [3])) == ["z"]
    again.forget()
    assert not again.path.exists()


def test_results_of_other_sources_or_another_seed_are_not_gone_on_from(tmp_path: Path) -> None:
    store = Store(tmp_path, plan(), "a")
    store.keep(("moments", [1]), ["x"])
    assert Store(tmp_path, plan(), "b").known == {}
    p = plan()
    assert Store(tmp_path, Plan(p.site, p.net, 2, False), "a").known == {}
    assert json.loads(store.path.read_text("utf-8"))["result"] == ["x"]


@pytest.mark.parametrize("text", ["not json\n", '{"job": 1}\n'])
def test_a_damaged_file_is_begun_anew(tmp_path: Path, text: str) -> None:
    store = Store(tmp_path, plan(), "a")
    store.path.write_text(text, encoding="utf-8")
    assert Store(tmp_path, plan(), "a").known == {}
