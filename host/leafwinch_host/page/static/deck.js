// The deck from the side, to scale: wall, pit, leaves, kicker, rope, drum, buffer, limits and
// obstacle.
// One unit of the drawing is one millimetre; x away from the wall, y up (so minus in SVG).

import { el, mark, say, show, svg } from "./dom.js";

const LEFT = -660;
const DRUM = { x: -400, y: 330, times: 5 }; // the drum is drawn five times as large, and says so
const PIT = 560;
const LETTER_PX = 12;
const FLAT_MM = 45; // thickness of a leaf

const deg = (angle) => (angle * Math.PI) / 180;

function line(kind) {
  return svg("line", { class: kind });
}

function put(node, x1, y1, x2, y2) {
  mark(node, "x1", x1.toFixed(1));
  mark(node, "y1", (-y1).toFixed(1));
  mark(node, "x2", x2.toFixed(1));
  mark(node, "y2", (-y2).toFixed(1));
}

function spot(node, x, y) {
  mark(node, "cx", x.toFixed(1));
  mark(node, "cy", (-y).toFixed(1));
}

export class Deck {
  /**
   * @param place where it is drawn
   * @param words what it is called for those who can't see it
   */
  constructor(place, words) {
    this.words = words;
    this.root = svg("svg", { role: "img", class: "side" });
    this.title = svg("title", {}, words);
    place.replaceChildren(this.root);
    this.ready = false;
    this.spokenMs = -Infinity;
    this.sized = new ResizeObserver(() => this.size());
    this.sized.observe(this.root);
  }

  /** Lay the drawing out for a site. */
  hello(hello) {
    const site = hello.site;
    this.site = site;
    this.limits = hello.limits;
    this.a = site.leaf_a_m * 1000;
    this.b = site.leaf_b_m * 1000;
    this.kicker = site.kicker_m * 1000;
    this.right = this.a + this.b + 260;
    this.top = this.a + 190;
    const box = [LEFT, -this.top, this.right - LEFT, this.top + PIT + 30];
    this.root.setAttribute("viewBox", box.join(" "));
    this.root.replaceChildren(this.title);
    this.surround();
    this.moving();
    this.limitMarks();
    this.ready = true;
    this.size();
  }

  /** Keep letters readable at any size of the drawing. */
  size() {
    const width = this.root.clientWidth;
    if (!this.ready || !width) return;
    const perMm = Math.min(
      width / (this.right - LEFT),
      (this.root.clientHeight || 1e9) / (this.top + PIT + 30),
    );
    this.root.style.setProperty("--letter", `${(LETTER_PX / perMm).toFixed(1)}px`);
  }

  add(...nodes) {
    this.root.append(...nodes);
    return nodes[0];
  }

  letter(x, y, words, anchor = "middle") {
    return this.add(svg("text", { x, y: -y, "text-anchor": anchor }, words));
  }

  /** What does not move: wall, floor, pit or water, buffer. */
  surround() {
    const end = this.a + this.b;
    this.add(
      svg("rect", { class: "pit", x: 0, y: 0, width: end + 60, height: PIT }),
      svg("rect", { class: "wall", x: -120, y: -this.top + 60, width: 75, height: this.top - 30 }),
      svg("rect", { class: "earth", x: LEFT, y: 30, width: -LEFT, height: PIT - 30 }),
      svg("rect", { class: "earth", x: end + 60, y: 30, width: 300, height: PIT - 30 }),
    );
    if (this.site.over === "water") {
      const half = (end + 60) / 16;
      const waves = `q ${half / 2} -35 ${half} 0 t ${half} 0 `.repeat(8);
      this.add(svg("path", { class: "water", d: `M 0 ${PIT - 250} ${waves}` }));
      this.letter(end / 2, -PIT + 130, "water: people drown");
    } else {
      const below = this.site.over === "stair" ? "stair: a drop" : "pit: a drop";
      this.letter(end / 2, -PIT + 130, below);
    }
    put(this.add(line("ground")), -45, -30, end + 60, -30);
    const wall = deg(this.site.wall_deg);
    const buffer = deg(this.site.buffer_deg);
    const at = (angle) => this.place(angle).end;
    this.buffer = svg("rect", { class: "buffer", y: -34, height: 64, x: 0 });
    mark(this.buffer, "width", Math.max(20, at(buffer)).toFixed(1));
    this.wallEnd = at(wall);
    this.bufferStart = at(buffer);
    this.add(this.buffer);
    this.letter(90, -120, "buffer", "start");
  }

