"""Sites: the shipped ones load, and everything wrong gets one clear sentence."""

from importlib import resources
from pathlib import Path

import pytest

from leafwinch.settings_schema import settings_from
from leafwinch_sim.plant import Plant
from leafwinch_sim.site import Site, load_site, parse_site, shipped_sites
from leafwinch_sim.units import parse_quantity
from leafwinch_wiring.errors import BadInput

PIT = (resources.files("leafwinch_sim") / "sites" / "workshop-pit.toml").read_text("utf-8")


def test_both_demo_sites_are_shipped() -> None:
    assert shipped_sites() == ("boat-slip", "workshop-pit")


@pytest.mark.parametrize("name", shipped_sites())
def test_shipped_site_is_whole(name: str) -> None:
    site = load_site(name)
    assert site.name == name
    assert Plant(site).angle_rad == 0.0
    # The schema of the settings belongs to the control core, which refuses what it must.
    assert settings_from(site.settings).slack_fitted == int(site.limits.slack_rope is not None)


def test_a_file_reads_as_the_shipped_one(tmp_path: Path) -> None:
    path = tmp_path / "site.toml"
    path.write_text(PIT, "utf-8")
    assert load_site(path).model_dump() == load_site("workshop-pit").model_dump()
    assert load_site(str(path)).deck.leaf_a.length == 1.25


def sentence(text: str) -> str:
    with pytest.raises(BadInput) as caught:
        parse_site(text.encode(), "site.toml")
    message = str(caught.value)
    assert message.startswith("site.toml: ")
    assert message.endswith(".")
    assert "\n" not in message
    return message


# What is replaced, by what, and what the sentence must name.
WRONG = (
    ('mass = "55 kg"', 'mass = "55 m"', ("deck.leaf_a.mass", "55 m", "wrong unit", "55 kg")),
    ('mass = "55 kg"', 'mass = "55 stone pigs"', ("deck.leaf_a.mass", "not known", "55 kg")),
    ('mass = "55 kg"', "mass = 55", ("deck.leaf_a.mass", "found 55", "a number with a unit")),
    ('mass = "55 kg"', 'mass = "-55 kg"', ("deck.leaf_a.mass", "greater than")),
    ('mass = "55 kg"', 'mass = "1e999 kg"', ("deck.leaf_a.mass", "not a finite number")),
    ('mass = "55 kg"', 'mass = "kg"', ("deck.leaf_a.mass", "'kg'", "55 kg")),
    ('mass = "55 kg"', 'weight = "55 kg"', ("deck.leaf_a.weight", "not known")),
    ('end_mass = "4 kg"', "", ("deck.end_mass", "missing")),
    ('width = "1.0 m"', 'width = "1.0 m"\ncolour = 3', ("deck.colour", "not known")),
    ('centre = "0.625 m"', 'centre = "1.3 m"', ("deck.leaf_a.centre", "1.3 m", "1.25 m")),
    ('kicker_depth = "210 mm"', 'kicker_depth = "1.5 m"', ("deck.kicker_depth", "1.25 m")),
    ('wall = "88 deg"', 'wall = "80 deg"', ("buffer.place", "84", "80")),
    ('turns_at_flat = "4 turn"', 'turns_at_flat = "1 turn"', ("turns_at_flat", "2 turns")),
    ('frequency = "50 Hz"', 'frequency = "0 Hz"', ("supply.frequency", "45 to 65 Hz")),
    ('kind = "capacitor-run"', 'kind = "steam"', ("motor.kind", "capacitor-run", "permanent")),
    ("poles = 4", "poles = 5", ("motor.poles", "5", "2, 4, 6 or 8")),
    ('part = "BG1"', 'part = "BG2"', ("limits.top_end.part", "BG2", "BG1")),
    ('at = "79 deg"', 'at = "79 mm"', ("limits.top_end", "'at'", "79 mm", "80 deg")),
    ('at = "82 deg"', 'at = "78 deg"', ("limits.top_final.at", "78", "79")),
    ('senses = "drum_turns"', 'senses = "leaf_angle"', ("limits.bottom_final", "degrees")),
    ('operates = "above"', 'operates = "sideways"', ("limits.top_end.operates", "sideways")),
    ('name = "workshop-pit"', 'name = "Workshop Pit"', ("name", "Workshop Pit", "small letters")),
    ("rest_ma = 300", 'rest_ma = "300"', ("settings.rest_ma", "integer")),
    ("rest_ma = 300", "rest_ma = 300.5", ("settings.rest_ma", "integer")),
    ('board = "pico"', "board = 7", ("board", "7", "pico")),
    ("[deck]", "[deck", ("not valid TOML", "line")),
)


