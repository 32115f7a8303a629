"""The page in a real browser: holding, letting go, breaking, a server that dies.

Times of letting go: the requirement R1 of this project (200 ms), see firmware/README.md. The
faults' words and lamp codes: the firmware's own table.
"""

import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from playwright.sync_api import Browser

from leafwinch.fault_texts import FAULT_TEXTS, FAULTS
from leafwinch_host.page.app import Server
from tests.page.eyes import Eyes

R1_MS = 200
FRAME_MS = 1000 / 30

SERVE = (
    "from leafwinch_host.page.app import serve\n"
    "from leafwinch_sim.site import load_site\n"
    "from leafwinch_wiring.netlist import load_netlist\n"
    "site = load_site('workshop-pit')\n"
    "serve(site, load_netlist(site.wiring), open_browser=False,"
    " tell=lambda url: print(url, flush=True))\n"
)


# --- holding -------------------------------------------------------------------------


MEASURE = """() => addEventListener('pointerup', () => {
    const from = performance.now();
    const look = () => {
        if (bench.frame.way === 0 && bench.frame.brake_set) {
            globalThis.took = performance.now() - from;
        } else requestAnimationFrame(look);
    };
    look();
}, {capture: true, once: true})"""


def test_holding_raises_and_letting_go_stops_within_r1(eyes: Eyes) -> None:
    """The best of some: the machine may have other things to do; R1 is judged each time."""
    took = []
    for _ in range(4):
        eyes.ready().hold()
        before = eyes.ask("bench.frame.angle_deg")
        eyes.until(f"bench.frame.angle_deg > {before + 1}")
        assert eyes.text("#state-name") == "raising"
        eyes.ask("globalThis.took = 0")
        eyes.ask(MEASURE)
        eyes.page.mouse.up()
        eyes.until("globalThis.took > 0")
        took.append(eyes.ask("globalThis.took"))
        eyes.stopped()
        assert eyes.ask("bench.frame.monitors.find((row) => row.name === 'R1').ok")
        if min(took) <= R1_MS + FRAME_MS:
            break
    assert min(took) <= R1_MS + FRAME_MS


HIDE = (
    "() => { Object.defineProperty(document, 'hidden', {value: true, configurable: true});"
    " document.dispatchEvent(new Event('visibilitychange')); }"
)


@pytest.mark.parametrize(
    "happens",
    [
        HIDE,
        "() => { dispatchEvent(new Event('blur')); }",
        "() => { dispatchEvent(new PageTransitionEvent('pagehide')); }",
        "() => { document.dispatchEvent(new Event('freeze')); }",
        "() => { document.querySelector('#hold-raise').dispatchEvent("
        "new PointerEvent('pointercancel', {pointerId: 1})); }",
        # A page too busy to beat; it wakes up and must not go on by itself.
        "() => { const end = performance.now() + 500; while (performance.now() < end); }",
    ],
    ids=["hidden", "blur", "pagehide", "freeze", "pointercancel", "busy"],
)
def test_whatever_happens_to_the_page_lets_go(eyes: Eyes, happens: str) -> None:
    eyes.hold()
    eyes.ask(happens)
    eyes.stopped()
    assert eyes.find("#hold-raise").get_attribute("aria-pressed") == "false"


def test_a_pointer_that_slides_off_lets_go_and_coming_back_does_not_hold(eyes: Eyes) -> None:
    eyes.hold()
    eyes.page.mouse.move(5, 5)
    eyes.stopped()
    eyes.find("#hold-raise").hover()
    eyes.stopped()


def test_another_tab_in_front_lets_go(eyes: Eyes) -> None:
    eyes.hold()
    other = eyes.page.context.browser
    assert other is not None
    tab = other.new_page()
    tab.bring_to_front()
    # Without a window the browser calls no tab hidden, so the event is sent by hand as well.
    eyes.ask(HIDE)
    eyes.stopped()
    tab.close()


def test_leaving_the_page_lets_go(eyes: Eyes, fresh: Server) -> None:
    eyes.hold()
    eyes.page.goto("about:blank")
    for _ in range(100):
        if not fresh.bench.hold.lever.way:
            break
        eyes.page.wait_for_timeout(5)
    assert fresh.bench.hold.lever.way == ""


