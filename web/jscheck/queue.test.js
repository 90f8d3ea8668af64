// @ts-check
import assert from "node:assert/strict";
import { beforeEach, test } from "node:test";
import "./browser.js";

/** What stands in the phone. @type {Map<string, string>} */ const phone = new Map();
let full = false;
/** What the shop was asked, and how it answers. @type {{at: string, method: string, body: any}[]} */ const asked = [];
/** @type {(at: string, method: string) => Response} */ let answers = () => new Response("");

/** An answer as fetch gives one, at the address that it led to. @param {number} status @param {unknown} body @param {string} [to] */
function answer(status, body, to) {
  const r = new Response(typeof body === "string" ? body : JSON.stringify(body), { status });
  Object.defineProperty(r, "url", { value: to || "http://shop/orders/1001/record" });
  Object.defineProperty(r, "redirected", { value: !!to });
  return r;
}

/** @type {string[]} */ let tells = [];
/** @type {any[]} */ const heard = [];
const list = () => ({ className: "", setAttribute() {}, append() {}, replaceChildren() {}, remove() {}, addEventListener() {} });
Object.assign(globalThis.document, { getElementById: () => null, createElement: list, dispatchEvent: (/** @type {CustomEvent} */ e) => heard.push(e.detail) });
Object.defineProperty(globalThis, "navigator", { value: {}, configurable: true }); // a browser without locks
Object.assign(globalThis, {
  localStorage: {
    getItem: (/** @type {string} */ k) => phone.get(k) ?? null,
    setItem(/** @type {string} */ k, /** @type {string} */ v) { if (full) throw new Error("full"); phone.set(k, v); },
    removeItem: (/** @type {string} */ k) => phone.delete(k), key: (/** @type {number} */ i) => [...phone.keys()][i], get length() { return phone.size; },
  },
  DOMParser: class { parseFromString() { return { querySelectorAll: () => tells.map((textContent) => ({ textContent })) }; } },
  fetch: async (/** @type {string} */ at, /** @type {RequestInit} */ how = {}) => {
    asked.push({ at, method: how.method || "GET", body: how.body });
    return answers(at, how.method || "GET");
  },
});
const { done, finishTiming, flush, newKey, owner, put, saveTiming, send, waiting } = await import("./queue.js");

const record = (/** @type {string} */ key, good = 1) => ({ key, to: `/orders/${key}/record`, body: `good=${good}`, order: key, good, spoilt: 0 });
const timing = { id: "t1", design: "d", machine: "m", set_speed: 800, started: "2026-11-30T08:00:00Z", marks: [], rev: 3, done: false, finish: true };
const keys = () => waiting().map((w) => w.key);
beforeEach(() => { phone.clear(); asked.length = 0; heard.length = 0; tells = []; full = false; answers = () => { throw new Error("out of reach"); }; });

test("what waits stands once under its key, oldest first, and is told where it cannot be kept", () => {
  assert.ok(put(record("a")) && put(record("b")) && put({ ...record("a"), asks: "line?" }));
  assert.deepEqual(keys(), ["b", "a"]);
  done("b");
  assert.deepEqual(keys(), ["a"]);
  done("a");
  assert.equal(phone.has("np-queue"), false);
  full = true;
  assert.equal(put(record("c")), false);
  full = false;
  phone.set("np-queue", "{ torn");
  assert.deepEqual(waiting(), []);
});

test("a key is one of its own, and a phone is known by one", () => {
  const made = new Set(Array.from({ length: 50 }, newKey));
  assert.equal(made.size, 50);
  for (const k of made) assert.match(k, /^[a-z2-7]{20}$/);
  assert.equal(new Set([...made].join("")).size, 32); // all letters: 100 bits
  assert.equal(owner(), owner());
  assert.equal(phone.get("np-owner"), owner());
});

