// @ts-check
// Wipe: two drawings of one design lie on each other, and a slider draws one
// away over the other. Without scripts they stand one under the other.

for (const el of document.querySelectorAll("[data-wipe]")) {
  const by = el.querySelector("[data-wipe-by]"), slider = el.querySelector("input[type=range]");
  if (!(el instanceof HTMLElement) || !(by instanceof HTMLElement) || !(slider instanceof HTMLInputElement)) continue;
  const cut = () => el.style.setProperty("--cut", `${slider.value}%`);
  el.setAttribute("data-on", "");
  by.hidden = false;
  slider.addEventListener("input", cut);
  cut();
}