  /** What moves, in the order in which it is painted. */
  moving() {
    this.obstacle = this.add(svg("rect", { class: "obstacle" }));
    this.obstacleWords = this.letter(0, 0, "obstacle", "start");
    this.rope = this.add(svg("path", { class: "rope" }));
    this.lead = this.add(svg("path", { class: "rope" }));
    this.post = this.add(line("post"));
    this.roller = this.add(svg("circle", { class: "roller", r: 26 }));
    this.leafB = this.add(svg("path", { class: "leaf b" }));
    this.leafA = this.add(svg("path", { class: "leaf a" }));
    this.pins = [20, 24, 40].map((r) => this.add(svg("circle", { class: "pin", r })));
    const radius = this.site.drum_radius_m * 1000 * DRUM.times;
    this.add(
      svg("circle", { class: "flange", cx: DRUM.x, cy: -DRUM.y, r: radius * 1.7 }),
      svg("circle", { class: "drum", cx: DRUM.x, cy: -DRUM.y, r: radius }),
    );
    this.spoke = this.add(line("spoke"));
    this.drumRadius = radius;
    this.letter(LEFT + 30, DRUM.y + radius * 1.7 + 70, `drum ×${DRUM.times}`, "start");
    this.motion = this.letter(LEFT + 30, DRUM.y - radius * 1.7 - 130, "", "start");
    this.motion.setAttribute("class", "motion");
  }

  limitMarks() {
    this.marks = {};
    this.letter(LEFT + 30, -150, "winch:", "start");
    let row = 0;
    for (const limit of this.limits) {
      const radius = 430 + 160 * row;
      if (limit.senses === "leaf_angle") {
        const angle = deg(limit.at);
        const [x, y] = [Math.cos(angle) * radius, Math.sin(angle) * radius];
        const tick = this.add(line("tick"));
        put(tick, x * 0.93, y * 0.93, x * 1.07, y * 1.07);
        row += 1;
        this.marks[limit.name] = this.markAt(limit, x * 1.1 + 60, y * 1.1 + (angle < 0.3 ? 90 : 0));
      } else {
        const y = limit.senses === "rope_slack" ? -270 : -400;
        this.marks[limit.name] = this.markAt(limit, LEFT + 70, y);
      }
    }
  }

  /** A circle that fills as the limit is actuated, and its reference. */
  markAt(limit, x, y) {
    const group = svg(
      "g",
      { class: "limit" },
      svg("title", {}, `${limit.name}, at ${limit.at} ${limit.unit}`),
      svg("circle", { r: 30, cx: x, cy: -y }),
      svg("text", { x: x + 50, y: -y, "dominant-baseline": "central" }, limit.part),
    );
    this.add(group);
    return group;
  }

  /** Hinge and axle at an angle of leaf A, in mm. */
  place(angle) {
    const [x, y] = [this.a * Math.cos(angle), this.a * Math.sin(angle)];
    return { x, y, end: x + Math.sqrt(Math.max(0, this.b * this.b - y * y)) };
  }

  draw(frame) {
    if (!this.ready) return;
    const { x, y, end } = this.place(deg(frame.angle_deg));
    this.leaf(this.leafA, 0, 0, x, y);
    this.leaf(this.leafB, x, y, end, 0);
    spot(this.pins[0], 0, 0);
    spot(this.pins[1], x, y);
    spot(this.pins[2], end, 0);
    this.drawRope(frame, x, y, end);
    const turn = frame.rope.turns * 2 * Math.PI;
    const r = this.drumRadius;
    put(this.spoke, DRUM.x, DRUM.y, DRUM.x + r * Math.cos(turn), DRUM.y + r * Math.sin(turn));
    const pressed = Math.min(this.bufferStart, Math.max(this.wallEnd, end));
    mark(this.buffer, "width", Math.max(20, pressed).toFixed(1));
    mark(this.buffer, "class", frame.buffer_n > 0 ? "buffer pressed" : "buffer");
    const ways = { 1: "▲ raising", "-1": "▼ lowering", 2: "motor fed" };
    say(this.motion, ways[frame.way] ?? (frame.moving ? "moves, not fed" : "motor off"));
    mark(this.motion, "class", frame.way ? "motion fed" : "motion");
    for (const [name, group] of Object.entries(this.marks)) {
      mark(group, "class", frame.limits[name] ? "limit on" : "limit");
    }
    this.drawObstacle(frame.obstacle);
    this.speak(frame);
  }

