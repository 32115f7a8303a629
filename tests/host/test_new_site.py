"""`leafwinch new`: asks, judges, keeps, and writes a site file that the site's reader accepts."""

import json
import math
from pathlib import Path

import pytest

from leafwinch_host.new_site.answers import Answers, Words
from leafwinch_host.new_site.asking import Dialogue
from leafwinch_host.new_site.questions import BY_KEY, QUESTIONS
from leafwinch_host.new_site.site_text import site_text
from leafwinch_sim.mechanism import GRAVITY
from leafwinch_sim.plant_parts import mechanism_of
from leafwinch_sim.site import load_site
from leafwinch_wiring.errors import BadInput
from tests.host.new_site import (
    DECK,
    FEW,
    SLIP,
    Terminal,
    answered,
    command,
    flags,
    refused,
    site_of,
    told,
)

# One line for each question of a mains winch, in the order of the dialogue.
MAINS_LINES = (
    *("", "pit", "1.25 m", "", "1 m", "55 kg", "", "", "", "", ""),
    *("mains", "", "", "3 kN", "7 m/min", "", "", "4 mm", "", "46 mm", "58 mm"),
    *("", "", "", "", "", "", "", ""),
)


@pytest.mark.parametrize("few", [FEW, SLIP])
def test_few_options_make_a_site_that_moves(few: dict[str, str], tmp_path: Path) -> None:
    target = tmp_path / "my-pit.toml"
    assert command(str(target), "--yes", *flags(few)) == 0
    site = load_site(target)
    assert site.name == "my-pit"
    assert site.settings, "sized settings are part of the file"
    mechanism = mechanism_of(site)
    pull = mechanism.line_pull_n(0.0)
    # The flat deck by hand, textbook statics: 2 T sin(a) d/... as virtual work of both leaves.
    leaf, depth = 1.25, site.deck.kicker_depth
    lever = depth * leaf / math.hypot(leaf, depth)
    assert pull == pytest.approx(55.0 * GRAVITY * leaf / (4.0 * lever), rel=1e-9)
    assert site.limits.top_end.at < site.limits.top_final.at < site.buffer.place
    assert (tmp_path / "my-pit.svg").read_text("utf-8").startswith("<svg")
    assert not list(tmp_path.glob("*.answers"))


def test_file_begins_with_cautions_and_every_value_is_explained(tmp_path: Path) -> None:
    for over, danger in (("pit", "open pit"), ("stair", "open stair"), ("water", "drown")):
        text = site_text(answered(told({**FEW, "over": over})))
        head = text[: text.index("name =")]
        for word in ("CAUTION", "crush", danger, "electrician", "Local codes", "certifies nothing"):
            assert word in " ".join(head.replace("#", "").split()), word
        above = ""
        for line in text.splitlines():
            limits = line.startswith(("part", "senses", "operates", "at ", "reset", "["))
            if " = " in line and not limits and not line.startswith(("#", " ", "frame", "boards")):
                assert "  # " in line or above.startswith("#"), line
            above = line


def test_what_is_not_told_is_marked_assumed() -> None:
    text = site_text(answered(told(FEW)))
    lines = text.splitlines()
    for key in ("hinge_friction", "efficiency", "main ", "sheave_factor", "stiffness", "lead "):
        place = next(n for n, line in enumerate(lines) if line.startswith(key))
        assert "ASSUMED" in lines[place] + lines[place - 1] + lines[place - 2], key
    width = next(line for line in lines if line.startswith("width"))
    assert "ASSUMED" not in width


