"""Bad netlist files: one clear sentence naming the file, the place, what is and what may be."""

from collections.abc import Callable
from pathlib import Path

import pytest

from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import load_netlist
from leafwinch_wiring.reader import SHIPPED_FOLDER, shipped_names

BARE = (SHIPPED_FOLDER / "bare.toml").read_text(encoding="utf-8")


def written(folder: Path, content: str | bytes) -> Path:
    path = folder / "wiring.toml"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return path


def swap(old: str, new: str) -> Callable[[], str]:
    assert old in BARE, old
    return lambda: BARE.replace(old, new, 1)


CASES: dict[str, tuple[Callable[[], str | bytes], str]] = {
    "empty": (lambda: "  \n", "is empty"),
    "binary rubbish": (lambda: b"name = 'x'\n\x00\xff\xfe\x80", "line 2: byte 0xff is not text"),
    "binary zeros": (lambda: b"\x00" * 40, "is not valid TOML"),
    "too large": (lambda: b"#" * 1_000_001, "has 1000001 bytes"),
    "broken TOML": (swap("[panel]", "[panel"), r"is not valid TOML: .*line \d+"),
    "missing key": (swap('drive = "capacitor_run"\n', ""), "key 'drive' is missing"),
    "unknown key": (swap("[panel]", "[panel]\ncolour = 1"), "table 'panel'.*|key 'colour'"),
    "key of a part": (swap('at = "box"\n', 'at = "box"\nweight = 3\n'), "part 'XS1'.*'weight'"),
    "unknown part kind": (swap('"isolator"', '"flux_gate"'), "part 'QB0': key 'kind'.*flux_gate"),
    "contact type": (swap('type = "no"', 'type = "nx"'), "part 'SF1', contacts 'raise_1'.*'nx'"),
    "negative length": (swap("length_m = 0.6", "length_m = -1"), "'length_m' is -1"),
    "text for a number": (swap("cores = 2", 'cores = "two"'), "cable 'W1'.*'cores' is 'two'"),
    "part given twice": (swap('ref = "BG2"', 'ref = "BG1"'), "part 'BG1' is given 2 times"),
    "location unknown": (swap('at = "winch"', 'at = "roof"'), "location 'roof' is unknown"),
    "unknown terminal": (swap('"QB0:1", "101"', '"QB0:9", "101"'), "wire '101'.*'QB0:9'"),
    "unknown part": (swap('"QB0:1", "101"', '"QX0:1", "101"'), "wire '101'.*'QX0:1'"),
    "mark used twice": (swap('"102"]', '"101"]'), "wire '101': this mark is used twice"),
    "core not in cable": (swap('"W1.2"', '"W1.7"'), "core '7' is not in cable 'W1'"),
    "cable unknown": (swap('"W1.2"', '"W77.2"'), "cable 'W77' is unknown"),
    "wrong cable": (swap('"W1.2"', '"W2.2"'), "wire 'W2.2' .*but cable 'W2' joins"),
    "wire leaves its box": (swap('"W1.2"', '"55"'), "runs from location 'box' to 'station'"),
    "wire to itself": (swap('"SF1:7", "105"', '"SF1:1", "105"'), "joins 'SF1:1' to itself"),
    "terminal not wired": (swap('  ["QB0:4", "FC1:3", "104"],\n', ""), "'QB0:4' has no wire"),
    "contact terminal": (
        swap('terminals = ["11", "12"], acts', 'terminals = ["11", "99"], acts'),
        "contact 'lower_3': terminal '99'",
    ),
    "drop-out above pull-in": (swap("drop_out = 0.15", "drop_out = 0.9"), "drop_out 0.9"),
    "limit without bracket": (swap('bracket = "B1"\n', ""), "part 'BG1': key 'bracket'"),
    "wire of two": (swap('["XS1:L", "QB0:1", "101"]', '["XS1:L", "QB0:1"]'), "wires.*power"),
    "include elsewhere": (
        swap('name = "bare"', 'name = "bare"\ninclude = ["../x.toml"]'),
        "'include': found '../x.toml'",
    ),
    "include absent": (
        swap('name = "bare"', 'name = "bare"\ninclude = ["x.toml"]'),
        "x.toml cannot be opened",
    ),
    "strip node used once": (
        swap(
            '[[part]]\nref = "PE"',
            '[[part]]\nref = "XD9"\nkind = "terminals"\nat = "box"\ntext = "strip"\n'
            'terminals = ["1"]\n\n[[part]]\nref = "PE"',
        ),
        "XD9:1",
    ),
}


