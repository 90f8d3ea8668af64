// @ts-check
// Find from the keyboard: / or Ctrl K opens one line, in which the menu's own
// words and whatever the shop has of these words are chosen with the arrows.

import { say } from "./words.js";

const menu = /** @type {HTMLAnchorElement[]} */ ([...document.querySelectorAll(".top nav a")]);
/** @param {string} s without case and accents */
const fold = (s) => s.normalize("NFD").replace(/\p{M}/gu, "").toLowerCase();

/** Whether every word typed begins a word of a text. @param {string} typed @param {string} text */
const fits = (typed, text) => { const has = fold(text).split(/[^\p{L}\p{N}]+/u); return fold(typed).split(/[^\p{L}\p{N}]+/u).every((w) => has.some((h) => h.startsWith(w))); };

/** @type {HTMLElement | undefined} */ let box;
let asked = 0, at = 0;

/** @param {string} tag @param {Record<string, string>} [has] */
function made(tag, has = {}) {
  const e = document.createElement(tag);
  for (const [k, v] of Object.entries(has)) if (k === "text") e.textContent = v; else e.setAttribute(k, v);
  return e;
}

function open() {
  if (!menu.length) return;
  if (!box) {
    // No modal dialog: to make all else inert the browser goes through the whole page, which a long list makes slow.
    box = made("div", { class: "palette", popover: "auto", role: "dialog", "aria-label": say("find.go") });
    const input = /** @type {HTMLInputElement} */ (made("input", { type: "search", maxlength: "200", autocomplete: "off", "aria-label": say("find.words"), role: "combobox", "aria-expanded": "true", "aria-controls": "palette-list", "aria-autocomplete": "list" }));
    box.append(input, made("ul", { id: "palette-list", role: "listbox", "aria-label": say("find.go") }), made("p", { class: "quiet", text: say("find.keys") }));
    document.body.append(box);
    /** @type {ReturnType<typeof setTimeout>|undefined} */ let soon;
    input.addEventListener("input", () => { list([]); clearTimeout(soon); soon = setTimeout(show, 80); });
    input.addEventListener("keydown", (e) => {
      const n = rows().length;
      if (e.key === "ArrowDown" || e.key === "ArrowUp") { e.preventDefault(); if (n) mark((at + (e.key === "ArrowDown" ? 1 : n - 1)) % n); }
      if (e.key === "Enter") { e.preventDefault(); rows()[at]?.click(); }
    });
    input.addEventListener("beforeinput", (e) => { if (e.data === "/" && !input.value) e.preventDefault(); }); // the key that opened it
    input.addEventListener("blur", (e) => { if (e.relatedTarget) box?.hidePopover(); }); // gone on by Tab; a press on a row has none
  }
  const input = /** @type {HTMLInputElement} */ (box.querySelector("input"));
  input.value = "";
  list([]);
  if (!box.matches(":popover-open")) box.showPopover();
  input.focus();
}

const rows = () => /** @type {HTMLElement[]} */ ([...box?.querySelectorAll("li") || []]);
/** @param {number} n */
function mark(n) {
  at = n;
  rows().forEach((li, i) => { li.setAttribute("aria-selected", String(i === n)); if (i === n) { li.scrollIntoView({ block: "nearest" }); box?.querySelector("input")?.setAttribute("aria-activedescendant", li.id); } });
}

/** @param {{name: string, kind: string, to: string}[]} found */
function list(found) {
  const typed = box?.querySelector("input")?.value || "";
  const all = [...menu.filter((a) => fits(typed, a.textContent || "")).map((a) => ({ name: (a.textContent || "").trim(), kind: "", to: a.href })), ...found];
  box?.querySelector("ul")?.replaceChildren(...all.map((f, i) => {
    const li = made("li", { role: "option", id: `palette-${i}` });
    li.append(made("span", { text: f.name }));
    li.addEventListener("click", () => { box?.hidePopover(); location.href = f.to; });
    if (f.kind) li.append(" ", made("small", { text: f.kind }));
    return li;
  }));
  mark(0);
}

/** What the shop has of the words: the page of Find, read. @param {string} typed */
async function look(typed) {
  try {
    const r = await fetch(`/find?find=${encodeURIComponent(typed)}`);
    if (!r.ok) return [];
    const page = new DOMParser().parseFromString(await r.text(), "text/html");
    return [...page.querySelectorAll("[data-found] a")].map((a) => ({ name: (a.textContent || "").replaceAll("\u00a0", " "), kind: a.closest("[data-found]")?.getAttribute("data-found") || "", to: a.getAttribute("href") || "" }));
  } catch { return []; } // out of reach: the menu stays
}

/** It, in the line's list. */
async function show() {
  const typed = (box?.querySelector("input")?.value || "").trim(), mine = ++asked;
  if (!typed) return;
  const found = await look(typed);
  if (mine === asked) list(found);
}

menu.find((a) => a.pathname === "/find")?.setAttribute("aria-keyshortcuts", "/"); // it hears the key from now on
document.addEventListener("keydown", (e) => {
  const el = e.target instanceof HTMLElement ? e.target : null, types = el?.closest("input, textarea, select, [contenteditable]");
  if (e.key === "/" && !e.ctrlKey && !e.metaKey && !e.altKey && !types || e.key === "k" && (e.ctrlKey || e.metaKey)) { e.preventDefault(); open(); }
});

/** The designs that a form may mean: of the words typed into such a field, those that the shop has are offered. */
/** @type {ReturnType<typeof setTimeout>|undefined} */ let later;
document.addEventListener("input", (e) => {
  const el = e.target;
  if (!(el instanceof HTMLInputElement) || !el.matches("[data-design]")) return;
  clearTimeout(later);
  later = setTimeout(() => offer(el), 120);
});

/** @param {HTMLInputElement} el */
async function offer(el) {
  const typed = el.value.trim(), mine = ++asked;
  if (!typed || [...(el.list?.options || [])].some((o) => o.value === typed)) return; // one of them was chosen
  const found = (await look(typed)).filter((f) => /^\/designs\/[^/?]+$/.test(f.to));
  if (mine !== asked) return;
  if (!el.list) {
    const id = `designs-${asked}`;
    el.after(made("datalist", { id }));
    el.setAttribute("list", id);
  }
  el.list?.replaceChildren(...found.map((f) => {
    const twice = found.some((o) => o !== f && o.name === f.name);
    return twice ? made("option", { value: f.to.slice("/designs/".length), text: f.name }) : made("option", { value: f.name });
  }));
}
