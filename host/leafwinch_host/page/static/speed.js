// Bench time: how fast it goes, pause, one step of 5 ms, back, and anew.

import { button, el, mark, say } from "./dom.js";

const SPEEDS = [0.05, 0.1, 0.25, 0.5, 1, 2, 4, 8, 16, "max"];
const LAG_S = 0.05;

export class Speed {
  constructor(place, link) {
    this.link = link;
    this.frame = null;
    this.slider = el("input", {
      type: "range",
      id: "speed",
      min: 0,
      max: SPEEDS.length - 1,
      step: 1,
      value: SPEEDS.indexOf(1),
      "data-keys": true,
    });
    this.slider.addEventListener("input", () => {
      link.send({ do: "speed", x: SPEEDS[Number(this.slider.value)] });
    });
    this.words = el("output", { for: "speed", id: "speed-words" });
    this.pause = button("Pause", () => this.turn(), { id: "pause" });
    place.append(
      el("label", { for: "speed", class: "line" }, "Speed ", this.words),
      this.slider,
      el(
        "div",
        { class: "small" },
        this.pause,
        button("Step 5 ms", () => link.send({ do: "step" }), { id: "step" }),
        button("Back 1 s", () => link.send({ do: "back", s: 1 }), { id: "back" }),
        button("Back 10 s", () => link.send({ do: "back", s: 10 })),
        button("Begin anew", () => link.send({ do: "restart" }), { id: "restart" }),
      ),
    );
    this.lag = el("p", { class: "hint", id: "lag" });
    place.append(this.lag);
  }

  turn() {
    this.link.send({ do: this.frame?.paused ? "go" : "pause" });
  }

  draw(frame) {
    this.frame = frame;
    say(this.words, frame.speed === "max" ? "as fast as it can" : `${frame.speed}×`);
    const place = SPEEDS.indexOf(frame.speed);
    if (place >= 0 && document.activeElement !== this.slider) this.slider.value = place;
    mark(this.slider, "aria-valuetext", this.words.textContent);
    say(this.pause, frame.paused ? "Go on" : "Pause");
    mark(this.pause, "aria-pressed", Boolean(frame.paused));
    let words = frame.paused ? "Paused: bench time stands still." : "";
    if (frame.playing && !frame.playing.over) {
      words = `Plays ${frame.playing.name}, ${frame.playing.act} of ${frame.playing.of}. ${words}`;
    }
    if (frame.lag > LAG_S) words += ` Slower than asked: ${frame.lag.toFixed(1)} s lost lately.`;
    say(this.lag, words || "Runs with your hands on it.");
  }
}
