"""Guided experiments and the other parts of the page, in a real browser.

Each experiment must end as its words say; what that is comes from the requirements R1 and R6 of
this project (firmware/README.md).
"""

import pytest

from leafwinch_host.page.app import Server
from leafwinch_host.page.trace_rows import recording_of
from tests.page.eyes import Eyes


def begin(eyes: Eyes, name: str) -> None:
    """Begin an experiment and hold until the deck has risen as long as it asks for."""
    eyes.find(f"#begin-{name}").click()
    eyes.until("document.querySelector('#guide-result').textContent.startsWith('Step 1')")
    first = f"document.querySelector('#guide-{name} li').dataset.kind === 'good'"
    while not eyes.ask(first):  # a page that was too busy lets go; then it rises anew
        eyes.hold(key="ArrowUp")
        eyes.until(f"{first} || bench.frame.asked === 0")
        if not eyes.ask(first):
            eyes.page.keyboard.up("ArrowUp")


def ended(eyes: Eyes, name: str) -> str:
    eyes.until(f"document.querySelector('#guide-{name}').dataset.kind !== 'now'")
    return str(eyes.find(f"#guide-{name}").get_attribute("data-kind"))


def test_experiment_hold_and_let_go(eyes: Eyes) -> None:
    begin(eyes, "release")
    eyes.page.keyboard.up("ArrowUp")
    assert ended(eyes, "release") == "good"
    assert "R1 holds" in eyes.text("#guide-release")


def test_experiment_wire_of_the_top_limit(eyes: Eyes) -> None:
    for _ in range(3):  # a busy page may let go before the wire breaks, which counts as bad
        begin(eyes, "wire")
        eyes.until(
            "document.querySelector('#guide-wire').textContent.includes('by itself, still')"
            " || document.querySelector('#guide-wire').dataset.kind === 'bad'"
        )
        if eyes.find("#guide-wire").get_attribute("data-kind") == "now":
            break
        eyes.page.keyboard.up("ArrowUp")
    assert eyes.ask("bench.frame.way") == 0
    eyes.page.keyboard.up("ArrowUp")
    eyes.find("#mend-wire").click()
    assert ended(eyes, "wire") == "good"


def test_experiment_welded_contactor(eyes: Eyes) -> None:
    begin(eyes, "weld")
    eyes.until("bench.frame.defects.length === 1")
    eyes.page.keyboard.up("ArrowUp")
    eyes.until("bench.frame.state === 'fault' && bench.frame.asked === 0")
    assert eyes.ask("bench.frame.way") == 0
    for _ in range(5):
        eyes.page.keyboard.down("ArrowUp")
        eyes.page.wait_for_timeout(1000)
        eyes.page.keyboard.up("ArrowUp")
        if eyes.find("#guide-weld").get_attribute("data-kind") == "good":
            break
    assert ended(eyes, "weld") == "good"
    assert eyes.ask("bench.frame.way") == 0
    assert "nothing moves" in eyes.text("#guide-weld")


FED_ON = """(how) => import('/static/guide.js').then(({ Guide }) => {
    const guide = new Guide(document.createElement('div'), { send() {} });
    guide.hello(bench.hello);
    const still = structuredClone(bench.frame);
    const see = (t_ms, change) => guide.watch({ ...still, t_ms, defects: [], ...change });
    const weld = [{ id: bench.hello.guides.find((row) => row.id === how.id).defect }];
    see(9000, {});
    guide.begin(how.id);
    see(5, {});
    see(1000, { state: 'idle' });
    see(2000, { asked: 1, way: 1, brake_set: false });
    see(3600, { asked: 1, way: 1, brake_set: false });
    for (let t = 3620; t < 3700; t += 20) {
        see(t, { asked: 1, way: 1, brake_set: false, defects: weld });
    }
    for (let t = 3700; t < 4600; t += 20) {
        see(t, { asked: 0, way: how.way, brake_set: how.way === 0, defects: weld });
    }
    return guide.cards.get(how.id).node.dataset.kind;
})"""


@pytest.mark.parametrize(
    ("name", "way", "kind"),
    [("release", 1, "bad"), ("release", 0, "good"), ("wire", 0, "bad"), ("weld", 1, "bad")],
)
def test_experiments_see_what_went_wrong(eyes: Eyes, name: str, way: int, kind: str) -> None:
    """With frames made up: a motor that is fed on, or a hand that lets go too early."""
    assert eyes.page.evaluate(FED_ON, {"id": name, "way": way}) == kind


def test_bare_wiring_beside_follows_the_same_hands(eyes: Eyes) -> None:
    eyes.tab("bare")
    eyes.find("#bare").click()
    eyes.until("bench.frame.bare !== null")
    eyes.hold(key="r")
    eyes.until("bench.frame.angle_deg > 3 && bench.frame.bare.angle_deg > 3")
    eyes.page.keyboard.up("r")
    assert "Bare" in eyes.text("#beside")
    eyes.stopped()
    eyes.find("#bare").click()
    eyes.until("bench.frame.bare === null")


def test_the_saved_trace_is_the_one_of_the_bench(eyes: Eyes, fresh: Server) -> None:
    eyes.find("#pause").click()
    eyes.until("bench.frame.paused")
    with eyes.page.expect_download() as waiting:
        eyes.find("#save-trace").click()
    with fresh.bench.lock:
        recording = recording_of(fresh.bench.play)
    assert waiting.value.suggested_filename == recording.name
    assert waiting.value.path().read_text(encoding="utf-8") == recording.text()


def test_time_pauses_steps_goes_back_and_changes_speed(eyes: Eyes) -> None:
    eyes.until("bench.frame.t_ms > 2000")
    eyes.find("#pause").click()
    eyes.until("bench.frame.paused")
    before = eyes.ask("bench.frame.t_ms")
    eyes.find("#step").click()
    eyes.until(f"bench.frame.t_ms === {before + 5}")
    eyes.find("#back").click()
    eyes.until(f"bench.frame.t_ms <= {before - 995}")
    eyes.find("#speed").fill("7")
    eyes.until("bench.frame.speed === 8")
    eyes.until("document.querySelector('#speed-words').textContent === '8×'")
    eyes.find("#pause").click()
    eyes.until("!bench.frame.paused")


def test_a_script_is_played_and_a_bad_one_is_refused_in_words(eyes: Eyes) -> None:
    eyes.tab("script")
    eyes.find("#play").click()
    eyes.until("bench.frame.playing !== null && bench.frame.way === 1")
    eyes.find("#script").fill("nonsense")
    eyes.find("#play").click()
    eyes.until("document.querySelector('#told').textContent !== ''")
    eyes.find("#hands-only").click()
    eyes.until("bench.frame.playing === null")
