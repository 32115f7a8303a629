// The requirements and whether each still holds, with the moment at which it was broken.

import { button, el, mark, say, seconds, show } from "./dom.js";

const BEFORE_S = 1; // the moment is looked at from a little before it

export class Monitors {
  constructor(place, link) {
    this.link = link;
    this.body = el("tbody", { id: "verdicts" });
    this.sum = el("p", { id: "verdict-sum", role: "status" });
    place.append(
      this.sum,
      el(
        "table",
        { class: "verdicts" },
        el(
          "thead",
          {},
          el(
            "tr",
            {},
            el("th", { scope: "col" }, "Requirement"),
            el("th", { scope: "col" }, "Verdict"),
          ),
        ),
        this.body,
      ),
    );
  }

  hello(hello) {
    this.back = hello.back_s;
    this.rows = new Map();
    this.body.replaceChildren(
      ...hello.requirements.map((row) => {
        const verdict = el("b");
        const text = el("span");
        const go = button("Go there", () => this.go(row.name), {
          hidden: true,
          "aria-label": `Go to the moment ${row.name} was broken`,
        });
        const cell = el("td", {}, verdict, " ", text, " ", go);
        this.rows.set(row.name, { cell, verdict, text, go });
        const limit = row.limit === "-" ? "" : ` (${row.limit})`;
        return el(
          "tr",
          {},
          el("th", { scope: "row" }, row.name, el("span", {}, ` ${row.text}${limit}`)),
          cell,
        );
      }),
    );
  }

  go(name) {
    const row = this.frame.monitors.find((other) => other.name === name);
    const since = (this.frame.t_ms - row.t_ms) / 1000 + BEFORE_S;
    this.link.send({ do: "back", s: Math.min(this.back, Math.max(0.25, since)) });
  }

  draw(frame) {
    this.frame = frame;
    let broken = 0;
    for (const row of frame.monitors) {
      const shown = this.rows.get(row.name);
      const kind = row.ok == null ? "open" : row.ok ? "holds" : "broken";
      if (kind === "broken") broken += 1;
      const signs = { open: "– not judged", holds: "✓ holds", broken: "✕ broken" };
      say(shown.verdict, signs[kind]);
      mark(shown.cell, "data-kind", kind);
      say(shown.text, kind === "broken" ? `at ${seconds(row.t_ms)}: ${row.text}` : "");
      show(shown.go, kind === "broken" && (frame.t_ms - row.t_ms) / 1000 < this.back);
    }
    say(
      this.sum,
      broken ? `${broken} of ${frame.monitors.length} are broken.` : "So far none is broken.",
    );
  }
}
