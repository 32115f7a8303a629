// The hands: hold-to-run control, emergency stop, reset, recovery key, isolator, service link, and
// fingers on the limits. Keys: arrow up or R raises, arrow down or L lowers, K turns the key, Esc
// presses the emergency stop.

import { button, el, mark, say, show } from "./dom.js";
import { Press, releaseAll } from "./press.js";

const KEYS = {
  ArrowUp: "raise",
  r: "raise",
  ArrowDown: "lower",
  l: "lower",
  k: "key",
};
const UNHEARD_MS = 600; // held so long without effect on the control: the beats came too late
const SLOW = 0.2; // below this speed the control takes longer than that to move
const LIMIT_WORDS = {
  top_end: "Top end",
  bottom_end: "Bottom end",
  top_final: "Top final",
  bottom_final: "Bottom final",
  slack_rope: "Slack rope",
};
const TYPING = "textarea, select, input:not([type=range], [type=checkbox], [type=file])";
const ARROWED = "input, [role=tab], [data-keys]"; // arrows have a meaning of their own there

export class Controls {
  constructor(place, link, tell) {
    this.link = link;
    this.tell = tell;
    this.frame = null;
    this.presses = {
      raise: this.way("raise"),
      lower: this.way("lower"),
      key: new Press({
        beat: (n) => link.send({ do: "press", what: "key", beat: n }),
        up: () => link.send({ do: "let_go", what: "key" }),
      }),
      reset: this.touch("reset"),
    };
    this.build(place);
    this.listen();
  }

  /** One way of the control. Both ways at once is neither. */
  way(way) {
    const other = way === "raise" ? "lower" : "raise";
    return new Press({
      down: () => {
        if (!this.presses[other].held) return;
        this.presses[other].release();
        this.presses[way].release();
        this.tell("Both ways at once is neither: let go, then press one.");
      },
      beat: (n) => this.link.send({ do: "hold", way, beat: n }),
      up: (why) => {
        this.link.send({ do: "release" });
        if (why) this.tell(`Let go, as ${why}.`);
      },
    });
  }

  /** Something that is pressed as long as it is touched, without beats. */
  touch(what) {
    return new Press({
      down: () => this.link.send({ do: "press", what }),
      up: () => this.link.send({ do: "let_go", what }),
    });
  }

  build(place) {
    const hold = (way, arrow, words, keys) =>
      this.presses[way].attach(
        el(
          "button",
          { type: "button", id: `hold-${way}`, class: "hold", "aria-pressed": "false" },
          el("span", { class: "arrow", "aria-hidden": "true" }, arrow),
          el("span", {}, words),
          el("kbd", {}, keys),
        ),
      );
    this.stop = button("Emergency stop", () => this.toggle("stop"), {
      id: "stop",
      class: "stop",
      "aria-pressed": "false",
    });
    place.append(
      el("p", { class: "hint", id: "holder" }),
      el(
        "div",
        { class: "grip", role: "group", "aria-label": "Control: hold to run" },
        hold("raise", "▲", "Hold to raise", "↑ R"),
        hold("lower", "▼", "Hold to lower", "↓ L"),
        this.stop,
      ),
      this.small(),
      this.keysBox(),
      this.fingers(),
    );
    this.holder = place.querySelector("#holder");
    this.ask = button("Ask for the control", () => this.link.send({ do: "control" }));
    this.holder.after(this.ask);
  }

  small() {
    const spring = (name, words) =>
      this.presses[name].attach(
        el("button", { type: "button", id: name, "aria-pressed": "false" }, words),
      );
    this.power = button("Isolator: on", () => this.toggle("power"), { id: "power" });
    this.service = button("Service link: out", () => this.toggle("link"), { id: "link" });
    this.board = el(
      "div",
      { class: "small" },
      spring("reset", "Reset (hold 2 s)"),
      spring("key", "Recovery key (hold, K)"),
      this.power,
      this.service,
    );
    return this.board;
  }

