"""What the keeper notes and counts, and what learning records."""

from typing import Any

import pytest

from leafwinch.edge import counters as cnt
from leafwinch.edge.journal import QUEUE, SEGMENT, Journal
from leafwinch.edge.keeper import Keeper, place_of
from leafwinch.edge.learning import Learning
from leafwinch.edge.settings_store import SettingsStore, envelopes
from leafwinch.numbers import LOWER, NUMBER_MAX, RAISE, TICKS_MASK
from leafwinch.settings import BUCKETS
from leafwinch.settings_schema import default_settings
from tests.edge.flash import Flash
from tests.edge.life import QUICK, Life, commission, live
from tests.edge.views import journal_view, record_view


def new_life(values: dict[str, int] = QUICK) -> Life:
    flash = Flash()
    commission(flash, values)
    return Life(flash)


def kinds(life: Life) -> list[tuple[int, int, int]]:
    """Kind, a and b of every event, the oldest first."""
    return [(event[1], event[2], event[5]) for event in reversed(journal_view(life.files))]


def test_a_life_is_told_in_order() -> None:
    life = new_life()
    live(life)
    life.run(22000)
    # By the script: what was done, by the numbers of states.py and faults.py.
    assert kinds(life) == [
        (1, 1, 100), (5, 2, 1), (5, 3, -1), (5, 1, 1), (5, 3, -1),
        (2, 2, 1), (5, 7, 1), (6, 2, 0), (7, 2, 0),
        (1, 1, 100), (4, 7, 0), (5, 2, 1), (2, 26, -1), (5, 7, -1), (6, 26, 0),
        (1, 3, 100), (6, 42, 0), (4, 3, 0), (2, 3, 0),
        (1, 1, 100), (6, 3, 0),
    ]  # fmt: skip


def test_counters_of_one_cycle() -> None:
    life = new_life()
    life.play("at bottom; settle; ask raise; run 400; at middle; run 1500; at top; run 200; settle")
    life.play("ask lower; run 400; at middle; run 1500; at bottom; run 200; settle")
    life.play("ask raise; run 30; ask nothing; run 1000")  # ends before a contactor is commanded
    counts = life.keeper.counters
    assert counts[cnt.RAISES] == 1
    assert counts[cnt.LOWERINGS] == 1
    assert counts[cnt.STARTS] == 3
    assert counts[cnt.LINE_OPERATIONS] == 2
    assert counts[cnt.RAISE_OPERATIONS] == 1
    assert counts[cnt.LOWER_OPERATIONS] == 1
    # 1.9 s each, less what start and debounce take; the rest of a second waits for the next.
    assert counts[cnt.RAISE_S] == 1
    assert counts[cnt.LOWER_S] == 1
    assert 700 <= life.keeper.raise_ms < 1000
    assert counts[cnt.BOOTS] == 1
    assert record_view(life.files)[1] == tuple(counts)


def test_energised_seconds_add_up_over_travels() -> None:
    life = new_life()
    life.play("at bottom; settle")
    total = 0
    for _ in range(6):
        life.play("ask raise; run 400; at middle; run 300; ask nothing; run 1200")
        total += life.keeper.energised_ms
        life.play("ask lower; run 400; at bottom; run 1500; ask nothing; run 1000")
    counts = life.keeper.counters
    assert counts[cnt.RAISES] == 6
    assert counts[cnt.RAISE_S] * 1000 + life.keeper.raise_ms == total
    assert counts[cnt.RAISE_S] == total // 1000 > 2


def test_boots_and_hours_outlive_power_cuts() -> None:
    life = new_life()
    for number in range(1, 4):
        assert life.keeper.counters[cnt.BOOTS] == number
        life.run(1000)  # the boot stands in the journal at once, the record is not touched
        life.power_up(1)
    assert life.keeper.counters[cnt.BOOTS] == 4
    assert life.keeper.journal.boot == 4
    life.play("run 500; press 2500; at bottom; settle; run 1000")
    assert record_view(life.files)[1][cnt.BOOTS] == 4
    life.keeper.ms += 3600 * 7 * 1000  # seven hours pass in one pass
    life.run(1000)
    assert life.keeper.counters[cnt.UPTIME_H] == 7
    assert record_view(life.files)[1][cnt.UPTIME_H] == 7


