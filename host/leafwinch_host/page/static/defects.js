// What can break: a catalogue to search, breaking at once or at an event, mending.

import { button, el, mark, say, show } from "./dom.js";

const SHOWN = 40;

export class Defects {
  constructor(place, link) {
    this.link = link;
    this.catalogue = [];
    this.byId = new Map();
    this.broken = new Set();
    this.listed = "";
    this.search = el("input", {
      type: "search",
      id: "search",
      placeholder: "welded, open, QA1, rope …",
      autocomplete: "off",
    });
    this.search.addEventListener("input", () => this.find());
    this.part = el("select", { id: "part" });
    this.part.addEventListener("change", () => this.find());
    this.when = el(
      "select",
      { id: "when" },
      ...[
        ["now", "now"],
        ["raise", "when the motor is next fed to raise"],
        ["lower", "when the motor is next fed to lower"],
        ["at", "at a bench time"],
      ].map(([value, words]) => el("option", { value }, words)),
    );
    this.at = el("input", { type: "number", id: "at", min: 0, max: 99_999, step: 0.1, value: 10 });
    this.atBox = el("label", { for: "at", hidden: true }, "Bench time in s", this.at);
    this.when.addEventListener("change", () => {
      show(this.atBox, this.when.value === "at");
      this.label();
    });
    this.count = el("p", { class: "hint", role: "status" });
    this.list = el("ul", { class: "rows", id: "catalogue" });
    this.now = el("ul", { class: "rows broken", id: "broken" });
    this.none = el("p", { class: "hint" }, "Nothing is broken.");
    this.all = button("Mend everything", () => link.send({ do: "mend", id: "all" }), {
      id: "mend-all",
    });
    place.append(
      el("h3", {}, "Broken now, or going to be"),
      this.none,
      this.now,
      this.all,
      el("h3", {}, "What can break"),
      el(
        "div",
        { class: "fields" },
        el("label", { for: "search" }, "Search", this.search),
        el("label", { for: "part" }, "Part", this.part),
        el("label", { for: "when" }, "When", this.when),
        this.atBox,
      ),
      this.count,
      this.list,
    );
  }

  hello(hello) {
    this.catalogue = hello.defects.map((row) => ({
      ...row,
      text: `${row.id} ${row.part} ${row.kind} ${row.cause}`.toLowerCase().replaceAll("_", " "),
    }));
    this.byId = new Map(this.catalogue.map((row) => [row.id, row]));
    const parts = [...new Set(this.catalogue.map((row) => row.part))].filter(Boolean).sort();
    this.part.replaceChildren(
      el("option", { value: "" }, "every part"),
      el("option", { value: "*" }, "surroundings"),
      ...parts.map((part) => el("option", { value: part }, part)),
    );
    this.find();
  }

  /** Show what can break at one part. */
  look(part) {
    this.search.value = "";
    this.part.value = part;
    if (this.part.value !== part) {
      this.part.value = ""; // nothing is listed under its reference alone
      this.search.value = part;
    }
    this.find();
    this.search.focus();
  }

  find() {
    const words = this.search.value.toLowerCase().replaceAll("_", " ").split(/\s+/).filter(Boolean);
    const part = this.part.value;
    const found = this.catalogue.filter(
      (row) =>
        (part === "" || (part === "*" ? row.around : row.part === part)) &&
        words.every((word) => row.text.includes(word)),
    );
    const more = found.length > SHOWN ? `, the first ${SHOWN} shown: search for less` : "";
    say(this.count, `${found.length} of ${this.catalogue.length}${more}`);
    this.list.replaceChildren(...found.slice(0, SHOWN).map((row) => this.row(row)));
    this.label();
    this.marks();
  }

  row(row) {
    const act = button("Break", () => this.inject(row.id), { "data-id": row.id });
    return el("li", {}, act, el("span", {}, el("code", {}, row.id), ` ${row.cause}`));
  }

  label() {
    const late = this.when.value !== "now";
    for (const act of this.list.querySelectorAll("button")) {
      say(act, late ? "Arm" : "Break");
      mark(act, "aria-label", `${late ? "Arm" : "Break"} ${act.dataset.id}`);
    }
  }

  /** Mark in the list what is broken already. */
  marks() {
    for (const act of this.list.querySelectorAll("button")) {
      mark(act.parentNode, "data-broken", this.broken.has(act.dataset.id) ? 1 : 0);
    }
  }

  inject(id) {
    const late = this.when.value === "at";
    const time = Math.max(0, Number(this.at.value) || 0);
    const when = late ? `at:${time.toFixed(3)}` : this.when.value;
    this.link.send({ do: "defect", id, when });
  }

  draw(frame) {
    const rows = [
      ...frame.defects.map((row) => ({ id: row.id, words: row.cause })),
      ...frame.pending.map((row) => ({ id: row.id, words: `armed: ${row.when}` })),
    ];
    const all = rows.map((row) => `${row.id} ${row.words}`).join("\n");
    if (all === this.listed) return;
    this.listed = all;
    this.broken = new Set(rows.map((row) => row.id));
    this.now.replaceChildren(
      ...rows.map((row) =>
        el(
          "li",
          {},
          button("Mend", () => this.link.send({ do: "mend", id: row.id }), {
            "aria-label": `Mend ${row.id}`,
          }),
          el("span", {}, el("code", {}, row.id), ` ${row.words}`),
        ),
      ),
    );
    show(this.none, rows.length === 0);
    show(this.all, rows.length > 0);
    this.marks();
  }
}
