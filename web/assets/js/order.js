// @ts-check
// An order's form: one more line.

import { say } from "./words.js";

const form = document.querySelector("form[data-order]"), more = document.querySelector("[data-more]");
if (form && more instanceof HTMLButtonElement) {
  more.hidden = false;
  more.addEventListener("click", () => {
    const all = form.querySelectorAll(".orderline"), last = all[all.length - 1], n = all.length;
    const copy = /** @type {HTMLElement} */ (last.cloneNode(true));
    for (const el of copy.querySelectorAll("input, select, textarea")) {
      el.setAttribute("name", (el.getAttribute("name") || "").replace(/^line\[\d+\]/, `line[${n}]`));
      if (el instanceof HTMLInputElement) { if (el.type === "checkbox") el.checked = false; else el.value = ""; }
      if (el instanceof HTMLSelectElement || el instanceof HTMLTextAreaElement) el.value = "";
    }
    copy.querySelectorAll("em").forEach((wrong) => wrong.remove());
    const legend = copy.querySelector("legend");
    if (legend) legend.textContent = say("order.line", { n: n + 1 });
    last.after(copy);
    /** @type {HTMLElement | null} */ (copy.querySelector("select, [data-design]"))?.focus();
  });
}
