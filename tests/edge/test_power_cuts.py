"""Power cut at every byte of every write of a life, and a flip of every bit of every file.

What a board must find afterwards follows from the two-copy rule alone: the last good state, or
the one before it, and never anything else.
"""

import contextlib
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from leafwinch.controller import BOOT_SELF_TEST, BOOT_SETTINGS_BAD
from leafwinch.edge.counters import new_counters
from leafwinch.edge.journal import QUEUE, SEGMENT, SEGMENTS, WARNING, Journal
from leafwinch.edge.slots import ONE_BAD
from tests.edge.flash import Flash, PowerCut
from tests.edge.life import QUICK, Life, commission, live
from tests.edge.views import (
    fault_view,
    journal_view,
    record_view,
    settings_view,
    use_quick_crc,
    view_of,
)

Write = tuple[dict[str, bytes], str, bytes, bool]


@pytest.fixture(scope="module")
def lived() -> Life:
    """A life whose every write is noted, and whose journal goes round its ring."""
    flash = Flash()
    commission(flash, QUICK)
    fill_journal(flash, SEGMENTS * SEGMENT - 10)
    flash.noting = True
    life = Life(flash)
    live(life)
    return life


def fill_journal(flash: Flash, events: int) -> None:
    """Write so many events as earlier weeks would have left."""
    journal = Journal(flash, new_counters())
    journal.open()
    for number in range(events):
        journal.note(WARNING, number % 7, number)
        if journal.waiting == QUEUE or number == events - 1:
            while journal.waiting:
                journal.write()


def torn(write: Write, bytes_written: int) -> Flash:
    """The flash as it is when the supply failed after so many bytes of a write."""
    before, name, data, appended = write
    flash = Flash(before)
    flash.left = bytes_written
    change = flash.append if appended else flash.write
    with pytest.raises(PowerCut):
        change(name, data)
    flash.left = -1
    return flash


def done(write: Write) -> Flash:
    before, name, data, appended = write
    flash = Flash(before)
    (flash.append if appended else flash.write)(name, data)
    return flash


def test_the_life_writes_every_kind_of_file(lived: Life) -> None:
    names = {write[1] for write in lived.files.noted}
    assert names >= {"settings.a", "settings.b", "record.a", "record.b", "fault.a", "fault.b"}
    # The ring has come round: both the end of the last file and the first one anew.
    assert names >= {"journal.16", "journal.00"}
    assert lived.requests == [1]


def test_two_copies_after_a_cut_at_every_byte(lived: Life) -> None:
    cuts = 0
    for write in lived.files.noted:
        name = write[1]
        if name.startswith("journal"):
            continue
        allowed = [view_of(Flash(write[0]), name), view_of(done(write), name)]
        for count in range(len(write[2])):
            assert view_of(torn(write, count), name) in allowed, (name, count)
            cuts += 1
    assert cuts == sum(len(w[2]) for w in lived.files.noted if not w[1].startswith("journal"))
    assert cuts > 10_000


def test_journal_after_a_cut_at_every_byte(lived: Life, monkeypatch: pytest.MonkeyPatch) -> None:
    use_quick_crc(monkeypatch)
    cuts = 0
    for write in lived.files.noted:
        before, name, data, appended = write
        if not name.startswith("journal"):
            continue
        old = journal_view(Flash(before))
        all_new = [event for event in journal_view(done(write)) if event[0] > old[0][0]]
        if not appended:
            # The oldest file makes room: its events are gone, 512 are still there.
            gone = Flash({key: value for key, value in before.items() if key != name})
            old = journal_view(gone)
        for count in range(len(data)):
            flash = torn(write, count)
            whole = count // 32
            found = journal_view(flash)
            expected = all_new[len(all_new) - whole :] + old
            assert found == expected, (name, count)
            # And the journal goes on behind what is whole.
            journal = Journal(flash, new_counters())
            journal.open()
            journal.note(WARNING, 1)
            journal.write()
            after = journal_view(flash)
            assert after[0][:3] == (expected[0][0] + 1, WARNING, 1)
            # Only where that event had to begin the next file did the oldest one go.
            assert after[1:] == expected[: len(after) - 1]
            assert len(after) > len(expected) - SEGMENT
            cuts += 1
    assert cuts > 500


