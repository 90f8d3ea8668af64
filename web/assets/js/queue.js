// @ts-check
// Queue: what this phone could not send. Records of pieces wait as they were
// filled in, each under a key by which the shop makes nothing twice; a run that
// was timed waits with its presses. They are sent again by themselves; what the
// shop asks back waits for who recorded it.

import { say } from "./words.js";

/** @typedef {{key: string, to: string, body: string, order: string, good: number, spoilt: number, asks?: string}} Waiting */

const kept = "np-queue", timing = "np-timing-", every = 10_000, patience = 8_000; // ms

/** What waits, oldest first. @returns {Waiting[]} */
export function waiting() {
  try { return JSON.parse(localStorage.getItem(kept) || "[]"); } catch { return []; }
}
/** @param {Waiting[]} all @returns {boolean} whether they are kept */
function keep(all) {
  try {
    if (all.length) localStorage.setItem(kept, JSON.stringify(all)); else localStorage.removeItem(kept);
    return true;
  } catch { return false; }
}
/** Puts one in the queue, or in the place of the one with its key. @param {Waiting} w @returns {boolean} whether it is kept */
export function put(w) {
  const ok = keep([...waiting().filter((x) => x.key !== w.key), w]);
  show();
  return ok;
}
/** Takes one out. @param {string} key */
export function done(key) { keep(waiting().filter((x) => x.key !== key)); show(); }

/** A new key: a report's own name, 100 bits. */
export const newKey = () => Array.from(crypto.getRandomValues(new Uint8Array(20)), (b) => "abcdefghijklmnopqrstuvwxyz234567"[b & 31]).join("");

/** Runs whose end is wanted and not said yet. @returns {string[]} their IDs */
function runs() {
  const out = [];
  try {
    for (let i = 0; i < localStorage.length; i++) {
      const k = localStorage.key(i) || "";
      if (k.startsWith(timing) && JSON.parse(localStorage.getItem(k) || "{}").finish) out.push(k.slice(timing.length));
    }
  } catch { /* none that can be read */ }
  return out;
}

/**
 * Sends a form. "kept" with the page that follows, "asks" with what the shop
 * says, "sign-in", or "" where the shop is out of reach.
 * @param {string} to @param {string} body @returns {Promise<{came: ""|"kept"|"asks"|"sign-in", says: string}>}
 */
export async function send(to, body) {
  try {
    const r = await fetch(to, { method: "POST", headers: { "Content-Type": "application/x-www-form-urlencoded" }, body, signal: AbortSignal.timeout(patience) });
    if (r.status >= 500) return { came: "", says: "" };
    const at = new URL(r.url);
    if (r.redirected && at.searchParams.has("kept")) return { came: "kept", says: r.url };
    if (r.redirected) return { came: "sign-in", says: say("queue.sign-in") };
    const page = new DOMParser().parseFromString(await r.text(), "text/html");
    const said = [...page.querySelectorAll("main .wrong, main .told.bad")].map((e) => (e.textContent || "").trim().replace(/\s+/g, " ")).filter(Boolean);
    return { came: "asks", says: said[0] || String(r.status) };
  } catch { return { came: "", says: "" }; }
}

let going = false;
/** Sends what waits, one after the other, in one tab at a time. */
export async function flush() {
  if (going) return;
  going = true;
  const all = async () => {
    for (const w of waiting()) {
      if (w.asks) continue;
      const r = await send(w.to, w.body);
      if (r.came === "kept") done(w.key);
      else if (r.came === "asks") put({ ...w, asks: r.says });
      else break;
    }
    for (const id of runs()) if (!await finish(id)) break;
  };
  try {
    if (navigator.locks) await navigator.locks.request(kept, { ifAvailable: true }, async (mine) => { if (mine) await all(); });
    else await all();
  } finally { going = false; show(); }
}

/** Sends a run whose end is wanted. @param {string} id @returns {Promise<boolean>} false where the shop is out of reach */
async function finish(id) {
  const t = JSON.parse(localStorage.getItem(timing + id) || "null");
  if (!t) return true;
  try {
    const r = await saveTiming(t);
    if (!r.ok && r.status !== 409) return r.status < 500;
    const end = await finishTiming(t, t.sure);
    if (end.ok) localStorage.removeItem(timing + id);
    else { delete t.finish; localStorage.setItem(timing + id, JSON.stringify(t)); } // its page asks
    document.dispatchEvent(new CustomEvent("np:timed", { detail: { id, ...end } }));
    return true;
  } catch { return false; }
}

