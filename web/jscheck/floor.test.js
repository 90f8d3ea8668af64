// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { nearest, placeOf } from "./place.js";
import { countOf, newer, nextPress } from "./press.js";

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

test("a strip goes to the nearest row, after those it was let go behind", () => {
  assert.equal(nearest([100, 140, 180], 119), 0);
  assert.equal(nearest([100, 140, 180], 121), 1);
  assert.equal(nearest([100, 140, 180], 999), 2);
  const rows = [0, 0, 0, 1], middles = [50, 150, 250, 60];
  assert.equal(placeOf(rows, middles, 0, 0, 200), 2); // itself is not counted
  assert.equal(placeOf(rows, middles, 0, 0, 10), 1);
  assert.equal(placeOf(rows, middles, 0, 1, 100), 2);
  assert.equal(placeOf(rows, middles, 3, 0, 999), 4);
  assert.equal(placeOf(rows, middles, 3, 2, 999), 1);
});
