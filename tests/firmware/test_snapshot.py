"""Snapshot, restore and canonical form: equal state, equal future."""

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from leafwinch.controller import Controller
from leafwinch.numbers import TICKS_MASK
from leafwinch.settings_schema import settings_from
from leafwinch.signals import ALL_CONTACTS, NO_SAMPLE, OUT_LINE_PULSE, OUT_LOWER, OUT_RAISE
from tests.firmware.drive import Drive
from tests.firmware.scenarios_faults import DOWN, FAULT_SCENARIOS, QUICK, READY, UP
from tests.firmware.scenarios_states import RECOVERED

STARTS = ("", READY, UP, DOWN, RECOVERED + "ask lower; run 300", UP + "open stop_ok; run 20")
MOTOR = OUT_LINE_PULSE | OUT_RAISE | OUT_LOWER

inputs = st.lists(
    st.tuples(
        st.integers(0, ALL_CONTACTS),
        st.sampled_from((0, 5000, -5000, 12000, NO_SAMPLE)),
        st.sampled_from((24000, 24000, 24000, 0)),
        st.sampled_from((5, 5, 5, 6, 20, 1500)),
        st.integers(1, 60),
    ),
    max_size=12,
)


def played(core: Controller, now: int, rows: list[tuple[int, int, int, int, int]]) -> list[int]:
    """Return all outputs; every row of inputs is held for its number of passes."""
    out = []
    for contacts, current, supply, step_ms, passes in rows:
        for _ in range(passes):
            now = (now + step_ms) & TICKS_MASK
            out.append(core.step(now, contacts, current, supply))
    return out


def started(script: str) -> tuple[Controller, int]:
    drive = Drive(QUICK)
    drive.play(script)
    core = drive.core
    assert isinstance(core, Controller)
    return core, drive.now


@given(start=st.sampled_from(STARTS), rows=inputs)
def test_restored_core_does_what_the_first_one_does(
    start: str, rows: list[tuple[int, int, int, int, int]]
) -> None:
    core, now = started(start)
    saved = core.snapshot()
    first = played(core, now, rows)
    end = core.snapshot()
    other = Controller(settings_from(QUICK))
    other.restore(saved)
    assert other.snapshot() == saved
    assert played(other, now, rows) == first
    assert other.snapshot() == end


@given(
    start=st.sampled_from(STARTS),
    later_ms=st.integers(0, TICKS_MASK),
    phase=st.integers(0, 1000),
    rows=inputs,
)
def test_equal_canonical_form_drives_the_contactors_alike(
    start: str, later_ms: int, phase: int, rows: list[tuple[int, int, int, int, int]]
) -> None:
    core, now = started(start)
    twin = Controller(settings_from(QUICK))
    twin.restore(core.snapshot())
    # Neither absolute time nor lamps nor the count of warnings belong to the form.
    twin.last_ms = (core.last_ms + later_ms) & TICKS_MASK
    twin.indicator.phase_ms = phase
    twin.indicator.ticks = phase & 3
    twin.warnings = phase
    assert twin.canonical() == core.canonical()
    first = [out & MOTOR for out in played(core, now, rows)]
    second = [out & MOTOR for out in played(twin, (now + later_ms) & TICKS_MASK, rows)]
    assert second == first
    assert twin.canonical() == core.canonical()


def test_snapshot_holds_only_integers_and_all_of_the_state() -> None:
    for _, values, script in FAULT_SCENARIOS:
        drive = Drive(values)
        drive.play(script)
        core = drive.core
        assert isinstance(core, Controller)
        assert all(type(value) is int for value in core.snapshot())
        for part in core.parts():
            numbers = {name for name, value in vars(part).items() if type(value) is int}
            # A module also copies settings, which no pass changes.
            changing = numbers - set(part.FIELDS)
            fresh = Controller(settings_from(values))
            twin = fresh.parts()[[type(p) for p in core.parts()].index(type(part))]
            for name in changing:
                assert getattr(part, name) == getattr(twin, name), (type(part), name)


@pytest.mark.parametrize("script", STARTS)
def test_every_number_is_saved_and_comes_back(script: str) -> None:
    core, _ = started(script)
    names = [(part, name) for part in core.parts() for name in part.FIELDS]
    saved = core.snapshot()
    assert saved == tuple(getattr(part, name) for part, name in names)
    other = Controller(settings_from(QUICK))
    numbered = tuple(range(1000, 1000 + len(saved)))
    for values in (numbered, saved):
        other.restore(values)
        assert other.snapshot() == values
    without = ("last_ms", "warning", "warnings")
    assert core.canonical() == tuple(
        value
        for (part, name), value in zip(names, saved, strict=True)
        if part is not core.indicator and name not in without
    )


def test_canonical_form_tells_states_apart() -> None:
    forms = set()
    for script in STARTS:
        core, _ = started(script)
        forms.add(hash(core.canonical()))
    assert len(forms) == len(STARTS)


def test_same_inputs_twice_give_the_same_hash() -> None:
    def once() -> tuple[int, tuple[int, ...]]:
        chance = random.Random(11)
        drive = Drive(QUICK)
        for _ in range(40):
            drive.ask(chance.choice(("raise", "lower", "nothing")))
            drive.at(chance.choice(("bottom", "middle", "top")))
            drive.run(chance.randrange(5, 2000))
        return drive.hash, drive.core.snapshot()

    assert once() == once()
