"""CPython and MicroPython in lockstep: scenarios, random sequences, and what a difference says."""

import random
import shutil
from collections.abc import Iterator, Sequence

import pytest

from leafwinch.controller import Controller
from leafwinch_sim import lockstep
from leafwinch_sim.lockstep import LockstepController, LockstepDifference, MicroPythonController
from leafwinch_wiring.errors import BadInput
from tests.firmware.drive import Drive
from tests.firmware.scenarios_faults import DOWN, QUICK, READY, UP
from tests.firmware.scenarios_states import RECOVERED
from tests.firmware.test_scenarios import ALL, Scenario
from tests.micropython.walk import SUM_EVERY, Walk

SEQUENCES = 2000
PASSES = 200
STARTS = ("", READY, UP, DOWN, "at top; settle", RECOVERED, RECOVERED + "ask lower; run 250")


class Both:
    """Makes the lockstep core of a drive, always in the same process."""

    def __init__(self) -> None:
        self.core: LockstepController | None = None

    def __call__(
        self, values: dict[str, int], kept: Sequence[int] | None, boot: int
    ) -> LockstepController:
        if self.core is None:
            self.core = LockstepController(values, kept, boot, snapshot_every=10)
        else:
            self.core.settings_values = values
            self.core.board.settings_values = values
            self.core.restart(kept, boot)
        return self.core


@pytest.fixture(scope="module")
def both() -> Iterator[Both]:
    made = Both()
    yield made
    if made.core is not None:
        made.core.close()


@pytest.mark.parametrize("scenario", ALL, ids=[row[0] for row in ALL])
def test_scenario_in_lockstep(scenario: Scenario, both: Both) -> None:
    _, values, script = scenario
    drive = Drive(values, both)
    drive.play(script)
    drive.core.snapshot()


def test_random_sequences_give_equal_outputs_and_states() -> None:
    starts = []
    for script in STARTS:
        drive = Drive(QUICK)
        drive.play(script)
        starts.append(drive)
    seen = set()
    with MicroPythonController(QUICK) as board:
        for seed in range(SEQUENCES):
            walk = Walk(random.Random(seed), starts[seed % len(starts)])
            board.restore(walk.core.snapshot())
            walk.walk(PASSES)
            seen |= walk.states
            outputs, sums = board.batch(walk.rows, SUM_EVERY)
            assert outputs == walk.outputs, seed
            assert sums == walk.sums, seed
            assert board.snapshot() == walk.core.snapshot(), seed
    # The walks are plausible: they reach every state and many faults.
    assert {state for state, _ in seen} == set(range(5))
    assert len({fault for _, fault in seen}) > 20


def test_a_difference_names_pass_and_field() -> None:
    core = LockstepController(QUICK)
    core.step(5, 0, 0, 24000)
    changed = list(core.snapshot())
    names = [name for part in core.desktop.parts() for name in part.FIELDS]
    changed[names.index("up_ms")] += 5
    core.board.restore(changed)
    with pytest.raises(LockstepDifference, match=r"^pass 1: Budget\.up_ms is 4800 in CPython and"):
        core.snapshot()
    changed[names.index("fault")] = 3
    core.board.restore(changed)
    with pytest.raises(LockstepDifference, match=r"^pass 2: fault is 0 in CPython and 3 in Micro"):
        core.step(10, 0, 0, 24000)
    core.close()


def test_a_core_refuses_bad_settings_in_its_own_words() -> None:
    with pytest.raises(RuntimeError, match=r"settings\.trip_ms is 1, allowed are"):
        MicroPythonController({"trip_ms": 1})
    with pytest.raises(RuntimeError, match="another version"):
        MicroPythonController(QUICK, (1, 2, 3))


def test_the_envelope_reaches_the_core() -> None:
    values = {**QUICK, "envelope_learned": 1}
    rows = [[3000] * 16, [5200] * 16, [2000] * 16, [5200] * 16]
    core = LockstepController(values, None, 0, rows)
    assert isinstance(core.desktop, Controller)
    assert core.desktop.current.raise_high_ma == 5200

    def make(values: dict[str, int], kept: Sequence[int] | None, boot: int) -> LockstepController:
        core.restart(kept, boot)
        return core

    Drive(values, make).play(UP + "amps 6600; run 150; fault: none; amps 6800; run 300; fault: jam")
    core.close()


def test_an_ended_process_is_said_so() -> None:
    core = MicroPythonController(QUICK)
    core.close()
    with pytest.raises(RuntimeError, match="the MicroPython process has ended"):
        core.step(0, 0, 0, 0)


def test_a_machine_without_micropython_gets_one_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(lockstep, "find_spec", lambda name: None)
    monkeypatch.setattr(shutil, "which", lambda name: None)
    with pytest.raises(BadInput, match=r"^There is no desktop MicroPython for this platform.*\.$"):
        MicroPythonController(QUICK)
    monkeypatch.setattr(shutil, "which", lambda name: "/opt/micropython")
    assert lockstep.micropython_command("64k") == ["/opt/micropython", "-X", "heapsize=64k"]
