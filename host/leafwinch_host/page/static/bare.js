// The same machine, the same hands, the same defects, without a controller: side by side.

import { button, el, mark, say, show } from "./dom.js";
import { Deck } from "./deck.js";

const ROWS = [
  ["Fold angle", (f) => `${f.angle_deg.toFixed(2)}°`],
  ["Motor", (f) => ({ 1: "fed to raise", "-1": "fed to lower", 2: "fed" })[f.way] ?? "off"],
  ["Motor current", (f) => `${f.current_a.toFixed(2)} A`],
  ["Rope tension", (f) => `${f.rope.tension_n.toFixed(0)} N`],
  ["Force on the buffer", (f) => `${f.buffer_n.toFixed(0)} N`],
  ["Coils pulled in", (f) => coils(f)],
  ["Requirements broken", (f) => broken(f)],
];

const BESIDE = "Put the bare bench beside";

const coils = (frame) =>
  Object.keys(frame.coils)
    .filter((name) => frame.coils[name].on)
    .join(", ") || "none";

const broken = (frame) =>
  frame.monitors
    .filter((row) => row.ok === false)
    .map((row) => `${row.name} at ${(row.t_ms / 1000).toFixed(2)} s`)
    .join(", ") || "none";

export class Bare {
  constructor(place, link) {
    this.link = link;
    this.frame = null;
    const turn = () => link.send({ do: "bare", on: !this.frame?.bare });
    this.act = button(BESIDE, turn, { id: "bare" });
    this.words = el("p", {});
    this.picture = el("div", { class: "deck" });
    this.deck = new Deck(this.picture, "Deck with bare wiring");
    this.cells = ROWS.map(([name, words]) => {
      const [one, other] = [el("td"), el("td")];
      return { row: el("tr", {}, el("th", { scope: "row" }, name), one, other), one, other, words };
    });
    this.beside = el(
      "div",
      { id: "beside" },
      this.picture,
      el(
        "table",
        { class: "beside" },
        el(
          "thead",
          {},
          el(
            "tr",
            {},
            el("td"),
            el("th", { scope: "col" }, "With the board"),
            el("th", { scope: "col" }, "Bare"),
          ),
        ),
        el("tbody", {}, ...this.cells.map((row) => row.row)),
      ),
    );
    place.append(this.words, this.act, this.beside);
  }

  hello(hello) {
    this.name = hello.bare;
    this.deck.hello(hello);
    say(
      this.words,
      hello.bare
        ? `The wiring '${hello.bare}' has switches but no controller. The same hands move it, ` +
            "and what breaks in one breaks in the other where that has it."
        : "This wiring is the bare one; there is nothing to put beside it.",
    );
    show(this.act, Boolean(hello.bare));
  }

  /** The second drawing, as often as the first. */
  move(frame) {
    if (frame.bare) this.deck.draw({ ...frame.bare, obstacle: frame.obstacle });
  }

  draw(frame) {
    this.frame = frame;
    const on = Boolean(frame.bare);
    say(this.act, on ? "Take the bare bench away" : BESIDE);
    mark(this.act, "aria-pressed", on);
    show(this.beside, on);
    if (!on) return;
    for (const row of this.cells) {
      say(row.one, row.words(frame));
      say(row.other, row.words(frame.bare));
    }
  }
}
