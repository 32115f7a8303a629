// What the board says: state, why it is held, fault with lamp code, warnings, lamps, and who holds.

import { el, mark, say, show } from "./dom.js";

const NAMES = {
  none: "no board",
  off: "no power",
  starting: "starting",
  held: "held",
  idle: "ready",
  raising: "raising",
  lowering: "lowering",
  fault: "fault",
};
const SIGNS = { raising: "▲", lowering: "▼", fault: "✕", idle: "●", held: "■" };
const LAMPS = [
  ["lamp_white", "White lamp"],
  ["lamp_red", "Red lamp"],
  ["buzzer", "Buzzer"],
];
const SPEAK_MS = 700;

export class State {
  constructor(place, spoken) {
    this.spoken = spoken;
    this.sign = el("span", { class: "sign", "aria-hidden": "true" });
    this.name = el("b", { id: "state-name" }, "–");
    this.words = el("p", { id: "state-words" });
    this.fault = el("div", { class: "fault", id: "fault", hidden: true });
    this.why = el("ul", { class: "why", id: "why" });
    this.lamps = LAMPS.map(([name, words]) => {
      const value = el("span", {}, "off");
      const dot = el("i", { "aria-hidden": "true" });
      const lamp = el("li", { class: `lamp ${name}` }, dot, `${words}: `);
      lamp.append(value);
      return [name, lamp, value];
    });
    place.append(
      el("p", { class: "name" }, this.sign, this.name),
      this.words,
      this.fault,
      this.why,
      el("ul", { class: "lamps" }, ...this.lamps.map((row) => row[1])),
    );
    this.saidMs = -Infinity;
    this.said = "";
  }

  draw(frame) {
    say(this.sign, SIGNS[frame.state] ?? "○");
    say(this.name, NAMES[frame.state] ?? frame.state);
    mark(this.name.parentNode.parentNode, "data-state", frame.state);
    say(this.words, frame.state_words);
    show(this.fault, Boolean(frame.fault));
    if (frame.fault) {
      const name = frame.fault.replaceAll("_", " ");
      say(this.fault, `Fault ${frame.lamp_code} ${name}: ${frame.fault_words}`);
    }
    const why = [...frame.held_words];
    if (frame.ended_words && !frame.fault) why.push(`last travel: ${frame.ended_words}`);
    if (frame.refused_words) why.push(`refused: ${frame.refused_words}`);
    if (frame.warning_words) why.push(`warning: ${frame.warning_words}`);
    this.list(why);
    for (const [name, lamp, value] of this.lamps) {
      const on = Boolean(frame.outputs[name]);
      mark(lamp, "data-on", on ? 1 : 0);
      say(value, on ? "on" : "off");
    }
    this.speak(frame);
  }

  list(words) {
    const all = words.join("\n");
    if (all === this.listed) return;
    this.listed = all;
    this.why.replaceChildren(...words.map((text) => el("li", {}, text)));
  }

  /** A change of state is spoken, but only once it has stood for a moment. */
  speak(frame) {
    const text = frame.fault
      ? `fault ${frame.lamp_code}, ${frame.fault_words}`
      : `${NAMES[frame.state] ?? frame.state}: ${frame.state_words}`;
    const nowMs = performance.now();
    if (text === this.said || nowMs - this.saidMs < SPEAK_MS) return;
    this.said = text;
    this.saidMs = nowMs;
    say(this.spoken, text);
  }
}
