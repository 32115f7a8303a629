"""`leafwinch trace`: what it shows, judges, compares and writes, held to other readers."""

import argparse
import functools
import json
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import duckdb
import numpy as np
import pytest
from PIL import Image

from leafwinch.requirement_limits import R1_OFF_MS
from leafwinch.settings_schema import settings_from
from leafwinch.signals import CONTACT_NAMES, LOWER_RELEASED, OUTPUT_NAMES, RAISE_OFF, STOP_OK
from leafwinch.states import FAULT, LOWERING, RAISING
from leafwinch_host import benchmark_recording
from leafwinch_host.cli import OneSentenceParser, one_line
from leafwinch_host.commands import trace
from leafwinch_host.recording import predict
from leafwinch_host.recording.cycles import travels_of
from leafwinch_host.recording.exports import table_of
from leafwinch_host.recording.judging import JUDGED, NOT_JUDGED, RELEASED, Judgement, judge
from leafwinch_host.recording.predict import compare, likeness
from leafwinch_host.recording.recorded import Recorded, read_recording
from leafwinch_sim.requirements import NAMES
from leafwinch_sim.site import load_site
from leafwinch_sim.site_schema import Site
from leafwinch_sim.spread import Spread, draw
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import Netlist, load_netlist
from tests.host.trace_lines import changed_line, lines_of_run, trace_line, written
from tests.vcd_reader import VCDVCD

SITE = "workshop-pit"
Lines = list[tuple[int, bytes]]
Says = Callable[..., tuple[int, str]]


@functools.cache
def lines_of(site: str, script: str) -> Lines:
    return lines_of_run(site, script)


@pytest.fixture(scope="module")
def cycle() -> Lines:
    return lines_of(SITE, "full-cycle")


@pytest.fixture(scope="module")
def day() -> Lines:
    return lines_of(SITE, "every-function")


@pytest.fixture
def target(tmp_path: Path) -> Path:
    return tmp_path / "x.log"


@pytest.fixture
def says(capsys: pytest.CaptureFixture[str]) -> Says:
    """Run the command by itself; its exit code and what it said, in one line."""

    def run(*arguments: object) -> tuple[int, str]:
        parser = OneSentenceParser(prog="leafwinch")
        trace.add_to(parser.add_subparsers(parser_class=OneSentenceParser))
        capsys.readouterr()
        chosen: argparse.Namespace = parser.parse_args(["trace", *map(str, arguments)])
        code: int = chosen.handler(chosen)
        return code, one_line(capsys.readouterr().out)

    return run


def judged(path: Path, lines: Lines, site: str = SITE) -> tuple[Recorded, Judgement]:
    recorded = read_recording(written(path, lines))
    installed = load_site(site)
    return recorded, judge(recorded, installed, load_netlist(installed.wiring))


def number_in(line: bytes, at: int, width: int) -> int:
    return int(line[at : at + width], 16)


def contacts_changed(line: bytes, change: Callable[[int], int]) -> bytes:
    return changed_line(line, 16, b"%05X" % change(number_in(line, 16, 5)))


def state_of(line: bytes) -> int:
    return number_in(line, 25, 1) if line[:1] == b"T" else -1


def first_of(lines: Lines, state: int) -> int:
    return next(place for place, (_, line) in enumerate(lines) if state_of(line) == state)


def test_every_requirement_is_either_judged_or_said_not_to_be() -> None:
    assert set(JUDGED) | set(NOT_JUDGED) == set(NAMES)
    assert not set(JUDGED) & set(NOT_JUDGED)


@pytest.mark.parametrize("site", ["workshop-pit", "boat-slip"])
@pytest.mark.parametrize("script", ["full-cycle", "every-function", "proof-walk", "off-top-final"])
def test_healthy_recordings_hold(site: str, script: str, target: Path) -> None:
    _, judgement = judged(target, lines_of(site, script), site)
    assert judgement.broken == []
    assert judgement.judged_s > 1


