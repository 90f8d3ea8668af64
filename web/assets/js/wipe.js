// @ts-check
// Wipe: two drawings of one design lie on each other, and a slider, or a hand on
// the drawing, draws one away over the other. Without scripts they stand one under
// the other.

for (const el of document.querySelectorAll("[data-wipe]")) {
  const by = el.querySelector("[data-wipe-by]"), slider = el.querySelector("input[type=range]"), cloths = el.querySelector(".cloths");
  if (!(el instanceof HTMLElement) || !(by instanceof HTMLElement) || !(slider instanceof HTMLInputElement) || !(cloths instanceof HTMLElement)) continue;
  const cut = () => el.style.setProperty("--cut", `${slider.value}%`);
  el.setAttribute("data-on", "");
  by.hidden = false;
  slider.addEventListener("input", cut);
  /** @param {PointerEvent} e */
  const follow = (e) => {
    const r = cloths.getBoundingClientRect();
    slider.value = String(100 * (e.clientX - r.left) / r.width);
    cut();
  };
  cloths.addEventListener("pointerdown", (e) => {
    if (e.button) return;
    e.preventDefault(); // a drawing is not dragged away
    cloths.setPointerCapture(e.pointerId);
    slider.focus({ preventScroll: true });
    follow(e);
  });
  cloths.addEventListener("pointermove", (e) => { if (cloths.hasPointerCapture(e.pointerId)) follow(e); });
  cut();
}