@pytest.mark.parametrize("case", list(CASES))
def test_bad_file_gives_one_sentence_naming_the_place(case: str, tmp_path: Path) -> None:
    content, words = CASES[case]
    path = written(tmp_path, content())
    with pytest.raises(BadInput, match=words) as caught:
        load_netlist(path)
    message = str(caught.value)
    assert "wiring.toml" in message or "x.toml" in message
    assert "\n" not in message
    assert message.endswith(".")


def test_node_used_once_is_named(tmp_path: Path) -> None:
    text = BARE.replace(
        '[[part]]\nref = "PE"',
        '[[part]]\nref = "XD9"\nkind = "terminals"\nat = "box"\ntext = "strip"\n'
        'terminals = ["1"]\n\n[[part]]\nref = "PE"',
    ).replace('["QB0:2", "FC1:1", "103"],', '["QB0:2", "FC1:1", "103"], ["XD9:1", "FC1:1", "99"],')
    with pytest.raises(BadInput, match="node 'XD9:1' is used once"):
        load_netlist(written(tmp_path, text))


def test_absent_file_and_unknown_name(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="cannot be opened"):
        load_netlist(tmp_path / "none.toml")
    with pytest.raises(BadInput, match="cannot be opened"):
        load_netlist(tmp_path)
    with pytest.raises(BadInput, match="neither a file nor a shipped netlist; shipped are bare"):
        load_netlist("no-such-wiring")


@pytest.mark.parametrize("missing", ["chain_ok", "reset"])
def test_board_must_read_each_signal_once(missing: str, tmp_path: Path) -> None:
    control = (SHIPPED_FOLDER / "control-24v.toml").read_text(encoding="utf-8")
    reference = (SHIPPED_FOLDER / "reference.toml").read_text(encoding="utf-8")
    path = written(tmp_path, reference)
    included = tmp_path / "control-24v.toml"
    included.write_text(control.replace(f'signal = "{missing}"', 'signal = "stop_ok"'))
    with pytest.raises(BadInput, match="signal 'stop_ok' is given 2 times"):
        load_netlist(path)
    included.write_text(control.replace(f'signal = "{missing}"', 'signal = "nonsense"'))
    with pytest.raises(BadInput, match="signal 'nonsense' is unknown"):
        load_netlist(path)
    included.write_text(control + "\n[panel]\nlength_m = 1\n")
    with pytest.raises(BadInput, match="key 'panel' is not allowed there"):
        load_netlist(path)


def test_shipped_netlists_load_and_differ() -> None:
    assert shipped_names() == ("bare", "bare-12v", "reference", "reference-12v")
    hashes = {load_netlist(name).content_hash for name in shipped_names()}
    assert len(hashes) == 4
    assert all(len(value) == 64 for value in hashes)


def test_content_hash_ignores_layout_but_not_content(tmp_path: Path) -> None:
    same = load_netlist(written(tmp_path, "# another comment\n" + BARE))
    assert same.content_hash == load_netlist("bare").content_hash
    other = load_netlist(written(tmp_path, BARE.replace("length_m = 8.0", "length_m = 9.0")))
    assert other.content_hash != same.content_hash


def test_unknown_element_name() -> None:
    with pytest.raises(BadInput, match="has no element 'BG9:path'"):
        load_netlist("bare").bit("BG9:path")
