// @ts-check
// Microphone: what runs beside the page's own script, a block of samples at a
// time (AudioWorklet). It brings them to the rate that the shop hears and hands
// them on as 16-bit numbers, a second at a time, each piece with when its first
// sample was by the clock: where a phone sleeps no samples come, and the clock goes on.

/** So many s late begin a piece of their own: what was late alone is made up for within a second. */
const late = 0.2;

/** @typedef {{process(inputs: Float32Array[][]): boolean, port: MessagePort}} Processor */

const scope = /** @type {any} */ (globalThis);
if (scope.AudioWorkletProcessor) scope.registerProcessor("np-microphone", class extends scope.AudioWorkletProcessor {
  /** @param {{processorOptions: {rate: number}}} options */
  constructor(options) {
    super();
    this.rate = options.processorOptions.rate;
    this.every = scope.sampleRate / this.rate;
    this.at = 0; // where in the input the next sample lies
    this.last = 0;
    this.out = new Int16Array(this.rate);
    this.n = 0;
    this.heard = 0; // s of sound so far
    this.began = Infinity; // by the clock when sound began that would have come without a stop, by what of the piece came soonest
    this.lows = [0, 0]; // a filter of two poles before samples are left out
  }
  /** @param {Float32Array[][]} inputs */
  process(inputs) {
    const channels = inputs[0];
    if (!channels || !channels.length) return true;
    const length = channels[0].length, began = Date.now() / 1000 - this.heard;
    if (began > this.began + late) this.hand();
    this.began = Math.min(this.began, began);
    this.heard += length / scope.sampleRate;
    const k = this.every > 1.05 ? 1 - Math.exp(-2 * Math.PI * 0.42 / this.every) : 1;
    for (let i = 0; i < length; i++) {
      let v = 0;
      for (const c of channels) v += c[i] / channels.length;
      this.lows[0] += k * (v - this.lows[0]); this.lows[1] += k * (this.lows[0] - this.lows[1]);
      const now = this.lows[1];
      while (this.at <= i) { // between the sample before and this one
        const x = this.at - (i - 1), s = this.last + (now - this.last) * x;
        this.out[this.n++] = Math.max(-32768, Math.min(32767, Math.round(s * 32768)));
        this.at += this.every;
        if (this.n === this.out.length) { this.hand(); this.began = began; }
      }
      this.last = now;
    }
    this.at -= length;
    return true;
  }
  hand() {
    this.port.postMessage({ samples: this.out.slice(0, this.n), began: this.began });
    this.n = 0; this.began = Infinity;
  }
});
