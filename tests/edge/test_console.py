"""The console: its answers by the page, what it refuses, and that it can move nothing."""

import ast
import hashlib
import re
from pathlib import Path

import pytest

from leafwinch.edge import answers, console
from leafwinch.edge.answers import COUNTER_NAMES, EVENT_NAMES, TEXT_NAMES, event_name
from leafwinch.edge.console import LOADING, RESTART
from leafwinch.edge.journal import TEXT_KINDS
from leafwinch.edge.settings_words import names_check
from leafwinch.settings_schema import SCHEMA, SETTING_NAMES
from leafwinch.states import IDLE
from tests.edge.flash import Flash
from tests.edge.life import GREETING, NETLIST, QUICK, SITE, Life, commission
from tests.edge.test_trace import part, rows
from tests.edge.views import journal_view, settings_view

CHANGING = ["change trip_ms 70", "keep", "learn arm", "learn drop", "learn accept", "load"]


@pytest.fixture
def life() -> Life:
    flash = Flash()
    commission(flash, QUICK)
    flash.contents["main.py"] = b"print()\n"
    life = Life(flash)
    life.play("at bottom; settle; run 21500; state: idle")
    return life


def fit_link(life: Life) -> None:
    life.play("close service_link; run 21500; state: idle")


def test_every_command_of_the_page_is_answered(life: Life) -> None:
    fit_link(life)
    commands = re.findall(r"`([^`]+)`", "".join(row[0] + " " for row in rows("commands")))
    assert len(commands) == 19
    for text in commands:
        words = text.replace("NAME VALUE", "trip_ms 70").replace("NAME", "trip_ms")
        lines = life.command(words.replace(" N", " 5"), 4000)
        assert lines, text
        assert "unknown" not in lines[0], text
        if lines[-1][0] == "Z":
            assert lines[-1] == f"Z {len(lines) - 1}", text
            assert {line[:2] for line in lines[:-1]} <= {"A "}, text
        else:
            assert lines[-1][:2] == "E ", text


def test_the_page_lists_the_events() -> None:
    listed = {int(row[0]): row[1].strip("`") for row in rows("events")}
    assert listed == {kind: event_name(kind) for kind in listed}
    assert len(listed) == len(EVENT_NAMES) + len(TEXT_NAMES)
    assert max(listed) == TEXT_KINDS + len(TEXT_NAMES) - 1
    assert [row[0] for row in rows("lines")] == [f"`{kind}`" for kind in "TGAZE"]
    assert event_name(31) == event_name(99) == "unknown"


def test_version_counters_and_inputs(life: Life) -> None:
    assert life.command("version")[:-2] == [
        f"A program {GREETING}",
        f"A site {SITE:08X}",
        f"A netlist {NETLIST:08X}",
        f"A names {names_check():04X}",
        "A boot 1",
    ]
    names = [line.split()[1] for line in life.command("counters")[:-1]]
    assert names == list(COUNTER_NAMES)
    lines = dict(line[2:].split(" ", 1) for line in life.command("inputs")[:-1])
    assert lines["contacts"] == f"{life.core.inputs.seen:05X}"  # type: ignore[attr-defined]
    assert lines["state"] == "idle"
    assert lines["supplied"] == "1"
    life.play("open stop_ok; run 500")
    lines = dict(line[2:].split(" ", 1) for line in life.command("inputs")[:-1])
    assert lines["fault"] == "2 0"
    life.play("supply 5000; run 500")
    lines = dict(line[2:].split(" ", 1) for line in life.command("inputs")[:-1])
    assert lines["contacts"] == "00000"
    assert lines["supplied"] == "0"


def test_settings_one_by_one(life: Life) -> None:
    lines = life.command("settings", 5000)
    expected = [
        f"A setting {name} {getattr(life.store.settings, name)} {low} {high} {unit}"
        for name, unit, low, high, *_ in SCHEMA
    ]
    assert lines[: len(SCHEMA)] == expected
    assert lines[-1] == f"Z {len(SCHEMA) + 16}"
    assert life.command("setting trip_ma") == [expected[SETTING_NAMES.index("trip_ma")], "Z 1"]
    assert life.command("setting trip") == ["E no setting has this name"]


def test_no_line_of_an_answer_is_cut() -> None:
    # The longest possible lines fit into the 56 characters behind the kind.
    for name, unit, low, high, *_ in SCHEMA:
        assert len(f"setting {name} {high} {low} {high} {unit}") <= 56
    assert len("envelope lower_high 12" + 4 * " -500000") <= 56
    assert len("1073741823 65535 1073741823 warning 255 999999 999999") <= 56
    longest = max(EVENT_NAMES + TEXT_NAMES, key=len)
    assert len(f"1073741823 65535 1073741823 {longest} 0 65535 AttributeError") <= 62
    assert len(f"9999999 65535 99999999 {longest} 0 65535 AttributeError") <= 56


