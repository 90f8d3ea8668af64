// @ts-check
// Timing a run. Every press is kept at once on this phone (localStorage) and
// sent whole to the shop; whichever is newer counts, so neither a sleeping
// phone nor a reload nor a lost connection loses a press. One phone owns a
// timing: another is told who has it, and may take it over.

import { countOf, leastPress, newer, nextPress, unlikely } from "./press.js";
import { begin, finishTiming, offline, saveTiming } from "./queue.js";
import { clock, count, say, seconds } from "./words.js";

/** @typedef {import("./press.js").Mark} Mark */
/** @typedef {import("./press.js").Timing} Timing */

const setBack = 500; // ms that a clock goes back before it was set back

const box = document.querySelector("[data-watch]");
if (box instanceof HTMLElement) watch(box);
begin();
offline();

/** @param {HTMLElement} box */
function watch(box) {
  const find = (/** @type {string} */ s) => /** @type {HTMLButtonElement} */ (box.querySelector(s));
  const stops = Number(box.dataset.stops);
  const blocks = /** @type {HTMLElement[]} */ ([...box.querySelectorAll("[data-block-seconds]")]).map((b) => ({ seconds: Number(b.dataset.blockSeconds), thread: b.dataset.thread || "" }));
  const id = location.pathname.split("/").pop() || ""; // out of reach, the page may be that of another run of the design
  const key = `np-timing-${id}`;
  let t = newest();
  /** Another phone owns it. */ let held = false;
  let sending = false, again = false, wait = 1000, where = "";

  /** @returns {Timing} */
  function newest() {
    /** @type {Timing} */ let best = { id, design: box.dataset.design || "", machine: box.dataset.machine || "", set_speed: Number(box.dataset.speed), job: box.dataset.job || "", started: "", marks: [], rev: 0, done: false };
    try { if (box.dataset.kept) { const k = JSON.parse(box.dataset.kept); if (k.id === id && k.rev > best.rev) best = k; } } catch { /* the phone's own stands */ }
    try { best = newer(best, JSON.parse(localStorage.getItem(key) || "null")); } catch { /* the shop's stands */ }
    return best;
  }
  const zero = () => Date.parse(t.started);
  const last = () => t.marks[t.marks.length - 1];
  const stopped = () => countOf(t.marks, "stop");
  const next = () => nextPress(t, stops);
  let wall = Date.now(), steady = performance.now();
  /** A clock that was set back says less than the page has counted meanwhile, and nothing else does: the start goes back with it. @returns {number} now */
  function now() {
    const back = performance.now() - steady - (Date.now() - wall);
    wall = Date.now(); steady = performance.now();
    if (back > setBack && t.started && !t.done && last()?.kind !== "end") { t.started = new Date(zero() - back).toISOString(); keep(); }
    return wall;
  }
  function press() {
    const kind = next();
    if (!kind || held) return;
    const at = now();
    if (kind !== "start" && at - zero() - last().at_ms < leastPress) { // one press, or two?
      ask(say("timing.twice"), { [say("timing.twice-both")]: () => mark(kind, at), [say("timing.twice-one")]: () => {} });
      return;
    }
    mark(kind, at);
  }
  /** @param {Exclude<ReturnType<typeof next>, "">} kind @param {number} at */
  function mark(kind, at) {
    if (kind === "start") t.started = new Date(at).toISOString();
    t.marks.push({ kind, at_ms: kind === "start" ? 0 : Math.max(at - zero(), last().at_ms) });
    t.skipped = false; t.sure = false;
    ask("");
    navigator.vibrate?.(kind === "end" ? [60, 60, 60] : 40);
    find("[data-press]").dataset.pressed = "";
    setTimeout(() => { delete find("[data-press]").dataset.pressed; }, 160);
    keep(); awake();
  }
  function keep() {
    t.rev++;
    try { localStorage.setItem(key, JSON.stringify(t)); where = say("timing.on-phone"); } catch { where = say("timing.not-on-phone"); }
    show(); send();
  }
  /** Asks what only who stands there knows. @param {string} text empty: nothing any more @param {Record<string, () => void>} [answers] */
  function ask(text, answers = {}) {
    const at = find("[data-ask]");
    at.hidden = !text;
    at.querySelector("p")?.replaceChildren(text);
    at.querySelector(".row")?.replaceChildren(...Object.entries(answers).map(([name, then]) => {
      const b = document.createElement("button");
      b.type = "button"; b.className = "button"; b.textContent = name;
      b.addEventListener("click", () => { ask(""); then(); });
      return b;
    }));
  }
  /** Another phone has it. @param {string} by who uses that, where it is known */
  function holds(by) {
    held = true; again = false;
    said("");
    show();
    ask(by ? say("timing.held-by", { name: by }) : say("timing.held"), { [say("timing.take-over")]: takeOver });
  }
  /** What the shop has. @returns {Promise<Timing>} */
  async function shops() {
    const r = await fetch(`/api/v1/timings/${id}`);
    if (!r.ok) throw new Error(String(r.status));
    return r.json();
  }
  async function takeOver() {
    try {
      t = await shops();
      t.rev++;
      const r = t.done ? null : await saveTiming(t, true);
      if (r && !r.ok) throw new Error(await wrong(r));
      held = false;
      keep();
    } catch (err) { ask(say("timing.not-taken", { why: why(err) }), { [say("timing.take-over")]: takeOver }); }
  }
  async function send() {
    if (held) return;
    if (sending) { again = true; return; }
    if (!t.started) return;
    sending = true; again = false;
    try {
      const r = await saveTiming(t);
      if (r.status === 409) await conflict(r);
      else if (!r.ok) throw new Error(await wrong(r));
      else said(say("timing.kept-both"));
      wait = 1000;
    } catch (err) {
      said(say("timing.out-of-reach", { where, why: why(err) }));
      again = true;
      await new Promise((done) => setTimeout(done, wait));
      wait = Math.min(wait * 2, 30000);
    }
    sending = false;
    if (again) send();
  }
  /** The shop has another state of it: another phone's, or a newer one of this phone's. @param {Response} r */
  async function conflict(r) {
    const e = (await r.json()).error || {}, has = await shops();
    if (e.key === "owner") { t = has; holds(has.holder || ""); return; }
    if (has.done || has.rev >= t.rev) t = has;
    try { localStorage.setItem(key, JSON.stringify(t)); } catch { /* the shop has it */ }
    said(say("timing.kept-both"));
    show();
  }
  /** What another phone does to it is told at once, not at the next press. */
  async function look() {
    if (!t.started || t.done || t.finish) return;
    try {
      const has = await shops();
      if (held) { t = has; if (t.done) ask(""); show(); } else if (has.done || has.rev > t.rev) send();
    } catch { /* out of reach: the next press tells it */ }
  }
  /** @type {EventSource | undefined} */ let events;
  function hear() { // as live.js, for one that stands open: hidden pages give their connection up
    events?.close();
    if (document.hidden) return;
    events = new EventSource("/events");
    events.addEventListener("open", look);
    events.addEventListener("changed", (e) => { if (/** @type {MessageEvent<string>} */ (e).data.split(" ").includes("rest")) look(); });
  }
  /** @param {string} text */
  function said(text) { find("[data-kept-where]").textContent = text; }

  const does = { start: say("timing.start"), stop: say("timing.stop"), restart: say("timing.restart"), end: say("timing.end") };
  /** @param {Mark["kind"]} kind @param {number} n */
  function named(kind, n) {
    switch (kind) {
      case "start": return say("timing.started");
      case "stop": return say("timing.stopped-at", { n });
      case "restart": return say("timing.restarted-after", { n });
      default: return say("timing.ended");
    }
  }
  /** Where the next press is made. @param {Mark["kind"] | ""} kind @param {number} at stops so far */
  function hint(kind, at) {
    switch (kind) {
      case "start": return say("timing.hint-start");
      case "stop": return say("timing.hint-stop", { n: at + 1, of: stops });
      case "restart": return say("timing.hint-restart", { n: at, of: stops });
      case "end": return say("timing.hint-end");
      default: return "";
    }
  }
  function show() {
    const kind = next(), at = stopped();
    const main = find("[data-press]");
    main.disabled = kind === "" || t.done || held;
    main.dataset.next = kind;
    find("[data-does]").textContent = t.done ? say("timing.kept") : kind ? does[kind] : say("timing.timed");
    find("[data-hint]").textContent = hint(kind, at);
    const block = blocks[at], words = [];
    if (kind === "start") words.push(count(stops + 1, "colour-block"));
    else if (kind) {
      words.push(say("timing.block", { n: at + 1, of: stops + 1 }));
      if (block?.thread) words.push(block.thread);
      if (block && kind !== "restart") words.push(say("timing.about", { time: seconds(block.seconds) }));
    }
    find("[data-now]").textContent = words.join(" · ");
    const list = find("[data-presses]");
    list.replaceChildren();
    let n = 0;
    const rows = t.marks.map((m) => { if (m.kind === "stop") n++; return [named(m.kind, n), clock(m.at_ms / 1000)]; });
    for (const [what, time] of rows.slice(-3).reverse()) {
      const li = document.createElement("li"), a = document.createElement("span"), b = document.createElement("span");
      a.textContent = what; b.textContent = time; li.append(a, b); list.append(li);
    }
    find("[data-undo]").disabled = t.marks.length === 0 || t.done || held;
    find("[data-missed]").hidden = kind !== "restart" || held;
    find("[data-done]").hidden = kind !== "" || t.done || held;
    find("[data-after]").hidden = !t.done;
    if (kind === "" && !t.done) {
      const time = seconds(last().at_ms / 1000);
      find("[data-summary]").textContent = !stops ? say("timing.whole", { time })
        : at === stops ? say("timing.whole-stops", { time, stops: count(stops, "colour-stop") }) : say("timing.whole-only", { time });
    }
    tick();
  }
  function tick() {
    const end = last()?.kind === "end" ? last().at_ms : t.started && t.marks.length ? now() - zero() : 0;
    find("[data-elapsed]").textContent = clock(end / 1000);
  }
  setInterval(tick, 250);
  find("[data-press]").addEventListener("click", press);
  find("[data-undo]").addEventListener("click", () => { t.marks.pop(); t.skipped = t.sure = t.finish = false; ask(""); keep(); });
  find("[data-missed]").addEventListener("click", () => { t.skipped = true; keep(); });
  find("[data-drop]").addEventListener("click", async () => {
    if (!confirm(say("timing.drop"))) return;
    try { localStorage.removeItem(key); } catch { /* nothing there */ }
    if (!held) await fetch(`/api/v1/timings/${id}`, { method: "DELETE" }).catch(() => {});
    location.href = "/time";
  });
  find("[data-keep-times]").addEventListener("click", () => {
    const took = last().at_ms / 1000;
    if (!t.sure && unlikely(took, Number(box.dataset.low), Number(box.dataset.high))) {
      ask(say("timing.unlikely", { time: seconds(took), expected: seconds(Number(box.dataset.seconds)) }), sureOrNot());
      return;
    }
    end();
  });
  const sureOrNot = () => ({ [say("timing.unlikely-right")]: () => { t.sure = true; end(); }, [say("timing.unlikely-wrong")]: () => {} });
  /** Ends it: in the shop, or where that is out of reach once it is not (queue.js). */
  async function end() {
    if (stopped() !== stops) t.marks = t.marks.filter((m) => m.kind === "start" || m.kind === "end");
    t.finish = true;
    keep();
    for (let i = 0; i < 50 && (sending || again) && !held; i++) await new Promise((done) => setTimeout(done, 100));
    if (held) return;
    try {
      const r = await finishTiming(t, t.sure);
      ended(r);
    } catch (err) { said(say("timing.not-kept", { why: why(err) })); }
    begin(); // it waits with the others
  }
  /** What the shop says to the end. @param {{ok: boolean, says: string, key: string}} r */
  function ended(r) {
    if (r.ok) {
      t.done = true;
      try { localStorage.removeItem(key); } catch { /* nothing there */ }
      said(""); show();
      return;
    }
    delete t.finish;
    keep();
    if (r.key === "sure") ask(r.says, sureOrNot()); else said(say("timing.not-kept", { why: r.says }));
  }
  document.addEventListener("np:timed", (e) => { const d = /** @type {CustomEvent} */ (e).detail; if (d.id === id && !t.done) ended(d); });
  addEventListener("online", send);
  /** Keeps the screen on where the phone allows it. */
  async function awake() { try { await navigator.wakeLock?.request("screen"); } catch { /* it may sleep; nothing is lost */ } }
  document.addEventListener("visibilitychange", () => { hear(); if (!document.hidden && t.marks.length && !t.done) { awake(); show(); } });
  addEventListener("pagehide", () => events?.close());
  hear();
  show();
  if (t.rev > 0 && !t.done) send();
}

/** What an answer says is wrong. @param {Response} r */
const wrong = async (r) => (await r.json().catch(() => ({}))).error?.text || String(r.status);

/** What went wrong. @param {unknown} err */
const why = (err) => String(err instanceof Error ? err.message : err);
