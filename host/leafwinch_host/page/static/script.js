// Plays a script, a scenario or the line of a proof, and keeps what was done as a scenario.

import { button, el } from "./dom.js";

const EXAMPLE = `name = "up-a-little"
summary = "raise for three seconds, let go"
starts_at = "bottom"

[[step]]
do = "wait"
until = "idle"
at_most = "5 s"

[[step]]
do = "raise"
for = "3 s"

[[step]]
do = "release"
for = "1 s"
`;
const LONGEST = 50_000;

export class Script {
  constructor(place, link) {
    this.text = el("textarea", { id: "script", rows: 10, spellcheck: "false" });
    const file = el("input", { type: "file", id: "script-file", accept: ".toml,text/plain" });
    file.addEventListener("change", async () => {
      const chosen = file.files[0];
      if (chosen && chosen.size <= LONGEST) this.text.value = await chosen.text();
    });
    const send = (text) => link.send({ do: "scenario", text: text.slice(0, LONGEST) });
    place.append(
      el(
        "p",
        {},
        "A script or a scenario as TOML, or a line 'leafwinch run ...' that a proof printed. It " +
          "begins anew and moves the hands until a hand of yours takes over.",
      ),
      el("label", { for: "script" }, "Text or line", this.text),
      el("label", { for: "script-file" }, "or a file", file),
      el(
        "div",
        { class: "small" },
        button("Play it", () => send(this.text.value), { id: "play" }),
        button("Only my hands, anew", () => send(""), { id: "hands-only" }),
      ),
      el("h3", {}, "Share what happened"),
      el(
        "p",
        {},
        "Everything that hands and surroundings did since the beginning, as a scenario file. " +
          "Whoever has it sees the same run, step by step: on a page like this with " +
          "'leafwinch bench --scenario FILE', in words with 'leafwinch replay FILE'.",
      ),
      el(
        "div",
        { class: "small" },
        button("Save what happened", () => link.send({ do: "keep" }), { id: "keep" }),
      ),
    );
  }

  hello() {
    if (!this.text.value) this.text.value = EXAMPLE;
  }
}
