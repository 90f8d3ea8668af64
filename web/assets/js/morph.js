// @ts-check
// Morph: makes what stands on the page equal to a fresh answer of the server
// without drawing anew what is the same, so that strips slide and focus stays.
// Elements with data-keep are left alone but for their data- attributes.
// Elements with data-part are named after all they hold: the server is told
// which of them the page has and sends those empty (data-same).

import { say } from "./words.js";

const has = "Needlepace-Has";

/** @param {Element} from @param {Element} to */
export function morph(from, to) {
  if (from.nodeName !== to.nodeName || from.id !== to.id) { from.replaceWith(to); return; }
  if (part(from) && part(from) === part(to)) return;
  if (to.hasAttribute("data-stale")) { for (const a of ["data-stale", "inert"]) from.setAttribute(a, ""); return; } // there is no answer to what was asked: the one before stays, greyed
  const keep = from.hasAttribute("data-keep");
  for (const a of [...from.attributes]) if (!to.hasAttribute(a.name) && !keep && a.name !== "style" && !(a.name === "open" && from.nodeName === "DETAILS")) from.removeAttribute(a.name);
  for (const a of [...to.attributes]) if ((!keep || a.name.startsWith("data-")) && from.getAttribute(a.name) !== a.value) from.setAttribute(a.name, a.value);
  if (keep) return;
  if (from instanceof HTMLInputElement && to instanceof HTMLInputElement) {
    if (from !== document.activeElement && from.type !== "file") { from.value = to.value; from.checked = to.checked; }
    return;
  }
  if (from instanceof HTMLSelectElement || from instanceof HTMLTextAreaElement) { if (from === document.activeElement) return; }
  const fresh = [...to.childNodes];
  // What stands here and comes empty is put in its place as it is, and so is
  // what holds it.
  /** @type {Map<string, Element>} */ const here = new Map();
  for (const e of from.children) for (const p of [e, ...e.querySelectorAll("[data-part]")]) if (part(p)) here.set(part(p), e);
  const home = fresh.map((b) => here.get(part(same(b) ? b : b instanceof Element && b.querySelector("[data-same]") || b)));
  const stays = new Set(home);
  for (let i = 0; i < fresh.length; i++) {
    const a = from.childNodes[i], b = fresh[i], mine = home[i];
    if (mine && mine.nodeName === b.nodeName) {
      if (a !== mine) from.insertBefore(mine, a || null);
      if (!same(b) && b instanceof Element) morph(mine, b);
      continue;
    }
    if (!a) { from.appendChild(b); continue; }
    if (a instanceof Element && stays.has(a)) { from.insertBefore(b, a); continue; }
    if (a.nodeType !== b.nodeType) { from.replaceChild(b, a); continue; }
    if (a instanceof Element && b instanceof Element) morph(a, b);
    else if (a.nodeValue !== b.nodeValue) a.nodeValue = b.nodeValue;
  }
  while (from.childNodes.length > fresh.length) from.lastChild?.remove();
}

/** @param {Node} e */
function part(e) { return e instanceof Element && e.getAttribute("data-part") || ""; }
/** @param {Node} e */
function same(e) { return e instanceof Element && e.hasAttribute("data-same"); }

/** Fetches an address of ours and makes the page's main part equal to it. @param {string} url @param {RequestInit} [init] */
export async function refresh(url, init) {
  const parts = [...document.querySelectorAll("main [data-part]")].map(part).join(" ");
  const r = await fetch(url, parts ? { ...init, headers: { [has]: parts } } : init);
  if (!(r.headers.get("Content-Type") || "").startsWith("text/html")) throw new Error(say("page.answered", { status: String(r.status) }));
  const doc = new DOMParser().parseFromString(await r.text(), "text/html");
  const fresh = doc.querySelector("main"), now = document.querySelector("main");
  if (!fresh || !now) throw new Error(say("page.no-page"));
  if (!r.ok) throw new Error((fresh.textContent || "").trim().replace(/\s+/g, " "));
  morph(now, fresh);
  if (now.querySelector("[data-same]")) { // it came empty and has no like here: ask for the whole page
    for (const e of now.querySelectorAll("[data-part]")) e.removeAttribute("data-part");
    return refresh(url, init);
  }
  document.title = doc.title;
  document.documentElement.dataset.paper = doc.documentElement.dataset.paper || "";
  document.dispatchEvent(new CustomEvent("np:fresh"));
  return r;
}
