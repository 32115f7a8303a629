// The line to the server: messages out, frames in, and a word when nothing comes any more.

const SILENT_MS = 1200; // the server sends four frames a second even when nothing changes
const LOOK_MS = 100;
const FULL_BYTES = 32_768;

export class Link extends EventTarget {
  constructor() {
    super();
    this.state = "waiting";
    this.heardMs = performance.now();
    this.socket = null;
    setInterval(() => this.watch(), LOOK_MS);
  }

  connect() {
    const token = new URLSearchParams(location.search).get("token") ?? "";
    const address = `ws://${location.host}/bench?token=${encodeURIComponent(token)}`;
    this.turn("waiting");
    this.heardMs = performance.now();
    const socket = new WebSocket(address);
    this.socket = socket;
    socket.onmessage = (event) => socket === this.socket && this.take(event.data);
    socket.onclose = () => socket === this.socket && this.turn("gone");
  }

  get here() {
    return this.state === "here";
  }

  /** Send one message; tell whether it could be. */
  send(message) {
    const socket = this.socket;
    if (!socket || socket.readyState !== WebSocket.OPEN) return false;
    if (socket.bufferedAmount > FULL_BYTES && message.do !== "release") return false;
    socket.send(JSON.stringify(message));
    return true;
  }

  take(text) {
    let data;
    try {
      data = JSON.parse(text);
    } catch {
      return; // a broken frame is none; the next one comes soon
    }
    this.heardMs = performance.now();
    if (this.state !== "here") this.turn("here");
    let name = "frame";
    for (const other of ["hello", "refused", "trace", "kept"]) if (other in data) name = other;
    const detail = name === "frame" || name === "refused" ? data : data[name];
    this.dispatchEvent(new CustomEvent(name, { detail }));
  }

  /** A server that hangs keeps its socket open, so silence counts as well. */
  watch() {
    const silent = performance.now() - this.heardMs > SILENT_MS;
    if (silent && this.state === "here") this.turn("silent");
  }

  turn(state) {
    if (state === this.state) return;
    this.state = state;
    this.dispatchEvent(new CustomEvent("line", { detail: state }));
  }
}
