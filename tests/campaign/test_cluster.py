"""A real scheduler with two workers, one of which is killed: nothing lost, nothing twice."""

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from leafwinch_sim import campaign_cluster
from leafwinch_sim.campaign import prove
from leafwinch_sim.campaign_cluster import ClusterCrew
from leafwinch_sim.campaign_store import Store
from leafwinch_sim.campaign_work import Plan
from leafwinch_sim.site import load_site
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import load_netlist

ONLY = (
    "BG1.second:welded",
    "SF1.raise_no:welded",
    "W2:cut",
    "friction_tripled",
    "board_hung",
)
START_S = 60.0

pytestmark = pytest.mark.filterwarnings("ignore::Warning")


class Cluster:
    """A scheduler and two workers as processes of their own."""

    def __init__(self, folder: Path) -> None:
        self.file = folder / "scheduler.json"
        self.log = (folder / "log.txt").open("wb")
        environment = {**os.environ, "DASK_DISTRIBUTED__WORKER__DAEMON": "False"}
        common = ["--scheduler-file", str(self.file), "--no-dashboard"]
        self.processes: list[subprocess.Popen[bytes]] = []
        for kind in ("scheduler", "worker", "worker"):
            words = [sys.executable, "-m", "dask", kind, *common]
            if kind == "scheduler":
                words += ["--host", "127.0.0.1", "--port", "0"]
            else:
                words += ["--nthreads", "1", "--no-nanny", "--local-directory", str(folder)]
            self.processes.append(
                subprocess.Popen(words, stdout=self.log, stderr=self.log, env=environment)
            )
            self._wait()

    def _wait(self) -> None:
        until = time.monotonic() + START_S
        while time.monotonic() < until and not self.file.is_file():
            time.sleep(0.05)

    @property
    def address(self) -> str:
        return str(json.loads(self.file.read_text(encoding="utf-8"))["address"])

    def kill_a_worker(self) -> None:
        self.processes[1].send_signal(signal.SIGKILL)
        self.processes[1].wait()

    def close(self) -> None:
        for process in self.processes[::-1]:
            process.kill()
            process.wait()
        self.log.close()


@pytest.fixture
def cluster(tmp_path: Path) -> Iterator[Cluster]:
    made = Cluster(tmp_path)
    yield made
    made.close()


def test_a_killed_worker_costs_nothing_and_counts_nothing_twice(
    cluster: Cluster, tmp_path: Path
) -> None:
    site = load_site("workshop-pit")
    net = load_netlist(site.wiring)
    crew = ClusterCrew(cluster.address)
    crew.client.wait_for_workers(2, timeout=START_S)
    crew.close()
    seen: list[int] = []

    def progress(what: str, done: int, total: int) -> None:
        if done and not max(seen, default=0):
            cluster.kill_a_worker()
        seen.append(done)

    store = Store(tmp_path, Plan(site, net, 1, False), "test")
    far = prove(site, net, only=ONLY, progress=progress, cluster=cluster.address, store=store)
    near = prove(site, net, only=ONLY)
    assert cluster.processes[1].returncode == -signal.SIGKILL
    assert far["hash"] == near["hash"]
    assert far["complete"]
    kept = [json.loads(line)["job"] for line in store.path.read_text("utf-8").splitlines()]
    assert len(kept) == len(set(kept))
    moments = [json.loads(job) for job in kept if json.loads(job)[0] == "moments"]
    assert sorted(index for job in moments for index in job[1]) == sorted(
        index for index, d in enumerate(Plan(site, net, 1, False).defects()) if d.id in ONLY
    )
    assert max(seen) == len(ONLY) * far["moments"]


def test_an_address_where_nobody_answers_is_refused_with_one_sentence(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(campaign_cluster, "CONNECT_S", 1)
    with pytest.raises(BadInput, match="No scheduler answers at 'tcp:"):
        ClusterCrew("tcp://127.0.0.1:1")
