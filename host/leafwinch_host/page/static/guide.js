// Guided experiments: what to do, and a look at the frames whether it came out as it should.

import { button, el, mark, say, show } from "./dom.js";

const RISE_MS = 1500; // so long the deck rises before something breaks
const STILL_FED_MS = 500; // fed so long after letting go is a failure
const TRIED_MS = 600; // so long a refused start is tried
const SIGNS = { open: "○", now: "▶", good: "✓", bad: "✕" };

const good = (words) => ({ kind: "good", words });
const bad = (words) => ({ kind: "bad", words });
const stopped = (frame) => frame.way === 0 && frame.brake_set;
const broken = (frame, id) => frame.defects.some((row) => row.id === id);
const verdict = (frame, name) => frame.monitors.find((row) => row.name === name)?.ok !== false;

/** What the board says about a stop, in its own words. */
function says(frame) {
  return frame.fault_words || frame.ended_words || frame.held_words.join("; ") || frame.state_words;
}

/** Held to raise, and rising for a while. */
function rises(frame, memory) {
  if (frame.asked !== 1 || frame.way !== 1) {
    memory.since = null;
    return null;
  }
  memory.since ??= frame.t_ms;
  return frame.t_ms - memory.since >= RISE_MS ? good("It rises.") : null;
}

/** Let go, and off within what R1 allows; the requirement itself is judged every 5 ms. */
function letGo(frame, memory) {
  if (frame.asked === 1) return null;
  memory.letGo ??= frame.t_ms;
  const ms = frame.t_ms - memory.letGo;
  if (stopped(frame)) {
    return verdict(frame, "R1")
      ? good(`Motor off and brake set about ${ms} ms after letting go; R1 holds.`)
      : bad("It ran on for longer than R1 allows.");
  }
  return ms > STILL_FED_MS ? bad("The motor is still fed.") : null;
}

function breaks(frame, memory, experiment) {
  if (!memory.sent) {
    memory.sent = true;
    return { send: { do: "defect", id: experiment.defect, when: "now" } };
  }
  return broken(frame, experiment.defect) ? good(`${experiment.defect} is broken.`) : null;
}

function breaksAndStops(frame, memory, experiment) {
  if (!memory.broke) {
    const found = breaks(frame, memory, experiment);
    memory.broke = found?.kind === "good";
    return memory.broke ? null : found;
  }
  return letGo(frame, memory);
}

function stopsByItself(frame, memory, experiment) {
  memory.from ??= frame.t_ms;
  if (!memory.stop) {
    if (frame.asked !== 1) return bad("You let go before it had stopped. Begin again and hold on.");
    if (!stopped(frame)) return null;
    memory.stop = `It stopped by itself, still held. The board: ${says(frame)}.`;
  }
  if (broken(frame, experiment.defect)) {
    return { words: `${memory.stop} Now let go and mend ${experiment.defect}.` };
  }
  return good(memory.stop);
}

function refuses(frame, memory) {
  if (!memory.fault) {
    if (frame.state !== "fault") return null;
    memory.fault = frame.fault_words;
  }
  const words = `The board: ${memory.fault}`;
  if (frame.way) return bad(`${words} And yet the motor is fed.`);
  if (frame.asked !== 1) {
    memory.tried = null;
    return { words: `${words} Now hold to raise once more.` };
  }
  memory.tried ??= frame.t_ms;
  if (frame.t_ms - memory.tried < TRIED_MS) return { words };
  return good(`${words} Held to raise again, nothing moves.`);
}

const CHECKS = {
  release: [rises, letGo],
  wire: [rises, breaks, stopsByItself],
  weld: [rises, breaksAndStops, refuses],
};

export class Guide {
  constructor(place, link, tell) {
    this.link = link;
    this.tell = tell;
    this.cards = new Map();
    this.running = null;
    this.list = el("div", { class: "experiments" });
    this.result = el("p", { id: "guide-result", role: "status" });
    place.append(
      el("p", {}, "Each begins anew with a sound installation, at the speed of real time."),
      this.list,
      this.result,
    );
  }