  keysBox() {
    this.keys = el("input", { type: "checkbox", id: "keys", checked: true });
    this.keys.addEventListener("change", () => releaseAll(""));
    return el(
      "label",
      { class: "check" },
      this.keys,
      "Keys hold the control (↑ ↓ R L K), Esc stops",
    );
  }

  fingers() {
    this.limitRow = el("div", { class: "small" });
    return el(
      "details",
      { class: "fingers" },
      el("summary", {}, "Push a limit by hand"),
      this.limitRow,
    );
  }

  /** Take the names of this installation. */
  hello(hello) {
    this.limitRow.replaceChildren(
      ...hello.limits.map((limit) => {
        const press = this.touch(limit.name);
        const words = `${LIMIT_WORDS[limit.name]} ${limit.part}`;
        this.presses[limit.name]?.release();
        this.presses[limit.name] = press;
        return press.attach(el("button", { type: "button", "aria-pressed": "false" }, words));
      }),
    );
  }

  toggle(what) {
    const pressed = this.frame?.hands?.[what];
    this.link.send({ do: pressed ? "let_go" : "press", what });
  }

  listen() {
    window.addEventListener("keydown", (event) => {
      if (event.ctrlKey || event.altKey || event.metaKey || !this.keys.checked) return;
      if (event.key === "Escape" && this.link.here) {
        this.link.send({ do: "press", what: "stop" });
        releaseAll("");
        return;
      }
      const at = event.target;
      const arrow = event.key.startsWith("Arrow");
      if (at.closest?.(TYPING) || (arrow && at.closest?.(ARROWED))) return;
      const name = KEYS[event.key.length === 1 ? event.key.toLowerCase() : event.key];
      if (!name) return;
      event.preventDefault();
      if (!event.repeat) this.presses[name].press(`key ${event.key.toLowerCase()}`);
    });
    window.addEventListener("keyup", (event) => {
      const name = KEYS[event.key.length === 1 ? event.key.toLowerCase() : event.key];
      if (name) this.presses[name].drop(`key ${event.key.toLowerCase()}`);
    });
  }

  /** Show what is pressed, as the bench has it. */
  draw(frame) {
    this.frame = frame;
    const mine = frame.holder !== "other";
    const usable = this.link.here && mine && !frame.trouble;
    for (const press of Object.values(this.presses)) press.allow(usable);
    this.unheard(frame);
    say(
      this.holder,
      mine
        ? "Hold a button; let go and it stops."
        : "Another page has the control. You watch; the emergency stop is yours all the same.",
    );
    show(this.ask, !mine);
    const hands = frame.hands;
    const pressed = Boolean(hands.stop);
    mark(this.stop, "aria-pressed", pressed);
    say(this.stop, pressed ? "Stop is in: pull it out" : "Emergency stop");
    show(this.stop, "stop" in hands);
    say(this.power, hands.power ? "Isolator: off" : "Isolator: on");
    mark(this.power, "aria-pressed", Boolean(hands.power));
    say(this.service, hands.link ? "Service link: fitted" : "Service link: out");
    mark(this.service, "aria-pressed", Boolean(hands.link));
    for (const node of this.board.children) {
      show(node, node.id in hands);
      if (node.id === "power" || node.id === "link") mark(node, "aria-disabled", !usable);
    }
  }

  /** Let go where the bench has let go: what is shown as held must be held. */
  unheard(frame) {
    const press = [this.presses.raise, this.presses.lower].find((one) => one.held);
    const nowMs = performance.now();
    if (!press || frame.asked !== 0 || frame.paused || frame.speed < SLOW) {
      this.heardMs = nowMs;
    } else if (nowMs - this.heardMs > UNHEARD_MS) {
      press.release("the bench has let go; press again");
    }
  }

  /** The server is gone: let go and say so. */
  gone() {
    releaseAll("the server is gone");
    for (const press of Object.values(this.presses)) press.allow(false);
  }
}
