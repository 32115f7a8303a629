"""How the page looks and is reached: contrast, width, names, focus, frames, memory, its files.

Contrast: WCAG 2.2, success criteria 1.4.3 (4.5 to 1 for text) and 1.4.11 (3 to 1 for what is
pressed), with relative luminance as defined there (w3.org/TR/WCAG22, from memory).
"""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from leafwinch_host.page.app import STATIC, Server
from leafwinch_host.page.view import page_html
from tests.page.eyes import TABS, Eyes

TEXT_RATIO = 4.5
EDGE_RATIO = 3.0
LINES_MAX = 450

COLOURS = """(selector) => {
    const read = (words) => {
        const pen = document.createElement("canvas").getContext("2d");
        pen.fillStyle = words;
        pen.fillRect(0, 0, 1, 1);
        return [...pen.getImageData(0, 0, 1, 1).data];
    };
    const seen = [...document.querySelectorAll(selector)].filter((n) => n.checkVisibility());
    return seen.map((node) => {
        const style = getComputedStyle(node);
        const own = node instanceof SVGElement ? style.fill : style.color;
        let behind = node;
        if (node instanceof SVGElement) behind = node.closest("div");
        while (behind && read(getComputedStyle(behind).backgroundColor)[3] < 255) {
            behind = behind.parentElement;
        }
        const ground = behind ?? document.documentElement;
        let around = node.parentElement;
        while (around && read(getComputedStyle(around).backgroundColor)[3] < 255) {
            around = around.parentElement;
        }
        return {
            ink: read(own),
            ground: read(getComputedStyle(ground).backgroundColor),
            edge: read(style.borderTopColor),
            around: read(getComputedStyle(around ?? document.documentElement).backgroundColor),
            what: node.outerHTML.slice(0, 90),
        };
    });
}"""


def luminance(colour: list[int]) -> float:
    """Relative luminance of 8-bit sRGB."""
    parts = [value / 255 for value in colour[:3]]
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: list[int], other: list[int]) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_contrast_is_worked_out_as_published() -> None:
    """White on black is 21 to 1; #767676 is the lightest grey that passes on white (WCAG)."""
    assert contrast([0, 0, 0], [255, 255, 255]) == pytest.approx(21.0)
    assert contrast([0x76] * 3, [255] * 3) >= TEXT_RATIO > contrast([0x77] * 3, [255] * 3)


@pytest.fixture(params=["light", "dark"])
def themed(request: pytest.FixtureRequest, browser: Browser, fresh: Server) -> Iterator[Eyes]:
    size = {"width": 1280, "height": 900}
    page = browser.new_page(viewport=size, color_scheme=request.param)  # type: ignore[arg-type]
    found = Eyes(page, fresh.url).ready()
    yield found
    assert found.complaints == []
    page.close()


def test_texts_can_be_read(themed: Eyes) -> None:
    themed.find("#more-cautions").click()
    themed.find(".fingers summary").click()
    for name in TABS:
        themed.tab(name)
        themed.page.wait_for_timeout(200)
        selector = "h1, h2, h3, p, dt, dd, li, th, td, label, button, input, select, code, summary"
        rows = themed.page.evaluate(COLOURS, f"{selector}, .side text, .paper text")
        assert len(rows) > 60
        for row in rows:
            assert contrast(row["ink"], row["ground"]) >= TEXT_RATIO, row


def test_what_is_pressed_has_an_edge_or_a_colour_of_its_own(themed: Eyes) -> None:
    rows = themed.page.evaluate(COLOURS, "button:not(.plain), input, select, textarea")
    assert len(rows) > 15
    for row in rows:
        edge = contrast(row["edge"], row["around"])
        assert max(edge, contrast(row["ground"], row["around"])) >= EDGE_RATIO, row