test("what the shop says to a record is kept, asks, sign-in or out of reach", async () => {
  for (const [what, come, says] of /** @type {[() => Response, string, string][]} */ ([
    [() => answer(200, "", "http://shop/orders/1001?kept=1"), "kept", "http://shop/orders/1001?kept=1"],
    [() => answer(200, "", "http://shop/sign-in?next=%2F"), "sign-in", "Sign in"],
    [() => answer(422, ""), "asks", "9 pieces are too many"],
    [() => answer(500, ""), "", ""], [() => answer(503, ""), "", ""],
    [() => { throw new Error("no way"); }, "", ""],
  ])) {
    answers = what;
    tells = ["  9 pieces are\n too many "];
    const r = await send("/orders/1001/record", "good=9");
    assert.equal(r.came, come);
    assert.ok(r.says.startsWith(says) || come === "sign-in", r.says);
  }
  tells = ["  ", "say which machine"];
  answers = () => answer(422, "");
  assert.equal((await send("/x", "")).says, "say which machine");
  tells = ["   "];
  answers = () => answer(404, "");
  assert.deepEqual(await send("/x", ""), { came: "asks", says: "404" });
});

test("what waits goes out in its order, what is asked back stays, and nothing overtakes what cannot go", async () => {
  for (const k of ["a", "b", "c"]) put(record(k));
  put({ ...record("z"), asks: "line?" });
  tells = ["too many"];
  answers = (at) => at.includes("/b/") ? answer(422, "") : answer(200, "", "http://shop/orders/1?kept=1");
  await flush();
  assert.deepEqual(asked.map((x) => x.at), ["/orders/a/record", "/orders/b/record", "/orders/c/record"]);
  assert.deepEqual(waiting().map((w) => [w.key, w.asks]), [["z", "line?"], ["b", "too many"]]);
  phone.clear(); asked.length = 0;
  for (const k of ["a", "b"]) put(record(k));
  answers = () => answer(502, "");
  await flush();
  assert.deepEqual([asked.length, keys()], [1, ["a", "b"]]);
  // Two at once send it once.
  asked.length = 0;
  answers = () => answer(200, "", "http://shop/orders/1?kept=1");
  await Promise.all([flush(), flush()]);
  assert.deepEqual([asked.length, keys()], [2, []]);
});

test("a run that was timed is kept and ended; what the shop asks stays on the phone", async () => {
  const keep = () => phone.set("np-timing-t1", JSON.stringify({ ...timing, sure: true }));
  keep();
  answers = () => answer(200, {});
  await flush();
  assert.deepEqual(asked.map((x) => x.method + " " + x.at.replace(/owner=\w+/, "owner=")), ["PUT /api/v1/timings/t1", "POST /api/v1/timings/t1/finish?owner=&sure=1"]);
  assert.equal(phone.has("np-timing-t1"), false);
  assert.deepEqual(heard, [{ id: "t1", ok: true, says: "", key: "" }]);
  const sent = JSON.parse(asked[0].body);
  assert.deepEqual([sent.rev, sent.owner, sent.take], [3, owner(), false]);

  // The shop asks whether it is right: it stays, and its end is no longer wanted.
  keep();
  answers = (at, method) => method === "PUT" ? answer(200, {}) : answer(422, { error: { text: "so short?", key: "sure" } });
  await flush();
  const left = JSON.parse(phone.get("np-timing-t1") || "{}");
  assert.deepEqual([left.rev, left.finish], [3, undefined]);
  assert.deepEqual(heard.at(-1), { id: "t1", ok: false, says: "so short?", key: "sure" });

  // The shop is out of reach: it waits, and so does what comes after it; a run that goes on is let alone.
  keep();
  phone.set("np-timing-t2", JSON.stringify({ ...timing, id: "t2" }));
  phone.set("np-timing-t3", JSON.stringify({ ...timing, id: "t3", finish: undefined }));
  asked.length = 0;
  answers = () => answer(503, { error: {} });
  await flush();
  assert.deepEqual([asked.length, JSON.parse(phone.get("np-timing-t1") || "{}").finish], [1, true]);
  answers = () => answer(200, {});
  await flush();
  assert.deepEqual([...phone.keys()].filter((k) => k.startsWith("np-timing-")), ["np-timing-t3"]);
});

test("a run that is ended already is ended, and another phone's is not", async () => {
  for (const isDone of [true, false]) {
    answers = (at, method) => method === "POST" ? answer(409, { error: { text: "another phone", key: "owner" } }) : answer(200, { done: isDone });
    assert.deepEqual(await finishTiming(timing), isDone ? { ok: true, says: "", key: "" } : { ok: false, says: "another phone", key: "owner" });
  }
  assert.ok(!asked[0].at.includes("sure"));
  answers = () => answer(200, {});
  await saveTiming(timing, true);
  assert.equal(JSON.parse(asked.at(-1)?.body).take, true);
});
