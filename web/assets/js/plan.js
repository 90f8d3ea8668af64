// @ts-check
// The plan: a strip can be dragged to another machine or place. Dragging only
// fills the form below, which asks the server what the move would cost; the
// form alone does the same without a pointer.

import { nearest, placeOf } from "./place.js";

wire();
document.addEventListener("np:fresh", wire);

function wire() {
  const part = document.querySelector("[data-plan]"), form = document.querySelector("form[data-hand]");
  if (!(part instanceof HTMLElement) || !(form instanceof HTMLFormElement)) return;
  const marks = [...part.querySelectorAll("[data-lots] li")].map((li) => ({ lot: /** @type {HTMLElement} */ (li).dataset.lot || "", row: Number(/** @type {HTMLElement} */ (li).dataset.row) }));
  const chosen = /** @type {HTMLSelectElement} */ (form.elements.namedItem("lot")).value;
  for (const svg of part.querySelectorAll(".pic svg")) {
    const strips = /** @type {SVGGElement[]} */ ([...svg.querySelectorAll(".np-lot")]);
    if (strips.length !== marks.length) continue;
    strips.forEach((g, i) => {
      g.classList.toggle("chosen", marks[i].lot === chosen);
      if (g.dataset.wired) return;
      g.dataset.wired = "1";
      g.addEventListener("pointerdown", (e) => take(e, /** @type {SVGSVGElement} */ (svg), strips, marks, i, form));
    });
  }
  const hint = part.querySelector("[data-drag-hint]");
  if (hint instanceof HTMLElement) hint.hidden = false;
}

/** @param {PointerEvent} e @param {SVGSVGElement} svg @param {SVGGElement[]} strips @param {{lot: string, row: number}[]} marks @param {number} i @param {HTMLFormElement} form */
function take(e, svg, strips, marks, i, form) {
  if (e.button) return;
  const g = strips[i], start = { x: e.clientX, y: e.clientY };
  const rows = [...svg.querySelectorAll(".np-machine")].map((m) => { const r = m.getBoundingClientRect(); return r.top + r.height / 2; });
  const places = strips.map((s) => { const r = s.getBoundingClientRect(); return r.left + r.width / 2; });
  const own = g.getBoundingClientRect(), scale = svg.viewBox.baseVal.width / svg.getBoundingClientRect().width;
  let moved = false;
  g.setPointerCapture(e.pointerId);
  e.preventDefault();
  /** @param {PointerEvent} e */
  const move = (e) => {
    const dx = e.clientX - start.x, dy = e.clientY - start.y;
    if (!moved && Math.hypot(dx, dy) < 5) return;
    moved = true;
    g.classList.add("dragged");
    g.setAttribute("transform", `translate(${dx * scale} ${dy * scale})`);
  };
  /** @param {PointerEvent} e */
  const drop = (e) => {
    g.removeEventListener("pointermove", move);
    g.classList.remove("dragged");
    g.removeAttribute("transform");
    if (e.type === "pointercancel") return;
    const y = own.top + own.height / 2 + e.clientY - start.y, x = own.left + e.clientX - start.x;
    let row = marks[i].row;
    if (moved) row = nearest(rows, y);
    ask(form, marks[i].lot, row, placeOf(marks.map((m) => m.row), places, i, row, moved ? x : places[i]));
  };
  g.addEventListener("pointermove", move);
  g.addEventListener("pointerup", drop, { once: true });
  g.addEventListener("pointercancel", drop, { once: true });
}

/** Fills the form and sends it. @param {HTMLFormElement} form @param {string} lot @param {number} row @param {number} place */
function ask(form, lot, row, place) {
  const field = (/** @type {string} */ name) => /** @type {HTMLSelectElement} */ (form.elements.namedItem(name));
  field("lot").value = lot;
  for (const name of ["to", "place"]) field(name).disabled = false;
  field("to").selectedIndex = row;
  const at = String(place);
  if (![...field("place").options].some((o) => o.value === at)) field("place").add(new Option(at, at));
  field("place").value = at;
  field("lot").dispatchEvent(new Event("change", { bubbles: true }));
}