/** The token by which the shop knows this phone's timings. */
export const owner = () => {
  let o = "";
  try { o = localStorage.getItem("np-owner") || ""; if (!o) localStorage.setItem("np-owner", o = newKey()); } catch { o = o || newKey(); }
  return o;
};

/** @param {import("./press.js").Timing} t @param {boolean} [take] though another phone owns it */
export const saveTiming = (t, take) => fetch(`/api/v1/timings/${t.id}`, { method: "PUT", headers: { "Content-Type": "application/json" }, keepalive: true, signal: AbortSignal.timeout(patience),
  body: JSON.stringify({ design: t.design, machine: t.machine, set_speed: t.set_speed, job: t.job, started: t.started, marks: t.marks, rev: t.rev, owner: owner(), take: !!take }) });

/** Ends a timing; one that is ended already is ended. @param {import("./press.js").Timing} t @param {boolean} [sure] @returns {Promise<{ok: boolean, says: string, key: string}>} */
export async function finishTiming(t, sure) {
  const r = await fetch(`/api/v1/timings/${t.id}/finish?owner=${owner()}${sure ? "&sure=1" : ""}`, { method: "POST", signal: AbortSignal.timeout(patience) });
  if (r.ok) return { ok: true, says: "", key: "" };
  const wrong = (await r.json()).error || {};
  if (r.status === 409 && (await (await fetch(`/api/v1/timings/${t.id}`)).json()).done) return { ok: true, says: "", key: "" };
  return { ok: false, says: wrong.text || String(r.status), key: wrong.key || "" };
}

/** Says on the page what waits. */
export function show() {
  const all = waiting(), timed = runs(), n = all.length + timed.length;
  let box = document.getElementById("waits");
  if (!n) { box?.remove(); return; }
  if (!box) {
    box = document.createElement("section");
    box.id = "waits"; box.className = "told waits noprint"; box.setAttribute("aria-label", say("queue.title"));
    document.querySelector("main")?.before(box);
  }
  const head = document.createElement("p"), list = document.createElement("ul"), row = document.createElement("p"), now = button(say("queue.try"), flush);
  head.setAttribute("role", "status");
  head.textContent = say("queue.waits", { n });
  for (const w of all) {
    const li = document.createElement("li");
    li.append(say("queue.record", { name: w.order, good: w.good, spoilt: w.spoilt }));
    if (w.asks) {
      const look = document.createElement("a");
      look.href = back(w); look.textContent = say("queue.look"); look.className = "button";
      li.append(document.createElement("br"), say("queue.asks", { says: w.asks }), document.createElement("br"), look, " ", button(say("queue.drop"), () => { if (confirm(say("queue.drop-sure"))) done(w.key); }));
    }
    list.append(li);
  }
  for (const id of timed) {
    const li = document.createElement("li"), a = document.createElement("a");
    a.href = `/time/${id}`; a.textContent = say("queue.run");
    li.append(a); list.append(li);
  }
  row.className = "row";
  row.append(now);
  if (all.some((w) => !w.asks) || timed.length) { const why = document.createElement("small"); why.textContent = say("queue.why"); row.append(why); }
  box.replaceChildren(head, list, row);
}

/** The page of one that the shop asks about, with the key of the one. @param {Waiting} w */
function back(w) {
  const f = new URLSearchParams(w.body), q = new URLSearchParams();
  for (const k of ["line", "machine", "correct", "colour"]) if (f.get(k)) q.set(k, f.get(k) || "");
  return `${w.to}?${q}#${w.key}`;
}

/** @param {string} text @param {() => void} press */
function button(text, press) {
  const b = document.createElement("button");
  b.type = "button"; b.className = "button"; b.textContent = text;
  b.addEventListener("click", press);
  return b;
}

let begun = false;
/** Shows the queue, and sends it again from time to time. */
export function begin() {
  show();
  if (begun) return;
  begun = true;
  addEventListener("online", flush);
  addEventListener("storage", show);
  setInterval(() => { if (!document.hidden && (waiting().some((w) => !w.asks) || runs().length)) flush(); }, every);
  flush();
}

/** Lets the pages of timing and recording be opened without the shop. */
export async function offline() {
  if (!navigator.serviceWorker) return;
  try {
    await navigator.serviceWorker.register("/worker.js");
    const worker = (await navigator.serviceWorker.ready).active;
    const parts = performance.getEntriesByType("resource").map((e) => e.name).filter((u) => /^https?:\/\/[^/]+\/assets\//.test(u) && new URL(u).origin === location.origin);
    worker?.postMessage({ keep: [location.href.split("#")[0], ...parts] });
  } catch { /* the pages need the shop, as before */ }
}
