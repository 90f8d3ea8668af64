// @ts-check
// Morph: makes what stands on the page equal to a fresh answer of the server
// without drawing anew what is the same, so that strips slide and focus stays.
// Elements with data-keep are left alone but for their data- attributes.
// Elements with data-part are named after all they hold: the server is told
// which of them the page has and sends those empty (data-same).

import { say } from "./words.js";

const has = "Needlepace-Has";
/** Where somebody is at: what stands in it is theirs. It loses the focus for a moment where it goes to another place. @type {Element | null} */ let held = null;

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
    if (from !== held && from.type !== "file") { from.value = to.value; from.checked = to.checked; }
    return;
  }
  if (from instanceof HTMLSelectElement || from instanceof HTMLTextAreaElement) { if (from === held) return; }
  const fresh = [...to.childNodes], home = homes([...from.childNodes], fresh), stays = new Set(home);
  for (const n of [...from.childNodes]) if (!stays.has(n)) n.remove(); // first: what stays need not move then, and keeps its focus
  fresh.forEach((b, i) => {
    const a = from.childNodes[i], mine = home[i];
    if (!mine) { from.insertBefore(b, a || null); return; }
    if (a !== mine) from.insertBefore(mine, a || null);
    if (same(b)) return;
    if (b instanceof Element) morph(/** @type {Element} */ (mine), b);
    else if (mine.nodeValue !== b.nodeValue) mine.nodeValue = b.nodeValue;
  });
}

/**
 * Which of the nodes that stand here each fresh one is, undefined where it is new: the part of the same name or what
 * holds it, then a row that is the same to the letter, then what stands in the same place where no more nor less stand,
 * else what goes by the same name, in their order.
 * @param {ChildNode[]} olds @param {ChildNode[]} fresh @returns {(ChildNode | undefined)[]}
 */
function homes(olds, fresh) {
  /** @type {(ChildNode | undefined)[]} */ const home = fresh.map(() => undefined);
  const free = new Set(olds);
  /** @param {(n: Node) => string} by */
  const pair = (by) => {
    /** @type {Map<string, ChildNode[]>} */ const all = new Map();
    for (const n of free) { const k = by(n), like = all.get(k); if (like) like.push(n); else if (k) all.set(k, [n]); }
    fresh.forEach((b, i) => {
      const a = home[i] ? undefined : all.get(by(b))?.shift();
      if (a) { home[i] = a; free.delete(a); }
    });
  };
  /** @type {Map<string, ChildNode>} */ const here = new Map();
  for (const e of olds) if (e instanceof Element) for (const p of [e, ...e.querySelectorAll("[data-part]")]) if (part(p)) here.set(part(p), e);
  fresh.forEach((b, i) => {
    const a = here.get(part(same(b) ? b : b instanceof Element && b.querySelector("[data-same]") || b));
    if (a && free.has(a) && a.nodeName === b.nodeName) { home[i] = a; free.delete(a); }
  });
  if (olds.some(row)) {
    pair((n) => row(n) ? /** @type {Element} */ (n).outerHTML : "");
    pair((n) => row(n) ? /** @type {Element} */ (n).querySelector("a[href]")?.getAttribute("href") || "" : "");
  }
  const shape = (/** @type {Node} */ n) => `${n.nodeName}#${n instanceof Element ? n.id : ""}`;
  if (olds.length === fresh.length && !olds.some(row) && fresh.every((b, i) => home[i] ? home[i] === olds[i] : free.has(olds[i]) && shape(olds[i]) === shape(b))) return [...olds]; // each is what stood in its place
  pair((n) => n instanceof Element && !row(n) ? `${n.nodeName}#${n.id || part(n).replace(/-[^-]*$/, "") || (n.matches("[name]") ? n : n.querySelector("[name]"))?.getAttribute("name") || n.classList[0] || ""}` : "");
  pair(shape);
  return home;
}

/** @param {Node} n */
const row = (n) => n.nodeName === "LI" || n.nodeName === "TR";
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
  // The meaning of a word in a part that came empty stands beside the parts.
  if (fresh.querySelector("[data-same]")) for (const m of now.querySelectorAll(".means")) if (!doc.getElementById(m.id) && now.querySelector(`[data-part] [popovertarget="${m.id}"]`)) fresh.append(m.cloneNode(true));
  const at = held = document.activeElement;
  morph(now, fresh);
  if (at instanceof HTMLElement && at !== document.activeElement && at.isConnected) at.focus({ preventScroll: true }); // a row with it went to another place
  if (now.querySelector("[data-same]")) { // it came empty and has no like here: ask for the whole page
    for (const e of now.querySelectorAll("[data-part]")) e.removeAttribute("data-part");
    return refresh(url, init);
  }
  document.title = doc.title;
  document.documentElement.dataset.paper = doc.documentElement.dataset.paper || "";
  document.dispatchEvent(new CustomEvent("np:fresh"));
  return r;
}
