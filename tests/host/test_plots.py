"""The plot shows what the run did, loses no peak, and is the same for the same run."""

import io
import xml.etree.ElementTree as ET
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from leafwinch.signals import CONTACT_NAMES
from leafwinch_host.files import check_target, write_text
from leafwinch_host.plots import PlotNotes, plot_bytes
from leafwinch_host.stretches import runs_of, thinned
from leafwinch_host.trace_file import trace_text
from leafwinch_wiring.errors import BadInput

SVG = "{http://www.w3.org/2000/svg}"
NOTES = PlotNotes(
    title="workshop-pit, made-up trace",
    subtitle="nothing broken",
    trip_a=9.0,
    limit_angles_deg=(("top end", 79.0), ("top final", 82.0)),
    events=((1.0, "the control was actuated to raise"), (4.0, "a final opened")),
)


def made_up_trace(length: int = 1200) -> dict[str, list[float]]:
    """A trace with every state, a fault and one current sample above the trip."""
    steps = range(length)
    fifth = length // 5
    current_ma = [4000.0 if fifth <= i < 4 * fifth else 0.0 for i in steps]
    current_ma[2 * fifth] = 12000.0
    return {
        "t_ms": [5.0 * i for i in steps],
        "state": [min(i // fifth, 4) for i in steps],
        "fault": [26 if i >= 4 * fifth else 0 for i in steps],
        "contacts": [i // 7 % (1 << 17) for i in steps],
        "outputs": [i % 64 for i in steps],
        "current_ma": current_ma,
        "angle_deg": [79.0 * i / length for i in steps],
        "tension_n": [1200.0 - i / 2 for i in steps],
        "slack_mm": [max(0.0, i - 1000.0) for i in steps],
    }


def words_of(svg: bytes) -> str:
    return " ".join("".join(node.itertext()) for node in ET.fromstring(svg).iter(f"{SVG}text"))


def test_svg_names_everything_it_draws() -> None:
    words = words_of(plot_bytes(made_up_trace(), NOTES, "svg"))
    for name in CONTACT_NAMES:
        assert name.replace("_", " ") in words
    for text in ("angle", "rope tension, N", "current, A", "slack, mm", "time, s", "trip 9 A"):
        assert text in words
    for state in ("held", "idle", "raising", "lowering", "fault"):
        assert state in words
    for _, event in NOTES.events:
        assert event in words
    assert "top final" in words
    assert NOTES.title in words


def test_the_same_run_gives_the_same_file() -> None:
    for ending in ("svg", "png"):
        first = plot_bytes(made_up_trace(), NOTES, ending)
        assert first == plot_bytes(made_up_trace(), NOTES, ending)


def test_another_run_gives_another_picture() -> None:
    trace = made_up_trace()
    other = {**trace, "angle_deg": [79.0 - value for value in trace["angle_deg"]]}
    pictures = [
        np.asarray(Image.open(io.BytesIO(plot_bytes(which, NOTES, "png"))).convert("L"))
        for which in (trace, other)
    ]
    assert pictures[0].shape[0] > 800
    assert pictures[0].shape[1] > 1200
    assert pictures[0].std() > 10, "an empty picture has one shade"
    assert (pictures[0] != pictures[1]).mean() > 0.002


def test_no_remote_parts() -> None:
    svg = plot_bytes(made_up_trace(), NOTES, "svg").decode()
    root = ET.fromstring(svg)
    for node in root.iter():
        for name, value in node.attrib.items():
            if name.endswith("href"):
                assert value.startswith("#"), value


@given(
    st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=50),
    st.integers(0, 29_999),
)
def test_thinning_keeps_every_peak(values: list[float], spike_at: int) -> None:
    column = np.resize(np.asarray(values), 30_000).astype(np.float64)
    column[spike_at] = 2e6
    time_s = np.linspace(0.0, 149.995, 30_000, dtype=np.float64)
    thin_time, thin = thinned(time_s, column)
    assert thin.size < 4000
    assert thin.max() == 2e6
    assert thin.min() == column.min()
    assert thin_time[thin.argmax()] == time_s[spike_at]
    assert (np.diff(thin_time) > 0).all()
    assert (thin_time[0], thin_time[-1]) == (time_s[0], time_s[-1])


@given(st.lists(st.integers(0, 3), max_size=60))
def test_stretches_rebuild_the_column(values: list[int]) -> None:
    rebuilt: list[int] = []
    for first, end, value in runs_of(np.asarray(values, dtype=np.int64)):
        assert first == len(rebuilt)
        rebuilt += [value] * (end - first)
    assert rebuilt == values


def test_one_sample_is_enough() -> None:
    trace = {name: values[:1] for name, values in made_up_trace().items()}
    assert words_of(plot_bytes(trace, NOTES, "svg"))


def test_trace_text_can_be_read_back() -> None:
    trace = made_up_trace(50)
    text = trace_text(trace, {"site": "workshop-pit", "seed": "1"})
    lines = text.splitlines()
    assert lines[0] == "# site: workshop-pit"
    assert lines[1] == "# seed: 1"
    header, *rows = [line.split(",") for line in lines if not line.startswith("#")]
    assert len(rows) == 50
    for index, row in enumerate(rows):
        got = dict(zip(header, row, strict=True))
        assert float(got["angle_deg"]) == pytest.approx(trace["angle_deg"][index], abs=1e-4)
        mask = sum(int(got[f"contacts.{name}"]) << bit for bit, name in enumerate(CONTACT_NAMES))
        assert mask == trace["contacts"][index]


def test_a_file_is_written_whole_or_not_at_all(tmp_path: Path) -> None:
    target = tmp_path / "report.html"
    write_text(target, "first")
    write_text(target, "second")
    assert [path.name for path in tmp_path.iterdir()] == ["report.html"]
    assert target.read_text(encoding="utf-8") == "second"
    blocked = tmp_path / "folder"
    blocked.mkdir()
    (blocked / "inside").touch()
    with pytest.raises(BadInput, match=r"folder: can't be written"):
        write_text(blocked, "third")
    assert not (tmp_path / "folder.part").exists()


def test_endings_are_checked_in_any_case(tmp_path: Path) -> None:
    check_target("--plot", tmp_path / "A.SVG", (".svg", ".png"))
    check_target("--plot", None, (".svg", ".png"))
    with pytest.raises(BadInput, match=r"\.svg or \.png"):
        check_target("--plot", tmp_path / "a", (".svg", ".png"))