def test_files_with_their_hashes(life: Life) -> None:
    life.files.contents["leafwinch/big.py"] = bytes(range(256)) * 21 + b"end"
    lines = life.command("files")
    expected = []
    for name in ("leafwinch/big.py", "main.py"):
        content = life.files.contents[name]
        digest = hashlib.sha256(content).hexdigest()
        expected += [f"A file {name} {len(content)}"]
        expected += [f"A sha256 0 {digest[:32]}", f"A sha256 1 {digest[32:]}"]
    assert lines == [*expected, "Z 6"]


def test_new_settings_take_the_way_through_power_up(life: Life) -> None:
    fit_link(life)
    assert life.command("change trip_ms 70") == ["A setting trip_ms 70 5 500 ms", "Z 1"]
    assert life.command("staged") == ["A setting trip_ms 70 5 500 ms", "Z 1"]
    assert life.store.settings.trip_ms == 60
    lines = life.command("keep")
    assert lines[:2] == ["A written, the board restarts", "Z 1"]
    assert life.requests == [RESTART]
    assert life.store.settings.trip_ms == 70
    assert life.core.settings.trip_ms == 70  # type: ignore[attr-defined]
    assert life.files.contents["settings.a"] == life.files.contents["settings.b"]
    assert settings_view(Flash(life.files.contents))[0] == 0
    kinds = [event[1] for event in journal_view(life.files)]
    assert 7 in kinds
    assert life.command("staged") == ["Z 0"]


def test_what_contradicts_or_is_out_of_range_is_refused(life: Life) -> None:
    fit_link(life)
    before = life.files.contents["settings.a"]
    assert life.command("change trip_ms 501") == ["E allowed are 5 to 500"]
    for value in ("-5", "x", "1e3", "99999999", "7.0", "0x10", "1_0", "+5"):
        assert life.command(f"change trip_ms {value}") == ["E allowed are 5 to 500"]
    assert life.command("change trip_mss 70") == ["E no setting has this name"]
    assert life.command("keep") == ["E nothing is staged"]
    life.command("change trip_ma 26000")
    lines = life.command("keep")
    sentence = "".join(line[2:].ljust(56) for line in lines[:-1]).strip()
    assert "trip_ma is 26000" in sentence
    assert lines[-1] == "E refused: these settings contradict each other"
    assert life.command("discard") == ["A nothing is staged", "Z 1"]
    assert life.command("keep") == ["E nothing is staged"]
    assert life.files.contents["settings.a"] == before
    assert life.requests == []


@pytest.mark.parametrize("text", CHANGING)
def test_without_link_neutral_or_rest_nothing_changes(life: Life, text: str) -> None:
    files = dict(life.files.contents)
    assert life.command(text) == ["E refused: service link not fitted"]
    fit_link(life)
    life.play("at top; ask raise; run 600")
    assert life.command(text) == ["E refused: control not neutral"]
    life.play("ask nothing; at bottom; settle; supply 5000; run 1000")
    assert life.command(text) == ["E refused: no 24 V supply"]
    life.play("supply 24000; run 1500; force lower_released open; run 800; state: fault")
    assert life.command(text) == ["E refused: not at rest"]
    assert life.requests == []
    for name in ("settings.a", "settings.b"):
        assert life.files.contents[name] == files[name]
    assert life.keeper.learning.armed == 0


def test_with_the_stop_pressed_the_board_can_be_loaded(life: Life) -> None:
    # Pressed is the safest time to load; the chain is dead then, the control's rest still seen.
    life.play("close service_link; open stop_ok; run 21500; reasons: ")
    life.restart = False
    assert life.command("load") == ["A loading mode, the board restarts", "Z 1"]
    assert life.requests == [LOADING]
    assert 9 in [event[1] for event in journal_view(life.files)]


def test_a_request_for_loading_is_dropped_by_a_travel_or_a_missing_link(life: Life) -> None:
    fit_link(life)
    life.restart = False
    life.port.deaf = True
    life.command("load", 100)
    assert life.requests == []
    life.play("open service_link; run 100")
    life.port.deaf = False
    life.run(2000)
    assert life.requests == []
    assert b"E refused: service link not fitted" in life.port.sent[-1]


