"""The bench behind the page: one worker thread steps it, pages look at it and move its hands.

Everything is done under one lock, which the worker keeps for a few milliseconds at most. The
bench is the same that `leafwinch run` uses, so that the same hands give the same run.
"""

import math
import threading
import time
from collections import deque
from collections.abc import Callable
from types import TracebackType
from typing import Any, Self

from leafwinch_host.page.frames import frame_of, small_frame
from leafwinch_host.page.hello import hello_of
from leafwinch_host.page.hold import NOBODY, Hold, Springs
from leafwinch_host.page.live import LiveFinder
from leafwinch_host.page.loading import known_defects
from leafwinch_host.page.messages import AS_FAST
from leafwinch_host.page.pace import Pace
from leafwinch_host.page.play import Opening, Play
from leafwinch_host.page.rewind import Moment
from leafwinch_sim.bench_defects import Defect, all_defects
from leafwinch_sim.scenario import surroundings
from leafwinch_sim.scripts import Step
from leafwinch_sim.site_schema import Site
from leafwinch_sim.spread import NOMINAL
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import Netlist, load_netlist

BARE_OF_DRIVE = {"capacitor_run": "bare", "dc": "bare-12v"}
"""The common bare way to wire each kind of motor."""

MOMENT_MS = 250
"""Bench time between two states to go back to."""

MOMENTS_MAX = 1200  # five minutes
SLICE_S = 0.004  # so long the worker keeps the lock
IDLE_S = 0.005  # so long it sleeps at most
BREATH_S = 0.0005  # so long it lets others have the lock when it runs as fast as it can

Kept = tuple[Moment, Play | None, Moment | None]


