// @ts-check
// Live: a page that stands open shows what others change. It never moves under a
// finger, a selection or what is being typed; what changed is marked. A lost
// connection is said, and mended.

import { refresh } from "./morph.js";
import { say } from "./words.js";

const quietFor = 800, marked = 8000, lostAfter = 2500, silentFor = 25_000; // ms

const main = document.querySelector("main[data-fresh]");
if (main instanceof HTMLElement) live(main);

/** @param {HTMLElement} main */
function live(main) {
  const of = new Set((main.dataset.fresh || "").split(" "));
  /** @type {EventSource|undefined} */ let from;
  let due = false, told = false, busy = false, lost = false, failing = false, touched = 0, pressed = false, heard = Date.now();
  /** @type {ReturnType<typeof setTimeout>|undefined} */ let soon;
  /** @type {ReturnType<typeof setTimeout>|undefined} */ let silence;

  for (const kind of ["pointerdown", "pointerup", "pointercancel", "keydown", "wheel", "touchmove"]) addEventListener(kind, () => {
    touched = Date.now();
    if (kind === "pointerdown") pressed = true;
    if (kind === "pointerup" || kind === "pointercancel") pressed = false;
  }, { capture: true, passive: true });

  /** Whether somebody is at something that a change would jump under. */
  const held = () => {
    const at = document.activeElement, picked = getSelection();
    const typing = at instanceof HTMLTextAreaElement || at instanceof HTMLSelectElement || at instanceof HTMLInputElement && !["checkbox", "radio", "button", "submit"].includes(at.type);
    const filled = [...main.querySelectorAll("form:not([data-live]) :is(input, textarea)")].some((e) => (e instanceof HTMLInputElement || e instanceof HTMLTextAreaElement) && e.type !== "hidden" && !e.hasAttribute("data-keep") && (e.type === "checkbox" || e.type === "radio" ? /** @type {HTMLInputElement} */ (e).checked !== /** @type {HTMLInputElement} */ (e).defaultChecked : e.value !== e.defaultValue));
    return pressed || Date.now() - touched < quietFor || typing && main.contains(at) || filled || !!picked && !picked.isCollapsed;
  };

  async function renew() {
    if (busy || !due || document.hidden) return;
    if (held()) { clearTimeout(soon); soon = setTimeout(renew, 300); return; }
    busy = true; due = false;
    const marks = told;
    told = false;
    /** @type {MutationRecord[]} */ const all = [];
    const seen = new MutationObserver((some) => { all.push(...some); });
    seen.observe(main, { subtree: true, childList: true, characterData: true });
    try {
      await refresh(location.href);
      if (marks) mark(all.concat(seen.takeRecords()));
    } catch { due = true; told ||= marks; lose(); }
    seen.disconnect();
    busy = false;
    if (due) { clearTimeout(soon); soon = setTimeout(renew, 1000); }
  }

  function open() {
    from?.close();
    from = new EventSource(`/events?since=${encodeURIComponent(main.dataset.at || "")}`);
    from.addEventListener("changed", (e) => {
      hear();
      if (/** @type {MessageEvent<string>} */ (e).data.split(" ").some((k) => of.has(k))) { due = told = true; renew(); }
    });
    from.addEventListener("beat", hear);
    from.addEventListener("open", () => { document.documentElement.dataset.live = "on"; hear(); });
    from.addEventListener("error", () => { // the browser tries again and again, and each try fails: the first one counts
      if (failing) return;
      failing = true;
      clearTimeout(silence);
      silence = setTimeout(lose, lostAfter);
    });
  }
  function hear() {
    heard = Date.now();
    failing = false;
    clearTimeout(silence);
    silence = setTimeout(lose, silentFor);
    if (!lost) return;
    lost = false; due = told = true; document.documentElement.dataset.live = "on";
    tell(say("live.back"), true);
    renew();
  }
  /** It is tried again, by the browser or, where that gave up, here. */
  function lose() {
    if (document.hidden) return;
    if (!lost) { lost = true; document.documentElement.dataset.live = "lost"; tell(say("live.lost"), false); }
    if (!from || from.readyState === EventSource.CLOSED || Date.now() - heard > 2 * silentFor) open();
    clearTimeout(silence);
    silence = setTimeout(lose, lostAfter);
  }

  document.addEventListener("np:old", () => { due = true; renew(); }); // time went on, and nobody changed anything

  // Six connections at once are all that a browser has for a place: hidden pages give theirs up.
  document.addEventListener("visibilitychange", () => {
    if (document.hidden) { from?.close(); clearTimeout(silence); } else { open(); renew(); }
  });
  addEventListener("pagehide", () => from?.close());
  addEventListener("pageshow", (e) => { if (e.persisted) open(); });
  if (!document.hidden) open();
}

/** Marks where text changed, but for what runs by itself and what only went to another place. @param {MutationRecord[]} all */
function mark(all) {
  /** @type {Set<Element>} */ const where = new Set();
  const left = new Set(all.flatMap((m) => [...m.removedNodes]));
  for (const m of all) {
    const at = m.target instanceof Element ? m.target : m.target.parentElement;
    if (!at || at.closest("[data-until], [data-clock], svg, option, .takeaway")) continue;
    const row = at.closest("li, tr, .told"), added = [...m.addedNodes].filter((n) => !left.has(n));
    if (!added.length && m.addedNodes.length) continue;
    if (row) where.add(row);
    for (const n of added) if (n instanceof Element) {
      if (n.matches("li, tr, .told")) { where.add(n); if (row && row !== n && row.contains(n)) where.delete(row); }
      else if (!m.removedNodes.length) for (const r of n.querySelectorAll("tr")) if (!r.closest("thead")) where.add(r); // a table that was not there
    }
  }
  for (const e of where) {
    e.classList.add("changed");
    setTimeout(() => e.classList.remove("changed"), marked);
  }
}

/** @type {ReturnType<typeof setTimeout>|undefined} */ let gone;
/** @param {string} text @param {boolean} good */
function tell(text, good) {
  let box = document.getElementById("lost");
  if (!box) {
    box = document.createElement("p");
    box.id = "lost"; box.setAttribute("role", "status");
    (document.querySelector("main") || document.body).append(box);
    document.querySelector("main")?.after(box);
  }
  box.className = "lost";
  box.toggleAttribute("data-back", good);
  box.textContent = text;
  clearTimeout(gone);
  if (good) gone = setTimeout(() => document.getElementById("lost")?.remove(), 5000);
}
