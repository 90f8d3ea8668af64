// @ts-check
// The plan: its bars, drawn from what the server sends, and moving one by hand or
// by keys. While it moves the server is asked what that would cost; nothing changes
// before it is kept. The form below the bars does the same without a pointer.

import { Bars, riskCount } from "./bars.js";
import { say } from "./words.js";
import { tell } from "./page.js";

/** @typedef {import("./bars.js").Lot} Lot */
/** @typedef {{lot: Lot, row: number, place: number, seen: string, by: "hand" | "keys"}} Taken */

/** @type {Bars | undefined} */ let bars;
/** @type {Taken | undefined} */ let taken;
/** @type {AbortController | undefined} */ let going;
/** @type {ReturnType<typeof setTimeout> | undefined} */ let soon;

wire();
document.addEventListener("np:fresh", wire);
document.addEventListener("np:theme", () => bars?.draw());
matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => bars?.draw());

async function wire() {
  const box = document.querySelector("[data-bars]");
  if (!(box instanceof HTMLElement)) return;
  jobs();
  const part = /** @type {HTMLElement} */ (box.closest("[data-plan]")), of = part.dataset.part || "1", before = box.dataset.wired ? bars : undefined;
  if (box.dataset.wired === of) return;
  box.dataset.wired = of;
  try {
    const r = await fetch("/plan/bars");
    if (!r.ok) throw new Error(String(r.status));
    const sent = await r.json();
    if (before) { if (taken) drop(false); before.plan(sent); } else bars = new Bars(box, sent); // somebody planned anew: what a move would have cost is of the plan before
  } catch (err) { tell(say("bars.failed", { why: String(err instanceof Error ? err.message : err) })); return; }
  jobs();
  const b = /** @type {Bars} */ (bars), risks = part.querySelector("[data-risks]");
  if (risks) risks.textContent = riskCount(b.lots);
  if (before) return;
  for (const [hook, act] of /** @type {[string, () => void][]} */ ([["in", () => b.zoom(1.6)], ["out", () => b.zoom(1 / 1.6)], ["all", () => b.fit()], ["now", () => b.goto(Math.max(0, b.sent.now))]])) part.querySelector(`[data-bars-${hook}]`)?.addEventListener("click", act);
  if (b.lots.length > 60) b.goto(Math.max(0, b.sent.now));
  box.addEventListener("wheel", (e) => {
    if (!e.ctrlKey) return;
    e.preventDefault();
    b.zoom(Math.exp(-e.deltaY * (e.deltaMode ? 0.05 : 0.0016)), e.clientX - box.getBoundingClientRect().left);
  }, { passive: false });
  box.addEventListener("keydown", keys);
  box.addEventListener("focusin", (e) => { const l = lotAt(e.target); if (l) { b.kept = l.i; } });
  box.addEventListener("focusout", () => { if (!taken) b.kept = undefined; });
  box.addEventListener("pointerdown", pan);
  if (box.dataset.move !== undefined) box.addEventListener("pointerdown", take);
  cost()?.querySelector("[data-drop]")?.addEventListener("click", () => drop(true));
  box.dataset.ready = "1";
}

/** @param {EventTarget | null} target @returns {Lot | undefined} */
function lotAt(target) {
  const el = target instanceof Element ? target.closest(".lot") : null;
  return el instanceof HTMLElement && bars ? bars.lots[Number(el.dataset.i)] : undefined;
}
const cost = () => /** @type {HTMLFormElement | null} */ (document.querySelector("form[data-bar-cost]"));

/** @param {KeyboardEvent} e */
function keys(e) {
  const b = /** @type {Bars} */ (bars), l = lotAt(e.target), box = b.el;
  if (e.ctrlKey || e.metaKey || e.altKey) return;
  const zooms = /** @type {Record<string, () => void>} */ ({ "+": () => b.zoom(1.6), "=": () => b.zoom(1.6), "-": () => b.zoom(1 / 1.6), "0": () => b.fit() })[e.key];
  if (zooms) { e.preventDefault(); zooms(); return; }
  if (!l || box.dataset.move === undefined) return;
  const step = /** @type {Record<string, [number, number]>} */ ({ ArrowLeft: [0, -1], ArrowRight: [0, 1], ArrowUp: [-1, 0], ArrowDown: [1, 0] })[e.key];
  if (step) {
    e.preventDefault();
    if (l.running) { refuse(l); return; }
    const was = taken?.lot === l ? taken : { row: l.row, place: placeNow(l) };
    const row = Math.min(b.rows.length - 1, Math.max(0, was.row + step[0]));
    const most = b.queue(row, l).length + 1;
    // Another row: where it is at about the same time.
    const place = step[0] && row !== was.row ? 1 + b.queue(row, l).filter((o) => o.to <= Math.max(b.begins(l, was.row, was.place), 1)).length : was.place + step[1];
    aim(l, row, Math.min(most, Math.max(1, place)), "keys");
  } else if (e.key === "Enter" && taken) { e.preventDefault(); keep(); } else if (e.key === "Escape" && (taken || !cost()?.hidden)) { e.preventDefault(); drop(true); }
}

