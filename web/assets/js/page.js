// @ts-check
// What every page does: light or dark, forms that answer as one types
// (form[data-live]), buttons that ask before they take away.

import { refresh } from "./morph.js";

document.addEventListener("click", (e) => {
  const el = e.target instanceof Element ? e.target : null;
  if (!el) return;
  if (el.closest("[data-print]")) print();
  for (const fold of /** @type {NodeListOf<HTMLDetailsElement>} */ (document.querySelectorAll("details[data-fold][open]"))) if (!fold.contains(el)) fold.open = false;
});
document.addEventListener("keydown", (e) => {
  const fold = e.key === "Escape" && document.querySelector("details[data-fold][open]");
  if (fold instanceof HTMLDetailsElement) { fold.open = false; fold.querySelector("summary")?.focus(); }
});
// What a part of a thin strip is, said under the pointer: lists have hundreds of strips, and few are pointed at.
document.addEventListener("pointerover", (e) => {
  const part = e.target;
  if (!(part instanceof SVGRectElement) || !part.dataset.partSays || part.firstChild) return;
  const title = document.createElementNS("http://www.w3.org/2000/svg", "title");
  title.textContent = part.dataset.partSays;
  part.append(title);
});
// Light or dark: as the system has it until one is chosen, and again when that is.
/** @param {string} theme "light", "dark", "" as the system */
function light(theme) {
  const root = document.documentElement;
  if (theme) root.dataset.theme = theme; else delete root.dataset.theme;
  for (const s of /** @type {NodeListOf<HTMLSelectElement>} */ (document.querySelectorAll("[data-theme-choice]"))) s.value = theme;
}
document.addEventListener("change", (e) => {
  const s = e.target;
  if (!(s instanceof HTMLSelectElement) || !s.matches("[data-theme-choice]")) return;
  try { if (s.value) localStorage.setItem("np-theme", s.value); else localStorage.removeItem("np-theme"); } catch { /* it lasts for this page */ }
  light(s.value);
  document.dispatchEvent(new CustomEvent("np:theme"));
});
light(document.documentElement.dataset.theme || "");
// What was done just now can be taken back for a while: by the button at the foot,
// or by Ctrl+Z where nothing is typed. It waits while somebody is on it.
const bar = document.querySelector("[data-take-back]");
if (bar instanceof HTMLElement) {
  const says = bar.querySelector("p"), text = says?.textContent || "", form = bar.querySelector("form");
  if (says) { says.textContent = ""; setTimeout(() => { says.textContent = text; }, 150); } // so that it is read out
  let left = Number(bar.dataset.takeBack);
  const step = 250, going = setInterval(() => {
    if (bar.matches(":hover, :focus-within")) return;
    if ((left -= step) <= 0) { clearInterval(going); bar.remove(); }
  }, step);
  document.addEventListener("keydown", (e) => {
    if (e.key.toLowerCase() !== "z" || !(e.ctrlKey || e.metaKey) || e.shiftKey || e.altKey || !bar.isConnected) return;
    if (e.target instanceof Element && e.target.closest("input, textarea, select, [contenteditable]")) return;
    e.preventDefault();
    form?.requestSubmit();
  });
}
// Where the menu is longer than the screen, the page's own entry is in sight.
const nav = document.querySelector(".top nav"), mine = nav?.querySelector("[aria-current]");
function inSight() {
  if (!nav || !mine) return;
  const all = nav.getBoundingClientRect(), one = mine.getBoundingClientRect();
  nav.scrollLeft += one.left - all.left - (all.width - one.width) / 2;
}
inSight();
addEventListener("resize", inSight); // a phone is turned

document.addEventListener("submit", (e) => {
  const form = /** @type {HTMLFormElement} */ (e.target);
  if (form.dataset.sure && !confirm(form.dataset.sure)) { e.preventDefault(); return; }
  const by = /** @type {SubmitEvent} */ (e).submitter;
  if (form.matches("[data-live]") && !(by instanceof HTMLButtonElement && by.formMethod === "post" && by.hasAttribute("formmethod"))) { e.preventDefault(); ask(form); return; }
  const b = form.querySelector("button.main");
  if (b && form.method === "post" && !e.defaultPrevented && !form.querySelector("[download]")) setTimeout(() => { b.setAttribute("disabled", ""); }, 0);
});
addEventListener("pageshow", () => { for (const b of document.querySelectorAll("form[method=post] button.main[disabled]:not([data-off])")) b.removeAttribute("disabled"); });

/** @type {ReturnType<typeof setTimeout>|undefined} */ let soon;
/** @type {AbortController|undefined} */ let going;
for (const kind of ["input", "change"]) document.addEventListener(kind, (e) => {
  const el = /** @type {HTMLInputElement} */ (e.target), form = el.form;
  if (!form || !form.matches("[data-live]")) return;
  const twin = el.dataset.twin && /** @type {HTMLInputElement|null} */ (form.elements.namedItem(el.dataset.twin));
  if (twin) twin.value = el.value;
  clearTimeout(soon);
  if (form.matches("[data-whole]")) stale(); // nothing on the page follows from it until it is worked out
  soon = setTimeout(() => ask(form), kind === "change" ? 0 : 120);
});

function stale() { for (const id of ["answer", "picture", "results"]) for (const a of ["data-stale", "inert"]) document.getElementById(id)?.setAttribute(a, ""); }

/** @param {HTMLFormElement} form */
async function ask(form) {
  clearTimeout(soon);
  if (!form.checkValidity()) return;
  const q = new URLSearchParams();
  for (const [k, v] of new FormData(form)) if (typeof v === "string" && (v !== "" || form.matches("[data-whole]")) && !k.startsWith("_")) q.append(k, v);
  const url = `${form.getAttribute("action") || location.pathname}?${q}`;
  going?.abort();
  const mine = going = new AbortController();
  form.setAttribute("aria-busy", "true");
  try {
    await refresh(url, { signal: mine.signal });
    // What adds or takes away has done so: it is not said again.
    for (const el of form.querySelectorAll("[data-once]")) if (el instanceof HTMLInputElement && el.type === "checkbox") el.checked = false; else if (el instanceof HTMLSelectElement || el instanceof HTMLInputElement) el.value = "";
    history.replaceState(null, "", url);
    tell("");
  } catch (err) { if (!mine.signal.aborted) tell(String(err instanceof Error ? err.message : err)); }
  if (going === mine) { form.removeAttribute("aria-busy"); }
}

/** Says something wrong on top of the page. @param {string} text */
export function tell(text) {
  let box = document.getElementById("tell");
  if (!text) { box?.remove(); return; }
  if (!box) {
    box = document.createElement("p");
    box.id = "tell"; box.className = "told bad"; box.setAttribute("role", "alert");
    document.querySelector("main")?.before(box);
  }
  box.textContent = text;
}
