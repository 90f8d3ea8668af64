// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import "./browser.js";
import { Axis, firstAfter, lotsOf } from "./bars.js";
import { countOf, leastPress, newer, nextPress, unlikely } from "./press.js";

/** Marks by the first letters of their kinds. @param {string} kinds @returns {import("./press.js").Mark[]} */
const marks = (kinds) => [...kinds].map((k, i) => ({ kind: /** @type {const} */ ({ s: "start", h: "stop", r: "restart", e: "end" })[/** @type {"s"|"h"|"r"|"e"} */ (k)], at_ms: 1000 * i }));

test("each press means what comes next in the run", () => {
  for (const [had, stops, next] of /** @type {[string, number, string][]} */ ([
    ["", 2, "start"], ["s", 2, "stop"], ["sh", 2, "restart"], ["shr", 2, "stop"], ["shrhr", 2, "end"], ["shrhre", 2, ""], ["s", 0, "end"], ["se", 0, ""],
  ])) assert.equal(nextPress({ marks: marks(had) }, stops), next, `after ${had}`);
  // A restart that was missed is passed over.
  assert.equal(nextPress({ marks: marks("sh"), skipped: true }, 2), "stop");
  assert.equal(nextPress({ marks: marks("sh"), skipped: true }, 1), "end");
  assert.equal(countOf(marks("shrhr"), "stop"), 2);
});

test("the newer timing counts, and none after its end", () => {
  const timing = { id: "a", design: "", machine: "", set_speed: 800, started: "", marks: marks("s"), rev: 2, done: false };
  const later = { ...timing, rev: 3 };
  assert.equal(newer(timing, null), timing);
  assert.equal(newer(timing, later), later);
  assert.equal(newer(later, timing), later);
  assert.equal(newer(timing, { ...timing }), timing);
  const done = { ...timing, done: true };
  assert.equal(newer(done, later), done);
});

test("what is asked about: two presses at once, and a run far off what was predicted", () => {
  assert.equal(leastPress, 300); // ms, as the page says
  for (const [seconds, asked] of /** @type {[number, boolean][]} */ ([[1.7, true], [149, true], [150, false], [355, false], [800, false], [801, true]]))
    assert.equal(unlikely(seconds, 300, 400), asked, `${seconds} s`);
  assert.equal(unlikely(1.7, 0, 0), false); // nothing was predicted
});

test("the axis of the plan leaves nights out, there and back", () => {
  const h = 3600, axis = new Axis([[0, 4 * h, 4.4 * h, 9 * h, 24 * h, 33 * h], [24 * h, 30 * h]], 31 * h); // a pause of 24 min is none
  assert.deepEqual(axis.spans, [[0, 9 * h, 0], [24 * h, 33 * h, 9 * h]]);
  assert.equal(axis.open, 18 * h);
  axis.k = 10 / h;
  assert.equal(axis.length, 186);
  for (const [t, x] of [[0, 0], [4.5 * h, 45], [9 * h, 90], [15 * h, 90], [24 * h, 96], [31 * h, 166]]) assert.equal(axis.x(t), x, `${t / h} h`);
  for (const t of [0, 2 * h, 8.9 * h, 25 * h, 32 * h]) assert.ok(Math.abs(axis.t(axis.x(t)) - t) < 1e-6);
  axis.k = axis.fits(500);
  assert.ok(Math.abs(axis.length - 500) < 1e-6);
  assert.equal(new Axis([], 7200).x(7200), 120); // hours that nobody entered
});

test("lots are read as the server sends them, and found by time", () => {
  const sent = { version: 1, from: 0, now: 0, zone: "UTC", hours12: false, days: [], opens: [[]], machines: [{ id: "m", name: "Gannet", heads: "1 head", open: 0 }], customers: ["A", "B"], designs: ["d", "e"], chances: ["about 9 in 10"],
    lots: { number: [1003, 1004, 1005], line: [2, 1, 1], lines: [1, 0, 0], machine: [0, 0, 0], customer: [0, 0, 2], design: [0, 1, 0], pieces: [48, 6, 1], sewn: [12, 0, 0], free: [100, 50, 0], set_up: [900, 100, 0], wait: [-300, 0, 0], sews: [3300, 900, 60],
      risk: [2, 0, 0], chance: [0, -1, -1], is: [1, 2, 0] } };
  const [a, b, c] = lotsOf(sent);
  assert.deepEqual([a, b, c].map((l) => l.customer + l.design), ["Ad", "Bd", "Ae"]);
  assert.deepEqual([a.value, a.name, a.pieces, a.done, a.setup, a.ready, a.from, a.to, a.risk, a.chance, a.running, a.held], ["1003/2@m", "1003/2", 48, 12, 100, 700, 700, 4000, 2, "about 9 in 10", true, false]);
  assert.deepEqual([b.value, b.name, b.setup, b.ready, b.from, b.to, b.chance, b.running, b.held], ["1004/1@m", "1004", 4050, 4150, 4150, 5050, "", false, true]);
  assert.deepEqual([0, 3999, 4050, 9000].map((t) => firstAfter([a, b], t)), [0, 0, 1, 2]);
});
