"""Upkeep from end to end: synthetic use in, findings, due days, record and page out."""

from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from leafwinch.signals import BOTTOM_END, TOP_END
from leafwinch_host.explaining.expected import all_settings
from leafwinch_host.upkeep import synthetic
from leafwinch_host.upkeep.due import cycles_per_day, due_list, per_day
from leafwinch_host.upkeep.intervals import ENDURANCE, intervals_for, proof_intervals
from leafwinch_host.upkeep.judged import Upkeep, judge
from leafwinch_host.upkeep.log_lines import kept_samples
from leafwinch_host.upkeep.record import Record, keys, read_record
from leafwinch_host.upkeep.travels import DOWN, UP, journal_travels, log_travels
from leafwinch_sim.proof_tests import PROOF_TESTS
from leafwinch_sim.site import load_site
from leafwinch_wiring.errors import BadInput

SITES = ("workshop-pit", "boat-slip")
TODAY = date(2024, 9, 30)  # the synthetic use ends the day before
PIT = load_site("workshop-pit")
SETTINGS = all_settings(PIT.settings)


def inspected(site: str = "workshop-pit", on: date = TODAY) -> Record:
    """Return a record in which everything was inspected on a day."""
    record = Record(site=site)
    for key in keys():
        record = record.with_done(key, on, "caretaker", {}, on)
    return record


def judged(folder: Path, wear: str, site_name: str = "workshop-pit", seed: int = 1) -> Upkeep:
    site = load_site(site_name)
    settings = all_settings(site.settings)
    made = synthetic.make(settings, synthetic.Use(wear=wear, seed=seed))
    synthetic.write(made, folder)
    logs = [
        travel
        for path in sorted(folder.glob("*.log"))
        for travel in log_travels(kept_samples(path), settings)
    ]
    record = inspected(site_name, TODAY - timedelta(days=1))
    return judge(site, settings, made.journal, made.counters, logs, record, TODAY)


def codes(upkeep: Upkeep) -> set[str]:
    return {finding.code for finding in upkeep.findings if not finding.code.startswith("due:")}


@pytest.mark.parametrize("site_name", SITES)
def test_healthy_use_finds_nothing(site_name: str, tmp_path: Path) -> None:
    upkeep = judged(tmp_path, "none", site_name)
    assert codes(upkeep) == set()
    assert not upkeep.urgent
    assert len(upkeep.outlooks) == 8
    by_key = {found.series.key: found for found in upkeep.outlooks}
    site = load_site(site_name)
    travel_s = site.settings["travel_raise_ms"] / 1000
    assert by_key["raise_s"].now == pytest.approx(travel_s, rel=0.01)
    assert by_key["raise_a"].series.limit == site.settings["trip_ma"] / 1000
    assert all(found.left is None for found in upkeep.outlooks)


def test_ninety_five_of_a_hundred_healthy_half_years_are_quiet() -> None:
    """By the journal alone, where each has two series; the logs' ones are tested by themselves."""
    alarms = 0
    for seed in range(100):
        use = synthetic.Use(seed=seed, recorded_per_week=0.0)
        made = synthetic.make(SETTINGS, use)
        alarms += bool(
            codes(judge(PIT, SETTINGS, made.journal, made.counters, [], inspected(), TODAY))
        )
    assert alarms <= 5


@pytest.mark.parametrize("site_name", SITES)
def test_a_creeping_current_is_told_with_what_is_left(site_name: str, tmp_path: Path) -> None:
    upkeep = judged(tmp_path, "creep", site_name)
    assert {"trend:raise_a", "trend:lower_a"} <= codes(upkeep)
    assert not any(code.startswith("step:") for code in codes(upkeep))
    found = next(o for o in upkeep.outlooks if o.series.key == "raise_a")
    # What the synthetic wear is made of: 30 % more in half a year, evenly.
    healthy_a = 0.62 * load_site(site_name).settings["run_max_ma"] / 1000
    slope = synthetic.CREEP * healthy_a / 182
    assert found.trend is not None
    assert found.trend.low < slope < found.trend.high
    assert found.left is not None
    assert found.soonest is not None
    assert found.left == pytest.approx((found.reserve or 0.0) / slope, rel=0.1)
    assert found.soonest < found.left
    words = next(f for f in upkeep.findings if f.code == "trend:raise_a")
    assert "hinges" in words.what
    assert "days" in words.why
    assert "cycles" in words.why


