// Strip chart of the last minutes on a canvas: state, angle, current and contacts, with zoom,
// cursor and saving.

import { button, el, say, seconds } from "./dom.js";
import { Ring } from "./ring.js";

const STATES = ["none", "off", "starting", "held", "idle", "raising", "lowering", "fault"];
const BRIEF = new Set([
  "raise_path",
  "lower_path",
  "top_end",
  "bottom_end",
  "stop_ok",
  "chain_ok",
  "line_released",
  "raise_released",
]);
const SPAN_MIN = 500;
const SPAN_MAX = 300_000;
const NAMES_PX = 112;
const ROW_PX = 13;
const LANE = { state: 18, angle: 44, current: 44, gap: 6, foot: 18 };

export class Strip {
  constructor(place, link) {
    this.ring = new Ring();
    this.span = 20_000;
    this.endMs = null; // null: follows the bench
    this.cursorMs = null;
    this.rows = [];
    this.names = [];
    this.all = false;
    this.place = place;
    this.canvas = el("canvas", {
      tabindex: 0,
      role: "img",
      "data-keys": true,
      "aria-label": "Strip chart of the last minutes",
      "aria-describedby": "strip-value",
    });
    this.value = el("p", { class: "hint", id: "strip-value" });
    const allBox = el("input", { type: "checkbox", id: "strip-all" });
    allBox.addEventListener("change", () => {
      this.all = allBox.checked;
      this.choose();
    });
    place.append(
      el("div", { class: "canvas" }, this.canvas),
      this.value,
      el(
        "div",
        { class: "small" },
        button("Closer", () => this.zoom(0.5)),
        button("Wider", () => this.zoom(2)),
        button("Earlier", () => this.shift(-0.5)),
        button("Later", () => this.shift(0.5)),
        button("Follow", () => this.follow()),
        button("Save trace", () => link.send({ do: "trace" }), { id: "save-trace" }),
        el("label", { class: "check" }, allBox, "All contacts"),
      ),
    );
    this.watch();
    this.colours();
    this.stale = true;
  }

  hello(hello) {
    this.names = [...hello.contacts, ...hello.outputs];
    this.maxAngle = 90;
    this.ring = new Ring();
    this.peak = 2;
    this.choose();
  }

  choose() {
    this.rows = this.names
      .map((name, bit) => ({ name, bit }))
      .filter((row) => this.all || BRIEF.has(row.name));
    const lanes = LANE.state + LANE.angle + LANE.current + 4 * LANE.gap + LANE.foot;
    this.height = lanes + this.rows.length * ROW_PX;
    this.canvas.style.height = `${this.height}px`;
    this.size();
  }

  colours() {
    const style = getComputedStyle(this.place);
    this.ink = {};
    for (const name of ["ink", "soft", "line", "accent", "live", "bad", "card", "wash"]) {
      this.ink[name] = style.getPropertyValue(`--${name}`).trim() || "#888";
    }
    this.stale = true;
  }

