"""Watches pass on their evidence and on nothing else: sound streams, streams without evidence."""

from collections.abc import Iterable
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from leafwinch_host.board.serial_lines import Sample
from leafwinch_host.commissioning.results import FAIL, PASS
from leafwinch_host.commissioning.watching import DRIVEN, GAP_MS, AtRest, Watch
from leafwinch_host.commissioning.watching_contacts import ContactsSeen
from leafwinch_host.commissioning.watching_stops import ReleaseTimed
from tests.host.commission_streams import CASES, SETTINGS, Case, Stream

BY_NAME = {case.name: case for case in CASES}
NAMES = sorted(BY_NAME)


def fed(watch: Watch, rows: Iterable[Sample]) -> Watch:
    for row in rows:
        watch.take(row)
    return watch


@pytest.mark.parametrize("name", NAMES)
def test_a_sound_stream_passes(name: str) -> None:
    case = BY_NAME[name]
    watch = fed(case.make(), case.rows)
    assert watch.verdict == PASS, watch.why or watch.waits
    assert all(row.within for row in watch.measured)


@pytest.mark.parametrize("name", NAMES)
def test_without_any_piece_of_its_evidence_it_does_not_pass(name: str) -> None:
    case = BY_NAME[name]
    for number, change in enumerate(case.without):
        watch = fed(case.make(), map(change, case.rows))
        assert watch.verdict != PASS, f"piece {number}"


@pytest.mark.parametrize("name", NAMES)
def test_nothing_is_passed_by_waiting(name: str) -> None:
    case = BY_NAME[name]
    watch = case.make()
    first = replace(case.rows[0], state=0, held_reasons=0)
    for number in range(20 * 400):
        watch.take(replace(first, t_ms=first.t_ms + 50 * number))
    if name != "rest":  # which is a picture of just that
        assert watch.verdict != PASS


def deciding(case: Case) -> int:
    """Return the index of the sample at which the sound stream passes."""
    watch = case.make()
    for index, row in enumerate(case.rows):
        watch.take(row)
        if watch.verdict:
            return index
    raise AssertionError(case.name)


DECIDING = {name: deciding(case) for name, case in BY_NAME.items()}
WATCHED_ALL = [name for name in NAMES if not BY_NAME[name].gaps]


@given(st.sampled_from(WATCHED_ALL), st.data())
def test_a_gap_in_the_trace_is_never_passed_over(name: str, data: st.DataObject) -> None:
    case = BY_NAME[name]
    last = DECIDING[name]
    begin = data.draw(st.integers(1, last))
    missing = data.draw(st.integers(GAP_MS + 1, 100_000))
    rows = [
        row if index < begin else replace(row, t_ms=row.t_ms + missing)
        for index, row in enumerate(case.rows)
    ]
    watch = fed(case.make(), rows)
    assert watch.verdict == FAIL
    assert "gap" in watch.why


@given(st.sampled_from(WATCHED_ALL), st.data())
def test_a_restart_of_the_board_is_never_passed_over(name: str, data: st.DataObject) -> None:
    case = BY_NAME[name]
    begin = data.draw(st.integers(1, DECIDING[name]))
    shift = case.rows[begin].t_ms - data.draw(st.integers(0, 900))
    rows = [*case.rows[:begin]]
    rows += [replace(row, t_ms=row.t_ms - shift) for row in case.rows[begin:]]
    watch = fed(case.make(), rows)
    assert watch.verdict == FAIL
    assert "restarted" in watch.why


@given(st.sampled_from(NAMES), st.data())
def test_the_clock_may_wrap_at_any_sample(name: str, data: st.DataObject) -> None:
    case = BY_NAME[name]
    if name == "restart":
        return
    at = data.draw(st.integers(0, len(case.rows) - 1))
    shift = (1 << 30) - case.rows[at].t_ms
    rows = [replace(row, t_ms=(row.t_ms + shift) & (1 << 30) - 1) for row in case.rows]
    assert fed(case.make(), rows).verdict == PASS


