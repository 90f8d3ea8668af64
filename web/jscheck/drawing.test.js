// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { element } from "./browser.js";
import { FlatStitches } from "./flat.js";
import { add, around, begun, lengthOf, nearest, needleAt, stitchesOf, took } from "./geometry.js";
import { columns, moved, ticks } from "./trace.js";
import { View } from "./view.js";

/**
 * A piece of a run as the server sends it.
 * @param {number[][]} stitches x0, y0, x1, y1, layer, stitches/min, second it starts
 * @param {number} [first] of the piece @param {number} [total] of the run
 */
function sent(stitches, first = 0, total = stitches.length) {
  const n = stitches.length, b = new ArrayBuffer(16 + 38 * n), v = new DataView(b);
  v.setUint32(0, 0x4e505232);
  [total, first, n].forEach((x, k) => v.setUint32(4 + 4 * k, x, true));
  stitches.forEach(([x0, y0, x1, y1, layer, speed, start], i) => {
    [x0, y0, x1, y1].forEach((c, k) => v.setInt32(16 + 16 * i + 4 * k, c, true));
    v.setInt32(16 + 16 * n + 4 * i, layer, true);
    v.setFloat32(16 + 20 * n + 4 * i, speed, true);
    v.setFloat64(16 + 24 * n + 8 * i, start, true);
    v.setFloat32(16 + 32 * n + 4 * i, speed + 50, true);
    v.setUint8(16 + 36 * n + i, 1 + layer);
    v.setUint8(16 + 37 * n + i, 4 - layer);
  });
  return b;
}
/** @param {ArrayBuffer} b */
const decode = (b) => add(b, undefined, about);
const about = { seconds: 4, low: 300, high: 600 };
// Two stitches of a tenth of a second, a rest, and one of a quarter.
const g = decode(sent([[0, 0, 30, 0, 0, 600, 0], [30, 0, 30, 40, 0, 600, 0.1], [30, 40, -10, 40, 1, 240, 3]]));

test("a run is read as it was sent", () => {
  assert.equal(g.n, 3);
  assert.deepEqual([...g.xy.subarray(8)], [30, 40, -10, 40]);
  assert.deepEqual([...g.layer], [0, 0, 1]);
  assert.deepEqual([...g.kind], [1, 1, 2]);
  assert.deepEqual(g.box, { x0: -10, y0: 0, x1: 30, y1: 40 });
  assert.equal(took(g, 2), 0.25);
  const none = decode(sent([]));
  assert.equal(none.n, 0);
  assert.deepEqual(needleAt(none, 1), { x: 0, y: 0, i: -1 });
});

test("a run grows piece by piece into the same run", () => {
  const all = [[0, 0, 30, 0, 0, 600, 0], [30, 0, 30, 40, 0, 600, 0.1], [30, 40, -10, 40, 1, 240, 3]];
  let part = add(sent(all.slice(0, 2), 0, 3), undefined, about);
  assert.equal(part.n, 2);
  assert.equal(part.total, 3);
  assert.deepEqual(part.box, { x0: 0, y0: 0, x1: 30, y1: 40 });
  assert.throws(() => add(sent(all.slice(0, 1), 0, 3), part, about), /not a run/); // a piece that is here already
  assert.throws(() => add(sent(all.slice(2), 2, 4), part, about), /not a run/); // of another run
  part = add(sent(all.slice(2), 2, 3), part, about);
  assert.deepEqual(part, g);
  assert.deepEqual([...part.most], [650, 650, 290]);
  assert.deepEqual([...part.held], [4, 4, 3]);
});

test("the stitch that is pointed at is the nearest, the uppermost of two", () => {
  assert.equal(nearest(g, 31, 20, 5), 1); // beside its middle, far from its ends
  assert.equal(nearest(g, 10, 44, 5), 2);
  assert.equal(nearest(g, 10, 60, 5), -1);
  assert.equal(nearest(decode(sent([[0, 0, 9, 0, 0, 600, 0], [0, 0, 9, 0, 1, 600, 1]])), 4, 1, 5), 1);
  assert.equal(lengthOf(g, 1), 4);
  assert.deepEqual(around(g.xy, 0, 1), { x0: 0, y0: 0, x1: 30, y1: 0 });
});