@pytest.mark.parametrize(
    ("key", "way"), [("ArrowUp", 1), ("r", 1), ("R", 1), ("ArrowDown", -1), ("l", -1)]
)
def test_keys_hold_as_long_as_they_are_down(eyes: Eyes, fresh: Server, key: str, way: int) -> None:
    if way < 0:  # nothing can be lowered at the bottom
        with fresh.bench.lock:
            fresh.bench.play.place(0.5)
        eyes.until("bench.frame.angle_deg > 20 && bench.frame.state === 'idle'")
    eyes.hold("raise" if way > 0 else "lower", key)
    eyes.page.keyboard.up(key)
    eyes.stopped()


def test_keys_typed_into_a_field_move_nothing(eyes: Eyes) -> None:
    eyes.tab("defects")
    eyes.find("#search").fill("")
    eyes.find("#search").press_sequentially("rlrl")
    eyes.page.keyboard.down("r")
    eyes.page.wait_for_timeout(300)
    assert eyes.ask("bench.frame.asked") == 0
    eyes.page.keyboard.up("r")


def test_keys_can_be_switched_off(eyes: Eyes) -> None:
    eyes.find("#keys").uncheck()
    eyes.page.keyboard.down("r")
    eyes.page.wait_for_timeout(300)
    assert eyes.ask("bench.frame.asked") == 0
    eyes.page.keyboard.up("r")


def test_a_focused_button_is_held_by_the_space_bar(eyes: Eyes) -> None:
    eyes.find("#hold-raise").focus()
    eyes.hold(key="Space")
    eyes.page.keyboard.up("Space")
    eyes.stopped()


def test_both_ways_at_once_is_neither(eyes: Eyes) -> None:
    eyes.hold(key="r")
    eyes.page.keyboard.down("l")
    eyes.stopped()
    assert "neither" in eyes.text("#told")
    eyes.page.keyboard.up("r")
    eyes.page.keyboard.up("l")


def test_the_stop_latches_and_must_be_pulled_out(eyes: Eyes) -> None:
    eyes.hold()
    eyes.page.keyboard.press("Escape")
    eyes.stopped()
    eyes.page.mouse.up()
    assert eyes.find("#stop").get_attribute("aria-pressed") == "true"
    assert "pull" in eyes.text("#stop")
    eyes.until("bench.frame.state === 'fault'")
    eyes.find("#fault").wait_for()
    assert "emergency stop" in eyes.text("#fault")
    eyes.find("#stop").click()
    eyes.until("bench.frame.hands.stop === 0")
    eyes.find("#reset").hover()
    eyes.page.mouse.down()
    eyes.until("bench.frame.hands.reset === 1")
    pressed = eyes.ask("bench.frame.t_ms")
    eyes.until(f"bench.frame.t_ms > {pressed + 2200}")  # 2 s make a press deliberate
    eyes.page.mouse.up()
    eyes.until("bench.frame.fault === ''")
    eyes.ready()


def test_a_second_page_watches_until_it_asks(browser: Browser, eyes: Eyes, fresh: Server) -> None:
    eyes.find("#link").click()  # whoever moves a hand first has the control
    eyes.until("bench.frame.holder === 'you'")
    other = Eyes(browser.new_page(), fresh.url)
    other.until("bench.frame.holder === 'other'")
    assert "Another page has the control" in other.text("#hands")
    assert other.find("#hold-raise").get_attribute("aria-disabled") == "true"
    other.page.keyboard.down("r")
    other.page.wait_for_timeout(300)
    assert other.ask("bench.frame.asked") == 0
    other.page.keyboard.up("r")
    other.page.get_by_role("button", name="Ask for the control").click()
    other.until("bench.frame.holder === 'you'")
    eyes.until("bench.frame.holder === 'other'")
    assert other.complaints == []
    other.page.close()


# --- the server goes -----------------------------------------------------------------


@contextmanager
def process() -> Iterator[tuple[subprocess.Popen[str], str]]:
    """Serve from a process of its own, which can be killed."""
    child = subprocess.Popen([sys.executable, "-c", SERVE], stdout=subprocess.PIPE, text=True)
    assert child.stdout is not None
    try:
        yield child, child.stdout.readline().strip()
    finally:
        child.kill()
        child.wait()
        child.stdout.close()


@pytest.mark.parametrize(
    ("blow", "words"),
    [(signal.SIGKILL, "The server is gone"), (signal.SIGSTOP, "The server does not answer")],
)
def test_a_server_that_is_gone_is_told_in_words(
    browser: Browser, blow: signal.Signals, words: str
) -> None:
    with process() as (child, url):
        eyes = Eyes(browser.new_page(), url).ready()
        eyes.hold()
        os.kill(child.pid, blow)
        eyes.until("document.querySelector('#gone').textContent !== ''", 3.0)
        assert words in eyes.text("#gone")
        assert "nothing is held any more" in eyes.text("#gone")
        assert eyes.find("#hold-raise").get_attribute("aria-pressed") == "false"
        assert eyes.find("#hold-raise").get_attribute("aria-disabled") == "true"
        assert eyes.find("#gone").get_attribute("role") == "alert"
        if blow == signal.SIGSTOP:
            os.kill(child.pid, signal.SIGCONT)
            eyes.until("document.body.dataset.line === 'here'")
            eyes.stopped()  # the mouse is still down, and yet it does not start again
            assert eyes.complaints == []
        eyes.page.close()


