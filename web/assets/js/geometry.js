// @ts-check
// Geometry: every stitch of a design with its time and speed, as the server's
// binary answer has it. It comes in pieces, so that a large design is seen and
// can be worked at while the rest is on its way.

import { say } from "./words.js";

/**
 * @typedef {object} Geometry
 * @property {number} n revolutions of the shaft that are here: stitches, and jumps sewn through
 * @property {number} total revolutions of the run
 * @property {number} seconds run time
 * @property {number} low speed at the dark end of the scale, stitches/min
 * @property {number} high speed at the bright end
 * @property {Int32Array} xy x0, y0, x1, y1 of each stitch, 0.1 mm, y up
 * @property {Float32Array} speed stitches/min
 * @property {Float64Array} start seconds from the start button
 * @property {Int32Array} layer colour block, from 0
 * @property {Float32Array} most what the machine's limits allow, stitches/min
 * @property {Uint8Array} kind kind of stitches, as the API's description counts them
 * @property {Uint8Array} held which limit holds it, as the API's description counts them
 * @property {{x0:number,y0:number,x1:number,y1:number}} box
 */

/**
 * Adds a piece to what is here.
 * @param {ArrayBuffer} b an answer of run.bin
 * @param {Geometry | undefined} g what came before; undefined with the first piece
 * @param {{seconds:number, low:number, high:number}} about the run time and the speed scale, from the page
 * @returns {Geometry}
 */
export function add(b, g, about) {
  const h = new DataView(b);
  if (b.byteLength < 16 || h.getUint32(0, false) !== 0x4e505232) throw new Error(say("drawing.not-stitches"));
  const total = h.getUint32(4, true), first = h.getUint32(8, true), n = h.getUint32(12, true);
  if (b.byteLength < 16 + n * 38) throw new Error(say("drawing.cut-off"));
  g ??= { n: 0, total, seconds: about.seconds, low: about.low, high: about.high, xy: new Int32Array(4 * total), layer: new Int32Array(total),
    speed: new Float32Array(total), start: new Float64Array(total), most: new Float32Array(total), kind: new Uint8Array(total), held: new Uint8Array(total),
    box: { x0: 0, y0: 0, x1: 1, y1: 1 } };
  if (first !== g.n || total !== g.total || first + n > total) throw new Error(say("drawing.not-stitches"));
  const xy = new Int32Array(b, 16, 4 * n);
  g.xy.set(xy, 4 * first);
  g.layer.set(new Int32Array(b, 16 + 16 * n, n), first);
  g.speed.set(new Float32Array(b, 16 + 20 * n, n), first);
  g.start.set(new Float64Array(b, 16 + 24 * n, n), first);
  g.most.set(new Float32Array(b, 16 + 32 * n, n), first);
  g.kind.set(new Uint8Array(b, 16 + 36 * n, n), first);
  g.held.set(new Uint8Array(b, 16 + 37 * n, n), first);
  if (n > 0 && first === 0) g.box = { x0: Infinity, y0: Infinity, x1: -Infinity, y1: -Infinity };
  g.box = around(xy, 0, n, g.box);
  g.n = first + n;
  return g;
}

/** The box round stitches from … to, and what is given. @param {Int32Array} xy @param {number} from @param {number} to @param {Geometry["box"]} [box] */
export function around(xy, from, to, box = { x0: Infinity, y0: Infinity, x1: -Infinity, y1: -Infinity }) {
  let { x0, y0, x1, y1 } = box;
  for (let i = 4 * from; i < 4 * to; i += 2) {
    if (xy[i] < x0) x0 = xy[i];
    if (xy[i] > x1) x1 = xy[i];
    if (xy[i + 1] < y0) y0 = xy[i + 1];
    if (xy[i + 1] > y1) y1 = xy[i + 1];
  }
  return { x0, y0, x1, y1 };
}

/** Seconds of one revolution: its mean speed is what the server gives. @param {Geometry} g @param {number} i */
export const took = (g, i) => 60 / (g.speed[i] || 60);

/**
 * Fetches a run piece by piece.
 * @param {string} url @param {{seconds:number, low:number, high:number}} about
 * @param {(g: Geometry) => void} grown is told after each piece @param {AbortSignal} [signal]
 */
export async function load(url, about, grown, signal) {
  /** @type {Geometry | undefined} */ let g;
  do {
    const r = await fetch(`${url}&first=${g ? g.n : 0}`, { signal });
    if (!r.ok) throw new Error(say("drawing.not-fetched", { status: String(r.status) }));
    const before = g ? g.n : -1;
    g = add(await r.arrayBuffer(), g, about);
    if (g.n === before) throw new Error(say("drawing.cut-off"));
    grown(g);
  } while (g.n < g.total);
  return g;
}

/** The stitch nearest to a place, the uppermost of the nearest; −1 for none within reach. @param {Geometry} g @param {number} x @param {number} y @param {number} reach 0.1 mm */
export function nearest(g, x, y, reach) {
  let best = -1, near = reach * reach;
  const xy = g.xy;
  for (let i = 0; i < g.n; i++) {
    // To the stitch's line, not only to its end.
    const ax = xy[4 * i], ay = xy[4 * i + 1], dx = xy[4 * i + 2] - ax, dy = xy[4 * i + 3] - ay, px = x - ax, py = y - ay, l = dx * dx + dy * dy;
    const f = l > 0 ? Math.min(1, Math.max(0, (px * dx + py * dy) / l)) : 0;
    const ex = px - f * dx, ey = py - f * dy, d = ex * ex + ey * ey;
    if (d <= near) { near = d; best = i; }
  }
  return best;
}

/** Length of a stitch, mm. @param {Geometry} g @param {number} i */
export const lengthOf = (g, i) => Math.hypot(g.xy[4 * i + 2] - g.xy[4 * i], g.xy[4 * i + 3] - g.xy[4 * i + 1]) / 10;

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
