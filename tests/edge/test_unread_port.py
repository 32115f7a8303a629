"""A computer that holds the port open and reads nothing disturbs no pass."""

from leafwinch.edge.counters import DROPPED_LINES, LATE_PASSES, RAISES
from tests.edge.cycling import Cycling, cool_core, cycling_loop
from tests.edge.whole import Memory

MINUTE = 12_000  # passes


def test_a_reader_that_stops_for_a_minute_costs_lines_and_nothing_else() -> None:
    outputs = []
    lines = []
    for unread in (False, True):
        board = Cycling(Memory())
        board.port.keep = True
        loop = cycling_loop(board, cool_core())
        loop.run(450)
        board.port.unread = unread
        before = len(board.port.sent)
        shown = []
        for _ in range(MINUTE // 50):
            loop.run(50)
            shown.append(board.mask_of_pins())
        outputs.append(shown)
        lines.append(len(board.port.sent) - before)
        counters = loop.keeper.counters
        assert counters[LATE_PASSES] == 0
        assert counters[RAISES] == 4
        if unread:
            assert lines[1] == 0
            assert counters[DROPPED_LINES] == lines[0]
        board.port.unread = False
        loop.run(100)
        assert len(board.port.sent) - before > lines[-1]
    assert outputs[0] == outputs[1]
    assert lines[0] > 20 * 60