def test_512_events_are_there_at_any_time(monkeypatch: pytest.MonkeyPatch) -> None:
    use_quick_crc(monkeypatch)
    flash = Flash()
    journal = Journal(flash, new_counters())
    journal.open()
    for number in range(3 * SEGMENT * SEGMENTS):
        journal.note(WARNING, number & 0xFF)
        journal.write()
        if number % 7 == 0 and number >= 512:
            found = journal_view(flash)
            assert [event[0] for event in found[:512]] == list(range(number, number - 512, -1))
    assert sum(name.startswith("journal") for name in flash.contents) == SEGMENTS


# --- flipped bits ----------------------------------------------------------------------


def flips(contents: dict[str, bytes], name: str) -> Any:
    """Yield the flash with each bit of a file flipped."""
    raw = contents[name]
    for bit in range(8 * len(raw)):
        bad = bytearray(raw)
        bad[bit >> 3] ^= 1 << (bit & 7)
        yield bit, Flash({**contents, name: bytes(bad)})


@pytest.mark.parametrize(
    ("name", "view"),
    [
        ("settings", settings_view),
        ("installed", settings_view),
        ("record", record_view),
        ("fault", fault_view),
    ],
)
def test_every_bit_of_two_copies(lived: Life, name: str, view: Callable[[Flash], Any]) -> None:
    contents = lived.files.contents
    good = view(Flash(contents))
    for letter in "ab":
        other = {key: value for key, value in contents.items() if key != f"{name}.{letter}"}
        # What the other copy alone says: for settings the same, else the state before.
        allowed = [good, view(Flash(other))]
        if name in ("settings", "installed"):
            assert allowed[0] == allowed[1]
        for bit, flash in flips(contents, f"{name}.{letter}"):
            assert view(flash) in allowed, (letter, bit)


def test_every_bit_of_a_journal(monkeypatch: pytest.MonkeyPatch) -> None:
    use_quick_crc(monkeypatch)
    flash = Flash()
    fill_journal(flash, SEGMENT + 5)
    whole = journal_view(flash)
    assert len(whole) == SEGMENT + 5
    for first, name in ((0, "journal.00"), (SEGMENT, "journal.01")):
        for bit, bad in flips(flash.contents, name):
            lost = first + bit // 256
            found = journal_view(bad)
            assert found == [event for event in whole if event[0] != lost], (name, bit)


@settings(max_examples=300, deadline=None)
@given(st.data())
def test_damage_of_any_size_in_one_copy(data: st.DataObject) -> None:
    flash = Flash(LIVED)
    name = data.draw(st.sampled_from([key for key in sorted(LIVED) if key[-2:] in (".a", ".b")]))
    raw = bytearray(LIVED[name])
    for _ in range(data.draw(st.integers(1, 8))):
        raw[data.draw(st.integers(0, len(raw) - 1))] ^= data.draw(st.integers(1, 255))
    cut = data.draw(st.integers(0, len(raw)))
    flash.contents[name] = bytes(raw[:cut] if data.draw(st.booleans()) else raw)
    other = {key: value for key, value in LIVED.items() if key != name}
    if flash.contents[name] != LIVED[name]:
        assert view_of(flash, name) == view_of(Flash(other), name)
        life = Life(flash)
        life.run(300)
        expected = view_of(Flash(other), name)
        if name.startswith(("settings", "installed")):
            # Both copies are equal again, and the journal says so.
            assert expected == settings_view(Flash(LIVED))
            assert life.keeper.counters[15] >= 1
            life.play("ask nothing; run 1000")
            assert flash.contents[name] == LIVED[name]


def lived_once() -> Flash:
    flash = Flash()
    commission(flash, QUICK)
    flash.noting = True
    live(Life(flash))
    return flash


_ONCE = lived_once()
LIVED = _ONCE.contents
NOTED = _ONCE.noted


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_life_goes_on_after_a_cut_anywhere(data: st.DataObject) -> None:
    write = data.draw(st.sampled_from(NOTED))
    flash = torn(write, data.draw(st.integers(0, len(write[2]) - 1)))
    # The supply may fail once more while the board comes up.
    flash.left = data.draw(st.integers(0, 400))
    with contextlib.suppress(PowerCut):
        life = Life(flash)
        life.play("at middle; run 700")
    flash.left = -1
    life = Life(flash)
    assert life.store.bad == 0
    assert not life.flags
    life.play("at bottom; run 600; press 2500; settle; run 600; state: idle; fault: none")
    life.full("raise", 1400)
    life.play("state: idle")
    events = journal_view(flash)
    assert [event[0] for event in events] == list(range(events[0][0], -1, -1))
    assert events[0][1:3] == (5, 2)