def test_fault_and_held_and_gone_can_be_read(themed: Eyes) -> None:
    themed.page.keyboard.press("Escape")
    themed.until("bench.frame.state === 'fault'")
    themed.find("#fault").wait_for()
    themed.page.evaluate(
        "() => { const gone = document.querySelector('#gone');"
        " gone.className = 'gone show'; gone.textContent = 'gone'; }"
    )
    themed.page.wait_for_timeout(300)  # until the colour of the stop has changed over
    for row in themed.page.evaluate(COLOURS, "#fault, #gone, #stop, #state-name, .why li"):
        assert contrast(row["ink"], row["ground"]) >= TEXT_RATIO, row


@pytest.mark.parametrize("width", [390, 860, 1280])
def test_nothing_is_wider_than_the_page(browser: Browser, fresh: Server, width: int) -> None:
    eyes = Eyes(browser.new_page(viewport={"width": width, "height": 844}), fresh.url)
    eyes.find("#more-cautions").click()
    eyes.find(".fingers summary").click()
    for name in TABS:
        eyes.tab(name)
        if name == "bare":
            eyes.find("#bare").click()
            eyes.until("bench.frame.bare !== null")
        eyes.page.wait_for_timeout(250)
        assert eyes.ask("document.documentElement.scrollWidth") <= width, name
        assert eyes.ask("document.body.scrollWidth") <= width, name
    if width == 390:
        for one in ("raise", "lower"):
            assert eyes.find(f"#hold-{one}").is_visible()
            box = eyes.find(f"#hold-{one}").bounding_box()
            # 24 px is the least target of WCAG 2.2, 2.5.8; a held button wants a thumb.
            assert box is not None
            assert min(box["width"], box["height"]) >= 44
    assert eyes.complaints == []
    eyes.page.close()


def test_a_finger_holds_and_sliding_off_lets_go(browser: Browser, fresh: Server) -> None:
    context = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True)
    eyes = Eyes(context.new_page(), fresh.url).ready()
    line = context.new_cdp_session(eyes.page)
    box = eyes.find("#hold-raise").bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2

    def touch(kind: str, *points: dict[str, float]) -> None:
        line.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": list(points)})

    touch("touchStart", {"x": x, "y": y})
    eyes.until("bench.frame.way === 1")
    touch("touchMove", {"x": x, "y": y - 200})
    eyes.stopped()
    touch("touchMove", {"x": x, "y": y})
    eyes.stopped()  # sliding back is no new press
    touch("touchEnd")
    assert eyes.complaints == []
    context.close()


def test_everything_that_is_pressed_has_a_name_and_is_reached_by_keys(themed: Eyes) -> None:
    nameless = (
        "[...document.querySelectorAll('button, input, select, textarea, [role=button]')]"
        ".filter((n) => !(n.ariaLabel || n.textContent.trim() || n.labels?.length))"
        ".map((n) => n.outerHTML)"
    )
    for name in TABS:
        themed.tab(name)
        assert themed.ask(nameless) == []
    themed.tab("guide")
    themed.ask("() => { document.activeElement.blur(); scrollTo(0, 0); }")
    reached, hidden = set(), []
    for _ in range(60):
        themed.page.keyboard.press("Tab")
        state = themed.ask(
            "() => { const n = document.activeElement; const s = getComputedStyle(n);"
            " return [n.id, s.outlineStyle !== 'none' && parseFloat(s.outlineWidth) >= 2]; }"
        )
        reached.add(state[0])
        if not state[1] and state[0]:
            hidden.append(state[0])
    assert {"hold-raise", "hold-lower", "stop", "reset", "key", "power", "link", "pause"} <= reached
    assert {"keys", "speed", "tab-p-guide", "begin-release", "save-trace"} <= reached
    assert hidden == []


def test_tabs_go_with_arrows(themed: Eyes) -> None:
    themed.find("#tab-p-guide").focus()
    themed.page.keyboard.press("ArrowRight")
    assert themed.find("#p-circuit").is_visible()
    assert not themed.find("#p-guide").is_visible()
    themed.page.keyboard.press("End")
    assert themed.find("#p-script").is_visible()
    assert themed.ask("bench.frame.asked") == 0