def test_a_hinge_that_seized_is_found_on_its_day(tmp_path: Path) -> None:
    upkeep = judged(tmp_path, "hinge")
    found = next(o for o in upkeep.outlooks if o.series.key == "raise_a")
    (step,) = found.steps
    day = found.series.x[step.index]
    assert abs(day - synthetic.HINGE_AT * 182) < 7  # the next recorded cycle
    assert step.size == pytest.approx(synthetic.HINGE * found.level, rel=0.15)
    assert found.now == pytest.approx(found.level * (1 + synthetic.HINGE), rel=0.03)
    # It was inspected after that, so it needs no further look before the next use.
    words = next(f for f in upkeep.findings if f.code == "step:raise_a")
    assert words.level == "watch"
    assert "was done on 2024-09-29" in words.why

    again = judge(PIT, SETTINGS, [], {}, [], inspected(on=date(2024, 5, 1)), TODAY)
    assert again.outlooks == ()
    logs = [
        travel
        for path in sorted(tmp_path.glob("*.log"))
        for travel in log_travels(kept_samples(path), SETTINGS)
    ]
    before = judge(PIT, SETTINGS, [], {}, logs, inspected(on=date(2024, 5, 1)), TODAY)
    words = next(f for f in before.findings if f.code == "step:raise_a")
    assert words.level == "now"
    assert "hinges" in words.what
    assert "prop" in words.why


def test_a_brake_that_lifts_late_shows_at_the_start(tmp_path: Path) -> None:
    upkeep = judged(tmp_path, "brake")
    assert {"trend:raise_start", "trend:raise_leave"} <= codes(upkeep)
    assert "trend:raise_a" not in codes(upkeep)
    first = upkeep.findings[0]
    assert first.level == "now"
    assert "brake" in first.what


def test_findings_stand_worst_first(tmp_path: Path) -> None:
    upkeep = judged(tmp_path, "brake")
    ranks = [("now", "soon", "watch").index(finding.level) for finding in upkeep.findings]
    assert ranks == sorted(ranks)


# --- travels -------------------------------------------------------------------------


def event(sequence: int, ending: int, way: int, ms: int, boot: int = 1) -> dict[str, Any]:
    return {
        "sequence": sequence,
        "boot": boot,
        "uptime_s": sequence,
        "kind": "travel",
        "a": ending,
        "b": way,
        "c": str(ms),
        "words": "",
    }


def test_only_full_travels_of_one_power_up_count() -> None:
    events = [
        event(1, 2, 1, 20_000),  # from where?
        event(2, 3, -1, 29_000),
        event(3, 1, 1, 5_000),  # let go half way
        event(4, 2, 1, 24_000),  # the rest of it
        event(5, 3, -1, 28_000, boot=2),  # after a power-up
        event(6, 2, 1, 29_500, boot=2),
    ]
    found = journal_travels(reversed(events))
    assert [(travel.sequence, travel.way, travel.seconds) for travel in found] == [
        (2, DOWN, 29.0),
        (6, UP, 29.5),
    ]


def test_a_recorded_cycle_is_measured(tmp_path: Path) -> None:
    use = synthetic.Use(days=1, recorded_per_week=7.0, cycles_per_day=1.0, seed=5)
    synthetic.write(synthetic.make(SETTINGS, use), tmp_path)
    (log,) = tmp_path.glob("*.log")
    up, down = log_travels(kept_samples(log), SETTINGS)
    assert (up.way, down.way) == (UP, DOWN)
    assert up.seconds == pytest.approx(29.1, rel=0.02)
    assert up.peak_a == pytest.approx(0.62 * 2.5, rel=0.05)
    assert down.median_a == pytest.approx(0.45 * 2.5, rel=0.06)
    assert up.start_s == pytest.approx(0.14, abs=0.03)
    assert up.leave_s == pytest.approx(0.525, abs=0.08)
    assert up.at.tzinfo is not None


def test_a_cut_log_gives_what_is_whole(tmp_path: Path) -> None:
    use = synthetic.Use(days=1, recorded_per_week=7.0, cycles_per_day=1.0, seed=5)
    synthetic.write(synthetic.make(SETTINGS, use), tmp_path)
    (log,) = tmp_path.glob("*.log")
    data = log.read_bytes()
    for share in (0.3, 0.55, 0.9):
        log.write_bytes(data[: int(share * len(data))])
        ways = [travel.way for travel in log_travels(kept_samples(log), SETTINGS)]
        assert ways == ([UP] if share > 0.5 else []), share
    kept = list(kept_samples(log))
    assert kept[0].sample.contacts & BOTTOM_END == 0
    assert kept[0].sample.contacts & TOP_END


# --- intervals and record ---------------------------------------------------------------


def test_every_proof_test_has_an_interval_and_every_interval_a_source() -> None:
    assert [i.title.removeprefix("proof test: ") for i in proof_intervals()] == [
        test.name for test in PROOF_TESTS
    ]
    for interval in intervals_for(PIT):
        assert 0 < interval.days <= 365
        assert "from memory" in interval.source or "no source" in interval.source
        assert interval.how
    # ISO 13849-1 table C.1 (from memory): contactors with nominal load 1,300,000 operations.
    assert ENDURANCE == 1_300_000