SEEN_CONTACTS = sorted({row.contacts for case in CASES for row in case.rows})
SAMPLES = st.builds(
    Sample,
    sequence=st.just(0),
    t_ms=st.integers(1, 60),
    contacts=st.integers(0, (1 << 17) - 1) | st.sampled_from(SEEN_CONTACTS),
    outputs=st.integers(0, 63),
    state=st.integers(0, 4),
    fault=st.sampled_from([0, 0, 0, 2, 26, 28, 35]),
    held_reasons=st.integers(0, (1 << 13) - 1),
    refused=st.integers(0, 5),
    ended=st.integers(0, 7),
    warning=st.integers(0, 7),
    current_ma=st.integers(-20_000, 20_000),
    supply_mv=st.integers(0, 36_000),
    late=st.just(0),
    dropped=st.just(0),
)


@settings(max_examples=40)
@given(st.sampled_from(NAMES), st.data(), st.lists(SAMPLES, max_size=120))
def test_any_samples_are_taken_and_never_pass_without_evidence(
    name: str, data: st.DataObject, drawn: list[Sample]
) -> None:
    case = BY_NAME[name]
    change = data.draw(st.sampled_from(case.without))
    now = 1000
    watch = case.make()
    for row in drawn:
        now += row.t_ms
        watch.take(change(replace(row, t_ms=now)))
    assert watch.verdict != PASS or name == "one contact"
    if watch.verdict == FAIL:
        assert watch.why
        assert watch.outcome().verdict == FAIL


@given(st.sampled_from(NAMES), st.data())
def test_a_mixed_up_stream_without_evidence_does_not_pass(name: str, data: st.DataObject) -> None:
    """Pieces of the sound stream in any order, each with the evidence taken away."""
    case = BY_NAME[name]
    change = data.draw(st.sampled_from(case.without))
    size = max(1, len(case.rows) // 12)
    pieces = [case.rows[at : at + size] for at in range(0, len(case.rows), size)]
    order = data.draw(st.permutations(range(len(pieces))))
    now = 1000
    watch = case.make()
    for place in order:
        for row in pieces[place]:
            now += 10
            watch.take(change(replace(row, t_ms=now)))
    assert watch.verdict != PASS


@given(st.integers(50, 900))
def test_a_late_release_fails_and_a_quick_one_passes(stop_ms: int) -> None:
    """R1: control released to motor current zero within 200 ms (requirement_limits)."""
    stream = Stream().wait(300, 50).start("raise").wait(2000).let_go("raise")
    stream.wait(stop_ms).has(outputs=0, state=0, ended=1)
    stream.set(line_released=True, raise_released=True).has(current_ma=0).wait(300)
    watch = fed(ReleaseTimed("raise", SETTINGS), stream.rows)
    assert watch.verdict == (PASS if stop_ms // 10 * 10 + 10 <= 200 else FAIL)


@given(st.sampled_from(["top_end", "bottom_final", "recovery_off", "rope_taut", "reset"]))
def test_a_stray_contact_fails_by_name(stray: str) -> None:
    stream = Stream().wait(500, 50).set(stop_ok=False, chain_ok=False)
    stream.set(**{stray: stray == "reset"}).wait(1000, 50)
    watch = fed(ContactsSeen({"stop_ok": False, "chain_ok": False}), stream.rows)
    assert watch.verdict == FAIL
    assert stray.replace("_", " ") in watch.why


def test_a_bounce_is_no_change() -> None:
    stream = Stream().wait(500, 50)
    for _ in range(5):
        stream.set(stop_ok=False, chain_ok=False).wait(100, 50)
        stream.set(stop_ok=True, chain_ok=True).wait(300, 50)
    watch = fed(ContactsSeen({"stop_ok": False, "chain_ok": False}), stream.rows)
    assert watch.verdict == ""


def test_silence_fails_what_is_watched() -> None:
    for case in CASES:
        watch = case.make()
        watch.silence(4.0)
        assert (watch.verdict == FAIL) != case.gaps or case.name == "power lost", case.name


def test_a_sitting_waits_for_a_deck_that_moves() -> None:
    rows = Stream().start("raise").wait(1000).stop("raise").wait(300).rows
    moving = [row.outputs & DRIVEN != 0 for row in rows]
    first, last = moving.index(True), len(moving) - moving[::-1].index(True)
    watch = AtRest()
    for row in rows[first:last]:
        watch.take(row)
    assert not watch.over
    assert "let the control go" in watch.waits
    assert fed(watch, rows[last:]).verdict == PASS
    watch = AtRest()
    watch.silence(4.0)
    assert watch.verdict == FAIL
