// The last minutes of frames in fixed arrays: whatever comes in, the memory stays the same.

export const SAMPLES = 16_384; // five minutes of fifty a second, and some more

export class Ring {
  constructor(size = SAMPLES) {
    this.size = size;
    this.t = new Float64Array(size); // bench time in ms
    this.angle = new Float32Array(size); // degrees
    this.current = new Float32Array(size); // A
    this.state = new Uint8Array(size);
    this.bits = new Uint32Array(size); // contacts and outputs
    this.first = 0;
    this.count = 0;
  }

  /** Place in the arrays of the nth sample, the oldest is 0. */
  at(n) {
    return (this.first + n) % this.size;
  }

  get lastMs() {
    return this.count ? this.t[this.at(this.count - 1)] : 0;
  }

  get firstMs() {
    return this.count ? this.t[this.first] : 0;
  }

  /** Take a sample; bench time that went back takes what came after with it. */
  push(t, state, angle, current, bits) {
    while (this.count && this.lastMs > t) this.count -= 1;
    if (this.count && this.lastMs === t) this.count -= 1;
    if (this.count === this.size) {
      this.first = (this.first + 1) % this.size;
      this.count -= 1;
    }
    const place = this.at(this.count);
    this.t[place] = t;
    this.state[place] = state;
    this.angle[place] = angle;
    this.current[place] = current;
    this.bits[place] = bits;
    this.count += 1;
  }

  /** Number of the last sample at or before a time, -1 before the first. */
  find(t) {
    let low = 0;
    let high = this.count;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (this.t[this.at(middle)] <= t) low = middle + 1;
      else high = middle;
    }
    return low - 1;
  }
}
