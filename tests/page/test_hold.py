"""The lease that stands for a finger on the control, and who may hold it.

Hold-to-run by ISO 12100:2010, 3.28.3: the machine runs only while the control is actuated and
stops when it is let go (from memory).
"""

from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from leafwinch_host.page.hold import BEAT_MS, LEASE_MS, NOBODY, Hold, Lease, Springs

PAGES = (1, 2, 3)


def test_a_beat_holds_for_200_ms_and_no_longer() -> None:
    lease = Lease()
    assert lease.held(0.0) == ""
    assert lease.beat("raise", 0, 1000.0)
    assert lease.held(1000.0) == "raise"
    assert lease.held(1200.0) == "raise"
    assert lease.held(1200.1) == ""


def test_the_lease_is_four_beats_long() -> None:
    # Three beats may be late before the deck stops; R1's own 200 ms come on top.
    assert LEASE_MS == 4 * BEAT_MS


def test_beats_that_go_on_after_a_lapse_do_not_start_again() -> None:
    lease = Lease()
    lease.beat("raise", 5, 0.0)
    assert not lease.beat("raise", 6, 300.0)
    assert lease.held(300.0) == ""
    assert not lease.beat("raise", 7, 350.0)
    lease.release()
    assert lease.beat("raise", 8, 400.0)


def test_a_press_that_counts_anew_ends_a_lapse() -> None:
    lease = Lease()
    lease.beat("raise", 5, 0.0)
    assert lease.held(300.0) == ""
    assert lease.beat("raise", 0, 310.0)
    assert lease.held(310.0) == "raise"


def test_an_old_beat_gives_no_more_time() -> None:
    lease = Lease()
    lease.beat("raise", 5, 0.0)
    assert not lease.beat("raise", 5, 150.0)
    assert not lease.beat("raise", 4, 190.0)
    assert lease.held(201.0) == ""


def test_the_other_way_is_a_new_press() -> None:
    lease = Lease()
    lease.beat("raise", 5, 0.0)
    assert lease.beat("lower", 0, 50.0)
    assert lease.held(60.0) == "lower"


def test_one_holds_and_the_others_watch() -> None:
    hold = Hold()
    assert hold.beat(1, "raise", 0, 0.0)
    assert not hold.beat(2, "lower", 0, 10.0)
    hold.release(2)
    assert hold.springs(20.0) == Springs(1)
    assert not hold.ask(2, 30.0)
    hold.release(1)
    assert hold.ask(2, 40.0)
    assert not hold.beat(1, "raise", 1, 50.0)
    assert hold.springs(60.0) == Springs()


def test_a_cut_line_lets_everything_go_at_once() -> None:
    hold = Hold()
    hold.beat(1, "lower", 0, 0.0)
    hold.beat_key(1, 0, 0.0)
    hold.press_reset(1)
    assert hold.springs(1.0) == Springs(-1, True, True)
    hold.gone(2)
    assert hold.springs(2.0) == Springs(-1, True, True)
    hold.gone(1)
    assert hold.springs(2.0) == Springs()
    assert hold.holder == NOBODY


def test_a_lapse_of_one_page_does_not_bind_the_next() -> None:
    hold = Hold()
    hold.beat(1, "raise", 0, 0.0)
    assert hold.springs(300.0) == Springs()
    assert hold.ask(2, 310.0)
    assert hold.beat(2, "raise", 9, 320.0)


def test_what_is_taken_from_the_hand_must_be_pressed_anew() -> None:
    hold = Hold()
    hold.beat(1, "raise", 3, 0.0)
    hold.let_go()
    assert not hold.beat(1, "raise", 4, 10.0)
    assert hold.springs(10.0) == Springs()
    hold.release(1)
    assert hold.beat(1, "raise", 5, 20.0)


class Holding(RuleBasedStateMachine):
    """Whatever pages send in whatever order: held means a fresh beat of the one holder."""

    @initialize()
    def begin(self) -> None:
        self.hold = Hold()
        self.now_ms = 0.0
        self.fresh_ms = -1e9  # last beat of the control that counted
        self.number = 0
        self.pressed = dict.fromkeys(PAGES, False)  # between its first beat and its release
        self.lapsed = False

    @rule(ms=st.sampled_from((1.0, 49.0, 50.0, 150.0, 199.0, 200.0, 201.0, 5000.0)))
    def pass_time(self, ms: float) -> None:
        held = self.hold.springs(self.now_ms).way
        self.now_ms += ms
        if held and not self.hold.springs(self.now_ms).way:
            self.lapsed = True

    @rule(page=st.sampled_from(PAGES), way=st.sampled_from(("raise", "lower")))
    def beat(self, page: int, way: str) -> None:
        before = self.hold.springs(self.now_ms)
        self.number += 1
        if self.hold.beat(page, way, self.number, self.now_ms):
            assert self.hold.holder == page
            assert before.way or not self.lapsed  # a lapse ends with a release only
            self.fresh_ms = self.now_ms

    @rule(page=st.sampled_from(PAGES))
    def release(self, page: int) -> None:
        whose = self.hold.holder == page
        self.hold.release(page)
        if whose:
            self.lapsed = False
            assert self.hold.springs(self.now_ms).way == 0

    @rule(page=st.sampled_from(PAGES))
    def cut(self, page: int) -> None:
        whose = self.hold.holder == page
        self.hold.gone(page)
        if whose:
            self.lapsed = False
            assert self.hold.springs(self.now_ms) == Springs()
            assert self.hold.holder == NOBODY

    @rule(page=st.sampled_from(PAGES))
    def ask(self, page: int) -> None:
        before = self.hold.holder
        busy = self.hold.springs(self.now_ms) != Springs()
        given = self.hold.ask(page, self.now_ms)
        if given and page != before:
            self.lapsed = False
        assert given == (before in (NOBODY, page) or not busy)
        assert self.hold.holder == (page if given else before)

    @rule()
    def let_go(self) -> None:
        if self.hold.springs(self.now_ms).way:
            self.lapsed = True
        self.hold.let_go()

    @invariant()
    def held_means_a_fresh_beat(self) -> None:
        if self.hold.springs(self.now_ms).way:
            assert self.now_ms - self.fresh_ms <= LEASE_MS
            assert self.hold.holder != NOBODY


TestHolding = Holding.TestCase
