"""Messages of hostile pages: refused in one sentence, and the bench goes on."""

import contextlib
import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from websockets.exceptions import ConnectionClosed

from leafwinch_host.page.app import Server
from leafwinch_host.page.bench_session import BenchSession
from leafwinch_host.page.line import BAD_MAX
from leafwinch_host.page.messages import parse
from leafwinch_host.page.orders import carry_out
from leafwinch_sim.site import load_site
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import load_netlist
from tests.page.browser import Page, get

HOSTILE = (
    "",
    "null",
    "[]",
    "{}",
    "nonsense",
    '{"do":"hold"}',
    '{"do":"hold","way":"up","beat":1}',
    '{"do":"hold","way":"raise","beat":-1}',
    '{"do":"hold","way":"raise","beat":1e999}',
    '{"do":"hold","way":"raise","beat":true}',
    '{"do":"hold","way":"raise","beat":"1"}',
    '{"do":"hold","way":"raise","beat":1,"also":1}',
    '{"do":"speed","x":NaN}',
    '{"do":"speed","x":Infinity}',
    '{"do":"speed","x":0}',
    '{"do":"back","s":-1}',
    '{"do":"back","s":1e308}',
    '{"do":"press","what":"__class__"}',
    '{"do":"defect","id":"","when":"now"}',
    '{"do":"defect","id":"x","when":"at:99999999"}',
    '{"do":"defect","id":"x","when":"at:1\\n"}',
    '{"do":"bare","on":1}',
    '{"do":"handler"}',
    '{"do":["hold"]}',
    '{"do":{"a":1}}',
    "[" * 60_000,
    '{"do":"scenario","text":' + '"' + "x" * 60_000 + '"}',
)


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
def test_a_bad_message_is_one_short_sentence(text: str) -> None:
    with pytest.raises(BadInput) as refused:
        parse(text)
    assert len(str(refused.value)) < 260
    assert "\n" not in str(refused.value)


def test_a_good_message_passes() -> None:
    # Without this the ones above would pass on a reader that refuses everything.
    for text in (
        '{"do":"hold","way":"raise","beat":1}',
        '{"do":"speed","x":1}',
        '{"do":"speed","x":"max"}',
        '{"do":"defect","id":"x","when":"at:12.5"}',
        '{"do":"mend","id":"all"}',
        '{"do":"back","s":1.0}',
        '{"do":"go"}',
    ):
        assert parse(text).do in text


# --- fuzz ----------------------------------------------------------------------------

SITE = load_site("workshop-pit")
NET = load_netlist(SITE.wiring)
JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner),
    max_leaves=8,
)
MOVES = ("hold", "release", "press", "let_go", "defect", "mend", "speed", "back")
TIMES = ("pause", "go", "step", "bare", "scenario", "restart", "control", "trace")
WORDS = st.sampled_from((*MOVES, *TIMES))
VALUES = st.one_of(
    JSON,
    st.sampled_from(["raise", "lower", "stop", "reset", "key", "power", "link", "top_end", "all"]),
    st.sampled_from(["now", "at:0.1", "max", "QA1.pole1:welded", "obstacle_below", "rope_parted"]),
    st.sampled_from([0, 1, 0.05, 1.0, 300.0, True, False, ""]),
)
KEYS = st.sampled_from(["way", "beat", "what", "id", "when", "x", "s", "on", "text", "more"])
MESSAGES = st.one_of(
    st.text(max_size=50),
    JSON.map(json.dumps),
    st.builds(
        lambda do, rest: json.dumps({"do": do, **rest}),
        WORDS,
        st.dictionaries(KEYS, VALUES, max_size=3),
    ),
    st.sampled_from(
        [
            '{"do":"hold","way":"raise","beat":1}',
            '{"do":"hold","way":"lower","beat":2}',
            '{"do":"defect","id":"QA1.pole1:welded","when":"now"}',
            '{"do":"defect","id":"obstacle_below","when":"raise"}',
            '{"do":"defect","id":"rope_parted","when":"now"}',
            '{"do":"mend","id":"all"}',
            '{"do":"back","s":0.5}',
            '{"do":"bare","on":true}',
            '{"do":"step"}',
            '{"do":"go"}',
            '{"do":"press","what":"power"}',
            '{"do":"let_go","what":"power"}',
            '{"do":"speed","x":"max"}',
        ]
    ),
)


@settings(max_examples=30)
@given(st.lists(st.tuples(st.integers(1, 2), MESSAGES, st.integers(0, 40)), max_size=20))
def test_whatever_pages_send_the_bench_goes_on(sent: list[tuple[int, str, int]]) -> None:
    now = [0.0]
    bench = BenchSession(SITE, NET, 1, None, lambda: now[0])
    for page, text, steps in sent:
        with contextlib.suppress(BadInput):
            carry_out(bench, page, parse(text))
        for _ in range(steps):
            now[0] += 0.005
            if not bench.paused:
                bench.step(now[0])
        json.dumps(bench.frame(page)[1], allow_nan=False)
    assert bench.trouble == ""
    assert (bench.play.bench.lever.target != 0) <= bool(bench.hold.holder or bench.paused)


@settings(max_examples=25)
@given(st.lists(st.text(max_size=60) | st.binary(max_size=60), min_size=1, max_size=BAD_MAX + 2))
def test_whatever_comes_over_the_line_the_server_goes_on(
    server: Server, sent: list[str | bytes]
) -> None:
    page = Page(server)
    try:
        for text in sent:
            page.line.send(text)
    except ConnectionClosed:
        pass
    page.line.close()
    assert server.thread.is_alive()
    assert server.bench.trouble == ""
    assert get(server, f"/?token={server.token}").status_code == 200