  watch() {
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => this.colours());
    new ResizeObserver(() => this.size()).observe(this.canvas);
    this.canvas.addEventListener("pointermove", (event) => {
      this.cursorMs = this.timeAt(event.offsetX);
      if (event.buttons & 1 && this.dragX != null) {
        this.endMs = (this.endMs ?? this.ring.lastMs) - (event.offsetX - this.dragX) * this.perPx;
        this.dragX = event.offsetX;
      }
      this.stale = true;
    });
    this.canvas.addEventListener("pointerdown", (event) => (this.dragX = event.offsetX));
    this.canvas.addEventListener("pointerup", () => (this.dragX = null));
    this.canvas.addEventListener("pointerleave", () => {
      this.cursorMs = null;
      this.dragX = null;
      this.stale = true;
    });
    this.canvas.addEventListener(
      "wheel",
      (event) => {
        if (!event.ctrlKey && !event.shiftKey) return; // the wheel alone scrolls the page
        event.preventDefault();
        this.zoom(event.deltaY + event.deltaX > 0 ? 1.25 : 0.8);
      },
      { passive: false },
    );
    this.canvas.addEventListener("keydown", (event) => this.key(event));
  }

  key(event) {
    const step = this.span / 50;
    const acts = {
      "+": () => this.zoom(0.5),
      "-": () => this.zoom(2),
      ArrowLeft: () => this.move(-step),
      ArrowRight: () => this.move(step),
      End: () => this.follow(),
    };
    const act = acts[event.key];
    if (!act || event.ctrlKey) return;
    event.preventDefault();
    act();
  }

  move(ms) {
    const end = this.endMs ?? this.ring.lastMs;
    this.cursorMs = Math.min(end, Math.max(end - this.span, (this.cursorMs ?? end) + ms));
    this.stale = true;
  }

  zoom(times) {
    this.span = Math.min(SPAN_MAX, Math.max(SPAN_MIN, this.span * times));
    this.stale = true;
  }

  shift(part) {
    const end = (this.endMs ?? this.ring.lastMs) + part * this.span;
    if (end >= this.ring.lastMs) this.follow();
    else this.endMs = Math.max(this.ring.firstMs, end);
    this.stale = true;
  }

  follow() {
    this.endMs = null;
    this.cursorMs = null;
    this.stale = true;
  }

  size() {
    const ratio = window.devicePixelRatio || 1;
    const width = this.canvas.clientWidth;
    if (!width || !this.height) return;
    this.canvas.width = Math.round(width * ratio);
    this.canvas.height = Math.round(this.height * ratio);
    this.ratio = ratio;
    this.width = width;
    this.stale = true;
  }

  push(frame) {
    let bits = 0;
    let bit = 0;
    for (const group of [frame.contacts, frame.outputs]) {
      for (const value of Object.values(group)) bits |= value << bit++;
    }
    const place = Math.max(0, STATES.indexOf(frame.state));
    if (this.ring.count && frame.t_ms === this.ring.lastMs) return;
    this.ring.push(frame.t_ms, place, frame.angle_deg, frame.current_a, bits >>> 0);
    this.peak = Math.max(this.peak, Math.ceil(frame.current_a));
    this.stale = true;
  }

  timeAt(px) {
    const end = this.endMs ?? this.ring.lastMs;
    return end - (this.width - px) * this.perPx;
  }

  draw() {
    if (!this.stale || !this.width || !this.names.length) return;
    this.stale = false;
    const pen = this.canvas.getContext("2d");
    pen.setTransform(this.ratio, 0, 0, this.ratio, 0, 0);
    pen.clearRect(0, 0, this.width, this.height);
    pen.font = "11px ui-monospace, monospace";
    pen.textBaseline = "middle";
    const end = this.endMs ?? this.ring.lastMs;
    this.perPx = this.span / (this.width - NAMES_PX);
    const from = Math.max(0, this.ring.find(end - this.span));
    const to = this.ring.find(end);
    const view = { pen, end, from, to, x: (t) => this.width - (end - t) / this.perPx };
    this.grid(view);
    pen.save();
    pen.beginPath();
    pen.rect(NAMES_PX, 0, this.width - NAMES_PX, this.height);
    pen.clip();
    let y = LANE.gap;
    this.stateLane(view, y);
    y += LANE.state + LANE.gap;
    this.curve(view, this.ring.angle, y, LANE.angle, this.maxAngle, this.ink.accent);
    y += LANE.angle + LANE.gap;
    this.curve(view, this.ring.current, y, LANE.current, this.peak, this.ink.live);
    y += LANE.current + LANE.gap;
    for (const row of this.rows) {
      this.contact(view, row.bit, y);
      y += ROW_PX;
    }
    pen.restore();
    this.cursor(view);
  }

  grid(view) {
    const { pen } = view;
    const steps = [100, 200, 500, 1000, 2000, 5000, 10_000, 30_000, 60_000];
    const step = steps.find((ms) => ms / this.perPx >= 60) ?? 60_000;
    pen.strokeStyle = this.ink.line;
    pen.fillStyle = this.ink.soft;
    pen.lineWidth = 1;
    pen.textAlign = "center";
    const low = this.height - LANE.foot;
    for (let t = Math.ceil((view.end - this.span) / step) * step; t <= view.end; t += step) {
      if (t < 0) continue;
      const x = Math.round(view.x(t)) + 0.5;
      pen.beginPath();
      pen.moveTo(x, 0);
      pen.lineTo(x, low);
      pen.stroke();
      const words = step < 1000 ? (t / 1000).toFixed(1) : String(t / 1000);
      if (x > NAMES_PX + 10 && x < this.width - 14) pen.fillText(`${words} s`, x, low + 10);
    }
    pen.textAlign = "left";
    pen.fillStyle = this.ink.ink;
    let y = LANE.gap;
    pen.fillText("state", 0, y + LANE.state / 2);
    y += LANE.state + LANE.gap;
    pen.fillText(`angle 0–${this.maxAngle}°`, 0, y + LANE.angle / 2);
    y += LANE.angle + LANE.gap;
    pen.fillText(`current 0–${this.peak} A`, 0, y + LANE.current / 2);
    y += LANE.current + LANE.gap;
    for (const row of this.rows) {
      pen.fillText(row.name, 0, y + ROW_PX / 2);
      y += ROW_PX;
    }
  }

  /** Call back for every stretch of equal values. */
  runs(view, value, paint) {
    let n = view.from;
    while (n <= view.to && n >= 0) {
      const start = n;
      const what = value(this.ring.at(n));
      while (n <= view.to && value(this.ring.at(n)) === what) n += 1;
      const ends = n <= view.to ? this.ring.t[this.ring.at(n)] : view.end;
      paint(what, view.x(this.ring.t[this.ring.at(start)]), view.x(ends));
    }
  }

  stateLane(view, y) {
    const { pen } = view;
    this.runs(
      view,
      (at) => this.ring.state[at],
      (state, x0, x1) => {
        const name = STATES[state];
        const moves = name === "raising" || name === "lowering";
        pen.fillStyle = name === "fault" ? this.ink.bad : moves ? this.ink.accent : this.ink.wash;
        pen.fillRect(x0, y, Math.max(1, x1 - x0), LANE.state);
        pen.fillStyle = name === "fault" || moves ? this.ink.card : this.ink.ink;
        const left = Math.max(x0, NAMES_PX);
        if (x1 - left > pen.measureText(name).width + 8) {
          pen.fillText(name, left + 4, y + LANE.state / 2);
        }
      },
    );
  }

  curve(view, values, y, tall, top, colour) {
    const { pen } = view;
    pen.strokeStyle = this.ink.line;
    pen.strokeRect(NAMES_PX, y, this.width, tall);
    pen.strokeStyle = colour;
    pen.lineWidth = 1.6;
    pen.beginPath();
    // No more points than pixels: of what falls on one, only the first is drawn.
    let lastX = -1;
    for (let n = Math.max(0, view.from); n <= view.to; n += 1) {
      const at = this.ring.at(n);
      const x = view.x(this.ring.t[at]);
      if (x - lastX < 0.5 && n < view.to) continue;
      lastX = x;
      pen.lineTo(x, y + tall * (1 - Math.min(1, values[at] / top)));
    }
    pen.stroke();
    pen.lineWidth = 1;
  }

  contact(view, bit, y) {
    const { pen } = view;
    this.runs(
      view,
      (at) => (this.ring.bits[at] >>> bit) & 1,
      (on, x0, x1) => {
        pen.fillStyle = on ? this.ink.accent : this.ink.line;
        const tall = on ? ROW_PX - 4 : 1.5;
        pen.fillRect(x0, y + ROW_PX - 2 - tall, Math.max(1, x1 - x0), tall);
      },
    );
  }

  cursor(view) {
    const { pen } = view;
    const t = this.cursorMs;
    if (t == null) {
      say(this.value, "Point at the chart for values. Drag moves it, + and − zoom, arrows step.");
      return;
    }
    const n = this.ring.find(t);
    if (n < 0) return;
    const at = this.ring.at(n);
    const x = Math.round(view.x(t)) + 0.5;
    pen.strokeStyle = this.ink.ink;
    pen.beginPath();
    pen.moveTo(x, 0);
    pen.lineTo(x, this.height - LANE.foot);
    pen.stroke();
    const on = this.rows.filter((row) => (this.ring.bits[at] >>> row.bit) & 1);
    say(
      this.value,
      `${seconds(this.ring.t[at])}: ${STATES[this.ring.state[at]]}, ` +
        `${this.ring.angle[at].toFixed(2)}°, ${this.ring.current[at].toFixed(2)} A, ` +
        `closed: ${on.map((row) => row.name).join(", ") || "none"}`,
    );
  }
}
