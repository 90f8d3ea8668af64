// @ts-check
// Sound: the pieces of a recording on their way to the shop. A piece is kept
// until the shop has it, so that a lost connection loses nothing. What the
// microphone left out is silence, as long as the clock says.

/** @typedef {{id: string, next: number, ended: boolean, seconds: number, advice: string, signal: string, level: number, sewing: boolean, done: boolean, speed: number, stitch: number, stitches: number}} Heard */

/** By so many s sound may come late and nothing is missing. */
const leastGap = 0.15;
/** A recording that so many s are missing of is not gone on with. */
export const mostGap = 1800;

export class Pieces {
  /**
   * Pieces that go on where the shop has a recording's beginning.
   * @param {number} [first] the sample to go on with @param {number} [began] s by the clock when the recording began
   * @param {number} [rate]
   */
  constructor(first = 0, began, rate = 1) {
    /** @type {Int16Array[]} */ this.all = [];
    this.first = first; this.taken = first;
    this.before = first / rate; // s that the shop has
    /** @type {number | undefined} s by the clock when sound began, all that is missing counted */ this.began = began === undefined ? undefined : began + this.before;
    this.missing = 0; // s
  }
  /** When the recording began, in s by the clock. */
  get since() { return this.began === undefined ? undefined : this.began - this.missing - this.before; }
  /** @param {Int16Array} samples */
  add(samples) { this.all.push(samples); this.taken += samples.length; }
  /**
   * Adds what a microphone heard, after silence for what it did not hear.
   * @param {{samples: Int16Array, began: number}} piece began: s by the clock, when sound began, but for what is missing @param {number} rate
   */
  hear(piece, rate) {
    const gap = this.began === undefined ? 0 : piece.began - this.began;
    if (gap > leastGap) {
      const silence = Math.round(Math.min(gap, mostGap) * rate);
      this.add(new Int16Array(silence));
      this.missing += silence / rate;
    }
    this.began = piece.began; // the clock of the sound is not quite the other's
    this.add(piece.samples);
  }
  /**
   * What is to be sent next: samples from one on, at most so many; null where the shop has all.
   * @param {number} from @param {number} most
   */
  from(from, most) {
    if (from >= this.taken) return null;
    const out = new Int16Array(Math.min(this.taken - from, most));
    let at = this.first, n = 0;
    for (const p of this.all) {
      if (at + p.length > from && n < out.length) {
        const part = p.subarray(Math.max(0, from - at), Math.max(0, from - at) + out.length - n);
        out.set(part, n); n += part.length;
      }
      at += p.length;
    }
    return out;
  }
  /** The recording as a WAV file of one channel. @param {number} rate */
  wav(rate) {
    const head = new DataView(new ArrayBuffer(44)), bytes = (this.taken - this.first) * 2;
    const text = (/** @type {number} */ at, /** @type {string} */ s) => { for (let i = 0; i < s.length; i++) head.setUint8(at + i, s.charCodeAt(i)); };
    text(0, "RIFF"); head.setUint32(4, 36 + bytes, true); text(8, "WAVEfmt ");
    head.setUint32(16, 16, true); head.setUint16(20, 1, true); head.setUint16(22, 1, true);
    head.setUint32(24, rate, true); head.setUint32(28, rate * 2, true); head.setUint16(32, 2, true); head.setUint16(34, 16, true);
    text(36, "data"); head.setUint32(40, bytes, true);
    return new Blob([head, .../** @type {BlobPart[]} */ (this.all)], { type: "audio/wav" });
  }
}

/** Sound as 16-bit numbers. @param {Float32Array} samples −1 to 1 */
export function shorts(samples) {
  const out = new Int16Array(samples.length);
  for (let i = 0; i < out.length; i++) out[i] = Math.max(-32768, Math.min(32767, Math.round(samples[i] * 32768)));
  return out;
}