def test_the_broken_wires_of_the_rope_that_is_fitted_are_told() -> None:
    """ISO 4309: 7x19, 114 outer wires: 5 over 6 and 10 over 30 diameters of 4 mm."""
    how = {interval.key: interval.how for interval in intervals_for(PIT)}
    assert "5 over 24 mm or 10 over 120 mm" in how["rope"]
    untold = PIT.model_copy(update={"rope": PIT.rope.model_copy(update={"construction": None})})
    others = {interval.key: interval.how for interval in intervals_for(untold)}
    assert "Discard by ISO 4309. Gloves" in others.pop("rope")
    assert others.items() <= how.items()


def test_over_water_what_rusts_comes_due_sooner() -> None:
    done = date(2024, 9, 1)
    on = {}
    for name in SITES:
        due = due_list(load_site(name), inspected(name, done), {}, TODAY)
        on[name] = {one.interval.key: one.on for one in due}
    assert on["workshop-pit"]["rope"] == done + timedelta(days=90)
    assert on["boat-slip"]["rope"] == done + timedelta(days=45)
    assert on["boat-slip"]["stop"] == on["workshop-pit"]["stop"] == done + timedelta(days=30)


def test_operations_bring_an_inspection_forward() -> None:
    done, today = date(2024, 6, 1), date(2024, 7, 1)
    record = Record(site="workshop-pit").with_done(
        "rope", done, "caretaker", {"raises": 100}, today
    )
    record = record.with_reading(done, {"raises": 100}).with_reading(today, {"raises": 1300})
    assert per_day(record.readings, "raises") == pytest.approx(40.0)
    rope = next(
        d for d in due_list(PIT, record, {"raises": 1300}, today) if d.interval.key == "rope"
    )
    # 1500 raises are allowed, 1200 were made: 300 left at 40 a day.
    assert rope.on == today + timedelta(days=7)
    assert rope.used == 1200
    assert "300 left" in rope.because
    over = next(
        d for d in due_list(PIT, record, {"raises": 1700}, today) if d.interval.key == "rope"
    )
    assert over.on == today


def test_a_new_board_counts_anew() -> None:
    record = Record(site="workshop-pit")
    for number, raises in enumerate((900, 1000, 4, 14)):
        record = record.with_reading(date(2024, 6, 1) + timedelta(days=number), {"raises": raises})
    assert per_day(record.readings, "raises") == pytest.approx(10.0)
    assert per_day(record.readings[:1], "raises") is None
    assert cycles_per_day(Record(site="x"), {"raises": 48, "uptime_h": 240}) == pytest.approx(4.8)
    assert cycles_per_day(Record(site="x"), {"raises": 3, "uptime_h": 20}) is None


def test_a_worn_contactor_and_a_board_in_trouble_are_named() -> None:
    record = inspected().with_reading(TODAY - timedelta(days=10), {"watchdog_boots": 0})
    counters = {"line_operations": 1_250_000, "raise_operations": 10, "watchdog_boots": 2}
    upkeep = judge(PIT, SETTINGS, [], counters, [], record, TODAY)
    by_code = {finding.code: finding for finding in upkeep.findings}
    assert "96%" in by_code["life:contactor_line"].what
    assert by_code["counter:watchdog_boots"].level == "now"
    assert "2 times more since the last reading" in by_code["counter:watchdog_boots"].what
    assert "life:contactor_raise" not in by_code


@pytest.mark.parametrize(
    ("arguments", "named"),
    [
        (("wheel", TODAY, "caretaker"), "allowed are rope"),
        (("rope", TODAY + timedelta(days=1), "caretaker"), "after today"),
        (("rope", TODAY, "  "), "--who"),
    ],
)
def test_what_can_not_have_been_done_is_refused(
    arguments: tuple[str, date, str], named: str
) -> None:
    what, on, who = arguments
    with pytest.raises(BadInput, match=named):
        Record(site="workshop-pit").with_done(what, on, who, {}, TODAY)


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ("{", "no upkeep record"),
        ('{"site": "boat-slip"}', "boat-slip"),
        ('{"site": "workshop-pit", "format": 9}', "format is 9"),
        ('{"site": "workshop-pit", "extra": 1}', "extra"),
        (
            '{"site": "workshop-pit", "done": [{"what": "x", "on": "2024-01-01", "who": "A"}]}',
            "'x' is no inspection",
        ),
        ('{"site": "workshop-pit", "readings": [{"on": "May", "counters": {}}]}', "readings.0.on"),
    ],
)
def test_a_strange_record_is_refused(text: str, named: str, tmp_path: Path) -> None:
    path = tmp_path / "record.json"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(BadInput, match="record") as refused:
        read_record(path, "workshop-pit")
    assert named in str(refused.value)