# --- breaking ------------------------------------------------------------------------


def test_a_defect_gives_lamp_and_words_of_the_table(eyes: Eyes) -> None:
    eyes.tab("defects")
    eyes.find("#search").fill("QA1 pole1 welded")
    eyes.find("#when").select_option("raise")
    eyes.page.get_by_role("button", name="Arm QA1.pole1:welded").click()
    eyes.until("bench.frame.pending.length === 1")
    eyes.hold()
    eyes.until("bench.frame.defects.length === 1")
    eyes.page.mouse.up()
    eyes.until("bench.frame.state === 'fault'")
    number = next(n for n, row in enumerate(FAULTS) if row[0] == "raise_not_released")
    _, _, group, item = FAULTS[number]
    eyes.find("#fault").wait_for()
    told = eyes.text("#fault")
    assert FAULT_TEXTS[number][0] in told
    assert FAULT_TEXTS[number][1] in told
    assert f"{group}-{item}" in told
    eyes.until("document.querySelector('.lamp_red').dataset.on === '1'")
    assert eyes.text("#state-name") == "fault"
    eyes.find("#mend-all").click()
    eyes.until("bench.frame.defects.length === 0")
    eyes.page.get_by_text("Nothing is broken.").wait_for()


def test_the_catalogue_is_searched_and_short(eyes: Eyes) -> None:
    eyes.tab("defects")
    assert eyes.find("#catalogue li").count() <= 40
    eyes.find("#search").fill("bg1 open")
    for row in eyes.find("#catalogue code").all():
        assert "open" in row.locator("..").inner_text().lower()
    assert eyes.find("#catalogue li").count() > 0


def test_the_circuit_lives_and_leads_to_what_can_break(eyes: Eyes) -> None:
    eyes.tab("circuit")
    eyes.find("[data-sheet='2']").click()
    eyes.until("document.querySelectorAll('.paper .dot').length > 5")
    wires = eyes.ask("new Set(bench.hello.wires.map((w) => w.mark)).size")
    eyes.until("document.querySelectorAll('.paper .wire.live').length > 0")
    shown = (
        "[...document.querySelectorAll('.paper .wire.live')]"
        ".every((node) => bench.frame.live_wires.includes(node.dataset.mark))"
    )
    assert eyes.ask(shown)
    assert wires > 50
    coil = eyes.find(".paper g[data-coil='QA0']")
    assert coil.get_attribute("data-on") == "0"
    eyes.hold(key="r")
    eyes.until("document.querySelector('.paper g[data-coil=QA0]').dataset.on === '1'")
    eyes.page.keyboard.up("r")
    coil.click()
    assert eyes.find("#part").input_value() == "QA0"
    assert eyes.find("#catalogue li").count() > 3
    eyes.find("[data-id='QA0.pole1:welded']").click()
    eyes.tab("circuit")
    eyes.until("document.querySelectorAll('.paper .hit.broken').length > 0")


def test_a_broken_requirement_tells_its_moment_and_leads_there(eyes: Eyes) -> None:
    """Two contactors that stay pulled in are two defects: no wiring like this one stops then."""
    eyes.tab("defects")
    eyes.find("#when").select_option("raise")
    for name in ("QA0:stuck-pulled", "QA1:stuck-pulled"):
        eyes.find("#search").fill(name)
        eyes.find(f"[data-id='{name}']").click()
    eyes.hold()
    eyes.page.mouse.up()
    eyes.until("bench.frame.monitors.some((row) => row.ok === false)")
    eyes.tab("monitors")
    broken = eyes.find("#verdicts td[data-kind='broken']").first
    broken.wait_for()
    assert "broken" in broken.inner_text()
    at_ms = eyes.ask("bench.frame.monitors.find((row) => row.ok === false).t_ms")
    assert f"{at_ms / 1000:.3f} s" in broken.inner_text()
    broken.get_by_role("button").click()
    eyes.until("bench.frame.paused")
    assert eyes.ask("bench.frame.t_ms") < at_ms
    eyes.find("#pause").click()
