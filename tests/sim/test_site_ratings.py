"""What a site tells for its sizing: units, masses from what was built, clear refusals."""

import re
from importlib import resources

import pytest

from leafwinch_sim.site import load_site, parse_site, shipped_sites
from leafwinch_wiring.errors import BadInput

SITES = resources.files("leafwinch_sim") / "sites"
PIT = (SITES / "workshop-pit.toml").read_text("utf-8")

# A value of another dimension for each one in use.
WRONG_DIMENSION = {"m": "1 kg", "mm": "1 kg", "kg": "1 m", "deg": "1 m", "N": "1 kg"}
QUANTITY = re.compile(r'^(\w+) = "([-\d.]+ [^"]+)"', re.MULTILINE)


def refused(text: str) -> str:
    with pytest.raises(BadInput) as caught:
        parse_site(text.encode(), "site.toml")
    message = str(caught.value)
    assert message.startswith("site.toml: ")
    assert message.endswith(".")
    assert "\n" not in message
    return message


@pytest.mark.parametrize("name", shipped_sites())
def test_every_quantity_of_a_site_is_checked_for_its_dimension(name: str) -> None:
    text = (SITES / f"{name}.toml").read_text("utf-8")
    found = [match for match in QUANTITY.finditer(text) if match.group(1) != "summary"]
    assert len(found) > 50
    for match in found:
        unit = match.group(2).split()[1]
        wrong = WRONG_DIMENSION.get(unit, "1 m")
        spoiled = text[: match.start(2)] + wrong + text[match.end(2) :]
        message = refused(spoiled)
        assert match.group(1) in message
        assert "wrong unit" in message


def leaf(built: str, mass: str = "") -> str:
    """The pit with leaf A described by what it is built of."""
    start = PIT.index("[deck.leaf_a]")
    end = PIT.index("[deck.leaf_b]")
    table = f'[deck.leaf_a]\nlength = "1.25 m"\n{mass}centre = "0.625 m"\n[deck.leaf_a.built]\n'
    return f"{PIT[:start]}{table}{built}\n{PIT[end:]}"


def test_a_mass_follows_from_what_was_built() -> None:
    """3.303 kg/m of 40x40x3 tube (EN 10219-2), larch of 530 kg/m3."""
    site = parse_site(
        leaf(
            'frame = [{ tube = "40x40x3 mm", length = "8 m" }]\n'
            'boards = [{ species = "larch", thickness = "27 mm", area = "1.25 m**2" }]\n'
            'fittings = "3 kg"'
        ).encode(),
        "site.toml",
    )
    assert site.deck.leaf_a.mass == pytest.approx(3.303 * 8 + 530 * 0.027 * 1.25 + 3, abs=0.02)


def test_a_stated_mass_comes_before_the_built_one() -> None:
    text = leaf('fittings = "3 kg"', 'mass = "40 kg"\n')
    assert parse_site(text.encode(), "site.toml").deck.leaf_a.mass == 40.0


@pytest.mark.parametrize(
    ("built", "named"),
    [
        ('frame = [{ tube = "40x40 mm", length = "8 m" }]', "40x40 mm"),
        ('frame = [{ tube = "40x40x3 mm", length = "8 kg" }]', "length"),
        ('boards = [{ species = "balsa", thickness = "27 mm", area = "1 m**2" }]', "balsa"),
        ('boards = [{ thickness = "27 mm", area = "1 m**2" }]', "species or a density"),
        ('boards = [{ density = "5 kg", thickness = "27 mm", area = "1 m**2" }]', "density"),
        ('colour = "red"', "colour"),
    ],
)
def test_what_is_wrong_with_a_built_leaf_is_named(built: str, named: str) -> None:
    assert named in refused(leaf(built))


@pytest.mark.parametrize(
    ("old", "new", "named"),
    [
        ('construction = "7x19"', 'construction = "plaited"', ("construction", "plaited")),
        ('method = "B2"', 'method = "Z9"', ("method", "Z9")),
        ('breaker = "B10"', 'breaker = "Q10"', ("Q10",)),
        ('group = "M2"', 'group = "M77"', ("nameplate.group",)),
        ('duty = "25 %"', 'duty = "250 %"', ("nameplate.duty",)),
        ("end_strength = 0.8", "end_strength = 8", ("end_strength",)),
        ("starts_per_hour = 60", 'starts_per_hour = "many"', ("starts_per_hour",)),
    ],
)
def test_what_is_wrong_with_a_rating_is_named(old: str, new: str, named: tuple[str, ...]) -> None:
    assert old in PIT
    message = refused(PIT.replace(old, new))
    for words in named:
        assert words in message


def test_a_temperature_has_an_offset() -> None:
    text = PIT.replace('breaker = "B10"', 'breaker = "B10"\nambient = "313.15 K"')
    site = parse_site(text.encode(), "site.toml")
    assert site.supply.cable is not None
    assert site.supply.cable.ambient == pytest.approx(40.0)


def test_a_site_keeps_the_options_that_named_it(tmp_path: object) -> None:
    site = load_site("workshop-pit")
    assert site.options == "--site workshop-pit"
    named = site.with_settings(dict(site.settings), "--settings x.toml")
    assert named.options == "--site workshop-pit --settings x.toml"
    assert named.model_dump() == site.model_dump()
