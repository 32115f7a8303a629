"""Operator scripts: what a file may say, and one clear sentence for what it may not."""

from importlib import resources
from pathlib import Path

import pytest

from leafwinch.fault_texts import FAULTS
from leafwinch_sim.run import INTERPRETERS, run_script
from leafwinch_sim.scripts import (
    CONDITIONS,
    LIMIT_OBJECTS,
    VERBS,
    load_script,
    parse_script,
    shipped_scripts,
)
from leafwinch_sim.site import load_site, parse_site
from leafwinch_wiring.errors import BadInput
from tests.sim.sites import ALTERNATING

STEP = '[[step]]\ndo = "raise"\nfor = "1 s"\n'


@pytest.mark.parametrize("name", shipped_scripts())
def test_shipped_scripts_load_and_name_known_things(name: str) -> None:
    script = load_script(name)
    assert script.name == name
    assert script.summary
    for step in script.steps:
        assert step.verb in VERBS
        assert step.until in ("", *CONDITIONS)


def test_every_function_uses_every_function() -> None:
    steps = load_script("every-function").steps
    used = {(step.verb, step.object) for step in steps}
    wanted = {
        (verb, word)
        for verb, words in VERBS.items()
        for word in (words or ("",))
        if verb not in ("push", "free") or word.endswith("final")
    } - {("halfway", "lower")}
    assert wanted <= used
    named = {step.expect for step in steps} & {row[0] for row in FAULTS}
    assert named == {
        "stop_actuated",
        "top_final_actuated",
        "bottom_final_actuated",
        "recovery_key_turned",
    }


def test_times_in_other_units_and_defaults() -> None:
    script = parse_script(
        b'name = "x"\nstarts_at = "top"\n[[step]]\ndo = "lower"\nfor = "0.5 min"\n'
        b'[[step]]\ndo = "wait"\nuntil = "bottom_end"\n',
        "x.toml",
    )
    assert script.starts_at == "top"
    assert [step.for_ms for step in script.steps] == [30_000, 120_000]


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("", "empty"),
        ("name = ", "not valid TOML"),
        ('name = "x"', "'step' is missing"),
        ("step = 3", "'step' is missing"),
        ("step = []", "'step' is missing"),
        ("step = [3]", "step 1"),
        ("colour = 3\n" + STEP, "'colour'"),
        ('starts_at = "middle"\n' + STEP, "'middle'"),
        ('[[step]]\nfor = "1 s"', "'do' is missing"),
        ('[[step]]\ndo = "raise lower"\nfor = "1 s"', "both ways"),
        ('[[step]]\ndo = "lower and raise"', "both ways"),
        ('[[step]]\ndo = "jump"\nfor = "1 s"', "'jump'"),
        ('[[step]]\ndo = "press"\nfor = "1 s"', "stop, reset"),
        ('[[step]]\ndo = "press bell"', "stop, reset"),
        ('[[step]]\ndo = "raise slowly"', "'raise' alone"),
        (STEP + 'until = "idle"', "exclude each other"),
        ('[[step]]\ndo = "wait"\nuntil = "tea"', "'tea'"),
        ('[[step]]\ndo = "wait"\nuntil = "idle"\nat_most = "3 m"', "'at_most'"),
        ('[[step]]\ndo = "wait"\nfor = 3', "'for'"),
        ('[[step]]\ndo = "wait"\nfor = "-1 s"', "3600 s"),
        ('[[step]]\ndo = "wait"\nfor = "2 h"', "3600 s"),
        (STEP + 'expect = "tea"', "'tea'"),
        (STEP + 'speed = "slow"', "'speed'"),
    ],
)
def test_bad_scripts_get_one_sentence(text: str, found: str) -> None:
    with pytest.raises(BadInput) as caught:
        parse_script(text.encode(), "my.toml")
    sentence = str(caught.value)
    assert sentence.startswith("my.toml: ")
    assert sentence.endswith(".")
    assert "\n" not in sentence.strip()
    assert found in sentence


def test_bad_files_get_one_sentence(tmp_path: Path) -> None:
    rubbish = tmp_path / "rubbish.toml"
    rubbish.write_bytes(bytes(range(256)))
    with pytest.raises(BadInput, match="not text"):
        load_script(rubbish)
    with pytest.raises(BadInput, match="no such file"):
        load_script(tmp_path / "absent.toml")
    with pytest.raises(BadInput, match="not a file"):
        load_script(tmp_path)
    good = tmp_path / "good.toml"
    good.write_text(STEP)
    assert load_script(good).name == "good"


def test_limits_pushed_by_hand_are_the_sites_limits() -> None:
    assert set(LIMIT_OBJECTS) == set(load_site(ALTERNATING).limits.model_fields_set)


# --- runs that cannot begin ---------------------------------------------------------------


def test_bad_runs_get_one_sentence() -> None:
    site = load_site(ALTERNATING)
    script = parse_script(STEP.encode(), "x")
    with pytest.raises(BadInput, match=r"no defect 'rope_partd'.*rope_parted"):
        run_script(site, script, defects=[("rope_partd", 0)])
    with pytest.raises(BadInput, match=r"comes at 9 s, but the script is over"):
        run_script(site, script, defects=[("rope_parted", 9000)])
    with pytest.raises(BadInput, match=" and ".join(INTERPRETERS)):
        run_script(site, script, interpreter="abacus")
    with pytest.raises(BadInput, match="no-such-netlist"):
        run_script(site, script, "no-such-netlist")


def test_settings_are_checked_when_a_site_is_read() -> None:
    text = (resources.files("leafwinch_sim") / "sites" / f"{ALTERNATING}.toml").read_text()
    for new, found in (
        ("trip_ma = 1", r"my\.toml: settings\.trip_ma is 1, allowed are 100 to 500000 mA\."),
        (
            "trip_ma = 2000",
            r"run_max_ma is 2500, which must be lower than settings\.trip_ma, which is 2000\.",
        ),
        ("trip_mas = 4000", r"settings\.trip_mas is unknown\."),
    ):
        with pytest.raises(BadInput, match=found):
            parse_site(text.replace("\ntrip_ma = 4000", f"\n{new}").encode(), "my.toml")