/** @param {Lot} l */
const placeNow = (l) => 1 + /** @type {Bars} */ (bars).rows[l.row].indexOf(l);

/** A mouse takes the ground, which goes with it; fingers pan by themselves. @param {PointerEvent} e */
function pan(e) {
  const el = /** @type {Bars} */ (bars).el, r = el.getBoundingClientRect();
  if (e.button || e.pointerType !== "mouse" || lotAt(e.target) || e.clientX > r.left + el.clientWidth || e.clientY > r.top + el.clientHeight) return; // else on a scrollbar
  let x = e.clientX, y = e.clientY;
  /** @param {PointerEvent} e */
  const move = (e) => { el.scrollLeft -= e.clientX - x; el.scrollTop -= e.clientY - y; x = e.clientX; y = e.clientY; };
  const done = () => { removeEventListener("pointermove", move); removeEventListener("pointerup", done); removeEventListener("pointercancel", done); };
  addEventListener("pointermove", move); addEventListener("pointerup", done); addEventListener("pointercancel", done);
}

/** A pointer takes a bar; Escape puts it back, as losing the pointer does. @param {PointerEvent} e */
function take(e) {
  const b = /** @type {Bars} */ (bars), l = lotAt(e.target), el = e.target instanceof Element ? e.target.closest(".lot") : null;
  if (e.button || !l || !(el instanceof HTMLElement)) return;
  const start = { x: e.clientX, y: e.clientY, left: b.el.scrollLeft, top: b.el.scrollTop };
  let moving = false;
  /** @param {PointerEvent} e */
  const move = (e) => {
    const dx = e.clientX - start.x, dy = e.clientY - start.y;
    if (!moving && Math.hypot(dx, dy) < 5) return;
    if (!moving && l.running) { done(e); refuse(l); return; } // hands come before seconds
    if (!moving) { moving = true; b.kept = l.i; el.setPointerCapture(e.pointerId); el.classList.add("dragged"); }
    const r = b.el.getBoundingClientRect(), edge = 36;
    if (e.clientX > r.right - edge) b.el.scrollLeft += 14; else if (e.clientX < r.left + b.side + edge) b.el.scrollLeft -= 14;
    if (e.clientY > r.bottom - edge) b.el.scrollTop += 8; else if (e.clientY < r.top + edge) b.el.scrollTop -= 8;
    el.style.transform = `translate(${dx + b.el.scrollLeft - start.left}px,${dy + b.el.scrollTop - start.top}px)`;
    const to = b.at(e.clientX, e.clientY, l);
    if (!taken || taken.lot !== l || taken.row !== to.row || taken.place !== to.place) aim(l, to.row, to.place, "hand");
  };
  /** @param {PointerEvent} e */
  const done = (e) => {
    removeEventListener("pointermove", move); removeEventListener("pointerup", done); removeEventListener("pointercancel", done); removeEventListener("keydown", escape, true);
    el.classList.remove("dragged"); el.style.transform = "";
    if (e.type === "pointercancel") { drop(true); return; }
    if (moving && taken) fill(taken); else if (!moving && e.type === "pointerup") el.focus();
  };
  /** @param {KeyboardEvent} k */
  const escape = (k) => {
    if (k.key !== "Escape" || !moving) return;
    k.preventDefault(); k.stopPropagation();
    done(new PointerEvent("pointercancel"));
  };
  addEventListener("keydown", escape, true);
  addEventListener("pointermove", move); addEventListener("pointerup", done); addEventListener("pointercancel", done);
}

/** A lot would go there: it is shown, and asked after a moment what it costs. @param {Lot} lot @param {number} row @param {number} place @param {"hand" | "keys"} by */
function aim(lot, row, place, by) {
  const b = /** @type {Bars} */ (bars), form = cost();
  taken = { lot, row, place, seen: "", by };
  b.kept = lot.i;
  const t = b.begins(lot, row, place);
  b.moved = by === "keys" ? { i: lot.i, row, t } : undefined;
  if (by === "keys") b.reveal(row, t);
  b.aim(lot, row, place);
  b.draw();
  for (const el of b.list.querySelectorAll(".lot")) el.toggleAttribute("data-taken", el instanceof HTMLElement && Number(el.dataset.i) === lot.i);
  if (!form) return;
  form.hidden = false;
  form.dataset.state = "asking";
  says(say("bars.to", { order: lot.name, machine: b.sent.machines[row].name, place }), form.dataset.verdict || "", false);
  clearTimeout(soon);
  going?.abort();
  soon = setTimeout(() => price(/** @type {Taken} */ (taken)), 160);
}

