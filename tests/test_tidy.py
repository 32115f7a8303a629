"""The house rules hold for every tracked file, and each rule can fail."""

import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests import tidy_rules as rules

ROOT = Path(__file__).resolve().parents[1]


def tracked_files() -> list[str]:
    """Every tracked path, relative to the root, that still exists."""
    # The owner of a fresh clone may differ from the user who runs the tests.
    command = ["git", "-c", "safe.directory=*", "ls-files", "-z"]
    listing = subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True)
    return [name for name in listing.stdout.split("\0") if name and (ROOT / name).is_file()]


TRACKED = tracked_files()


def offences(
    names: list[str], rule: Callable[[str, str], Iterator[str]], ending: str = ".py"
) -> list[str]:
    """All sentences of one rule over the tracked files with one ending."""
    found = []
    for name in names:
        if name.endswith(ending):
            text = (ROOT / name).read_text(encoding="utf-8")
            found += [f"{name} {sentence}" for sentence in rule(text, name)]
    return found


def in_rooms(*rooms: str) -> list[str]:
    return [name for name in TRACKED if name.split("/")[0] in rooms]


def test_every_room_is_tracked() -> None:
    # Without this the other tests would pass on an empty list.
    for room in rules.ROOMS:
        package = rules.PACKAGE_OF_ROOM[room]
        assert f"{room}/{package}/__init__.py" in TRACKED


def test_no_forbidden_words() -> None:
    found = []
    for name in TRACKED:
        raw = (ROOT / name).read_bytes()
        if b"\0" in raw:
            continue  # a picture
        text = f"{name}\n{raw.decode('utf-8')}"
        found += [f"{name} {sentence}" for sentence in rules.forbidden_words(text)]
    assert not found, "\n".join(found)


def test_locks_name_only_packages_and_hashes() -> None:
    locks = [name for name in TRACKED if name.endswith(".lock")]
    assert len(locks) == 4
    found = offences(locks, lambda text, _: rules.lock_offences(text), ".lock")
    assert not found, "\n".join(found)


def test_files_and_functions_are_short() -> None:
    found = offences(in_rooms(*rules.ROOMS, "tests"), lambda text, _: rules.too_long(text))
    assert not found, "\n".join(found)


def test_imports_run_one_way() -> None:
    found = offences(
        in_rooms(*rules.ROOMS),
        lambda text, name: rules.import_direction(text, name.split("/")[0]),
    )
    assert not found, "\n".join(found)


def test_firmware_uses_the_boards_language() -> None:
    found = offences(in_rooms("firmware"), rules.board_language)
    assert not found, "\n".join(found)


def test_simulation_has_no_clock_and_no_chance() -> None:
    found = offences(in_rooms("sim"), lambda text, _: rules.chance_and_clock(text))
    assert not found, "\n".join(found)


def test_no_test_is_skipped() -> None:
    found = offences(in_rooms("tests"), rules.skipped_tests)
    assert not found, "\n".join(found)


BAD_FUNCTION = "def f() -> None:\n" + "    print()\n" * rules.FUNCTION_LINES_MAX


@pytest.mark.parametrize(
    ("rule", "text"),
    [
        (rules.forbidden_words, "see sha" + "red/x"),
        (rules.forbidden_words, "# TO" + "DO later"),
        (rules.forbidden_words, "as the DESIGN " + "3.5 says"),
        (rules.forbidden_words, "raise Not" + "ImplementedError"),
        (rules.lock_offences, "--index-" + "url x"),
        (rules.lock_offences, "numpy==2.0\n"),
        (rules.lock_offences, "numpy>=2.0 \\\n    --hash=sha256:00\n"),
        (rules.lock_offences, "# made by x\n"),
        (rules.too_long, "\n" * (rules.FILE_LINES_MAX + 1)),
        (rules.too_long, BAD_FUNCTION),
        (lambda text: rules.import_direction(text, "firmware"), "import leafwinch_wiring.netlist"),
        (lambda text: rules.import_direction(text, "wiring"), "from leafwinch_sim import site"),
        (lambda text: rules.import_direction(text, "sim"), "import leafwinch_host"),
        (lambda text: rules.import_direction(text, "host"), "from tests import tidy_rules"),
        (rules.board_language, "x = 0.5"),
        (rules.board_language, "x = a / b"),
        (rules.board_language, "x /= b"),
        (rules.board_language, "x = float(y)"),
        (rules.board_language, "assert x"),
        (rules.board_language, "x = f'{y}'"),
        (rules.board_language, "import struct"),
        (rules.board_language, "if RAISE:\n    import struct"),
        (lambda text: rules.board_language(text, "firmware/leafwinch/edge/x.py"), "import time"),
        (rules.chance_and_clock, "import time"),
        (rules.chance_and_clock, "from datetime import datetime"),
        (rules.chance_and_clock, "from random import randint"),
        (rules.chance_and_clock, "import random\nx = random.random()"),
        (rules.chance_and_clock, "import random\nx = random.Random()"),
        (rules.chance_and_clock, "import numpy as np\nx = np.random.rand(3)"),
        (rules.chance_and_clock, "import numpy as np\nx = np.random.default_rng()"),
        (lambda text: rules.skipped_tests(text, "tests/x.py"), "pytest" + ".skip('no')"),
    ],
)
def test_each_rule_can_fail(rule: Callable[[str], Iterator[str]], text: str) -> None:
    assert list(rule(text))


@pytest.mark.parametrize(
    ("rule", "text"),
    [
        (rules.forbidden_words, "Every shared bracket; a briefly pressed switch."),
        (rules.lock_offences, "numpy==2.0 \\\n    --hash=sha256:00\n"),
        (rules.too_long, "def f() -> None:\n    pass\n"),
        (lambda text: rules.import_direction(text, "sim"), "import leafwinch_wiring.netlist"),
        (rules.board_language, "from leafwinch.numbers import const\nx = 7 // 2\nx //= 2"),
        (lambda text: rules.board_language(text, "firmware/leafwinch/edge/x.py"), "import struct"),
        (lambda text: rules.board_language(text, "firmware/main.py"), "import machine"),
        (rules.board_language, "if TYPE_CHECKING:\n    from collections.abc import Iterator"),
        (rules.chance_and_clock, "import random\nx = random.Random(7).random()"),
    ],
)
def test_each_rule_lets_good_text_pass(rule: Callable[[str], Iterator[str]], text: str) -> None:
    assert not list(rule(text))