  /** A leaf lies above the line of its hinges. */
  leaf(node, x1, y1, x2, y2) {
    const long = Math.hypot(x2 - x1, y2 - y1) || 1;
    const [nx, ny] = [(-(y2 - y1) / long) * FLAT_MM, ((x2 - x1) / long) * FLAT_MM];
    const points = [
      [x1, y1],
      [x2, y2],
      [x2 + nx, y2 + ny],
      [x1 + nx, y1 + ny],
    ];
    const path = points.map(([x, y]) => `${x.toFixed(1)} ${(-y).toFixed(1)}`).join(" L ");
    mark(node, "d", `M ${path} Z`);
  }

  /** Rope over the roller while it is low, sagging by what is slack. */
  drawRope(frame, x, y, end) {
    const foot = y - this.kicker;
    if (this.kicker > 0) {
      put(this.post, x, y, x, foot);
      spot(this.roller, x, foot);
    }
    show(this.post, this.kicker > 0);
    show(this.roller, this.kicker > 0);
    const slack = Math.max(0, frame.rope.slack_mm) / 2; // two parts share it
    // A shallow arc over a span L that is longer by s sags by sqrt(3 L s / 8) (any textbook of
    // statics, from memory).
    const sag = Math.min(PIT - 80, Math.sqrt((3 * end * slack) / 8));
    const low = this.kicker > 0 && foot < -sag / 2;
    mark(
      this.rope,
      "d",
      low
        ? `M 0 0 L ${x.toFixed(1)} ${(-foot).toFixed(1)} L ${end.toFixed(1)} 0`
        : `M 0 0 Q ${(end / 2).toFixed(1)} ${(2 * sag).toFixed(1)} ${end.toFixed(1)} 0`,
    );
    mark(this.rope, "class", slack > 1 ? "rope slack" : "rope");
    const from = DRUM.y - this.drumRadius;
    const bow = Math.min(120, 2 * sag);
    mark(this.lead, "d", `M ${DRUM.x} ${-from} Q ${DRUM.x / 2} ${-from / 2 + bow} 0 0`);
    mark(this.lead, "class", slack > 1 ? "rope slack" : "rope");
  }

  drawObstacle(obstacle) {
    const below = obstacle?.below_deg;
    const angle = below ?? obstacle?.above_deg;
    show(this.obstacle, angle != null);
    show(this.obstacleWords, angle != null);
    if (angle == null) return;
    const at = this.place(deg(angle));
    // What lies beneath stands on the floor; what is above touches the leaves from there.
    const tall = below != null ? Math.max(120, at.y - 8) : 150;
    const top = below != null ? at.y - 8 : at.y + tall + FLAT_MM + 30;
    mark(this.obstacle, "x", (at.x - 110).toFixed(1));
    mark(this.obstacle, "width", 220);
    mark(this.obstacle, "y", (-top).toFixed(1));
    mark(this.obstacle, "height", tall);
    mark(this.obstacleWords, "x", (at.x + 135).toFixed(1));
    mark(this.obstacleWords, "y", (-top + tall / 2).toFixed(1));
  }

  /** Tell those who can't see the drawing, but not fifty times a second. */
  speak(frame) {
    const nowMs = performance.now();
    if (nowMs - this.spokenMs < 1000) return;
    this.spokenMs = nowMs;
    const on = Object.keys(this.marks).filter((name) => frame.limits[name]);
    const names = on.join(", ").replaceAll("_", " ");
    const limits = names ? `actuated: ${names}` : "no limit actuated";
    const words = `${this.words}: leaf A at ${frame.angle_deg.toFixed(1)} degrees, ${limits}`;
    mark(this.root, "aria-label", words);
  }
}

const READINGS = [
  ["Fold angle", (f) => `${f.angle_deg.toFixed(2)}°`],
  ["Axle from wall", (f) => `${f.free_end_mm.toFixed(0)} mm`],
  ["Rope tension", (f) => `${f.rope.tension_n.toFixed(0)} N`],
  ["Rope slack", (f) => `${Math.max(0, f.rope.slack_mm).toFixed(0)} mm`],
  ["Drum", (f) => `${f.rope.turns.toFixed(2)} turns`],
  ["Motor current", (f) => `${f.current_a.toFixed(2)} A`],
  ["Brake", (f) => (f.brake_set ? "set" : "open")],
  ["Control supply", (f) => `${(f.supply_mv / 1000).toFixed(1)} V`],
];

/** The figures beside the drawing. */
export class Readings {
  constructor(place) {
    this.rows = READINGS.map(([name, words]) => {
      const value = el("dd", {}, "–");
      place.append(el("div", {}, el("dt", {}, name), value));
      return [value, words];
    });
  }

  draw(frame) {
    for (const [value, words] of this.rows) say(value, words(frame));
  }
}