/** @param {string} where @param {string} verdict @param {boolean} bad */
function says(where, verdict, bad) {
  const form = /** @type {HTMLFormElement} */ (cost());
  /** @type {HTMLElement} */ (form.querySelector("[data-where]")).textContent = where;
  const v = /** @type {HTMLElement} */ (form.querySelector("[data-verdict]"));
  v.textContent = verdict; v.classList.toggle("warn", bad);
}

/** Asks what it costs. @param {Taken} t */
async function price(t) {
  const b = /** @type {Bars} */ (bars), form = /** @type {HTMLFormElement} */ (cost()), mine = going = new AbortController();
  const where = say("bars.to", { order: t.lot.name, machine: b.sent.machines[t.row].name, place: t.place });
  try {
    const r = await fetch("/api/v1/plan/move", { method: "POST", headers: { "Content-Type": "application/json" }, signal: mine.signal,
      body: JSON.stringify({ order: String(t.lot.number), line: t.lot.line, from: b.sent.machines[t.lot.row].id, to: b.sent.machines[t.row].id, place: t.place }) });
    const a = await r.json();
    if (t !== taken) return;
    if (!r.ok) { form.dataset.state = "refused"; form.dataset.verdict = ""; says(where, a.error?.text || String(r.status), true); return; }
    t.seen = a.seen;
    const text = [...a.verdict, ...a.caveats].map((/** @type {{text: string}} */ m) => m.text).join(" ");
    form.dataset.verdict = text;
    for (const [name, value] of Object.entries({ lot: t.lot.value, to: b.sent.machines[t.row].id, place: t.place, seen: a.seen })) /** @type {HTMLInputElement} */ (form.elements.namedItem(name)).value = String(value);
    says(where, text, a.late_hours > 0);
    form.dataset.state = "priced";
  } catch (err) { if (!mine.signal.aborted) { form.dataset.state = "refused"; says(where, say("bars.failed", { why: String(err instanceof Error ? err.message : err) }), true); } }
}

/** Keeps it where it was moved to, if what it costs stands there: nobody keeps what they were not told. */
function keep() {
  const form = cost(), button = form?.querySelector("button.main");
  if (form?.dataset.state === "priced" && button instanceof HTMLButtonElement) form.requestSubmit(button);
}

/** Puts it back. @param {boolean} focus */
function drop(focus) {
  const b = /** @type {Bars} */ (bars), form = cost(), i = taken?.lot.i;
  clearTimeout(soon); going?.abort();
  taken = b.moved = undefined;
  b.aim();
  for (const el of b.list.querySelectorAll("[data-taken]")) el.removeAttribute("data-taken");
  if (form) { form.hidden = true; form.dataset.verdict = ""; delete form.dataset.state; form.removeAttribute("data-running"); }
  if (i !== undefined) { b.reveal(b.lots[i].row, b.lots[i].setup); if (focus) b.shown.get(i)?.focus({ preventScroll: true }); }
  b.draw();
}

/** It is being sewn: hands come before seconds. @param {Lot} l */
function refuse(l) {
  const b = /** @type {Bars} */ (bars), form = cost();
  if (!form) return;
  drop(false);
  form.hidden = false;
  form.dataset.state = "refused"; form.setAttribute("data-running", "");
  says(say("bars.on-now", { order: l.name, machine: b.sent.machines[l.row].name }), say("bars.on-now-ask"), true);
  const a = form.querySelector("[data-record]");
  if (a instanceof HTMLAnchorElement) a.href = `/orders/${l.number}/record?line=${l.line}&machine=${encodeURIComponent(b.sent.machines[l.row].id)}`;
}

/** The form below is filled too: it says whose end changes. @param {Taken} t */
function fill(t) {
  const form = document.querySelector("form[data-hand]");
  if (!(form instanceof HTMLFormElement)) return;
  const field = (/** @type {string} */ name) => /** @type {HTMLSelectElement} */ (form.elements.namedItem(name));
  if (![...field("lot").options].some((o) => o.value === t.lot.value)) field("lot").add(new Option(t.lot.name, t.lot.value));
  field("lot").value = t.lot.value;
  for (const name of ["to", "place"]) field(name).disabled = false;
  field("to").selectedIndex = t.row;
  const at = String(t.place);
  if (![...field("place").options].some((o) => o.value === at)) field("place").add(new Option(at, at));
  field("place").value = at;
  field("lot").dispatchEvent(new Event("change", { bubbles: true }));
}

/** The list of jobs of a long plan comes short: the rest is in the bars. */
function jobs() {
  const list = document.querySelector("form[data-hand] [name=lot]");
  if (!(list instanceof HTMLSelectElement) || !bars || !list.hasAttribute("data-more")) return;
  const there = new Set([...list.options].map((o) => o.value));
  for (const l of bars.lots) if (!there.has(l.value)) list.add(new Option(say("bars.job", { order: l.name, customer: l.customer, pieces: l.pieces, machine: bars.sent.machines[l.row].name }), l.value));
}
