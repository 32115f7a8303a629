// Puts the page together: one line to the server, one loop that draws, and the parts of the page.

import { Bare } from "./bare.js";
import { Circuit } from "./circuit.js";
import { Controls } from "./controls.js";
import { Deck, Readings } from "./deck.js";
import { Defects } from "./defects.js";
import { button, byId, el, mark, save, say, seconds, show } from "./dom.js";
import { Guide } from "./guide.js";
import { Link } from "./link.js";
import { Monitors } from "./monitors.js";
import { releaseAll } from "./press.js";
import { Script } from "./script.js";
import { Speed } from "./speed.js";
import { State } from "./state.js";
import { Strip } from "./strip.js";
import { Tabs } from "./tabs.js";

const TOLD_MS = 8000;
const SLOW_MS = 100; // tables and circuit need no fifty looks a second
const GONE = {
  gone: "The server is gone: nothing is held any more and the page stands still.",
  silent: "The server does not answer: nothing is held any more and the page stands still.",
};

const link = new Link();
const numbers = { frames: 0, drawn: 0, frame: null, hello: null };
globalThis.bench = numbers; // for a look from the console, and for the tests

let slowMs = 0; // when the slow parts were drawn last
let toldTimer = 0;
function tell(words) {
  say(byId("told"), words);
  clearTimeout(toldTimer);
  toldTimer = setTimeout(() => say(byId("told"), ""), TOLD_MS);
}

const tabs = new Tabs(
  byId("tabs"),
  [
    ["p-guide", "Experiments"],
    ["p-circuit", "Circuit"],
    ["p-defects", "Break something"],
    ["p-monitors", "Requirements"],
    ["p-bare", "Bare wiring beside"],
    ["p-script", "Play and share"],
  ],
  () => (slowMs = 0),
);
const controls = new Controls(byId("hands"), link, tell);
const state = new State(byId("state"), byId("spoken"));
const speed = new Speed(byId("time"), link);
const deck = new Deck(byId("deck"), "Deck");
const readings = new Readings(byId("readings"));
const strip = new Strip(byId("strip"), link);
const defects = new Defects(byId("p-defects"), link);
const circuit = new Circuit(byId("p-circuit"), (part) => {
  tabs.choose("p-defects");
  defects.look(part);
});
const monitors = new Monitors(byId("p-monitors"), link);
const bare = new Bare(byId("p-bare"), link);
const guide = new Guide(byId("p-guide"), link, tell);
const script = new Script(byId("p-script"), link);
const greeted = [controls, deck, strip, defects, circuit, monitors, bare, guide, script];
const slow = { "p-defects": defects, "p-circuit": circuit, "p-monitors": monitors, "p-bare": bare };

function greet(hello) {
  numbers.hello = hello;
  say(byId("t-site"), hello.site.name);
  say(byId("t-wiring"), hello.wiring.name);
  say(byId("t-seed"), hello.seed);
  document.title = `Bench: ${hello.site.name}`;
  byId("cautions").replaceChildren(
    ...hello.cautions.map((row) => el("p", {}, el("b", {}, `${row.hazard}. `), row.advice)),
    el("p", {}, hello.legal),
  );
  for (const part of greeted) part.hello(hello);
}

function take(frame) {
  numbers.frames += 1;
  numbers.frame = frame;
  strip.push(frame);
  guide.watch(frame);
}

function draw(nowMs) {
  requestAnimationFrame(draw);
  const frame = numbers.frame;
  if (!frame || !numbers.hello || !link.here) return;
  strip.draw();
  if (frame === numbers.shown && nowMs - slowMs < SLOW_MS) return;
  if (frame !== numbers.shown) numbers.drawn += 1;
  numbers.shown = frame;
  say(byId("t-time"), seconds(frame.t_ms));
  deck.draw(frame);
  readings.draw(frame);
  state.draw(frame);
  controls.draw(frame);
  if (tabs.open === "p-bare") bare.move(frame);
  if (nowMs - slowMs < SLOW_MS) return;
  slowMs = nowMs;
  speed.draw(frame);
  guide.draw(frame);
  slow[tabs.open]?.draw(frame);
  if (frame.trouble) tell(frame.trouble);
}

function turn(line) {
  document.body.dataset.line = line;
  const words = { here: "answers", waiting: "waiting", gone: "gone", silent: "silent" };
  say(byId("t-line"), words[line]);
  const place = byId("gone");
  mark(place, "class", line in GONE ? "gone show" : "gone");
  if (line === "here") {
    place.replaceChildren();
    return;
  }
  if (!(line in GONE)) return;
  controls.gone();
  const again = button("Connect again", () => link.connect());
  const advice = `${GONE[line]} Start the bench again if it was ended. `;
  place.replaceChildren(el("span", {}, advice), again);
}

link.addEventListener("hello", (event) => greet(event.detail));
link.addEventListener("frame", (event) => take(event.detail));
link.addEventListener("line", (event) => turn(event.detail));
link.addEventListener("refused", (event) => {
  releaseAll("");
  tell(event.detail.refused);
});
for (const file of ["trace", "kept"]) {
  link.addEventListener(file, (event) => save(event.detail.name, event.detail.text));
}

byId("more-cautions").addEventListener("click", () => {
  const open = byId("cautions").hidden;
  show(byId("cautions"), open);
  byId("more-cautions").setAttribute("aria-expanded", String(open));
});
link.connect();
requestAnimationFrame(draw);