test("a zoomed trace has the columns of its stretch of time and round ticks", () => {
  const c = columns(g, 4, 4, 2);
  assert.deepEqual([...c.hi], [-1, -1, 240, -1]);
  assert.ok(Math.abs(c.weight[2] - 0.5) < 1e-5, String(c.weight));
  assert.deepEqual(ticks(0, 310), [0, 60, 120, 180, 240, 300]);
  assert.deepEqual(ticks(71, 78), [71, 72, 73, 74, 75, 76, 77, 78]);
  assert.deepEqual(ticks(3599.8, 3601.2), [3600, 3600.5, 3601]);
});

test("jumps that are sewn through are no stitches", () => {
  // Revolutions 2 and 5 of six are jumps.
  assert.deepEqual([0, 1, 2, 3, 4, 5, 6].map((n) => stitchesOf([2, 5], n)), [0, 1, 2, 2, 3, 4, 4]);
  assert.equal(stitchesOf([], 7), 7);
});

test("what is no run, or is cut off, is refused", () => {
  assert.throws(() => decode(new ArrayBuffer(4)), /not a run/);
  assert.throws(() => decode(new ArrayBuffer(64)), /not a run/);
  assert.throws(() => decode(sent([[0, 0, 1, 1, 0, 600, 0]]).slice(0, 45)), /cut off/);
});

test("the needle goes along its stitch and rests at its end", () => {
  assert.deepEqual([-1, 0, 0.05, 0.1, 2.9, 3, 99].map((t) => begun(g, t)), [0, 1, 1, 2, 2, 3, 3]);
  assert.deepEqual(needleAt(g, -1), { x: 0, y: 0, i: -1 });
  assert.deepEqual(needleAt(g, 0.05), { x: 15, y: 0, i: 0 });
  assert.deepEqual(needleAt(g, 2), { x: 30, y: 40, i: 1 });
  assert.deepEqual(needleAt(g, 3.125), { x: 10, y: 40, i: 2 });
});

test("a column of the trace holds the time that is sewn in it", () => {
  const c = columns(g, 4, 4);
  assert.deepEqual([...c.hi], [600, -1, -1, 240]);
  assert.deepEqual([...c.lo], [600, Infinity, Infinity, 240]);
  assert.ok(Math.abs(c.weight[0] - 0.2) < 1e-5 && Math.abs(c.weight[3] - 0.25) < 1e-5, String(c.weight));
  assert.ok(Math.abs(c.sum[0] / c.weight[0] - 600) < 1e-3);
  assert.equal(c.high, 600);
  const slow = decode(sent([[0, 0, 30, 0, 0, 900, 0]]));
  assert.equal(columns(slow, 4, 4).high, 900); // a stitch above the scale is not cut off
});

test("keys move the time, within the run", () => {
  const at = (/** @type {string} */ key, time = 1, shift = false) => moved(g, time, key, shift);
  assert.equal(at("ArrowRight"), 2);
  assert.equal(at("ArrowLeft", 1, true), 0);
  assert.equal(at("ArrowUp", 1, true), 4);
  assert.equal(at("PageDown"), 0);
  assert.equal(at("Home"), 0);
  assert.equal(at("End"), 4);
  assert.equal(at(".", 0), 0.1 + 1e-4);
  assert.equal(at(".", 1), 3 + 1e-4);
  assert.equal(at(",", 3.1), 0.1 + 1e-4);
  assert.equal(at(",", 0), 1e-4);
  assert.equal(at("x"), undefined);
});

