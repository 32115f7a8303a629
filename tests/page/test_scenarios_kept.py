"""What was done on the page is kept as a scenario that gives the same run, step by step."""

import shlex
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from leafwinch_host.cli import build_parser
from leafwinch_host.commands.bench import opened
from leafwinch_host.page.bench_session import BenchSession
from leafwinch_host.page.happened import ACTS_MAX
from leafwinch_host.page.keeping import Kept, kept_scenario, names_of
from leafwinch_host.page.play import Opening
from leafwinch_host.page.trace_rows import recording_of
from leafwinch_sim.run import run_script
from leafwinch_sim.scenario import load_scenario, parse_scenario
from leafwinch_sim.scenario_play import play_scenario
from leafwinch_sim.scripts import load_script, parse_script
from leafwinch_sim.settings_file import site_with_settings
from leafwinch_sim.site import load_site
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import load_netlist
from tests.page.desk import Desk
from tests.page.test_session_time import SCENARIO


def same_run_again(bench: BenchSession, judged: bool = True) -> None:
    """See that the kept scenario, read back, gives every step of the bench anew.

    `judged`: and the same verdicts; a script's own end is judged as well, a scenario's is not.
    """
    kept = kept_scenario(bench.play)
    again = parse_scenario(kept.text.encode(), kept.name)
    result = play_scenario(again)
    mine = recording_of(bench.play)
    assert mine.columns() == result.trace
    assert mine.origin["hash"] == result.hash
    assert not judged or result.broken == bench.play.verdicts


def played(bench: BenchSession) -> None:
    while not bench.paused:
        bench.step(0.0)


DOINGS = st.sampled_from(
    [
        {"do": "hold", "way": "raise"},
        {"do": "hold", "way": "lower"},
        {"do": "release"},
        {"do": "press", "what": "stop"},
        {"do": "let_go", "what": "stop"},
        {"do": "press", "what": "reset"},
        {"do": "let_go", "what": "reset"},
        {"do": "press", "what": "power"},
        {"do": "let_go", "what": "power"},
        {"do": "press", "what": "link"},
        {"do": "press", "what": "top_end"},
        {"do": "let_go", "what": "top_end"},
        {"do": "defect", "id": "W6.2:open"},
        {"do": "defect", "id": "QA1.pole1:welded"},
        {"do": "defect", "id": "obstacle_above", "when": "raise"},
        {"do": "defect", "id": "supply_low"},
        {"do": "mend", "id": "all"},
        {"do": "back", "s": 0.5},
        {"do": "go"},
    ]
)


@settings(max_examples=15, deadline=None)
@given(st.lists(st.tuples(DOINGS, st.integers(1, 200)), min_size=3, max_size=10))
def test_whatever_hands_did_is_played_again(doings: list[tuple[dict[str, Any], int]]) -> None:
    desk = Desk()
    desk.run(1500)
    for doing, steps in doings:
        way = str(doing["way"]) if doing["do"] == "hold" else ""
        if not way:
            desk.send(**doing)
        desk.run(steps * 5, way)
    same_run_again(desk.bench)


def test_a_scenario_that_a_hand_takes_over_is_kept_with_its_own_begin() -> None:
    desk = Desk()
    desk.send(do="scenario", text=SCENARIO)
    desk.run(4500)
    assert desk.bench.play.both
    desk.send(do="mend", id="all")
    desk.run(50)
    desk.run(600, "lower")
    assert not desk.bench.play.playing
    desk.run(1000)
    same_run_again(desk.bench)


FROM_THE_TOP = b"""
starts_at = "top"
[[step]]
do = "wait"
until = "idle"
[[step]]
do = "lower"
for = "5 s"
[[step]]
do = "halfway lower"
for = "1 s"
[[step]]
do = "press stop"
for = "1 s"
"""


@pytest.mark.parametrize("script", ["every-function", "full-cycle"])
def test_a_whole_script_is_kept_as_acts(script: str) -> None:
    site = load_site("workshop-pit")
    bench = BenchSession(site, load_netlist(site.wiring), 1, Opening(script=load_script(script)))
    played(bench)
    same_run_again(bench, judged=False)


def test_touches_that_change_nothing_count() -> None:
    desk = Desk().ready()
    desk.send(do="pause")
    desk.send(do="press", what="stop")
    desk.send(do="let_go", what="stop")
    desk.send(do="go")
    desk.run(500)
    assert [act.words for act in desk.bench.play.happened.acts] == ["wait"]
    same_run_again(desk.bench)


def test_a_script_from_the_top_is_kept_as_acts() -> None:
    script = parse_script(FROM_THE_TOP, "here")
    desk = Desk("boat-slip", "", Opening(script=script))
    desk.run(12_000)
    assert 'starts_at = "top"' in kept_scenario(desk.bench.play).text
    same_run_again(desk.bench)