def test_while_moving_it_only_says_that_it_is_busy(life: Life) -> None:
    life.play("ask raise; run 400; at middle; state: raising")
    for text in ("counters", "settings", "load", "nonsense"):
        assert life.command(text, 300) == ["E busy: the drive moves"]
    life.play("state: raising; ask nothing; run 1500")
    assert life.command("counters")[-1] == f"Z {len(COUNTER_NAMES)}"


def test_a_travel_ends_a_long_answer(life: Life) -> None:
    life.port.sent.clear()
    life.port.type(b"settings\n")
    life.run(50)
    assert life.console.busy
    life.play("ask raise; run 300; state: raising")
    lines = [line[:2] for line in life.port.sent]
    assert lines[-1] == b"E "
    assert 0 < lines.count(b"A ") < len(SCHEMA)
    assert life.console.answer is None


def test_an_answer_that_nobody_reads_is_given_up(life: Life) -> None:
    life.port.deaf = True
    life.port.type(b"settings\n")
    life.run(2900)
    assert life.console.busy
    life.run(500)
    assert not life.console.busy
    life.port.deaf = False
    life.port.sent.clear()
    life.run(500)
    assert life.port.sent == []
    assert life.command("setting trip_ma")[-1] == "Z 1"


@pytest.mark.parametrize(
    "typed", [b"\x03\x04", b"\xff" * 10, 61 * b"a", 500 * b"settings ", b"ver\tsion", b"\0"]
)
def test_garbage_gets_one_line(life: Life, typed: bytes) -> None:
    life.port.sent.clear()
    life.port.type(typed + b"\r\n\r\n")
    life.run(8000)
    lines = [line[:58].decode().rstrip() for line in life.port.sent if line[:1] != b"G"]
    assert lines == ["E not a command: up to 60 printable characters"]
    assert life.command("setting trip_ma")[-1] == "Z 1"


def test_sixty_characters_are_a_command(life: Life) -> None:
    assert life.command("setting trip_ma".rjust(60))[-1] == "Z 1"
    assert life.command("setting trip_ma".rjust(61))[-1][:16] == "E not a command:"


def test_a_file_that_cannot_be_read_is_said(life: Life) -> None:
    def refused(name: str, offset: int, buffer: bytearray) -> int:
        raise OSError(5)

    life.files.part = refused
    assert life.command("files") == ["E the board's files can't be read"]


def test_settings_that_the_flash_refuses_do_not_restart(life: Life) -> None:
    fit_link(life)
    life.command("change trip_ms 70")
    life.files.fails = "settings"
    assert life.command("keep") == ["E not written: the flash refused it"]
    assert life.requests == []
    life.files.fails = ""
    assert settings_view(life.files)[0] == 0
    life.power_up(0)
    assert life.store.settings.trip_ms == 60


# --- it can move nothing ----------------------------------------------------------------

READ_CALLS = {"at_rest", "supplied", "ready"}  # what is called on parts of the core


@pytest.mark.parametrize("module", [console, answers])
def test_the_console_only_reads_the_core(module: object) -> None:
    """No statement stores into the core, and of its methods only those that tell are called."""
    tree = ast.parse(Path(str(module.__file__)).read_text())  # type: ignore[attr-defined]

    def of_core(node: ast.AST) -> bool:
        text = ast.unparse(node)
        return bool(re.match(r"(self\.)?(console\.)?(controller|core)\b", text))

    called = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Assign | ast.AugAssign | ast.AnnAssign | ast.Delete):
            targets = node.targets if isinstance(node, ast.Assign | ast.Delete) else [node.target]
            for target in targets:
                if isinstance(target, ast.Attribute | ast.Subscript):
                    assert not of_core(target.value), ast.unparse(node)
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            if of_core(node.func.value):
                called.add(node.func.attr)
            assert node.func.attr not in ("setattr", "restore", "step", "stored", "resync")
        elif isinstance(node, ast.Call):
            assert ast.unparse(node.func) not in ("setattr", "exec", "eval")
            for argument in node.args:
                text = ast.unparse(argument)
                # The core is handed on to nobody, but for its numbers.
                assert text not in ("controller", "core", "self.controller"), ast.unparse(node)
    assert called <= READ_CALLS


def test_a_state_is_idle_before_and_after(life: Life) -> None:
    for text in ("help", "version", "fault", "journal 400", "learn"):
        life.command(text, 6000)
        assert life.core.state == IDLE


def test_the_page_names_what_is_refused(life: Life) -> None:
    text = part("commands")
    for command in CHANGING:
        assert command.split(" trip")[0] in text