def test_time_is_taken_across_the_wrap() -> None:
    life = new_life()
    assert life.now > TICKS_MASK - 10_000  # every life begins just before it
    life.run(3000)
    assert life.now < 10_000
    assert life.keeper.journal.uptime_s == 2


def test_a_full_queue_counts_what_is_lost() -> None:
    counts = cnt.new_counters()
    journal = Journal(Flash(), counts)
    journal.open()
    for _ in range(QUEUE + 5):
        journal.note(4, 1)
    assert journal.waiting == QUEUE
    assert counts[cnt.LOST_EVENTS] == 5
    journal.note_text(33, "ValueError", 7)
    assert counts[cnt.LOST_EVENTS] == 6
    journal.write()
    assert journal.waiting == 0
    assert QUEUE < SEGMENT


def test_a_write_is_divided_at_the_end_of_a_file() -> None:
    flash = Flash()
    journal = Journal(flash, cnt.new_counters())
    journal.open()
    for _ in range(2):
        for number in range(20):
            journal.note(4, number, -number, 1000 * number)
        while journal.waiting:
            journal.write()
    assert len(flash.contents["journal.00"]) == 32 * SEGMENT
    assert len(flash.contents["journal.01"]) == 32 * 8
    events = list(journal.newest(40))
    assert [event[0] for event in events] == list(range(39, -1, -1))
    assert [event[2] for event in events] == [*range(19, -1, -1), *range(19, -1, -1)]
    assert events[0] == (39, 4, 19, 0, 0, -19, 19000)


def test_counters_stay_at_their_highest() -> None:
    counts = cnt.new_counters()
    cnt.count(counts, cnt.RAISE_S, (1 << 30) - 2)
    cnt.count(counts, cnt.RAISE_S, 300_000)
    assert counts[cnt.RAISE_S] == (1 << 30) - 1


TEXT = """Traceback (most recent call last):
  File "main.py", line 30, in <module>
  File "/leafwinch/edge/loop.py", line 141, in run
  File "leafwinch/controller.mpy", line 99, in step
AttributeError: 'Chain' object has no attribute 'x'
"""


def test_a_program_error_is_written_at_once() -> None:
    life = new_life()
    life.run(500)
    life.keeper.program_error("AttributeError", TEXT)
    events = journal_view(life.files)
    assert (events[1][1], events[1][5], events[1][6]) == (33, 99, "AttributeError")
    assert (events[0][1], events[0][5], events[0][6]) == (34, 99, "controller")


def test_a_program_error_before_the_journal_was_read_spoils_nothing() -> None:
    life = new_life()
    life.run(500)
    old = journal_view(life.files)
    keeper = Keeper(life.files, SettingsStore(life.files))
    keeper.program_error("ImportError", "")
    assert journal_view(life.files)[1:] == old
    life.files.fails = "journal"
    keeper.program_error("OSError", "")  # does not raise


@pytest.mark.parametrize(
    ("text", "place"),
    [
        (TEXT, (99, "controller")),
        ("", (0, "")),
        ('File "', (0, "")),
        ('  File "x', (0, "")),
        ('  File "a/b.py", line ', (0, "b")),
        ('  File "a/b.py", line 99999999999', (99999, "b")),
    ],
)
def test_place_of(text: str, place: tuple[int, str]) -> None:
    found = place_of(text)
    assert found[1] == place[1]
    assert found[0] == place[0] or found[0] > 65535


# --- learning -----------------------------------------------------------------------------


def teach(life: Life, travels: int) -> None:
    """Make full travels with a current that tells the part."""
    for number in range(travels):
        for way in ("raise", "lower"):
            life.ask(way)
            for step in range(400):
                core: Any = life.core
                if step == 80:
                    life.at("middle")
                elif step == 360:
                    life.at("top" if way == "raise" else "bottom")
                bucket = core.budget.bucket(RAISE if way == "raise" else LOWER)
                life.amps = 3000 + 100 * max(bucket, 0) + 10 * number
                life.tick()
            life.settle()


def link(life: Life) -> None:
    life.play("close service_link; run 21500; state: idle")