@pytest.mark.parametrize("seed", range(1, 7))
def test_healthy_recordings_of_other_sound_installations_hold(seed: int, target: Path) -> None:
    lines = lines_of_run(script="full-cycle", spread=draw(seed), seed=seed)
    _, judgement = judged(target, lines)
    assert judgement.broken == []


def test_lines_that_are_missing_break_nothing(day: Lines, target: Path) -> None:
    holed = [pair for place, pair in enumerate(day) if place % 97 and not 2000 < place < 2300]
    recorded, judgement = judged(target, holed)
    assert judgement.broken == []
    assert judgement.judged_s < recorded.seconds
    assert judgement.parts > 2


def test_a_motor_fed_after_the_release_breaks_r1_at_the_right_moment(
    cycle: Lines, target: Path, says: Says
) -> None:
    """R1: at most 200 ms from the release to the motor off (requirement_limits.py)."""
    begin = first_of(cycle, RAISING)
    released = begin + 1000  # 10 s into the travel, and then as if the hand had let go
    broken = [
        (t_ms, contacts_changed(line, lambda c: c | RAISE_OFF))
        if place >= released and state_of(line) == RAISING
        else (t_ms, line)
        for place, (t_ms, line) in enumerate(cycle)
    ]
    recorded, judgement = judged(target, broken)
    (verdict,) = judgement.broken
    assert verdict.name == "R1"
    expected_ms = cycle[released][0] - cycle[0][0] + R1_OFF_MS
    assert verdict.at_ms == pytest.approx(expected_ms, abs=15)
    assert recorded.at_ms[verdict.row] <= verdict.at_ms
    code, said = says(target, "check", "--site", SITE)
    assert code == 1
    assert f"R1 broke at {verdict.at_ms / 1000:.3f} s, 2025-05-01 08:00:" in said
    assert "not judged" in said


def test_a_healthy_recording_is_checked_with_exit_0(cycle: Lines, target: Path, says: Says) -> None:
    written(target, cycle)
    code, said = says(target, "check", "--site", SITE)
    assert code == 0
    assert "BROKEN" not in said
    assert said.count("not judged") == len(NOT_JUDGED)


def test_a_start_without_neutral_breaks_r4(cycle: Lines, target: Path) -> None:
    """As if a second of emergency stop were over and the deck went on, the control never let go."""
    start = first_of(cycle, RAISING)
    stopped = range(start + 200, start + 300)

    def pressed(line: bytes) -> bytes:
        at_rest = changed_line(line, 25, b"0")
        return contacts_changed(at_rest, lambda contacts: contacts & ~int(STOP_OK) | RELEASED)

    broken = [
        (t_ms, pressed(line) if place in stopped else line)
        for place, (t_ms, line) in enumerate(cycle[: start + 500])
    ]
    _, judgement = judged(target, broken)
    (verdict,) = judgement.broken
    assert verdict.name == "R4"
    assert "after a stop" in verdict.words
    # The monitors let 100 ms pass, since contactors on their way in may still close.
    went_on_ms = cycle[stopped.stop][0] - cycle[0][0]
    assert verdict.at_ms == pytest.approx(went_on_ms + 100, abs=15)


def test_both_directions_at_once_break_r3(cycle: Lines, target: Path) -> None:
    at = first_of(cycle, RAISING) + 300
    broken = list(cycle)
    t_ms, line = broken[at]
    broken[at] = (t_ms, contacts_changed(line, lambda c: c & ~int(LOWER_RELEASED)))
    _, judgement = judged(target, broken)
    assert ("R3", t_ms - cycle[0][0]) in [(v.name, v.at_ms) for v in judgement.broken]


