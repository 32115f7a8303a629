"""A shipped netlist with one edit, written where a test may load it."""

from pathlib import Path

from leafwinch_wiring.netlist import Netlist, load_netlist
from leafwinch_wiring.reader import SHIPPED_FOLDER

Edit = tuple[str, str]


def changed(folder: Path, name: str, *edits: Edit) -> Netlist:
    """Write a shipped netlist and its include with every edit made once, and load it.

    An edit is (old text, new text); the old text stands in exactly one of the two files.
    """
    texts = {
        path.name: path.read_text(encoding="utf-8")
        for path in (SHIPPED_FOLDER / f"{name}.toml", SHIPPED_FOLDER / "control-24v.toml")
    }
    for old, new in edits:
        places = [place for place, text in texts.items() if old in text]
        assert len(places) == 1, (old, places)
        assert texts[places[0]].count(old) == 1, f"'{old}' stands there more than once"
        texts[places[0]] = texts[places[0]].replace(old, new)
    for place, text in texts.items():
        (folder / place).write_text(text, encoding="utf-8")
    return load_netlist(folder / f"{name}.toml")