  hello(hello) {
    this.running = null;
    this.cards = new Map(
      hello.guides
        .filter((row) => CHECKS[row.id]?.length === row.steps.length)
        .map((row) => [row.id, this.card(row)]),
    );
    this.list.replaceChildren(...[...this.cards.values()].map((card) => card.node));
  }

  card(experiment) {
    const steps = experiment.steps.map((words) => {
      const sign = el("span", { class: "sign", "aria-hidden": "true" }, SIGNS.open);
      const result = el("em");
      return { node: el("li", {}, sign, words, " ", result), sign, result };
    });
    const begin = button("Begin", () => this.begin(experiment.id), {
      id: `begin-${experiment.id}`,
      "aria-label": `Begin: ${experiment.title}`,
    });
    const mend = button("Mend it", () => this.link.send({ do: "mend", id: "all" }), {
      hidden: true,
      id: `mend-${experiment.id}`,
    });
    const node = el(
      "article",
      { id: `guide-${experiment.id}`, "data-kind": "open" },
      el("h3", {}, experiment.title),
      el("p", {}, experiment.text),
      el("ol", {}, ...steps.map((step) => step.node)),
      el("div", { class: "small" }, begin, mend),
    );
    return { experiment, node, steps, mend };
  }

  begin(id) {
    const frame = this.frame;
    if (!frame) return;
    for (const card of this.cards.values()) this.clear(card);
    const card = this.cards.get(id);
    this.running = { card, step: -1, memory: {}, fromMs: frame.t_ms, lastMs: -1 };
    mark(this.running.card.node, "data-kind", "now");
    this.link.send({ do: "scenario", text: "" });
    this.link.send({ do: "speed", x: 1 });
    say(this.result, "A sound installation starts; wait until it is ready.");
  }

  clear(card) {
    mark(card.node, "data-kind", "open");
    for (const step of card.steps) {
      say(step.sign, SIGNS.open);
      mark(step.node, "data-kind", "open");
      say(step.result, "");
    }
  }

  /** Look at every frame. */
  watch(frame) {
    this.frame = frame;
    const run = this.running;
    if (!run) return;
    if (run.step < 0) {
      this.ready(frame, run);
      return;
    }
    if (frame.t_ms < run.lastMs) {
      this.end(bad("Bench time went back: begin again."));
      return;
    }
    run.lastMs = frame.t_ms;
    const check = CHECKS[run.card.experiment.id][run.step];
    const found = check(frame, run.memory, run.card.experiment);
    if (!found) return;
    if (found.send) this.link.send(found.send);
    if (found.words) say(run.card.steps[run.step].result, found.words);
    if (found.kind === "bad") this.end(found);
    if (found.kind === "good") this.next(run, found);
  }

  /** Wait until the bench has begun anew and is ready. */
  ready(frame, run) {
    const anew = frame.t_ms < run.fromMs || frame.t_ms < 200;
    run.anew = run.anew || anew;
    if (!run.anew || frame.state !== "idle") return;
    run.lastMs = frame.t_ms;
    this.next(run, null);
  }

  next(run, found) {
    if (found) this.step(run, "good");
    run.step += 1;
    run.memory = {};
    if (run.step === run.card.steps.length) {
      this.end(good("Everything came out as it should."));
      return;
    }
    this.step(run, "now");
    say(this.result, `Step ${run.step + 1}: ${run.card.experiment.steps[run.step]}`);
  }

  step(run, kind) {
    const step = run.card.steps[run.step];
    say(step.sign, SIGNS[kind]);
    mark(step.node, "data-kind", kind);
  }

  end(found) {
    const run = this.running;
    if (found.kind === "bad") this.step(run, "bad");
    mark(run.card.node, "data-kind", found.kind);
    say(this.result, `${run.card.experiment.title}: ${found.words}`);
    this.running = null;
  }

  draw(frame) {
    for (const card of this.cards.values()) {
      const defect = card.experiment.defect;
      show(card.mend, Boolean(defect) && broken(frame, defect));
    }
  }
}