def test_options_reach_their_keys() -> None:
    answers = {
        **FEW,
        "leaf_b_length": "1.2 m",
        "leaf_b_mass": "50 kg",
        "end_mass": "5 kg",
        "pin_diameter": "14 mm",
        "kicker_depth": "190 mm",
        "wall_angle": "72 deg",
        "buffer_angle": "68 deg",
        "current": "3.1 A",
        "duty": "25 %",
        "rope_construction": "6X19 iwrc",
        "flange_diameter": "110 mm",
        "gear_ratio": "30",
        "turns_at_flat": "5 turn",
        "lead": "2 m",
        "lead_sheaves": "2",
        "sheave_diameter": "60 mm",
        "cable_length": "15 m",
        "cable_area": "1.5 mm**2",
        "breaker": "b16",
        "summary": 'a "floor" \\ with ünlauts',
    }
    site = site_of(told(answers))
    assert site.deck.leaf_b.length == 1.2
    assert (site.deck.leaf_a.mass, site.deck.leaf_b.mass, site.deck.end_mass) == (55, 50, 5)
    assert site.deck.hinge_pin_radius == pytest.approx(0.007)
    assert site.deck.kicker_depth == pytest.approx(0.19)
    assert (site.buffer.wall, site.buffer.place) == pytest.approx((72, 68))
    assert site.nameplate is not None
    assert (site.nameplate.line_pull, site.nameplate.current) == (3000, 3.1)
    assert site.nameplate.duty == pytest.approx(25)
    assert site.rope.construction == "6x19 IWRC"
    # K = 0.356 of EN 12385-4 for 6x19 IWRC, as in Feyrer, Wire Ropes, table 1.9.
    assert site.rope.breaking_force == pytest.approx(0.356 * 16 * 1770, rel=1e-3)
    assert site.drum.core_radius == pytest.approx(0.023)
    assert site.drum.flange_radius == pytest.approx(0.055)
    assert (site.drum.turns_per_layer, site.drum.turns_at_flat) == pytest.approx((14.5, 5))
    assert site.gear.ratio == 30
    assert (site.rope.lead, site.rope.lead_sheaves) == (2, 2)
    assert site.sheaves is not None
    assert site.sheaves.tread == pytest.approx(0.06)
    assert site.supply.cable is not None
    assert site.supply.cable.breaker == "B16"
    # 0.3 ohm of the mains, and 2 x 0.0225 x 15 / 1.5 of IEC 60364-5-52 annex G, from memory.
    assert site.supply.source_resistance == pytest.approx(0.3 + 0.45)
    assert site.summary == answers["summary"]
    assert set(answers) | {"name", "frame", "boards", "fittings", "voltage", "frequency"} == set(
        BY_KEY
    ), "a new question belongs here"


def test_built_leaf_weighs_what_the_tables_say() -> None:
    words = told({key: value for key, value in FEW.items() if key != "leaf_mass"})
    parts: Words = {
        "frame": ("40x40x3 mm: 8 m", "20x20x2 mm: 3 m"),
        "boards": ("Larch, 27 mm, 1.2 m**2",),
        "fittings": ("2.5 kg",),
    }
    site = site_of({**words, **parts})
    # EN 10219-2, table of square hollow sections: 40x40x3 3.30 kg/m, 20x20x2 1.05 kg/m. Larch
    # 500 to 560 kg/m3 in mechanical engineers' handbooks, the middle of it.
    by_hand = 8 * 3.30 + 3 * 1.05 + 530 * 0.027 * 1.2 + 2.5
    assert site.deck.leaf_a.mass == pytest.approx(by_hand, rel=2e-3)
    assert site.deck.leaf_b.mass == site.deck.leaf_a.mass
    plywood = site_of({**words, "frame": ("none",), "boards": ("600 kg/m**3, 18 mm, 1.25 m**2",)})
    assert plywood.deck.leaf_a.mass == pytest.approx(600 * 0.018 * 1.25 + 3.0)


def test_other_leaf_is_weighed_by_its_length() -> None:
    assert "leaf_b_mass" not in answered(told(FEW))
    shorter = answered(told({**FEW, "leaf_b_length": "1.0 m"}))
    assert shorter.number("leaf_b_mass", "kg") == pytest.approx(44.0)
    assert shorter.number("wall_angle", "deg") < math.degrees(math.asin(1.0 / 1.25))


def test_dialogue_asks_everything_once_and_writes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    terminal = Terminal(*MAINS_LINES).sit_at(monkeypatch)
    target = tmp_path / "Grandpa's pit.toml"
    assert command(str(target)) == 0
    assert list(terminal.lines) == []
    assert len(terminal.prompts) == len(set(terminal.prompts)) == len(MAINS_LINES)
    out = capsys.readouterr().out
    assert out.index("CAUTION") < out.index("written to")
    assert "leafwinch size --site" in out
    site = load_site(target)
    assert site.name == "grandpa-s-pit"
    same = tmp_path / "grandpa-s-pit.toml"
    assert command(str(same), "--yes", "--no-drawing", *flags(FEW)) == 0
    assert same.read_text("utf-8") == target.read_text("utf-8"), "asked or told, the same"
    assert not same.with_suffix(".svg").exists()


