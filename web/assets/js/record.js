// @ts-check
// Recording pieces with gloves: buttons beside the numbers. What is typed or
// tapped is kept on this device until it was sent, so that a phone that sleeps
// loses nothing.

const form = document.querySelector("form[data-record]");
if (form instanceof HTMLFormElement) {
  const name = "np-record " + location.pathname + new URLSearchParams(location.search).get("line") + (new URLSearchParams(location.search).get("correct") || "");
  const fields = /** @type {HTMLInputElement[]} */ ([...form.querySelectorAll("input:not([type=hidden])")]);
  const keep = () => {
    const all = Object.fromEntries(fields.map((i) => [i.name, i.type === "checkbox" ? (i.checked ? "1" : "") : i.value]));
    try { sessionStorage.setItem(name, JSON.stringify(all)); } catch { /* it lasts for this page */ }
  };
  if (new URLSearchParams(location.search).get("kept")) sessionStorage.removeItem(name);
  else try {
    const had = JSON.parse(sessionStorage.getItem(name) || "{}");
    for (const i of fields) if (i.name in had && i.name !== "day") { if (i.type === "checkbox") i.checked = had[i.name] === "1"; else i.value = had[i.name]; }
  } catch { /* nothing was kept */ }
  for (const b of form.querySelectorAll("[data-add], [data-less]")) {
    if (!(b instanceof HTMLButtonElement)) continue;
    b.hidden = false;
    b.addEventListener("click", () => {
      const i = /** @type {HTMLInputElement} */ (form.elements.namedItem(b.dataset.add || b.dataset.less || ""));
      i.value = String(Math.max(0, (Number(i.value) || 0) + (b.dataset.add ? Number(b.dataset.by || 1) : -1)));
      keep();
    });
  }
  form.addEventListener("input", keep);
  form.querySelector("select")?.addEventListener("change", (e) => {
    const q = new URLSearchParams(location.search);
    q.set("machine", /** @type {HTMLSelectElement} */ (e.target).value);
    q.delete("kept");
    keep();
    location.search = String(q);
  });
}
