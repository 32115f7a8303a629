"""From a contact that opens at its pin to the output off, at every phase of a pass.

The aim: two passes, which is what two open samples in a row take, and the part of a pass between
reading the contacts and writing the outputs.
"""

import pytest

from leafwinch import signals as sig
from tests.edge.rig import RUNNING, Rig

PASS_US = 5_000
STEP_US = 1_500  # more than a whole pass shall take on the slowest board
STEP_PHASE_US = 190

OPENING = (
    ("stop_ok", sig.STOP_OK),
    ("top_final", sig.TOP_FINAL),
    ("bottom_final", sig.BOTTOM_FINAL),
    ("chain_ok", sig.CHAIN_OK | sig.RAISE_PATH),
    ("top_end", sig.TOP_END),
    ("raise_path", sig.RAISE_PATH),
    ("stop with its chain", sig.STOP_OK | sig.CHAIN_OK | sig.RAISE_PATH),
)
CLOSING = (("raise_off", sig.RAISE_OFF),)


def latency_us(rig: Rig, contacts: int, phase_us: int) -> int:
    """Let the contacts change so long after a pass began; return the time until all is off."""
    rig.to_running()
    changed = rig.desk.now_us + PASS_US + phase_us
    rig.desk.at.append((changed, contacts))
    rig.loop.run(12)
    assert rig.desk.off_us >= changed
    return rig.desk.off_us - changed


@pytest.mark.parametrize(("name", "bits"), OPENING, ids=[row[0] for row in OPENING])
def test_an_opening_contact_stops_within_two_passes(name: str, bits: int) -> None:
    worst = 0
    for phase_us in range(0, PASS_US, STEP_PHASE_US):
        rig = Rig()
        rig.core.step_us = STEP_US
        worst = max(worst, latency_us(rig, RUNNING & ~bits, phase_us))
    assert PASS_US < worst <= 2 * PASS_US + STEP_US + 20, name


@pytest.mark.parametrize(("name", "bits"), CLOSING, ids=[row[0] for row in CLOSING])
def test_a_control_let_go_stops_within_two_passes_of_its_path_opening(name: str, bits: int) -> None:
    # The path opens at once; the off contact closes with it and needs three samples.
    worst = 0
    for phase_us in range(0, PASS_US, STEP_PHASE_US):
        rig = Rig()
        rig.core.step_us = STEP_US
        released = (RUNNING | bits) & ~sig.RAISE_PATH
        worst = max(worst, latency_us(rig, released, phase_us))
    assert worst <= 2 * PASS_US + STEP_US + 20, name


def test_a_single_open_sample_does_not_stop() -> None:
    rig = Rig()
    rig.to_running()
    now = rig.desk.now_us
    rig.desk.at += [(now + 3_000, RUNNING & ~sig.TOP_END), (now + 6_500, RUNNING)]
    rig.loop.run(10)
    assert rig.desk.pins[1] == 1
