"""The WebSocket of the page on a real socket: frames, one holder, and what hostile pages can do.

Codes of closed WebSockets: RFC 6455 section 7.4.1 (1008 policy violation, 1009 too big).
"""

import contextlib
import threading
import time

import pytest
from websockets.exceptions import ConnectionClosed, InvalidStatus

from leafwinch.requirement_limits import R1_OFF_MS
from leafwinch_host.page.app import PAGES_MAX, Server
from leafwinch_host.page.line import BAD_MAX, BURST
from leafwinch_host.page.messages import MAX_BYTES
from leafwinch_host.page.trace_rows import recording_of
from tests.page.browser import PATIENCE_S, Page, get

BAD = ("", "null", "[]", '{"do":"handler"}', '{"do":"hold"}', '{"do":"speed","x":NaN}')


def test_many_bad_messages_end_the_line_and_harm_nobody(fresh: Server) -> None:
    watcher = Page(fresh)
    rude = Page(fresh)
    for number in range(BAD_MAX - 1):
        rude.line.send(BAD[number % len(BAD)])
        assert "can't be used" in rude.answer("refused")
    rude.line.send("nonsense")
    assert rude.code() == 1008
    assert watcher.frame()["trouble"] == ""
    watcher.line.close()


def test_a_binary_message_is_a_bad_one(fresh: Server) -> None:
    page = Page(fresh)
    page.line.send(b'{"do":"pause"}')
    assert "can't be used" in page.answer("refused")
    assert not page.frame()["paused"]
    page.line.close()


def test_an_oversized_message_ends_the_line(fresh: Server) -> None:
    page = Page(fresh)
    page.line.send('{"do":"scenario","text":"' + "x" * (2 * MAX_BYTES) + '"}')
    assert page.code() == 1009


def test_a_flood_ends_the_line(fresh: Server) -> None:
    page = Page(fresh)
    reader = threading.Thread(target=page.code)
    reader.start()
    with contextlib.suppress(ConnectionClosed):
        for _ in range(100 * int(BURST)):
            page.line.send('{"do":"go"}')
    reader.join()
    assert page.line.close_code == 1008


def test_there_is_room_for_some_pages_only(fresh: Server) -> None:
    pages = [Page(fresh) for _ in range(PAGES_MAX)]
    with pytest.raises(InvalidStatus):
        Page(fresh)
    for page in pages:
        page.line.close()
    until_s = time.monotonic() + PATIENCE_S
    while time.monotonic() < until_s:
        try:
            Page(fresh).line.close()
            return
        except InvalidStatus:
            time.sleep(0.05)
    raise AssertionError("no room although every page has gone")


# --- two pages, one bench ------------------------------------------------------------


def test_one_page_holds_the_other_watches_and_a_cut_line_lets_go(
    fresh: Server, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("leafwinch_host.page.hold.LEASE_MS", 60_000.0)  # so that only the cut acts
    mine, other = Page(fresh), Page(fresh)
    mine.wait("state", "idle")
    mine.send(do="hold", way="raise", beat=0)
    mine.wait("state", "raising")
    assert other.wait("state", "raising")["holder"] == "other"
    other.send(do="hold", way="lower", beat=0)
    assert "Another page" in other.answer("refused")
    time.sleep(1.0)
    assert other.frame()["asked"] == 1
    mine.cut()
    other.wait("holder", "nobody")
    other.wait("current_a", 0.0)
    assert released_to_off_ms(fresh) <= R1_OFF_MS
    other.send(do="control")
    assert other.wait("holder", "you")
    other.line.close()


def released_to_off_ms(server: Server) -> int:
    """Return the bench time from the last letting go to no current, out of the trace."""
    with server.bench.lock:
        columns = recording_of(server.bench.play).columns()
    rows = list(zip(columns["t_ms"], columns["asked"], columns["current_a"], strict=True))
    let_go = max(n for n, row in enumerate(rows) if n and row[1] == 0 and rows[n - 1][1])
    return int(next(t for t, _, current_a in rows[let_go:] if current_a == 0.0) - rows[let_go][0])


def test_a_page_that_falls_silent_lets_go(fresh: Server) -> None:
    page = Page(fresh)
    page.wait("state", "idle")
    page.hold("raise", 1.0)
    page.wait("asked", 0)
    page.wait("current_a", 0.0)
    assert released_to_off_ms(fresh) <= R1_OFF_MS
    assert page.frame()["holder"] == "you"
    page.line.close()


def test_frames_come_30_to_60_times_a_second(fresh: Server) -> None:
    page = Page(fresh)
    page.frame()
    rates = []
    for _ in range(8):
        begun_s = time.monotonic()
        for _ in range(12):
            page.next()
        rates.append(12 / (time.monotonic() - begun_s))
    # A busy machine makes some windows slow, and the next one fast.
    assert max(rates) >= 30.0
    assert sorted(rates)[4] < 66.0
    page.line.close()


def test_a_paused_bench_still_says_that_the_server_lives(fresh: Server) -> None:
    page = Page(fresh)
    page.send(do="pause")
    page.wait("paused", True)
    begun_s = time.monotonic()
    for _ in range(4):
        page.next()
    assert time.monotonic() - begun_s < 3.0
    page.line.close()


def test_the_trace_comes_by_line_and_by_address(fresh: Server) -> None:
    page = Page(fresh)
    page.wait("state", "idle")
    page.send(do="pause")
    page.wait("paused", True)
    page.send(do="trace")
    trace = page.answer("trace")
    assert trace["name"] == "workshop-pit-hands-trace.csv"
    answer = get(fresh, f"/trace.csv?token={fresh.token}")
    assert answer.text == trace["text"]
    assert trace["name"] in answer.headers["content-disposition"]
    page.line.close()


def test_hello_names_everything_that_frames_show(fresh: Server) -> None:
    page = Page(fresh)
    hello, frame = page.hello, page.frame()
    assert hello["site"]["leaf_a_m"] == 1.25
    assert {row["name"] for row in hello["elements"]} == set(frame["elements"])
    assert set(hello["coils"]) == set(frame["coils"])
    assert set(frame["live"]) <= set(hello["nets"])
    assert set(frame["live_wires"]) <= {row["mark"] for row in hello["wires"]}
    assert [row["name"] for row in hello["requirements"]] == [
        row["name"] for row in frame["monitors"]
    ]
    assert set(frame["hands"]) <= set(hello["hands"])
    assert len(hello["sheets"]) > 1
    assert any("crush" in row["hazard"].lower() for row in hello["cautions"])
    page.line.close()
