// Hold-to-run: something is pressed as long as a finger, a pointer or a key presses it. Nothing
// latches. Whatever makes it doubtful that somebody is still there lets go at once.

const BEAT_MS = 50;
const STARVED_MS = 190; // the server lets go after 200 ms without a beat; so does the page

const everything = new Set();

/** Let go of whatever is held on this page. */
export function releaseAll(why) {
  for (const press of everything) press.release(why);
}

window.addEventListener("blur", () => releaseAll("the window lost the focus"));
window.addEventListener("pagehide", () => releaseAll("the page was left"));
document.addEventListener("freeze", () => releaseAll("the page was frozen"));
document.addEventListener("visibilitychange", () => {
  if (document.hidden) releaseAll("the page was hidden");
});

export class Press {
  /**
   * @param {object} acts
   *   down: called once as it is pressed; beat(n): called as it is pressed and every 50 ms while
   *   it is; up(why): called once as it is let go.
   */
  constructor(acts) {
    this.acts = acts;
    this.sources = new Set();
    this.buttons = [];
    this.timer = 0;
    this.usable = true;
    everything.add(this);
  }

  get held() {
    return this.timer !== 0;
  }

  /** Let a button press this. */
  attach(node) {
    this.buttons.push(node);
    const drop = (event) => this.drop(`pointer${event.pointerId}`);
    node.addEventListener("pointerdown", (event) => {
      if (event.button !== 0) return;
      // A touch is captured by what it began on: without this a finger that slides off still holds.
      const on = event.target;
      if (on.hasPointerCapture?.(event.pointerId)) on.releasePointerCapture(event.pointerId);
      this.press(`pointer${event.pointerId}`);
    });
    for (const name of ["pointerup", "pointercancel", "pointerleave"]) {
      node.addEventListener(name, drop);
    }
    node.addEventListener("keydown", (event) => {
      if (event.key !== " " && event.key !== "Enter") return;
      event.preventDefault();
      if (!event.repeat) this.press("button-key");
    });
    node.addEventListener("keyup", (event) => {
      if (event.key === " " || event.key === "Enter") this.drop("button-key");
    });
    node.addEventListener("blur", () => this.drop("button-key"));
    node.addEventListener("contextmenu", (event) => event.preventDefault());
    node.addEventListener("dragstart", (event) => event.preventDefault());
    return node;
  }

  press(source) {
    if (!this.usable || document.hidden) return;
    this.sources.add(source);
    if (this.held) return;
    this.count = 0;
    this.lastMs = performance.now();
    this.timer = setInterval(() => this.tick(), BEAT_MS);
    this.show();
    this.acts.down?.();
    if (this.held) this.acts.beat?.(this.count);
  }

  tick() {
    const nowMs = performance.now();
    if (nowMs - this.lastMs > STARVED_MS) {
      this.release("the page was too busy");
      return;
    }
    this.lastMs = nowMs;
    this.count += 1;
    this.acts.beat?.(this.count);
  }

  drop(source) {
    if (this.sources.delete(source) && this.sources.size === 0) this.release("");
  }

  /** Let go, whatever still presses; it must be pressed anew. */
  release(why = "") {
    this.sources.clear();
    if (!this.held) return;
    clearInterval(this.timer);
    this.timer = 0;
    this.show();
    this.acts.up?.(why);
  }

  show() {
    for (const node of this.buttons) node.setAttribute("aria-pressed", String(this.held));
  }

  /** Allow pressing or not; not allowed means let go as well. */
  allow(usable) {
    if (usable === this.usable) return;
    this.usable = usable;
    if (!usable) this.release("it can't be used now");
    for (const node of this.buttons) node.setAttribute("aria-disabled", String(!usable));
  }
}