def test_going_back_forgets_what_came_after() -> None:
    desk = Desk().ready()
    desk.run(1000, "raise")
    desk.run(2000)
    desk.send(do="back", s=2.5)
    assert [act.words for act in desk.bench.play.happened.acts] == ["raise"]
    desk.send(do="go")
    desk.run(1000)
    same_run_again(desk.bench)


def test_more_than_is_kept_is_told() -> None:
    desk = Desk().ready()
    for _ in range(ACTS_MAX // 2 + 1):
        desk.send(do="press", what="link")
        desk.run(5)
        desk.send(do="let_go", what="link")
        desk.run(5)
    with pytest.raises(BadInput, match=f"More than {ACTS_MAX} things happened"):
        desk.send(do="keep")


def test_the_longest_text_that_is_kept_can_be_sent_back() -> None:
    desk = Desk().ready()
    while len(desk.bench.play.happened.acts) < ACTS_MAX:
        desk.send(do="press", what="bottom_final")
        desk.run(5)
        desk.send(do="let_go", what="bottom_final")
        desk.run(5)
    kept = desk.send(do="keep")
    assert isinstance(kept, Kept)
    desk.send(do="scenario", text=kept.text)


def test_a_site_with_settings_of_a_file_is_named_with_it(tmp_path: Path) -> None:
    path = tmp_path / "sized settings.toml"
    own = load_site("workshop-pit").settings
    rows = "".join(f"{name} = {value}\n" for name, value in own.items())
    path.write_text(f'site = "workshop-pit"\n[settings]\n{rows}')
    site = site_with_settings(load_site("workshop-pit"), path)
    assert names_of(site) == {"site": "workshop-pit", "settings": str(path)}
    bench = BenchSession(site, load_netlist(site.wiring))
    for _ in range(300):
        bench.step(0.0)
    kept = kept_scenario(bench.play)
    file = tmp_path / kept.name
    file.write_text(kept.text)
    assert load_scenario(file).settings == str(path)
    same_run_again(bench)


# --- what a proof found, on the page -------------------------------------------------------

LINE = (
    "leafwinch run --site workshop-pit --wiring reference --script full-cycle "
    "--defect QA1.pole1:welded --at 5 --seed 3"
)


def test_the_line_of_a_proof_gives_its_run_on_the_page() -> None:
    desk = Desk()
    desk.send(do="scenario", text=f"  {LINE}\n")
    played(desk.bench)
    wanted = run_script(
        load_site("workshop-pit"),
        load_script("full-cycle"),
        defects=[("QA1.pole1:welded", 5000)],
        seed=3,
    )
    assert recording_of(desk.bench.play).columns() == wanted.trace
    assert {name: b.t_ms for name, b in desk.bench.play.verdicts.items()} == {
        name: b.t_ms for name, b in wanted.broken.items()
    }


@pytest.mark.parametrize(
    ("line", "words"),
    [
        (LINE.replace("workshop-pit", "boat-slip"), "is for site 'boat-slip'; here is"),
        (LINE.replace("reference", "bare"), "is for wiring 'bare'"),
        (f"{LINE} --settings sized.toml", "is for settings 'sized.toml'"),
        (LINE.replace("full-cycle", "/etc/passwd"), "'/etc/passwd' is not a shipped one"),
        (LINE.replace("pole1", "pole9"), "There is no defect 'QA1.pole9:welded'"),
        (f"{LINE} --at 6", "one --at for each"),
        (f"{LINE} --help", "asks for help"),
        (f"{LINE} 'x", "not a command"),
        (f"{LINE} --boo", "--boo"),
    ],
)
def test_lines_that_do_not_fit_change_nothing(line: str, words: str) -> None:
    desk = Desk()
    desk.run(100)
    with pytest.raises(BadInput, match=words):
        desk.send(do="scenario", text=line)
    assert desk.bench.opening == Opening()
    assert desk.t_ms == 100


def asked(*words: str) -> BenchSession:
    """Return the bench that the command line would serve."""
    site, net, seed, opening = opened(build_parser().parse_args(["bench", *words]))
    return BenchSession(site, net, seed, opening)


def test_the_command_watches_a_scenario_and_a_line(tmp_path: Path) -> None:
    file = tmp_path / "odd.toml"
    file.write_text(SCENARIO)
    bench = asked("--scenario", str(file))
    played(bench)
    assert recording_of(bench.play).columns() == play_scenario(load_scenario(file)).trace
    bench = asked("--scenario", LINE)
    assert bench.play.seed == 3
    assert [row[1] for row in bench.pending] == ["at:5"]


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        ("", "one of the arguments --site --scenario is required"),
        ("--site workshop-pit --scenario x.toml", "not allowed with"),
        ("--scenario x.toml --wiring bare", "--wiring and --scenario exclude each other"),
        ("--scenario x.toml", "x.toml: no such file"),
        (f"--scenario {shlex.quote(LINE.replace('pole1', 'pole9'))}", "no defect"),
    ],
)
def test_a_command_that_does_not_fit_is_told_in_one_sentence(words: str, sentence: str) -> None:
    with pytest.raises(BadInput, match=sentence):
        asked(*shlex.split(words))
