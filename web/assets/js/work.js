// @ts-check
// Work: long computing shows how far it is and can be stopped.

import { say } from "./words.js";

const box = document.querySelector("[data-work]");
if (box instanceof HTMLElement) watch(box);

/** @param {HTMLElement} box */
async function watch(box) {
  const bar = /** @type {HTMLProgressElement} */ (box.querySelector("progress")), says = /** @type {HTMLElement} */ (box.querySelector("[role=status]"));
  const back = box.querySelector("[data-back]");
  if (back instanceof HTMLInputElement && document.referrer.startsWith(location.origin)) back.value = document.referrer.slice(location.origin.length);
  for (;;) {
    let w;
    try {
      const r = await fetch(`/work/${box.dataset.work}`);
      if (!r.ok) break;
      w = await r.json();
    } catch { await new Promise((done) => setTimeout(done, 2000)); continue; }
    if (w.state !== "running" && w.state !== "waiting") break;
    if (w.progress > 0) bar.value = w.progress;
    says.textContent = w.text || (w.state === "waiting" ? say("work.waiting") : "");
    await new Promise((done) => setTimeout(done, 250));
  }
  location.reload();
}
