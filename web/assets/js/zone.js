// @ts-check
// The time zone that the browser is in: taken where nobody has said one, else
// offered where it is another. The zones that the browser knows are at hand.

const box = document.querySelector("[data-zone]"), field = box?.querySelector("input[name=time_zone]");
if (box instanceof HTMLElement && field instanceof HTMLInputElement) {
  const mine = Intl.DateTimeFormat().resolvedOptions().timeZone || "", says = box.querySelector("[data-zone-says]"), button = says?.querySelector("button");
  const known = box.querySelector("datalist");
  if (known) {
    for (const zone of Intl.supportedValuesOf("timeZone")) { const o = document.createElement("option"); o.value = zone; known.append(o); }
    field.setAttribute("list", known.id);
  }
  if (mine && box.dataset.zone === "take" && !field.matches("[aria-invalid]")) field.value = mine;
  else if (mine && mine !== field.value && says instanceof HTMLElement && button) {
    says.hidden = false;
    button.textContent = mine;
    button.addEventListener("click", () => { field.value = mine; says.hidden = true; field.focus(); });
  }
}