test("the view fits, zooms about a point and pans", () => {
  let changed = 0;
  const v = new View(/** @type {HTMLElement} */ (/** @type {unknown} */ (element(456, 256))), () => changed++);
  v.box = { x0: 0, y0: 0, x1: 1000, y1: 200 };
  v.resize();
  assert.equal(v.k, 0.4); // 400 px between the margins for 100 mm
  assert.deepEqual(v.px(500, 100), [228, 128]);
  assert.deepEqual(v.px(0, 200), [28, 88]); // y goes up in the design, down on the page
  v.zoom(2, 28, 88);
  assert.equal(v.k, 0.8);
  v.px(0, 200).forEach((p, i) => assert.ok(Math.abs(p - [28, 88][i]) < 1e-9));
  v.pan(10, -5);
  v.px(0, 200).forEach((p, i) => assert.ok(Math.abs(p - [38, 83][i]) < 1e-9));
  assert.equal(v.fitted, false);
  v.fit();
  assert.deepEqual(v.px(500, 100), [228, 128]);
  v.goto(500, 100, 20);
  assert.equal(v.k, 256 / 3 / 60); // near, yet not into one stitch
  v.zoom(1e9);
  assert.equal(v.k, 40);
  v.zoom(1e-12);
  assert.equal(v.k, 1e-4);
  assert.ok(changed > 6);
});

/** A canvas whose picture is the list of the strokes on it, with how pale. */
function canvas() {
  let /** @type {string[]} */ path = [];
  const c = { width: 0, height: 0, drawn: /** @type {string[]} */ ([]), getContext: () => context };
  const context = {
    canvas: c, globalAlpha: 1, setTransform() {}, getImageData() {},
    fillRect() { c.drawn = []; }, beginPath() { path = []; }, moveTo(/** @type {number} */ x) { path.push(`${x} ${context.globalAlpha}`); }, lineTo() {},
    stroke() { c.drawn.push(...path); path = []; },
    drawImage(/** @type {{drawn: string[]}} */ from) { c.drawn = [...from.drawn]; },
  };
  return c;
}

test("a large drawing waits for nobody, and is whole in the end", async (t) => {
  Object.assign(document, { createElement: canvas });
  const many = decode(sent(Array.from({ length: 9000 }, (_, i) => [i, 0, i + 1, 0, 0, 600, i / 10])));
  let now = 0; // each look at the clock is 3 ms later
  t.mock.method(performance, "now", () => now += 3);
  const seen = canvas(), flat = new FlatStitches(/** @type {HTMLCanvasElement} */ (/** @type {unknown} */ (seen)));
  flat.set(many);
  const v = new View(/** @type {HTMLElement} */ (/** @type {unknown} */ (element(456, 256))), () => {});
  v.resize();
  const shown = { dpr: 1, thread: 4, sewn: 9000, only: -1, from: 0, to: 0, first: 0, past: 0, kinds: null, cloth: [1, 1, 1], mark: [0, 0, 0] };
  const rest = async () => { while (flat.doing) await new Promise((r) => setTimeout(r, 5)); };
  const sewn = (/** @type {number} */ n) => [...Array.from({ length: 9000 - n }, (_, i) => `${n + i} 0.16`), ...Array.from({ length: n }, (_, i) => `${i} 1`)];
  flat.draw(v, shown);
  assert.equal(seen.drawn.length, 0, "it was drawn before the press could be answered");
  await new Promise((r) => setTimeout(r));
  assert.ok(flat.doing, "all of it was drawn in one go");
  await rest();
  assert.deepEqual(seen.drawn, sewn(9000));
  v.zoom(2);
  flat.draw(v, shown);
  assert.equal(seen.drawn.length, 9000, "while the hand moves the last picture is shown, shifted");
  await rest();
  // Played from the beginning: each frame comes before the first is done, which must not begin anew for it.
  let shownFirst = false;
  for (let n = 100; n < 5000; n += 100) {
    flat.draw(v, { ...shown, sewn: n });
    await new Promise((r) => setTimeout(r));
    shownFirst ||= (flat.at?.sewn ?? 9000) < 9000;
  }
  assert.ok(shownFirst, "each frame began the drawing anew: none was finished");
  flat.draw(v, { ...shown, sewn: 50 });
  flat.draw(v, { ...shown, sewn: 5000 });
  await rest();
  assert.deepEqual(new Set(seen.drawn.filter((x) => x.endsWith(" 1"))), new Set(sewn(5000).filter((x) => x.endsWith(" 1"))));
  assert.deepEqual(flat.at?.sewn, 5000);
  flat.draw(v, { ...shown, sewn: 200 }, true); // on paper: at once
  assert.deepEqual(seen.drawn, sewn(200));
  assert.equal(flat.doing, null);
});