def test_states_are_spoken(themed: Eyes) -> None:
    assert themed.find("#spoken").get_attribute("aria-live") == "polite"
    themed.page.keyboard.press("Escape")
    themed.until("document.querySelector('#spoken').textContent.includes('emergency stop')")
    label = themed.find("#deck svg").get_attribute("aria-label") or ""
    assert "degrees" in label


def test_who_wants_less_motion_gets_no_transitions(browser: Browser, fresh: Server) -> None:
    eyes = Eyes(browser.new_page(reduced_motion="reduce"), fresh.url)
    moving = (
        "[...document.querySelectorAll('*')].filter((n) => {"
        " const s = getComputedStyle(n);"
        " return parseFloat(s.transitionDuration) > 0 || s.animationName !== 'none'; }).length"
    )
    assert eyes.ask(moving) == 0
    eyes.page.close()


COUNT = """() => new Promise((done) => {
    const from = {frames: bench.frames, drawn: bench.drawn};
    let beats = 0;
    const beat = () => { beats += 1; requestAnimationFrame(beat); };
    requestAnimationFrame(beat);
    setTimeout(() => done([bench.frames - from.frames, beats, bench.drawn - from.drawn]), 1500);
})"""


def test_what_comes_is_drawn_as_often_as_the_browser_shows_it(themed: Eyes) -> None:
    """How many that are in a second is measured by `make benchmark`, on a quiet machine."""
    themed.hold()
    frames, beats, drawn = themed.page.evaluate(COUNT)
    themed.page.mouse.up()
    # Frames that come between two beats of the browser are drawn as one.
    assert drawn >= 0.5 * min(frames, beats) > 0


def test_the_recorder_keeps_its_memory_and_forgets_what_was_taken_back(themed: Eyes) -> None:
    found = themed.page.evaluate(
        "() => import('/static/ring.js').then(({ Ring }) => {"
        " const ring = new Ring(1000);"
        " for (let n = 0; n < 50_000; n += 1) ring.push(n * 20, 1, 2, 3, 4);"
        " const full = [ring.count, ring.t.length, ring.firstMs, ring.lastMs, ring.find(990_010)];"
        " ring.push(985_000, 1, 2, 3, 4);"
        " return [...full, ring.count, ring.lastMs]; })"
    )
    # The last thousand of fifty thousand begin at 980 s; back at 985 s, 251 of them are left.
    assert found == [1000, 1000, 980_000, 999_980, 500, 251, 985_000]


def test_the_recorder_shows_values_and_follows_again(themed: Eyes) -> None:
    themed.until("bench.frame.t_ms > 3000")
    canvas = themed.find("#strip canvas")
    canvas.scroll_into_view_if_needed()
    box = canvas.bounding_box()
    assert box is not None
    themed.page.mouse.move(box["x"] + box["width"] - 20, box["y"] + 60)
    themed.until("document.querySelector('#strip-value').textContent.includes('idle')")
    assert re.match(r"\d+\.\d{3} s: idle, 0\.00°", themed.text("#strip-value"))
    themed.page.get_by_role("button", name="Closer").click()
    themed.page.get_by_role("button", name="Earlier").click()
    themed.page.get_by_role("button", name="Follow").click()


def test_the_shell_says_the_dangers_and_calls_nothing_from_elsewhere() -> None:
    shell = page_html()
    for word in ("Simulation only", "crushes", "falls", "drown", "mains", "licensed"):
        assert word in shell
    texts = [shell, *(p.read_text(encoding="utf-8") for p in sorted(STATIC.iterdir()))]
    for text in texts:
        found = set(re.findall(r"(?:https?:)?//[a-z0-9.-]+\.[a-z]{2,}[^\s\"']*", text))
        assert found <= {"http://www.w3.org/2000/svg"}


@pytest.mark.parametrize("path", sorted(STATIC.iterdir()), ids=lambda path: path.name)
def test_files_of_the_page_are_small(path: Path) -> None:
    lines = path.read_text(encoding="utf-8").splitlines()
    assert len(lines) <= LINES_MAX
    assert max(map(len, lines)) <= 100