@pytest.mark.parametrize(("before", "after", "named"), WRONG, ids=lambda value: str(value)[:30])
def test_wrong_key_unit_or_number(before: str, after: str, named: tuple[str, ...]) -> None:
    assert before in PIT
    message = sentence(PIT.replace(before, after, 1))
    for word in named:
        assert word in message, message


def test_leaf_angle_cannot_show_rope_paid_out() -> None:
    text = PIT.replace('senses = "drum_turns"', 'senses = "leaf_angle"')
    text = text.replace('at = "3.6 turn"', 'at = "1 deg"')
    text = text.replace('differential = "0.2 turn"', 'differential = "1 deg"')
    assert "a flat deck cannot show rope" in sentence(text)


def test_leaves_that_cannot_fold_to_the_wall() -> None:
    text = PIT.replace('length = "1.25 m"', 'length = "1.0 m"').replace("0.625 m", "0.5 m")
    text = text.replace('length = "1.0 m"', 'length = "1.25 m"', 1)
    assert "buffer.wall is 88 degrees, but these leaves fold to less than 53.1" in sentence(text)


@pytest.mark.parametrize(
    ("data", "named"),
    [
        (b"", "empty"),
        (b"  \n\n", "empty"),
        (b"\xff\xfe\x00\x01\x80", "not text"),
        (b"\x00\x01\x02", "not valid TOML"),
        (b"= = =", "not valid TOML"),
        (b"x = 1", "missing"),
        (b"x = " + b"[" * 5000, "not valid TOML"),
    ],
)
def test_rubbish(data: bytes, named: str) -> None:
    with pytest.raises(BadInput, match=named) as caught:
        parse_site(data, "site.toml")
    assert len(str(caught.value)) < 300


def test_absent_folder_and_huge_file(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match=r"nowhere: no such file.*workshop-pit"):
        load_site("nowhere")
    with pytest.raises(BadInput, match="not a file"):
        load_site(tmp_path)
    huge = tmp_path / "huge.toml"
    huge.write_bytes(b"#" * 1_000_001)
    with pytest.raises(BadInput, match="larger than 1 MB"):
        load_site(huge)


@pytest.mark.parametrize(
    ("text", "unit", "number"),
    [
        ("1.25 m", "m", 1.25),
        ("210mm", "m", 0.21),
        ("60 N/mm", "N/m", 60_000.0),
        ("16 uF", "F", 16e-6),
        ("3.6 turn", "turn", 3.6),
        ("180 deg", "turn", 0.5),
        ("2e3 N", "N", 2000.0),
    ],
)
def test_quantities_convert(text: str, unit: str, number: float) -> None:
    assert parse_quantity(text, unit) == pytest.approx(number)


def test_limit_keeps_its_state_between_operating_and_reset_point() -> None:
    limit = load_site("workshop-pit").limits.top_end
    assert not limit.is_actuated(78.9, False)
    assert limit.is_actuated(79.0, False)
    assert limit.is_actuated(78.1, True)
    assert not limit.is_actuated(78.0, True)
    below = load_site("workshop-pit").limits.bottom_end
    assert below.is_actuated(0.25, False)
    assert below.is_actuated(1.2, True)
    assert not below.is_actuated(1.25, True)


def test_a_site_cannot_be_changed() -> None:
    site: Site = load_site("workshop-pit")
    field = "name"
    with pytest.raises(ValueError, match="frozen"):
        setattr(site, field, "other")
