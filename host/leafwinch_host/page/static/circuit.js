// The circuit drawings, alive: what is closed, what carries voltage, what is broken. A click on a
// part shows what can break there.

import { button, el, mark, say, svg } from "./dom.js";

const SIZES = [1, 1.5, 2, 3];

export class Circuit {
  constructor(place, chosen) {
    this.chosen = chosen;
    this.sheets = [];
    this.size = 0;
    this.text = "";
    this.picker = el("div", { class: "small", role: "group", "aria-label": "Sheet" });
    this.paper = el("div", {
      class: "paper",
      tabindex: 0,
      role: "region",
      "aria-label": "Circuit drawing; scroll it inside its frame",
      "data-keys": true,
    });
    this.words = el("p", { class: "hint", id: "circuit-words" });
    place.append(
      this.picker,
      this.paper,
      el(
        "div",
        { class: "small" },
        button("Larger", () => this.grow(1)),
        button("Smaller", () => this.grow(-1)),
      ),
      el(
        "ul",
        { class: "legend" },
        el("li", {}, el("i", { class: "key live" }), "thick: carries voltage"),
        el("li", {}, el("i", { class: "key dead" }), "thin: carries none"),
        el("li", {}, el("i", { class: "key closed" }), "filled: contact is closed"),
        el("li", {}, el("i", { class: "key open" }), "hollow: contact is open"),
        el("li", {}, el("i", { class: "key fault" }), "dashed frame: broken"),
      ),
      this.words,
      el("p", { class: "hint" }, "Choose a part in the drawing to see what can break there."),
    );
  }

  hello(hello) {
    this.elements = hello.elements;
    this.parts = hello.parts;
    this.number = 0;
    this.root = null;
    const rows = hello.sheets;
    this.picker.replaceChildren(
      ...rows.map((row) =>
        button(`${row.number} ${row.title}`, () => this.choose(row.number), {
          "data-sheet": row.number,
        }),
      ),
    );
    this.first = 2 <= rows.length ? 2 : 1;
  }

  async choose(number) {
    if (number === this.number) return;
    this.number = number;
    this.root = null;
    this.paper.replaceChildren(el("p", {}, "Drawing the circuit, which takes a moment ..."));
    const token = new URLSearchParams(location.search).get("token") ?? "";
    const query = new URLSearchParams({ sheet: number, token });
    let text = "";
    try {
      const answer = await fetch(`/drawing/circuit.svg?${query}`);
      if (answer.ok) text = await answer.text();
    } catch {
      // the line to the server says so as well
    }
    if (number !== this.number) return; // another one was chosen meanwhile
    for (const node of this.picker.children) {
      mark(node, "aria-pressed", Number(node.dataset.sheet) === number);
    }
    if (!text) {
      const why = "No drawing comes: the server is gone, or this sheet is too crowded to be drawn.";
      this.paper.replaceChildren(el("p", {}, why));
      return;
    }
    this.text = text; // laid out by `draw`, when it can be seen: hidden parts have no size
  }

  prepare() {
    const drawing = new DOMParser().parseFromString(this.text, "image/svg+xml").documentElement;
    this.text = "";
    const root = document.importNode(drawing, true);
    for (const name of ["width", "height"]) root.removeAttribute(name);
    this.root = root;
    this.groups = [...root.querySelectorAll("g[data-part]")];
    for (const group of this.groups) {
      const part = group.dataset.part;
      const kind = (this.parts[part]?.kind ?? "").replaceAll("_", " ");
      mark(group, "tabindex", 0);
      mark(group, "role", "button");
      mark(group, "aria-label", `${part}, ${kind}: what can break`);
      group.addEventListener("click", () => this.chosen(part));
      group.addEventListener("keydown", (event) => {
        if (event.key === "Enter") this.chosen(part);
      });
    }
    this.paper.replaceChildren(root);
    const terminals = new Map(
      [...root.querySelectorAll("circle[data-terminal]")].map((node) => [
        node.dataset.terminal,
        [Number(node.getAttribute("cx")), Number(node.getAttribute("cy"))],
      ]),
    );
    const drawn = new Set(this.groups.flatMap((group) => (group.dataset.contact ?? "").split(" ")));
    this.contacts = [];
    for (const element of this.elements) {
      const [a, b] = [terminals.get(element.a), terminals.get(element.b)];
      if (!drawn.has(element.name) || !a || !b) continue;
      this.contacts.push([element.name, this.contact(a, b)]);
    }
    this.wires = [...root.querySelectorAll("[data-mark]")];
    this.coils = this.groups.filter((group) => group.dataset.coil);
    this.frames = new Map(this.groups.map((group) => [group, this.hit(group)]));
    this.grow(0);
  }

  /** A dot beside a contact. */
  contact(a, b) {
    const dot = svg("circle", {
      class: "dot",
      cx: (a[0] + b[0]) / 2 + 2.6,
      cy: (a[1] + b[1]) / 2 - 0.4,
      r: 0.9,
    });
    this.root.append(dot);
    return dot;
  }

  /** A frame around a part: it takes the click, and shows that something is broken. */
  hit(group) {
    const box = group.getBBox();
    const frame = svg("rect", {
      class: "hit",
      x: box.x - 1.2,
      y: box.y - 1.2,
      width: box.width + 2.4,
      height: box.height + 2.4,
      rx: 1,
    });
    group.append(frame);
    return frame;
  }

  grow(step) {
    this.size = Math.min(SIZES.length - 1, Math.max(0, this.size + step));
    const narrow = this.paper.clientWidth < 600 ? 2 : 1; // else no letter is readable on a phone
    if (this.root) this.root.style.width = `${SIZES[this.size] * narrow * 100}%`;
  }

  draw(frame) {
    if (!this.number) this.choose(this.first); // only once somebody looks: drawing takes a while
    if (this.text) this.prepare();
    if (!this.root) return;
    for (const [name, dot] of this.contacts) {
      mark(dot, "class", frame.elements[name] ? "dot closed" : "dot");
    }
    const live = new Set(frame.live_wires);
    for (const wire of this.wires) {
      mark(wire, "class", live.has(wire.getAttribute("data-mark")) ? "wire live" : "wire");
    }
    for (const group of this.coils) {
      mark(group, "data-on", frame.coils[group.dataset.coil]?.on ? 1 : 0);
    }
    const broken = new Set(frame.defects.map((row) => row.part));
    for (const [group, rect] of this.frames) {
      mark(rect, "class", broken.has(group.dataset.part) ? "hit broken" : "hit");
    }
    const on = Object.keys(frame.coils).filter((name) => frame.coils[name].on);
    say(
      this.words,
      `${live.size} wires carry voltage. Pulled in: ${on.join(", ") || "no coil"}.` +
        (broken.size ? ` Broken: ${frame.defects.map((row) => row.id).join(", ")}.` : ""),
    );
  }
}