# --- both copies ------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["settings.a", "settings.b"])
def test_settings_bad_in_both_copies_are_a_fault_and_stay_one(name: str) -> None:
    flash = Flash(LIVED)
    flash.contents["settings.a"] = flash.contents["settings.a"][:-1]
    flash.contents["settings.b"] = b"\0" + flash.contents["settings.b"][1:]
    flash.contents.pop(name)  # a copy that is not there is no better
    life = Life(flash)
    assert life.flags & BOOT_SETTINGS_BAD
    life.play("at bottom; run 1000; fault: settings_bad; press 2500; fault: settings_bad")
    assert life.command("keep") == ["E refused: service link not fitted"]
    life.play("close service_link; run 500")
    assert life.command("change trip_ms 70")[1:] == ["Z 1"]
    # Defaults never get into the flash.
    assert life.command("keep") == ["E refused: settings bad, load those of this site"]
    assert settings_view(flash)[0] == BOOT_SETTINGS_BAD


def test_a_lost_record_is_a_fault() -> None:
    flash = Flash(LIVED)
    flash.contents["record.a"] = b""
    flash.contents["record.b"] = flash.contents["record.b"][:-4] + b"abcd"
    life = Life(flash)
    assert life.flags == BOOT_SELF_TEST
    life.play("at bottom; run 1000; fault: program_error")
    # Gone altogether is lost as well, as the journal tells.
    for name in ("record.a", "record.b"):
        flash.contents.pop(name, None)
    assert Life(flash).flags == BOOT_SELF_TEST


def test_a_board_that_was_just_loaded_has_no_record_and_no_fault() -> None:
    flash = Flash()
    commission(flash, QUICK, recorded=False)
    life = Life(flash)
    assert life.flags == 0
    assert life.kept is None
    life.play("at bottom; run 2000; fault: none")
    # Nor has it one at the next power-ups, long or short, with or without a travel.
    for ms in (10, 300, 2000, 10):
        life.power_up(0)
        assert life.flags == 0
        life.run(ms)
    assert record_view(flash) is not None
    # With USB alone nothing is at rest for certain, so nothing is written.
    flash = Flash()
    commission(flash, QUICK, recorded=False)
    life = Life(flash)
    life.supply = 0
    life.run(3000)
    assert not any(name.startswith(("record", "journal")) for name in flash.contents)
    assert Life(flash).flags == 0


def test_a_serious_fault_stands_in_both_copies() -> None:
    flash = Flash()
    commission(flash, QUICK)
    life = Life(flash)
    life.play("at bottom; settle; open top_final; run 1500; fault: top_final_actuated")
    for letter in "ab":
        left = Flash(flash.contents)
        left.contents["record." + letter] = b"damaged"
        again = Life(left)
        again.play("run 500; fault: top_final_actuated")
        assert again.keeper.records.slots.found == ONE_BAD


def test_one_second_from_off_to_stored() -> None:
    flash = Flash()
    commission(flash, QUICK)
    life = Life(flash)
    life.play("at bottom; settle")
    life.play("ask raise; run 700; state: raising")
    # The outputs are off 10 ms after the stop's contact opened at the latest.
    before = record_view(flash)
    life.play("open stop_ok; run 1000; fault: stop_actuated")
    assert record_view(flash) != before
    assert record_view(flash)[1][0] == 1
    # A top final without mirrors that close: the fault may not wait for them.
    life.play("ask nothing; close stop_ok; run 500; press 2500; run 800; state: idle; ask raise")
    life.play("run 300; state: raising; force line_released open; open top_final; run 1000")
    assert record_view(flash)[0][1] == 3


def test_a_flash_that_refuses_keeps_the_drive_held() -> None:
    flash = Flash()
    commission(flash, QUICK)
    life = Life(flash)
    life.play("at bottom; settle; state: idle")
    flash.fails = "record"
    life.play("ask raise; run 700; ask nothing; run 9000; state: held; reason: record")
    assert life.keeper.counters[15] > 2
    flash.fails = ""
    life.play("run 6000; state: idle")
    assert any(event[1] == 35 for event in journal_view(flash))


def test_a_journal_that_cannot_be_written_does_not_hold_the_drive() -> None:
    flash = Flash()
    commission(flash, QUICK)
    life = Life(flash)
    flash.fails = "journal"
    life.play("at bottom; settle; run 2000; state: idle")
    life.full("raise")
    life.play("state: idle")
    flash.fails = ""
    life.play("run 90000")
    assert len(journal_view(flash)) > 1
