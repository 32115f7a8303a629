"""Files as firmware/README.md describes them, read with nothing but that page and struct."""

import binascii
import hashlib
import struct
import zlib
from array import array

import pytest

from leafwinch.edge.slots import GOOD, ONE_BAD, Slots, seal, unsealed
from leafwinch.kept import KEPT_NAMES
from leafwinch.numbers import NUMBER_MAX
from leafwinch.settings_schema import SETTING_NAMES
from tests.edge.flash import Flash
from tests.edge.life import NETLIST, QUICK, SITE, Life, commission, live
from tests.edge.test_trace import rows


def lived() -> dict[str, bytes]:
    flash = Flash()
    commission(flash, QUICK)
    life = Life(flash)
    live(life)
    life.run(22_000)
    return flash.contents


FILES = lived()


def words_of(name: str, kind: bytes) -> tuple[int, list[int]]:
    """Return sequence and words of a copy, by the page."""
    raw = FILES[name]
    letter, letter_of_kind, version = struct.unpack_from("<ccH", raw)
    sequence, count = struct.unpack_from("<II", raw, 4)
    assert (letter, letter_of_kind, version) == (b"L", kind, 1)
    assert len(raw) == 4 * (count + 4)
    assert struct.unpack_from("<I", raw, len(raw) - 4)[0] == zlib.crc32(raw[:-4])
    return sequence, list(struct.unpack_from(f"<{count}i", raw, 12))


def newer(name: str, kind: bytes) -> list[int]:
    return max(words_of(name + ".a", kind), words_of(name + ".b", kind))[1]


def test_settings() -> None:
    assert FILES["settings.a"] == FILES["settings.b"]
    words = newer("settings", b"S")
    assert words[:2] == [SITE, NETLIST]
    assert words[2] == binascii.crc_hqx(" ".join(SETTING_NAMES).encode(), 0xFFFF)
    values = dict(zip(SETTING_NAMES, words[3:], strict=False))
    # Changed by command in that life: 60 to 70 and 200 to 300.
    assert (values["trip_ms"], values["jam_ms"]) == (70, 300)
    assert {name: values[name] for name in QUICK} == QUICK
    assert len(words) == 3 + len(SETTING_NAMES) + 64
    assert newer("installed", b"I") == [SITE, NETLIST]


def test_record() -> None:
    words = newer("record", b"R")
    assert len(words) == 1 + 16 + len(KEPT_NAMES)
    assert 0 <= words[0] < 3600
    counters = words[1:17]
    # That life: four travels up and two down before the stop, one up and one down after it.
    assert counters[9] == 4  # boots
    assert counters[10] == 1  # watchdog boots
    assert counters[8] == 3  # faults latched while it ran
    kept = dict(zip(KEPT_NAMES, words[17:], strict=True))
    assert kept["version"] == 1
    assert kept["fault"] == 0


def test_fault_trace() -> None:
    words = newer("fault", b"F")
    assert len(words) == 5 + 800
    fault, _boot, _seconds, samples, oldest = words[:5]
    assert fault == 3
    assert 0 < samples <= 400
    first = words[5 + 2 * oldest]
    assert first >> 23 in range(5)
    assert (words[6 + 2 * oldest] & 0xFFFFF) - 524_288 == 0
    assert words[6 + 2 * oldest] >> 20 == 24_000 >> 7


def test_journal() -> None:
    raw = FILES["journal.00"]
    names = {int(row[0]): row[1].strip("`") for row in rows("events")}
    assert len(raw) % 32 == 0
    for index in range(len(raw) // 32):
        event = raw[32 * index : 32 * index + 32]
        sequence, kind, _a, boot, _seconds, _b = struct.unpack_from("<IBBHIi", event)
        assert sequence == index
        assert kind in names
        assert boot in (1, 2, 3, 4)
        assert struct.unpack_from("<H", event, 30)[0] == binascii.crc_hqx(event[:30], 0xFFFF)
        if kind < 32:
            assert event[20:30] == bytes(10)


def test_the_page_lists_the_files() -> None:
    listed = " ".join(row[0] for row in rows("stored"))
    for name in ("settings.a", "installed.a", "record.a", "fault.a", "journal.00"):
        assert name in listed
        assert name in FILES


def test_a_hash_is_cut_as_the_page_says() -> None:
    # FIPS 180-4: SHA-256 of "abc" begins ba7816bf.
    digest = hashlib.sha256(b"abc").digest()
    assert int.from_bytes(digest[:4], "little") & NUMBER_MAX == 0xBF1678BA & 0x3FFFFFFF


# --- the two copies -----------------------------------------------------------------------


def stored(flash: Flash) -> Slots:
    slots = Slots(flash, "x", "X", 7)
    slots.load()
    return slots


def store(slots: Slots, value: int) -> None:
    slots.store(array("i", [0, 0, 0, value, 0]))


def test_the_sequence_wraps() -> None:
    flash = Flash()
    slots = stored(flash)
    slots.sequence = NUMBER_MAX - 3
    for value in range(10):
        store(slots, value)
        again = stored(flash)
        words = again.load()
        assert words is not None
        assert words[3] == value
        assert again.found == GOOD
        assert 0 <= words[1] <= NUMBER_MAX
        slots = again


@pytest.mark.parametrize(("kind", "version"), [("Y", 7), ("X", 8)])
def test_another_kind_or_version_is_no_good_copy(kind: str, version: int) -> None:
    flash = Flash()
    slots = stored(flash)
    store(slots, 1)
    store(slots, 2)
    other = Slots(flash, "x", kind, version)
    assert other.load() is None
    assert other.found == 3


def test_one_bad_copy_is_told() -> None:
    flash = Flash()
    slots = stored(flash)
    store(slots, 1)
    assert stored(flash).found == GOOD  # the second copy was never written
    store(slots, 2)
    flash.contents["x.b"] = b""
    assert stored(flash).found == ONE_BAD


def test_words_that_are_shorter_than_they_say() -> None:
    words = array("i", [0, 0, 0, 5, 6, 0])
    seal(words, ord("X"), 1, 1)
    raw = words.tobytes()
    assert unsealed(raw, ord("X"), 1) == words
    assert unsealed(raw[:-4], ord("X"), 1) is None
    assert unsealed(raw[:-1], ord("X"), 1) is None
    assert unsealed(raw + bytes(4), ord("X"), 1) is None
    assert unsealed(None, ord("X"), 1) is None
    seal(words, ord("X"), 1, -1)
    assert unsealed(words.tobytes(), ord("X"), 1) is None