def test_a_motor_fed_beyond_its_budget_breaks_r7(cycle: Lines, target: Path) -> None:
    """As if the top end had never come: one sample of the travel again and again."""
    settings = settings_from(load_site(SITE).settings)
    begin = first_of(cycle, RAISING)
    begun_ms, _ = cycle[begin]
    running = cycle[begin + 1000][1]
    allowed_ms = settings.budget_raise_ms + settings.start_allow_total_ms + 200
    lines = list(cycle[: begin + 1000])
    first = number_in(running, 2, 4)
    clock = number_in(running, 7, 8)
    for more in range(allowed_ms // 10 - 900):
        line = changed_line(running, 2, b"%04X" % (first + more & 0xFFFF))
        line = changed_line(line, 7, b"%08X" % (clock + 10 * more & 0x3FFFFFFF))
        lines.append((cycle[begin + 1000][0] + 10 * more, line))
    _, judgement = judged(target, lines)
    (verdict,) = judgement.broken
    assert verdict.name == "R7"
    fed_ms = next(t_ms for t_ms, line in cycle[begin:] if not number_in(line, 16, 5) & 0x400)
    assert fed_ms > begun_ms
    assert verdict.at_ms == pytest.approx(fed_ms - cycle[0][0] + allowed_ms, abs=30)


def test_a_fault_that_vanishes_by_itself_breaks_r5(day: Lines, target: Path) -> None:
    begin = first_of(day, FAULT)
    later = begin + 5
    broken = day[: later + 1]
    t_ms, line = broken[later]
    broken[later] = (t_ms, changed_line(changed_line(line, 25, b"0"), 27, b"00"))
    _, judgement = judged(target, broken)
    (verdict,) = judgement.broken
    assert verdict.name == "R5"
    assert verdict.at_ms == t_ms - day[0][0]
    assert "without a deliberate reset" in verdict.words


def test_a_current_that_is_not_cut_off_breaks_r8(cycle: Lines, target: Path) -> None:
    """Trip level and time are the site's; 2 % and a mains cycle belong to the sensor."""
    site = load_site(SITE)
    begin = first_of(cycle, RAISING) + 500
    high = f"+{site.settings['trip_ma'] * 2:06d}".encode("ascii")
    broken = [
        (t_ms, changed_line(line, 39, high)) if begin <= place < begin + 200 else (t_ms, line)
        for place, (t_ms, line) in enumerate(cycle)
    ]
    _, judgement = judged(target, broken)
    (verdict,) = judgement.broken
    allowed_ms = site.settings.get("trip_ms", 60) + 20 + 200
    assert verdict.name == "R8"
    assert verdict.at_ms == pytest.approx(cycle[begin][0] - cycle[0][0] + allowed_ms, abs=15)


def test_a_recording_that_never_rests_is_judged_nowhere(cycle: Lines, target: Path) -> None:
    begin = first_of(cycle, RAISING) + 100
    _, judgement = judged(target, cycle[begin : begin + 500])
    assert (judgement.parts, judgement.judged_s) == (0, 0)


def test_show_tells_what_happened(day: Lines, target: Path, says: Says) -> None:
    written(target, day)
    code, said = says(target, "show")
    assert code == 0
    for words in ("raising begins", "the top end was reached", "the board was restarted", "fault"):
        assert words in said


def test_summary_counts(day: Lines, target: Path, says: Says) -> None:
    recorded = read_recording(written(target, day))
    code, said = says(target, "summary", "--json")
    assert code == 0
    data = json.loads(said)
    assert data["samples"] == len(recorded)
    assert data["restarts"] == 2
    assert len(data["travels"]) == len(travels_of(recorded))
    assert {row["way"] for row in data["travels"]} == {"raising", "lowering"}
    code, said = says(target, "summary")
    assert code == 0
    assert f"{len(recorded)} samples" in said
    written(target, [(n * 50, trace_line(n, n * 50)) for n in range(20)])
    assert "No travel was recorded." in says(target, "summary")[1]


@pytest.mark.parametrize("ending", ["svg", "png"])
def test_plot_draws_the_same_file_twice(ending: str, day: Lines, target: Path, says: Says) -> None:
    written(target, [pair for place, pair in enumerate(day) if not 2000 < place < 2600])
    names = [target.with_name(f"{turn}.{ending}") for turn in range(2)]
    for name in names:
        assert says(target, "plot", "-o", name, "--site", SITE)[0] == 0
    assert names[0].read_bytes() == names[1].read_bytes()
    if ending == "svg":
        text = names[0].read_text(encoding="utf-8")
        assert "raise path" in text
        assert "trip " in text
    else:
        with Image.open(names[0]) as picture:
            assert picture.width > 1000


def vcd_values(vcd: Any, name: str, width: int, at_ms: Any) -> list[Any]:
    """Values of one signal at given times, as an independent reader finds them."""
    found = next(key for key in vcd.signals if key.split("[")[0] == f"leafwinch.{name}")
    changes = vcd[found].tv
    times = np.asarray([t for t, _ in changes])
    values = [value for _, value in changes]
    chosen = [values[place] for place in np.searchsorted(times, at_ms, side="right") - 1]
    return [float(v) for v in chosen] if not width else [int(v, 2) for v in chosen]


def test_a_vcd_read_by_another_reader_equals_the_columns(
    day: Lines, target: Path, says: Says
) -> None:
    recorded = read_recording(written(target, day))
    name = target.with_suffix(".vcd")
    assert says(target, "export", "--vcd", name)[0] == 0
    vcd = VCDVCD(str(name))
    at_ms = recorded.at_ms
    unit_s = float(vcd.timescale["magnitude"] * vcd.timescale["factor"])
    assert unit_s == pytest.approx(1e-3)
    for scope, column, names in (
        ("inputs", "contacts", CONTACT_NAMES),
        ("outputs", "outputs", OUTPUT_NAMES),
    ):
        for bit, signal in enumerate(names):
            expected = (recorded[column] >> bit & 1).tolist()
            assert vcd_values(vcd, f"{scope}.{signal}", 1, at_ms) == expected, signal
    for signal in ("state", "fault", "held", "ended"):
        assert vcd_values(vcd, f"drive.{signal}", 8, at_ms) == recorded[signal].tolist()
    for signal, column in (("current_a", "current_ma"), ("supply_v", "supply_mv")):
        values = vcd_values(vcd, f"analog.{signal}", 0, at_ms)
        assert values == pytest.approx((recorded[column] / 1000).tolist())
    # Over the seconds without power nothing is known.
    silent = next(gap for gap in recorded.gaps if gap.seconds > 1.0)
    between = int(at_ms[silent.row]) - 500
    key = next(key for key in vcd.signals if key.startswith("leafwinch.drive.state"))
    assert "x" in str(vcd[key][between])


def test_parquet_read_by_another_reader_equals_the_columns(
    day: Lines, target: Path, says: Says
) -> None:
    recorded = read_recording(written(target, day))
    name = target.with_suffix(".parquet")
    assert says(target, "export", "--parquet", name)[0] == 0
    with duckdb.connect() as base:
        read = base.execute("select * from read_parquet(?)", [str(name)]).fetchnumpy()
        (longest,) = base.execute(
            'select count(*) from read_parquet(?) where "contacts.stop_ok" = 0', [str(name)]
        ).fetchone() or (None,)
    table = table_of(recorded)
    assert list(read) == list(table)
    for column, values in table.items():
        got = np.asarray(read[column])
        if column == "utc_ms":
            got = got.astype("datetime64[ms]").astype(np.int64)
        assert (got == values).all(), column
    assert longest == int((table["contacts.stop_ok"] == 0).sum())


def test_csv_has_a_head_line_and_every_sample(cycle: Lines, target: Path, says: Says) -> None:
    recorded = read_recording(written(target, cycle))
    name = target.with_suffix(".csv")
    assert says(target, "export", "--csv", name)[0] == 0
    read: Any = np.genfromtxt(name, delimiter=",", names=True, dtype=np.int64, deletechars="")
    table = table_of(recorded)
    assert list(read.dtype.names or ()) == list(table)
    assert all((read[column] == values).all() for column, values in table.items())


def test_without_the_library_parquet_is_refused(
    cycle: Lines, target: Path, says: Says, monkeypatch: pytest.MonkeyPatch
) -> None:
    written(target, cycle[:50])
    monkeypatch.setitem(__import__("sys").modules, "pyarrow", None)
    with pytest.raises(BadInput, match="needs the Python package pyarrow"):
        says(target, "export", "--parquet", target.with_suffix(".parquet"))


def test_a_recording_as_the_bench_says_is_told_so(cycle: Lines, target: Path, says: Says) -> None:
    written(target, cycle)
    code, said = says(target, "compare", "--site", SITE)
    assert code == 0
    assert "raising is as the bench says, within 3 %." in said
    assert "lowering is as the bench says, within 3 %." in said
    assert "overrun after a stop can't be seen" in said


SLIP_PLAYED: dict[Spread, predict.Both | None] = {}
PLAYED_OF = predict.played_of


def slip_of(site: Site, net: Netlist, spread: Spread) -> predict.Both | None:
    """Play the slip with this spread once for all comparisons."""
    if spread not in SLIP_PLAYED:
        SLIP_PLAYED[spread] = PLAYED_OF(site, net, spread)
    return SLIP_PLAYED[spread]


@pytest.mark.parametrize(
    ("spread", "way", "more", "cause"),
    [
        (Spread(supply=0.92), RAISING, "longer", "low supply"),
        (Spread(drag=1.8), LOWERING, "more current", "cold grease"),
    ],
)
def test_what_differs_is_found_and_its_cause_suggested(
    spread: Spread,
    way: int,
    more: str,
    cause: str,
    target: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The bench with one changed thing must lead back to that thing."""
    site = load_site("boat-slip")
    monkeypatch.setattr(predict, "played_of", slip_of)
    recorded = read_recording(written(target, lines_of_run("boat-slip", spread=spread)))
    result = compare(recorded, site, load_netlist(site.wiring))
    row = next(row for row in result.compared if row.way == way)
    assert abs(row.seconds_share if more == "longer" else row.current_share) > 0.05
    sentences = " ".join(result.sentences)
    assert f"% {more}" in sentences
    assert f"the likeliest first: {cause}" in sentences
    assert row.outside == ()  # a sound installation stays inside the band


def test_a_comparison_needs_a_full_travel(cycle: Lines, target: Path, says: Says) -> None:
    written(target, cycle[:1000])
    with pytest.raises(BadInput, match="no full travel"):
        says(target, "compare", "--site", SITE)


def test_likeness_is_the_cosine() -> None:
    assert likeness([1.0, 0.0], [0.0, 2.0]) == 0.0
    assert likeness([1.0, 1.0], [3.0, 3.0]) == pytest.approx(1.0)
    assert likeness([1.0, 0.0], [1.0, 1.0]) == pytest.approx(math.cos(math.pi / 4))
    assert likeness([0.0, 0.0], [1.0, 1.0]) == 0.0


def test_bad_requests_are_one_sentence(cycle: Lines, target: Path, says: Says) -> None:
    written(target, cycle[:50])
    for arguments, words in (
        ((target, "export"), "say what to write"),
        ((target, "export", "--csv", target.parent), "this is a folder"),
        ((target, "plot", "-o", "x.pdf"), "allowed is .svg or .png"),
        ((target, "check", "--site", SITE, "--wiring", "bare"), "has no board"),
        ((target.with_name("absent"), "show"), "can't be read"),
    ):
        with pytest.raises(BadInput, match=words):
            says(*arguments)


def test_the_recorder_reads_sixty_thousand_lines_a_second_and_loses_none() -> None:
    # Other work on the machine can only make it slower, so the best of a few rounds counts.
    best = 0.0
    for _ in range(5):
        rows = benchmark_recording.measure(60_000)  # refuses where a line was lost
        best = max(best, rows[0]["value"])
        if best >= benchmark_recording.LEAST:
            break
    assert best >= benchmark_recording.LEAST