class BenchSession:
    """Bench, hands and everybody who looks.

    Args:
        site, net: the installation.
        seed: of bounce, skew and noise.
        opening: script or scenario that is played first.
        clock: monotonic seconds; another one only in tests.

    Use it as a context manager to have the worker thread; without it `tick` is called by hand.
    """

    def __init__(
        self,
        site: Site,
        net: Netlist,
        seed: int = 1,
        opening: Opening | None = None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self.site = site
        self.net = net
        self.seed = seed
        self.clock = clock
        self.lock = threading.RLock()
        self.hold = Hold()
        self.pages = 0  # how many numbers were given out
        self.catalogue = self._catalogue(net)
        self.bare_net: Netlist | None = None
        if net.has_controller:
            self.bare_net = load_netlist(BARE_OF_DRIVE[net.drive])
        self.bare_catalogue: dict[str, Defect] = {}
        self.live = LiveFinder(net)
        self.pace = Pace(1.0, clock())
        self.paused = False
        self.trouble = ""
        self.changes = 0  # counts whatever a frame may show
        self.frame_at = -1
        self.frame_kept: dict[str, Any] = {}
        self.opening = opening or Opening()
        self.bare: Play | None = None
        self.begin()
        self._ending = threading.Event()
        self._thread = threading.Thread(target=self._go_on, name="bench", daemon=True)

    # --- life ------------------------------------------------------------------------

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._ending.set()
        self._thread.join()

    def _go_on(self) -> None:
        while not self._ending.is_set():
            try:
                wait_s = self.tick()
            except Exception as error:  # the page must tell, whatever it is
                with self.lock:
                    self.trouble = f"The bench stands still: {type(error).__name__}: {error}."
                    self.changes += 1
                wait_s = IDLE_S
            self._ending.wait(wait_s)

    def begin(self) -> None:
        """Begin anew with what is loaded; the hands let go and nothing is broken."""
        self.moments: deque[Kept] = deque(maxlen=MOMENTS_MAX)
        self.by_themselves = [
            (self.catalogue[name], f"at:{at_ms / 1000:g}") for name, at_ms in self.opening.defects
        ]
        self.pending: list[tuple[Defect, str]] = list(self.by_themselves)
        self.latched: list[tuple[str, bool]] = []  # hands that move before the next step
        self.hold.let_go()
        self.trouble = ""
        self.paused = False
        self.pace.rest(self.clock())
        self.play = Play(self.site, self.net, self.seed, self.opening)
        self.changes += 1
        if self.bare is not None:
            self.put_bare(True)

    def put_bare(self, on: bool) -> None:
        """Put the bench with bare wiring beside the first one, at the same angle, or take it away.

        Raises:
            BadInput: the first one is wired so itself.
        """
        if not on:
            self.bare = None
            return
        if self.bare_net is None:
            raise BadInput("This wiring is the bare one; there is nothing to put beside it.")
        bare = Play(self.site, self.bare_net, self.seed, Opening(), trace=False)
        bare.place(self.play.bench.plant.angle_rad)
        if not self.bare_catalogue:
            self.bare_catalogue = self._catalogue(self.bare_net)
        for defect in self.play.bench.defects:
            if defect.id in self.bare_catalogue:
                bare.add(self.bare_catalogue[defect.id])
        self.bare = bare

    def _catalogue(self, net: Netlist) -> dict[str, Defect]:
        return known_defects(self.site, net)

    # --- time ------------------------------------------------------------------------

    def tick(self) -> float:
        """Make the steps that are due, for a few milliseconds at most.

        Returns:
            Seconds to wait until the next call.
        """
        with self.lock:
            now_s = self.clock()
            if self.paused or self.trouble:
                self.pace.rest(now_s)
                return IDLE_S
            due = self.pace.due(now_s)
            until_s = now_s + SLICE_S
            while due > 0 and not self.paused:
                self.step(now_s)
                self.pace.done()
                due -= 1
                now_s = self.clock()
                if now_s >= until_s:
                    break
            return BREATH_S if due > 0 else min(self.pace.wait_s(now_s), IDLE_S)

    def step(self, now_s: float) -> None:
        """Let 5 ms of bench time go by with the hands as they are held at this time."""
        play = self.play
        self.changes += 1
        playing = play.playing
        t_ms = play.bench.t_ms
        self._let_come(lambda when: when.startswith("at:") and float(when[3:]) * 1000 <= t_ms)
        while (act := play.next_act()) is not None:
            self._begin_act(act)
        if playing and play.over:
            self.paused = True  # so that what is seen is the end of the scenario
            return
        self._move_hands(now_s)
        o = play.advance()
        bare = self.bare
        if bare is not None:
            bare.follow(play)
            bare.advance()
        if self.pending and o.powered_way:
            way = "raise" if o.powered_way == 1 else "lower"
            self._let_come(lambda when: when == way)
        if play.bench.t_ms % MOMENT_MS == 0:
            self.moments.append((play.moment(), bare, bare.moment() if bare else None))
        if playing and play.over:
            self.paused = True

    def _let_come(self, comes: Callable[[str], bool]) -> None:
        """Let the defects come whose time it is."""
        ripe = [row for row in self.pending if comes(row[1])]
        for row in ripe:
            self.pending.remove(row)
            self.add(row[0], row not in self.by_themselves)

    def _begin_act(self, act: Step) -> None:
        if act.verb in ("come", "break"):
            self.add(self.catalogue[act.object])
        elif act.verb in ("go", "mend"):
            self.remove(self.catalogue[act.object])
        self.play.begin_act(act)

    def _move_hands(self, now_s: float) -> None:
        """Move what is held and what was pressed; a hand on a spring ends script or scenario."""
        play = self.play
        springs = self.hold.springs(now_s * 1000.0)
        if play.playing and springs != Springs():
            play.take_over()
        if not play.playing:
            play.lever(springs.way)
            play.hand("key", springs.key)
            play.hand("reset", springs.reset)
        for name, pressed in self.latched:
            play.hand(name, pressed)
        self.latched.clear()

    # --- what pages ask for ----------------------------------------------------------

    def join(self) -> int:
        """Return a number for a page that begins to look."""
        with self.lock:
            self.pages += 1
            return self.pages

    def gone(self, page: int) -> None:
        """A page's line is cut: what it held is let go before the next step."""
        with self.lock:
            self.hold.gone(page)
            self.changes += 1

    def add(self, defect: Defect, by_hand: bool = True) -> None:
        """Let a defect come now, beside as well where the bare wiring has the same."""
        self.play.add(defect, by_hand)
        if self.bare is not None and defect.id in self.bare_catalogue:
            self.bare.add(self.bare_catalogue[defect.id], by_hand)

    def remove(self, defect: Defect) -> None:
        """Mend a defect now, beside as well."""
        self.play.remove(defect)
        if self.bare is not None and defect.id in self.bare_catalogue:
            self.bare.remove(self.bare_catalogue[defect.id])

    def back(self, seconds: float) -> None:
        """Go back by so much bench time, or as far as is kept, and pause.

        What is held must be pressed anew.

        Raises:
            BadInput: nothing is kept yet.
        """
        if not self.moments:
            raise BadInput("There is nothing to go back to yet.")
        wanted_ms = self.play.bench.t_ms - seconds * 1000.0
        while len(self.moments) > 1 and self.moments[-1][0].t_ms > wanted_ms:
            self.moments.pop()
        moment, bare, bare_moment = self.moments[-1]
        self.play.rewind(moment)
        self.bare = bare
        if bare is not None and bare_moment is not None:
            bare.rewind(bare_moment)
        self.hold.let_go()
        self.latched.clear()
        self.pending.clear()
        self.paused = True
        self.changes += 1

    def frame(self, page: int = NOBODY) -> tuple[int, dict[str, Any]]:
        """Return what a page is shown now, and a number that differs whenever it does."""
        with self.lock:
            if self.frame_at != self.changes:
                self.frame_kept = self._new_frame()
                self.frame_at = self.changes
            holder = self.hold.holder
            whose = "you" if holder == page else "other"
            return self.changes, {
                **self.frame_kept,
                "lag": round(self.pace.lag_s(self.clock()), 3),
                "holder": "nobody" if holder == NOBODY else whose,
            }

    def _new_frame(self) -> dict[str, Any]:
        frame = frame_of(self.play, self.live)
        for name, pressed in self.latched:
            frame["hands"]["power" if name == "isolated" else name] = int(pressed)
        frame["pending"] = [{"id": defect.id, "when": when} for defect, when in self.pending]
        frame["speed"] = AS_FAST if math.isinf(self.pace.speed) else self.pace.speed
        frame["paused"] = self.paused
        frame["trouble"] = self.trouble
        frame["bare"] = small_frame(self.bare) if self.bare is not None else None
        return frame

    def hello(self) -> dict[str, Any]:
        """Return what a page is told once."""
        bare = self.bare_net.name if self.bare_net is not None else ""
        defects = (*all_defects(self.site, self.net), *surroundings(self.site).values())
        known = {defect.id: defect for defect in defects}
        spread = self.opening.scenario.spread if self.opening.scenario else NOMINAL
        return hello_of(self.site, self.net, bare, self.seed, spread, tuple(known.values()))
