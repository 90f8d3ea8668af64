// @ts-check
// Recording pieces with gloves: buttons beside the numbers. What is typed or
// tapped is kept on this device until it was sent, so that a phone that sleeps
// loses nothing; where the shop is out of reach the record waits (queue.js).

import { begin, done, newKey, offline, put, send, waiting } from "./queue.js";
import { tell } from "./page.js";
import { say } from "./words.js";

const form = document.querySelector("form[data-record]");
if (form instanceof HTMLFormElement) record(form);
// One that waited is looked at from the page that it belongs to.
addEventListener("hashchange", () => { if (waiting().some((w) => w.key === location.hash.slice(1))) location.reload(); });
begin();
offline();

/** @param {HTMLFormElement} form */
function record(form) {
  const q = new URLSearchParams(location.search), mine = location.hash.slice(1);
  const name = "np-record " + location.pathname + q.get("line") + (q.get("correct") || "");
  const fields = /** @type {HTMLInputElement[]} */ ([...form.querySelectorAll("input:not([type=hidden])")]);
  const input = (/** @type {string} */ n) => /** @type {HTMLInputElement|null} */ (form.elements.namedItem(n));
  const value = (/** @type {string} */ n) => Number(input(n)?.value) || 0;
  const fill = (/** @type {(name: string) => string|null} */ of) => {
    for (const i of fields) { const v = of(i.name); if (v === null) continue; if (i.type === "checkbox") i.checked = v === "1"; else i.value = v; }
  };
  const keep = () => {
    const all = Object.fromEntries(fields.map((i) => [i.name, i.type === "checkbox" ? (i.checked ? "1" : "") : i.value]));
    try { sessionStorage.setItem(name, JSON.stringify(all)); } catch { /* it lasts for this page */ }
  };
  const forget = () => { try { sessionStorage.removeItem(name); } catch { /* nothing there */ } };
  const key = input("key");
  if (q.has("kept")) { forget(); done(q.get("kept") || ""); }
  else if (key && !key.value) try { // the server has not shown what was sent
    const had = JSON.parse(sessionStorage.getItem(name) || "{}");
    fill((n) => n in had && n !== "day" ? had[n] : null);
  } catch { /* nothing was kept */ }
  if (key && !key.value) key.value = newKey();
  for (const b of form.querySelectorAll("[data-add], [data-less]")) {
    if (!(b instanceof HTMLButtonElement)) continue;
    b.hidden = false;
    b.addEventListener("click", () => {
      const i = /** @type {HTMLInputElement} */ (input(b.dataset.add || b.dataset.less || ""));
      i.value = String(Math.max(0, (Number(i.value) || 0) + (b.dataset.add ? Number(b.dataset.by || 1) : -1)));
      keep();
    });
  }
  form.addEventListener("input", keep);
  form.querySelector("select")?.addEventListener("change", (e) => {
    q.set("machine", /** @type {HTMLSelectElement} */ (e.target).value);
    q.delete("kept");
    keep();
    location.search = String(q);
  });
  form.addEventListener("submit", async (e) => {
    e.preventDefault();
    keep();
    const main = form.querySelector("button.main"), to = new URL(form.action).pathname;
    main?.setAttribute("disabled", ""); // at once, so that nothing disables it after it was made free again
    const body = String(new URLSearchParams(/** @type {[string, string][]} */ ([...new FormData(form)].filter(([, v]) => typeof v === "string"))));
    const r = await send(to, body);
    if (r.came === "kept") { forget(); done(key?.value || ""); location.href = r.says; return; }
    if (r.came === "asks" || r.came === "sign-in") { form.submit(); return; } // under the same key: the page comes with what it asks
    main?.removeAttribute("disabled");
    if (!put({ key: key?.value || newKey(), to, body, order: form.dataset.name || "", good: value("good"), spoilt: value("spoilt") })) { tell(say("queue.not-kept")); return; }
    forget();
    for (const n of ["good", "spoilt", "again"]) { const i = input(n); if (i) i.value = "0"; }
    for (const n of ["breaks", "from", "to", "pauses", "run_min", "run_sec", "note"]) { const i = input(n); if (i) i.value = ""; }
    if (key) key.value = newKey();
    document.getElementById("waits")?.scrollIntoView({ block: "nearest" });
  });
  // One that waited and that the shop asks about: shown with what was filled in.
  const asked = waiting().find((w) => mine && w.key === mine);
  if (asked && key) {
    const f = new URLSearchParams(asked.body);
    fill((n) => f.has(n) ? f.get(n) : null);
    key.value = asked.key;
    form.submit();
  }
}
