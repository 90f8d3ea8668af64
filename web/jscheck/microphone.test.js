// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import "./browser.js";
import { Pieces } from "./sound.js";

const rate = 1000, device = 4000, block = 128;

/** @typedef {{samples: Int16Array, began: number}} Piece */

/** @type {Piece[]} */ let came = [];
/** @type {any} */ let Kind;
Object.assign(globalThis, {
  sampleRate: device, registerProcessor: (/** @type {string} */ _, /** @type {any} */ kind) => { Kind = kind; },
  AudioWorkletProcessor: class { port = { postMessage: (/** @type {Piece} */ p) => came.push(p) }; },
});
const load = import(String(new URL("./microphone.js", import.meta.url)));

/** A microphone that is heard by the page's own, and what of it comes. @param {(second: number) => number} late s that the sound of a time comes later @param {(second: number) => boolean} asleep */
async function record(late, asleep) {
  let now = 0;
  came = [];
  await load;
  const real = Date.now;
  Date.now = () => Math.round(now * 1000);
  try {
    const m = new Kind({ processorOptions: { rate } });
    for (let at = 0; at < 12; at += block / device) {
      now = 1000 + at + block / device + late(at);
      // Each second begins with a click.
      const sound = Float32Array.from({ length: block }, (_, i) => (at + i / device) % 1 < 0.02 ? 0.9 : 0);
      if (!asleep(at)) m.process([[sound]]);
    }
  } finally { Date.now = real; }
  const p = new Pieces();
  for (const c of came) p.hear(c, rate);
  return p;
}

/** When clicks begin, in s. @param {Pieces} p */
function clicks(p) {
  const all = p.from(0, p.taken) ?? new Int16Array(), out = [];
  for (let i = 1; i < all.length; i++) if (all[i] > 9000 && all[i - 1] <= 9000 && i > rate / 2 && i < 10.5 * rate) out.push(i / rate);
  return out;
}

/** @param {number[]} times @param {number[]} want */
function lie(times, want) {
  assert.equal(times.length, want.length, String(times));
  times.forEach((t, i) => assert.ok(Math.abs(t - want[i]) < 0.02, `${times} not ${want}`));
}

test("sound that comes in bursts is all there and nothing else", async () => {
  const p = await record((at) => 0.09 - at % 0.09, () => false);
  assert.equal(p.missing, 0);
  lie(clicks(p), [1, 2, 3, 4, 5, 6, 7, 8, 9, 10]);
});

test("while the phone sleeps there is silence, as long as it slept", async () => {
  const p = await record((at) => 0.03 - at % 0.03, (at) => at > 3.4 && at < 7.7);
  assert.ok(Math.abs(p.missing - 4.3) < 0.05, String(p.missing));
  lie(clicks(p), [1, 2, 3, 8, 9, 10]);
});

test("sound that comes late once, and then all of it, is not parted", async () => {
  const p = await record((at) => at > 3.4 && at < 4 ? 4 - at : 0, () => false);
  assert.equal(p.missing, 0);
  lie(clicks(p), [1, 2, 3, 4, 5, 6, 7, 8, 9, 10]);
});

test("a clock that goes a little faster than the sound leaves nothing out", async () => {
  const p = await record((at) => at * 0.02, () => false);
  assert.equal(p.missing, 0);
});

test("a recording goes on where the shop has its beginning, by the clock", () => {
  const p = new Pieces(3 * rate, 1000, rate); // the shop has 3 s of what began at 1000 s
  p.hear({ samples: new Int16Array(rate).fill(5), began: 1010 }, rate);
  assert.equal(p.missing, 7);
  assert.equal(p.taken, 11 * rate);
  assert.equal(p.since, 1000);
  const rest = p.from(9.5 * rate, 2 * rate) ?? new Int16Array();
  assert.equal(rest.length, 1.5 * rate);
  assert.equal(rest.indexOf(5), 0.5 * rate);
});