def test_dialogue_reckons_a_leaf_of_parts(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    words = {key: value for key, value in FEW.items() if key != "leaf_mass"}
    Terminal(
        "parts", "", "40x40x3 mm: 8 m", "40x20: 1 m", "40x20x2 mm: 1 m", "", "none", ""
    ).sit_at(monkeypatch)
    given_ones = {**answered(told(FEW)).words, **told(words)}
    for key in ("leaf_mass", "frame", "boards", "fittings"):
        given_ones.pop(key, None)
    said: list[str] = []
    answers = Dialogue(given_ones, {}, {}, False, input, said.append).run()
    assert answers.many("frame") == ("40x40x3 mm: 8 m", "40x20x2 mm: 1 m")
    assert answers.many("boards") == ()
    assert sum("Not taken" in words for words in said) == 2  # the empty and the half told one


BAD: tuple[tuple[str, str, str], ...] = (
    ("name", "My Pit", "small letters"),
    ("over", "lava", "pit, stair, water"),
    ("leaf_length", "1.25", "1.25 m"),
    ("leaf_length", "1,25 m", "1.25 m"),
    ("leaf_length", "9 m", "0.2 m to 6 m"),
    ("leaf_length", "-1 m", "0.2 m to 6 m"),
    ("leaf_length", "5 kg", "wrong unit"),
    ("leaf_length", "1 m**9**9**9**9", "powers"),
    ("leaf_length", "1e400 m", "finite"),
    ("leaf_length", "1" * 500 + " m", "letters"),
    ("leaf_length", "1 m\x1b[31m", "printed"),
    ("leaf_b_length", "many m", "number with a unit"),
    ("width", "40 m", "0.2 m to 10 m"),
    ("leaf_mass", "0 kg", "0.2 kg to 2000 kg"),
    ("kicker_depth", "1.2 m", "0.9 of leaf A"),
    ("wall_angle", "90 deg", "89.5"),
    ("buffer_angle", "88 deg", "less than the wall's angle"),
    ("winch", "steam", "mains, battery"),
    ("voltage", "9 kV", "480"),
    ("line_pull", "125 kg", "wrong unit"),
    ("line_speed", "7 m", "7 m/min"),
    ("line_speed", "7 kg/min", "7 m/min"),
    ("line_speed", "900 m/min", "60 m/min"),
    ("current", "0.5 A", "W"),
    ("duty", "250 %", "100 %"),
    ("rope_diameter", "40 mm", "30 mm"),
    ("rope_construction", "9x9", "6x19 IWRC"),
    ("drum_width", "4 m", "2000 mm"),
    ("drum_width", "6 mm", "ropes"),
    ("flange_diameter", "50 mm", "more than drum"),
    ("gear_ratio", "300", "/min"),
    ("gear_ratio", "30 turn", "number"),
    ("turns_at_flat", "1 turn", "2.6 turn"),
    ("turns_at_flat", "490 turn", "layers"),
    ("lead_sheaves", "1.5", "whole number"),
    ("lead_sheaves", "٣", "whole number"),
    ("cable_area", "0.1 mm**2", "0.5 mm**2"),
    ("breaker", "B17", "16"),
    ("summary", "a\x7fb", "printed"),
)


@pytest.mark.parametrize(("key", "words", "says"), BAD)
def test_bad_answer_is_refused_in_one_sentence_and_asked_again(
    key: str, words: str, says: str
) -> None:
    cable = {"cable_length": "15 m", "cable_area": "1.5 mm**2"}
    known = dict(answered(told({**FEW, **cable})).words)
    known.pop(key, None)
    said: list[str] = []
    terminal = Terminal(words, "?", "back", words, KeyboardInterrupt)
    with pytest.raises(KeyboardInterrupt):
        Dialogue(known, {}, {}, False, terminal, said.append).run()
    refusals = [one for one in said if one.startswith("Not taken: ")]
    assert len(refusals) == 2
    assert refusals[0] == refusals[1]
    assert says in refusals[0]
    assert "allowed" in refusals[0] or "known are" in refusals[0]
    assert refusals[0].endswith(".")
    assert "\n" not in refusals[0]
    assert BY_KEY[key].help in said
    with pytest.raises(BadInput, match=BY_KEY[key].flag):
        Dialogue({**known, key: (words,)}, {}, {}, True, None, print).run()


@pytest.mark.parametrize("words", ["40x40x3 mm", "40x40x30 mm: 1 m", "40x40x3 mm: 1 kg", "a: b"])
def test_bad_tube_is_refused(words: str) -> None:
    with pytest.raises(ValueError, match="allowed"):
        BY_KEY["frame"].check(words, Answers())


@pytest.mark.parametrize(
    "words", ["larch, 27 mm", "straw, 27 mm, 1 m**2", "larch, 27 mm, 1 m", "9 m, 27 mm, 1 m**2"]
)
def test_bad_boards_are_refused(words: str) -> None:
    with pytest.raises(ValueError, match=r"allowed|known are"):
        BY_KEY["boards"].check(words, Answers())


def test_every_example_and_suggestion_is_accepted() -> None:
    parts: Words = {"frame": ("40x40x3 mm: 8 m",), "boards": ("none",)}
    few = {key: value for key, value in FEW.items() if key != "leaf_mass"}
    for question in QUESTIONS:
        if question.key == "leaf_mass":
            continue
        own = {"cable_length": ("15 m",), "cable_area": ("1.5 mm**2",), question.key: ("",)}
        own[question.key] = (question.example,)
        assert answered({**told(few), **parts, **own}).one(question.key) == question.example


def test_back_returns_and_forgets(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    lines = ["back", "", "pit", "9.9 m", "1.5 m", "back", "BACK", *MAINS_LINES[1:]]
    Terminal(*lines).sit_at(monkeypatch)
    target = tmp_path / "pit.toml"
    assert command(str(target)) == 0
    assert load_site(target).deck.leaf_a.length == 1.25


@pytest.mark.parametrize("stop", [KeyboardInterrupt, EOFError])
def test_stopped_dialogue_goes_on(
    stop: type[BaseException],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    target, kept = tmp_path / "pit.toml", tmp_path / "pit.toml.answers"
    Terminal(*MAINS_LINES[:14], stop).sit_at(monkeypatch)
    assert command(str(target)) == 130
    assert not target.exists()
    assert len(json.loads(kept.read_text("utf-8"))) == 14
    Terminal(*MAINS_LINES[14:]).sit_at(monkeypatch)
    assert command(str(target)) == 0
    assert "Going on with 14 answers" in capsys.readouterr().out
    assert not kept.exists()
    other = tmp_path / "other.toml"
    assert command(str(other), "--name", "pit", "--yes", *flags(FEW)) == 0
    assert other.read_text("utf-8") == target.read_text("utf-8")


def test_back_reaches_answers_that_were_kept() -> None:
    kept = told({"name": "pit", "over": "pit", "leaf_length": "1.25 m"})
    terminal = Terminal("back", "1.5 m", KeyboardInterrupt)
    dialogue = Dialogue({}, kept, {}, False, terminal, print)
    with pytest.raises(KeyboardInterrupt):
        dialogue.run()
    assert dialogue.answers.one("leaf_length") == "1.5 m"


@pytest.mark.parametrize(
    "content", ["", "[]", "[1", '{"x": ["y"]}', '{"name": "x"}', '{"name": []}', '{"name": [1]}']
)
def test_kept_answers_of_something_else_are_refused(content: str, tmp_path: Path) -> None:
    (tmp_path / "pit.toml.answers").write_text(content, encoding="utf-8")
    assert "remove the file" in refused(str(tmp_path / "pit.toml"), "--yes")


def test_kept_answer_that_is_bad_names_its_question(tmp_path: Path) -> None:
    (tmp_path / "pit.toml.answers").write_text('{"over": ["lava"]}', encoding="utf-8")
    assert "--over" in refused(str(tmp_path / "pit.toml"), "--yes")


def test_without_a_terminal_the_first_missing_option_is_named(tmp_path: Path) -> None:
    target = str(tmp_path / "pit.toml")
    assert "--name is missing" in refused(target)
    assert "--over is missing" in refused(target, "--name", "pit")
    assert "--leaf-mass is missing" in refused(
        target, "--yes", "--over", "pit", "--leaf-length", "1 m", "--width", "1 m"
    )
    assert "--boards is missing" in refused(
        target, "--yes", *flags({**DECK, "leaf_mass": "parts"}), "--frame", "40x40x3 mm: 8 m"
    )
    assert not list(tmp_path.iterdir())


def test_options_that_contradict_are_refused(tmp_path: Path) -> None:
    target = str(tmp_path / "pit.toml")
    assert "--leaf-mass" in refused(target, "--yes", *flags(FEW), "--frame", "40x40x3 mm: 8 m")
    assert "does not apply" in refused(target, "--yes", *flags(SLIP), "--frequency", "50 Hz")
    assert "allowed is once" in refused(target, "--yes", *flags(FEW), "--over", "water")


def test_no_file_is_written_over_without_replace(tmp_path: Path) -> None:
    for name in ("pit.toml", "pit.svg"):
        (tmp_path / name).write_text("mine", encoding="utf-8")
        assert "--replace" in refused(str(tmp_path / "pit.toml"), "--yes", *flags(FEW))
        assert (tmp_path / name).read_text("utf-8") == "mine"
        (tmp_path / name).unlink()
    (tmp_path / "pit.toml").write_text("mine", encoding="utf-8")
    assert command(str(tmp_path / "pit.toml"), "--yes", "--replace", *flags(FEW)) == 0
    assert load_site(tmp_path / "pit.toml").name == "pit"
    assert ".toml" in refused(str(tmp_path / "pit.json"), "--yes", *flags(FEW))
