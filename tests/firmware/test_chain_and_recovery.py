"""The cut-off chain for every combination of its contacts, and recovery from a final limit."""

import itertools

import pytest

from leafwinch.chain import Chain
from leafwinch.fault_texts import FAULTS
from leafwinch.faults import RECOVERY_KEY_TURNED
from leafwinch.numbers import LOWER, NO_DIRECTION, RAISE
from leafwinch.recovery import AWAY_ONLY, KEY_TO_RELEASE, OFF, Recovery
from leafwinch.signals import (
    ALL_CONTACTS,
    BOTTOM_FINAL,
    CHAIN_OK,
    RECOVERY_OFF,
    STOP_OK,
    TOP_FINAL,
)

FINALS = {TOP_FINAL: "top_final", BOTTOM_FINAL: "bottom_final"}
CONTACTS = (STOP_OK, CHAIN_OK, TOP_FINAL, BOTTOM_FINAL, RECOVERY_OFF)
COMBINATIONS = [
    frozenset(bit for bit, is_open in zip(CONTACTS, row, strict=True) if is_open)
    for row in itertools.product((False, True), repeat=len(CONTACTS))
]


def mask(opened: frozenset[int]) -> int:
    contacts: int = ALL_CONTACTS
    for bit in opened:
        contacts &= ~bit
    return contacts


def expected(opened: frozenset[int], exempt: int) -> str:
    """Say by the rules in words what these contacts mean."""
    turned = RECOVERY_OFF in opened
    live = CHAIN_OK not in opened
    finals = [bit for bit in FINALS if bit in opened]
    if live and (STOP_OK in opened or (finals and not turned)):
        return "chain_bridged"
    if STOP_OK in opened:
        return "stop_actuated"
    for bit in finals:
        if not (turned and exempt == bit):
            return f"{FINALS[bit]}_actuated"
    return "" if live else "chain_dead"


@pytest.mark.parametrize("exempt", [0, TOP_FINAL, BOTTOM_FINAL])
@pytest.mark.parametrize("excused", [False, True])
def test_every_combination_of_the_chain(exempt: int, excused: bool) -> None:
    for opened in COMBINATIONS:
        fault = Chain().step(1, mask(opened), NO_DIRECTION, exempt, excused)
        assert (FAULTS[fault - 1][0] if fault else "") == expected(opened, exempt), opened


def test_a_turned_key_is_timed_only_while_no_final_is_open_and_nothing_excuses_it() -> None:
    turned = ALL_CONTACTS & ~RECOVERY_OFF
    chain = Chain()
    for ms in range(1, 300):
        assert chain.step(1, turned, NO_DIRECTION, TOP_FINAL, False) == 0
        assert chain.key_ms == min(ms, 100)
    assert chain.step(1, turned, NO_DIRECTION, 0, False) == RECOVERY_KEY_TURNED
    assert chain.step(1, turned & ~TOP_FINAL, NO_DIRECTION, TOP_FINAL, False) == 0
    assert chain.key_ms == 0
    chain.step(1, turned, NO_DIRECTION, 0, False)
    assert chain.key_ms == 1
    chain.step(1, ALL_CONTACTS, NO_DIRECTION, 0, False)
    assert chain.key_ms == 0
    chain.step(1, turned, NO_DIRECTION, 0, False)
    chain.step(1, turned, NO_DIRECTION, 0, True)
    assert chain.key_ms == 0


def test_the_time_of_the_key_stops_growing_in_passes_of_any_length() -> None:
    chain = Chain()
    for _ in range(100):
        chain.step(7, ALL_CONTACTS & ~RECOVERY_OFF, NO_DIRECTION, 0, False)
    assert chain.key_ms == 105


@pytest.mark.parametrize("bit", FINALS)
def test_the_way_in_which_a_final_was_first_met_is_kept_until_it_closes(bit: int) -> None:
    other = TOP_FINAL if bit == BOTTOM_FINAL else BOTTOM_FINAL
    chain = Chain()

    def ways() -> tuple[int, int]:
        pair = {TOP_FINAL: chain.top_final_way, BOTTOM_FINAL: chain.bottom_final_way}
        return pair[bit], pair[other]

    for contacts, travel, wanted, open_bits in (
        (ALL_CONTACTS, RAISE, (0, 0), 0),
        (ALL_CONTACTS & ~bit, RAISE, (RAISE, 0), bit),
        (ALL_CONTACTS & ~bit, LOWER, (RAISE, 0), bit),
        (ALL_CONTACTS & ~bit & ~STOP_OK, NO_DIRECTION, (RAISE, 0), bit),
        (ALL_CONTACTS & ~bit & ~other, LOWER, (RAISE, LOWER), bit | other),
        (ALL_CONTACTS & ~other, RAISE, (0, LOWER), other),
        (ALL_CONTACTS, RAISE, (0, 0), 0),
        (ALL_CONTACTS & ~bit, NO_DIRECTION, (0, 0), bit),
        (ALL_CONTACTS & ~bit, LOWER, (0, 0), bit),
        (ALL_CONTACTS & ~STOP_OK, LOWER, (0, 0), 0),
        (ALL_CONTACTS & ~bit, LOWER, (LOWER, 0), bit),
    ):
        chain.step(1, contacts, travel, 0, False)
        assert ways() == wanted
        assert chain.finals_open == open_bits


def test_the_key_bridges_exactly_one_final_with_the_chain_live() -> None:
    for opened in COMBINATIONS:
        finals = [bit for bit in FINALS if bit in opened]
        wanted = (
            RECOVERY_OFF in opened
            and CHAIN_OK not in opened
            and STOP_OK not in opened
            and len(finals) == 1
        )
        assert Recovery().bridges_one_final(mask(opened)) == wanted, opened


@pytest.mark.parametrize(
    ("bit", "right", "away"), [(TOP_FINAL, RAISE, LOWER), (BOTTOM_FINAL, LOWER, RAISE)]
)
def test_recovery_leads_away_from_a_final_met_the_right_way(
    bit: int, right: int, away: int
) -> None:
    at_final = mask(frozenset((bit, RECOVERY_OFF)))
    for way in (right, -right, NO_DIRECTION):
        chain = Chain()
        chain.step(1, ALL_CONTACTS & ~bit, way, 0, False)
        recovery = Recovery()
        assert recovery.mode == OFF
        assert recovery.begin(at_final, chain) == (way == right)
        if way != right:
            assert (recovery.mode, recovery.away, recovery.exempt) == (OFF, NO_DIRECTION, 0)
            continue
        assert (recovery.mode, recovery.away, recovery.exempt) == (AWAY_ONLY, away, bit)
        assert recovery.mode != OFF
        assert not recovery.step(at_final)
        assert not recovery.step(at_final | RECOVERY_OFF)
        assert recovery.mode == AWAY_ONLY
        closed = at_final | bit
        assert recovery.step(closed)
        assert recovery.mode == KEY_TO_RELEASE
        assert not recovery.step(closed)
        assert not recovery.step(at_final)
        assert recovery.mode == KEY_TO_RELEASE
        assert not recovery.step(closed | RECOVERY_OFF)
        assert (recovery.mode, recovery.away, recovery.exempt) == (OFF, NO_DIRECTION, 0)
        assert not recovery.step(ALL_CONTACTS)