def test_learning_takes_lowest_and_highest_of_each_part() -> None:
    life = new_life()
    life.play("at bottom; settle; run 21500")
    link(life)
    assert life.command("learn arm")[-1] == "Z 1"
    assert life.command("learn accept") == ["E refused: 3 full travels each way are needed"]
    teach(life, 2)
    assert life.command("learn accept") == ["E refused: 3 full travels each way are needed"]
    teach(life, 1)
    learning = life.keeper.learning
    assert (learning.raised, learning.lowered) == (3, 3)
    assert life.store.settings.envelope_learned == 0
    assert life.command("learn accept")[0] == "A written, the board restarts"
    settings = life.store.settings
    assert settings.envelope_learned == 1
    for low, high in (
        (settings.raise_low_ma, settings.raise_high_ma),
        (settings.lower_low_ma, settings.lower_high_ma),
    ):
        for bucket in range(4, 12):
            # The value follows the part a pass later, so its first pass still has the last one's.
            assert 3000 + 100 * (bucket - 1) <= low[bucket] <= 3000 + 100 * bucket
            assert high[bucket] in (3000 + 100 * bucket + 10, 3000 + 100 * bucket + 20)
        assert all(a <= b for a, b in zip(low, high, strict=True))
    assert (8, 3, 3) in kinds(life)
    # The learned envelope does not trip on the travels that taught it.
    life.play("open service_link; at bottom; settle; run 21500")
    teach(life, 1)
    life.play("state: idle; fault: none")


def test_only_full_travels_from_end_to_end_count() -> None:
    life = new_life()
    life.play("at bottom; settle; run 21500")
    link(life)
    life.command("learn arm")
    life.play("ask raise; run 400; at middle; run 400; ask nothing; run 1500")  # inched
    life.play("ask raise; run 1000; at top; run 300; ask nothing; run 1500")
    assert life.keeper.learning.raised == 0
    life.play("ask lower; run 400; at middle; run 1200; amps 15000; run 300; ask nothing")
    life.play("amps 5000; run 1500")  # ended by a fault
    assert life.keeper.learning.lowered == 0
    words = life.keeper.learning.words
    assert set(words[: 4 * BUCKETS]) == {NUMBER_MAX, -NUMBER_MAX}  # nothing was taken over
    assert life.keeper.learning.settings(life.store.settings) is None


def test_dropped_learning_is_forgotten() -> None:
    life = new_life()
    life.play("at bottom; settle; run 21500")
    link(life)
    life.command("learn arm")
    teach(life, 3)
    assert life.keeper.learning.ready()
    assert life.command("learn")[:2] == ["A armed 1", "A travels 3 3"]
    life.command("learn drop")
    assert not life.keeper.learning.ready()
    assert life.command("learn") == ["A armed 0", "A travels 0 0", "Z 2"]


def test_parts_never_reached_take_the_nearest_one_s_values() -> None:
    learning = Learning()
    learning.arm()
    learning.raised = learning.lowered = 3
    for first in range(4):
        for bucket in range(2, 13):
            learning.words[first * BUCKETS + bucket] = 1000 * first + bucket
    settings = learning.settings(default_settings())
    assert settings is not None
    for first, envelope in enumerate(envelopes(settings)):
        assert envelope[:3] == [1000 * first + 2] * 3
        assert envelope[12:] == [1000 * first + 12] * 4


def test_a_direct_current_is_learned_with_the_sign_of_the_judgement() -> None:
    values = {**QUICK, "current_signed": 1, "missing_lower_ma": 0, "lower_drives": 0}
    life = new_life(values)
    life.play("at bottom; settle; run 21500")
    link(life)
    life.command("learn arm")
    for way, end, amps in (("raise", "top", 4000), ("lower", "bottom", 1500)):
        life.amps = amps  # positive while lowering: the load drives the motor
        life.ask(way)
        life.run(400)
        life.at("middle")
        life.run(1400)
        life.at(end)
        life.run(200)
        life.settle()
    words = life.keeper.learning.words
    assert words[8] == words[BUCKETS + 8] == 4000
    assert words[2 * BUCKETS + 8] == words[3 * BUCKETS + 8] == -1500
