"""`leafwinch bench`: the address it prints, the options it takes, and how it ends."""

import argparse
import os
import signal
import subprocess
import sys

import httpx
import pytest

from leafwinch_host.commands import bench

RUN = """
import argparse, sys
from leafwinch_host.commands import bench
parser = argparse.ArgumentParser()
bench.add_to(parser.add_subparsers())
chosen = parser.parse_args(sys.argv[1:])
sys.exit(chosen.handler(chosen))
"""


@pytest.mark.parametrize("script", [(), ("--script", "full-cycle")])
def test_it_prints_an_address_that_works_and_ends_with_a_signal(script: tuple[str, ...]) -> None:
    command = [sys.executable, "-c", RUN, "bench", "--site", "boat-slip", "--no-browser", *script]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=dict(os.environ)) as run:
        assert run.stdout is not None
        url = run.stdout.readline().strip()
        try:
            assert url.startswith("http://127.0.0.1:")
            assert httpx.get(url, trust_env=False).status_code == 200
        finally:
            run.send_signal(signal.SIGTERM)
        assert run.wait(20) == 0
        assert "switched off" in run.stdout.read()


@pytest.mark.parametrize("text", ["1024", "65535", "0"])
def test_ports_that_can_be_used(text: str) -> None:
    assert bench.port(text) == int(text)


@pytest.mark.parametrize("text", ["80", "1023", "65536", "-1", "x", "", "1e4", "²", "999999"])
def test_ports_that_cannot_be_used_are_told_in_one_sentence(text: str) -> None:
    with pytest.raises(argparse.ArgumentTypeError, match="allowed is a port"):
        bench.port(text)
