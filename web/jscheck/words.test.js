// @ts-check
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";
import { root } from "./browser.js";
import * as words from "./words.js";

/** What words.js writes, by the names that cases.json has for it. @type {Record<string, (v: number, noun: string) => string>} */
const as = {
  seconds: words.seconds, clock: words.clock, whole: words.whole, figure: words.figure,
  stitch: words.stitchLength, "per-minute": words.perMinute, count: words.count,
  daytime: (v, hours) => words.daytime(v, hours === "12"),
};
/** @type {{as: string, of: number|null, inch?: boolean, in?: string, is: string}[]} */
const cases = JSON.parse(readFileSync(new URL("cases.json", import.meta.url), "utf8"));

/** A text with plain spaces. @param {string} s */
const loose = (s) => s.replaceAll("\u00a0", " ");

test("a number and its unit stay on one line", () => {
  assert.equal(words.seconds(1125), "18\u00a0min\u00a045\u00a0s");
  assert.equal(words.count(12, "piece"), "12 pieces");
});

test("figures are written as package words writes them", () => {
  const tried = new Set();
  for (const c of cases) {
    const [kind, noun] = c.as.split(" ");
    if (!as[kind]) continue; // the page's scripts do not write these
    tried.add(kind);
    root.dataset.length = c.inch ? "inch" : "mm";
    assert.equal(loose(as[kind](c.of ?? NaN, noun ?? "")), c.is, `${c.as} of ${c.of}`);
  }
  assert.deepEqual([...tried].sort(), Object.keys(as).sort());
});

test("a day is written in the page's language and form, and in one piece", async () => {
  const tried = new Set();
  for (const c of cases) {
    const [kind, zone, hours] = c.as.split(" ");
    if (kind !== "near") continue;
    root.lang = c.in ?? "en";
    const there = await import(`./words.js?${root.lang}`), by = there.writes(zone);
    assert.equal(loose(there.near(by, (c.of ?? NaN) * 1000, hours === "12")), c.is, `${c.as} of ${c.of} in ${root.lang}`);
    assert.doesNotMatch(there.moment(by, (c.of ?? NaN) * 1000).day, / /);
    tried.add(root.lang);
  }
  root.lang = "en";
  assert.equal(tried.size, 5);
});

test("a moment has the seconds since midnight of its zone", () => {
  const by = words.writes("Europe/Lisbon");
  assert.deepEqual(words.moment(by, Date.parse("2026-06-30T23:05:00Z")), { day: "Wed\u00a01\u00a0Jul", seconds: 300 });
});

test("the scale bar has the reader's unit", () => {
  root.dataset.length = "mm";
  assert.equal(words.scaleLength(20), "20\u00a0mm");
  root.dataset.length = "inch";
  assert.equal(words.scaleLength(0.2), "0.2\u00a0in");
});

test("sentences take their form from the number", () => {
  assert.equal(words.say("upload.more-known", { n: 1 }), "1 more was here already.");
  assert.equal(words.say("upload.more-known", { n: 1200 }), "1,200 more were here already.");
  assert.equal(words.say("timing.block", { n: 2, of: 5 }), "Block 2 of 5");
});

test("what is missing is seen", () => {
  assert.equal(words.say("no.such"), "[no.such]");
  assert.equal(words.say("timing.about"), "about {time}");
});
