"""The tables agree with each other and with the words people read."""

from leafwinch import faults, signals, state_texts, states
from leafwinch.fault_texts import FAULT_NAMES, FAULT_TEXTS, FAULTS
from leafwinch.numbers import LOWER, NO_DIRECTION, NUMBER_MAX, RAISE, TICKS_MASK
from leafwinch.requirement_limits import R1_OFF_MS, R3_PAUSE_MS, R9_HUNG_OFF_MS, REQUIREMENTS
from leafwinch.setting_texts import SETTING_MEANINGS
from leafwinch.settings_schema import SCHEMA, SETTING_NAMES


def numbers(module: object, prefix: str) -> dict[str, int]:
    return {
        name[len(prefix) :].lower(): value
        for name, value in vars(module).items()
        if name.startswith(prefix) and type(value) is int
    }


def test_fault_numbers_are_the_rows() -> None:
    for index, row in enumerate(FAULTS):
        assert vars(faults)[row[0].upper()] == index + 1
    assert faults.NO_FAULT == 0
    assert len(faults.CODES) == len(FAULT_NAMES) == faults.FAULT_COUNT


def test_lamp_codes_are_unique_and_countable() -> None:
    codes = [(row[2], row[3]) for row in FAULTS]
    assert len(set(codes)) == len(codes)
    assert all(1 <= group <= 9 and 1 <= item <= 6 for group, item in codes)


def test_every_fault_has_its_words() -> None:
    assert len(FAULT_TEXTS) == len(FAULTS)
    assert len(set(FAULT_TEXTS)) == len(FAULT_TEXTS)
    for meaning, look in FAULT_TEXTS:
        assert meaning.endswith(".")
        assert look.endswith(".")


def test_severity() -> None:
    assert faults.is_serious(faults.TRAVEL_LATE)
    assert not faults.is_serious(faults.STOP_ACTUATED)
    assert {row[1] for row in FAULTS} == {False, True}


def test_every_setting_has_its_meaning_in_order() -> None:
    assert tuple(SETTING_MEANINGS) == SETTING_NAMES
    assert all(SETTING_MEANINGS.values())


def test_every_held_bit_has_a_name_in_order() -> None:
    bits = numbers(states, "HELD_")
    assert len(bits) == len(state_texts.HELD_REASONS)
    for index, row in enumerate(state_texts.HELD_REASONS):
        assert bits[row[0]] == 1 << index
        assert row[1]


def test_numbered_rows() -> None:
    for prefix, rows in (
        ("REFUSED_", state_texts.REFUSALS),
        ("ENDED_", state_texts.ENDINGS),
        ("WARN_", state_texts.WARNINGS),
    ):
        assert sorted(numbers(states, prefix).values()) == list(range(len(rows)))
        assert all(row[1] for row in rows)
        assert len({row[0] for row in rows}) == len(rows)


def test_state_names_and_transitions() -> None:
    for index, name in enumerate(states.STATE_NAMES):
        assert vars(states)[name.upper()] == index
    assert len(states.ALLOWED) == len(states.STATE_NAMES)
    # A fault may come in every state, and leaves to held only; a travel starts from idle only.
    for state, allowed in enumerate(states.ALLOWED):
        assert bool(allowed & (1 << states.FAULT)) == (state != states.FAULT)
        assert allowed < 1 << len(states.STATE_NAMES)
    assert states.ALLOWED[states.FAULT] == 1 << states.HELD
    for state, allowed in enumerate(states.ALLOWED):
        starts = allowed & (1 << states.RAISING | 1 << states.LOWERING)
        assert bool(starts) == (state == states.IDLE)


def test_signals_have_one_bit_each() -> None:
    for index, name in enumerate(signals.CONTACT_NAMES):
        assert vars(signals)[name.upper()] == 1 << index
    assert (1 << len(signals.CONTACT_NAMES)) - 1 == signals.ALL_CONTACTS
    for index, name in enumerate(signals.OUTPUT_NAMES):
        assert vars(signals)["OUT_" + name.upper()] == 1 << index


def test_requirements_are_numbered_and_their_limits_are_the_settings_limits() -> None:
    assert [row[0] for row in REQUIREMENTS] == [f"R{number}" for number in range(1, 12)]
    pause = next(row for row in SCHEMA if row[0] == "pause_ms")
    assert pause[2] == R3_PAUSE_MS
    assert R9_HUNG_OFF_MS < R1_OFF_MS
    limits = {row[0]: row[2] for row in REQUIREMENTS}
    assert limits["R1"].startswith(f"{R1_OFF_MS} ms")
    assert limits["R3"] == f"{R3_PAUSE_MS} ms"
    assert limits["R9"] == f"{R9_HUNG_OFF_MS} ms"


def test_numbers_and_clock_end_at_2_to_30() -> None:
    # What a 32-bit board holds without allocating, and where its millisecond clock wraps.
    assert NUMBER_MAX == TICKS_MASK == 2**30 - 1
    assert (RAISE, NO_DIRECTION, LOWER) == (1, 0, -1)
    # Beyond any current, and within those bounds.
    assert signals.NO_SAMPLE == -(2**29)
