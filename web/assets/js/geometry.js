// @ts-check
// Geometry: every stitch of a design with its time and speed, as the server's
// binary answer has it. Nothing is computed here: arrays are views of it.

import { say } from "./words.js";

/**
 * @typedef {object} Geometry
 * @property {number} n revolutions of the shaft: stitches, and jumps sewn through
 * @property {number} seconds run time
 * @property {number} low speed at the dark end of the scale, stitches/min
 * @property {number} high speed at the bright end
 * @property {Int32Array} xy x0, y0, x1, y1 of each stitch, 0.1 mm, y up
 * @property {Float32Array} speed stitches/min
 * @property {Float64Array} start seconds from the start button
 * @property {Int32Array} layer colour block, from 0
 * @property {Uint8Array} kind kind of stitches, as the API's description counts them
 * @property {{x0:number,y0:number,x1:number,y1:number}} box
 */

/**
 * @param {ArrayBuffer} b the answer of run.bin
 * @param {{seconds:number, low:number, high:number}} about the run time and the speed scale, from the page
 * @returns {Geometry}
 */
export function decode(b, about) {
  const h = new DataView(b);
  if (b.byteLength < 8 || h.getUint32(0, false) !== 0x4e505231) throw new Error(say("drawing.not-stitches"));
  const n = h.getUint32(4, true);
  if (b.byteLength < 8 + n * 33) throw new Error(say("drawing.cut-off"));
  const xy = new Int32Array(b, 8, 4 * n), layer = new Int32Array(b, 8 + 16 * n, n);
  const speed = new Float32Array(b, 8 + 20 * n, n), start = new Float64Array(b, 8 + 24 * n, n);
  const kind = new Uint8Array(b, 8 + 32 * n, n);
  const box = { x0: 0, y0: 0, x1: 1, y1: 1 };
  if (n > 0) {
    box.x0 = box.y0 = Infinity; box.x1 = box.y1 = -Infinity;
    for (let i = 0; i < 4 * n; i += 2) {
      if (xy[i] < box.x0) box.x0 = xy[i];
      if (xy[i] > box.x1) box.x1 = xy[i];
      if (xy[i + 1] < box.y0) box.y0 = xy[i + 1];
      if (xy[i + 1] > box.y1) box.y1 = xy[i + 1];
    }
  }
  return { n, seconds: about.seconds, low: about.low, high: about.high, xy, speed, start, layer, kind, box };
}

/** Seconds of one revolution: its mean speed is what the server gives. @param {Geometry} g @param {number} i */
export const took = (g, i) => 60 / (g.speed[i] || 60);

/** @param {string} url @param {{seconds:number, low:number, high:number}} about @param {AbortSignal} [signal] */
export async function load(url, about, signal) {
  const r = await fetch(url, { signal });
  if (!r.ok) throw new Error(say("drawing.not-fetched", { status: String(r.status) }));
  return decode(await r.arrayBuffer(), about);
}

/** How many stitches have begun at time t. @param {Geometry} g @param {number} t */
export function begun(g, t) {
  let lo = 0, hi = g.n;
  while (lo < hi) { const m = (lo + hi) >> 1; if (g.start[m] <= t) lo = m + 1; else hi = m; }
  return lo;
}

/** How many of the first n revolutions are stitches: jumps are none. @param {number[]} jumps ascending @param {number} n */
export function stitchesOf(jumps, n) {
  let lo = 0, hi = jumps.length;
  while (lo < hi) { const m = (lo + hi) >> 1; if (jumps[m] < n) lo = m + 1; else hi = m; }
  return n - lo;
}

/** Where the needle is at time t, 0.1 mm: it rests where the last stitch ended. @param {Geometry} g @param {number} t */
export function needleAt(g, t) {
  if (g.n === 0) return { x: 0, y: 0, i: -1 };
  const i = begun(g, t) - 1;
  if (i < 0) return { x: g.xy[0], y: g.xy[1], i };
  const f = Math.min(1, Math.max(0, (t - g.start[i]) / took(g, i)));
  const k = 4 * i;
  return { x: g.xy[k] + (g.xy[k + 2] - g.xy[k]) * f, y: g.xy[k + 1] + (g.xy[k + 3] - g.xy[k + 1]) * f, i };
}
