// @ts-check
// Timing a run. Every press is kept at once on this phone (localStorage) and
// sent whole to the shop; whichever is newer counts, so neither a sleeping
// phone nor a reload nor a lost connection loses a press.

import { countOf, newer, nextPress } from "./press.js";
import { clock, count, say, seconds } from "./words.js";

/** @typedef {import("./press.js").Mark} Mark */
/** @typedef {import("./press.js").Timing} Timing */

const box = document.querySelector("[data-watch]");
if (box instanceof HTMLElement) watch(box);

/** @param {HTMLElement} box */
function watch(box) {
  const find = (/** @type {string} */ s) => /** @type {HTMLButtonElement} */ (box.querySelector(s));
  const stops = Number(box.dataset.stops);
  const blocks = /** @type {HTMLElement[]} */ ([...box.querySelectorAll("[data-block-seconds]")]).map((b) => ({ seconds: Number(b.dataset.blockSeconds), thread: b.dataset.thread || "" }));
  const key = `np-timing-${box.dataset.id}`;
  let t = newest();
  let sending = false, again = false, wait = 1000, where = "";

  /** @returns {Timing} */
  function newest() {
    /** @type {Timing} */ let best = { id: box.dataset.id || "", design: box.dataset.design || "", machine: box.dataset.machine || "", set_speed: Number(box.dataset.speed), job: box.dataset.job || "", started: "", marks: [], rev: 0, done: false };
    try { if (box.dataset.kept) { const k = JSON.parse(box.dataset.kept); if (k.rev > best.rev) best = k; } } catch { /* the phone's own stands */ }
    try { best = newer(best, JSON.parse(localStorage.getItem(key) || "null")); } catch { /* the shop's stands */ }
    return best;
  }
  const zero = () => Date.parse(t.started);
  const last = () => t.marks[t.marks.length - 1];
  const stopped = () => countOf(t.marks, "stop");
  const next = () => nextPress(t, stops);
  function press() {
    const kind = next();
    if (!kind) return;
    const now = Date.now();
    if (kind === "start") t.started = new Date(now).toISOString();
    const at = kind === "start" ? 0 : Math.max(now - zero(), last().at_ms);
    t.marks.push({ kind, at_ms: at });
    t.skipped = false;
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
  async function send() {
    if (sending) { again = true; return; }
    if (!t.started) return;
    sending = true; again = false;
    const body = JSON.stringify({ design: t.design, machine: t.machine, set_speed: t.set_speed, job: t.job, started: t.started, marks: t.marks, rev: t.rev });
    try {
      const r = await fetch(`/api/v1/timings/${t.id}`, { method: "PUT", headers: { "Content-Type": "application/json" }, body, keepalive: true });
      if (!r.ok && r.status !== 409) throw new Error((await r.json()).error?.text || String(r.status));
      wait = 1000;
      said(say("timing.kept-both"));
    } catch (err) {
      said(say("timing.out-of-reach", { where, why: why(err) }));
      again = true;
      await new Promise((done) => setTimeout(done, wait));
      wait = Math.min(wait * 2, 30000);
    }
    sending = false;
    if (again) send();
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
    main.disabled = kind === "" || t.done;
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
    find("[data-undo]").disabled = t.marks.length === 0 || t.done;
    find("[data-missed]").hidden = kind !== "restart";
    find("[data-done]").hidden = kind !== "" || t.done;
    find("[data-after]").hidden = !t.done;
    if (kind === "" && !t.done) {
      const time = seconds(last().at_ms / 1000);
      find("[data-summary]").textContent = !stops ? say("timing.whole", { time })
        : at === stops ? say("timing.whole-stops", { time, stops: count(stops, "colour-stop") }) : say("timing.whole-only", { time });
    }
    tick();
  }
  function tick() {
    const end = last()?.kind === "end" ? last().at_ms : t.started && t.marks.length ? Date.now() - zero() : 0;
    find("[data-elapsed]").textContent = clock(end / 1000);
  }
  setInterval(tick, 250);
  find("[data-press]").addEventListener("click", press);
  find("[data-undo]").addEventListener("click", () => { t.marks.pop(); t.skipped = false; keep(); });
  find("[data-missed]").addEventListener("click", () => { t.skipped = true; keep(); });
  find("[data-drop]").addEventListener("click", async () => {
    if (!confirm(say("timing.drop"))) return;
    try { localStorage.removeItem(key); } catch { /* nothing there */ }
    await fetch(`/api/v1/timings/${t.id}`, { method: "DELETE" }).catch(() => {});
    location.href = "/time";
  });
  find("[data-keep-times]").addEventListener("click", async () => {
    if (stopped() !== stops) t.marks = t.marks.filter((m) => m.kind === "start" || m.kind === "end");
    keep();
    for (let i = 0; i < 50 && (sending || again); i++) await new Promise((done) => setTimeout(done, 100));
    try {
      const r = await fetch(`/api/v1/timings/${t.id}/finish`, { method: "POST" });
      if (!r.ok) throw new Error((await r.json()).error?.text || String(r.status));
      t.done = true;
      try { localStorage.removeItem(key); } catch { /* nothing there */ }
      said(""); show();
    } catch (err) { said(say("timing.not-kept", { why: why(err) })); }
  });
  addEventListener("online", send);
  /** Keeps the screen on where the phone allows it. */
  async function awake() { try { await navigator.wakeLock?.request("screen"); } catch { /* it may sleep; nothing is lost */ } }
  document.addEventListener("visibilitychange", () => { if (!document.hidden && t.marks.length && !t.done) { awake(); show(); } });
  show();
  if (t.rev > 0 && !t.done) send();
}

/** What went wrong. @param {unknown} err */
const why = (err) => String(err instanceof Error ? err.message : err);
