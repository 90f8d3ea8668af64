// @ts-check
// Phones: the page that a phone comes in by takes the code out of its address,
// where no server, log or other page sees it; the page that shows a code, and the
// list of phones, wait until it is used.

import { refresh } from "./morph.js";

const form = document.querySelector("form[data-code]");
if (form instanceof HTMLFormElement && location.hash.length > 1) {
  const box = /** @type {HTMLInputElement} */ (form.elements.namedItem("code"));
  box.value = location.hash.slice(1);
  history.replaceState(null, "", location.pathname + location.search);
  for (const e of document.querySelectorAll("[data-typed], [data-read]")) e.toggleAttribute("hidden");
  form.querySelector("button")?.focus();
}

const every = 2000; // ms
async function wait() {
  while (document.querySelector("[data-waits]")) {
    await new Promise((done) => setTimeout(done, every));
    if (document.hidden) continue;
    try { await refresh(location.href); } catch { /* out of reach: the next look tells */ }
  }
}
wait();
