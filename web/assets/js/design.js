// @ts-check
// One design: drawing, trace and time hang together; the needle, the cursor
// and the figures move as one.

import { load, begun, took, stitchesOf } from "./geometry.js";
import { Drawing } from "./drawing.js";
import { Trace } from "./trace.js";
import { seconds, stitchLength, perMinute, say } from "./words.js";
import { tell } from "./page.js";

const box = document.querySelector("[data-run]");
if (box instanceof HTMLElement) start(box);

/** @param {HTMLElement} box */
function start(box) {
  const find = (/** @type {string} */ s) => /** @type {HTMLElement} */ (box.querySelector(s));
  const drawing = new Drawing(find(".cloth"));
  const says = find(".now"), play = /** @type {HTMLButtonElement} */ (find("[data-play]")), rate = /** @type {HTMLSelectElement} */ (find("[data-rate]"));
  /** @type {import("./geometry.js").Geometry | undefined} */ let g;
  /** @type {number[]} */ let jumps = [];
  let time = Infinity, playing = 0, last = 0;
  const trace = new Trace(find(".trace"), (t) => { stop(); show(t); });

  /** @param {number} t */
  function show(t) {
    if (!g) return;
    time = t;
    const at = Math.min(t, g.seconds);
    drawing.at(t);
    const n = begun(g, at), i = n - 1;
    const standing = i < 0 || at > g.start[i] + took(g, i) + 1e-3;
    const l = i < 0 ? 0 : Math.hypot(g.xy[4 * i + 2] - g.xy[4 * i], g.xy[4 * i + 3] - g.xy[4 * i + 1]) / 10;
    const all = stitchesOf(jumps, g.n);
    const words = [seconds(at), say("drawing.stitch", { n: stitchesOf(jumps, n), of: all })];
    if (i >= 0) words.push(say("drawing.block", { n: g.layer[i] + 1 }));
    words.push(standing ? say("drawing.standing") : say("drawing.pace", { speed: perMinute(g.speed[i]), length: stitchLength(l) }));
    says.textContent = t >= g.seconds ? say("drawing.whole-run", { time: seconds(g.seconds), n: all }) : words.join(" · ");
    trace.at(at, words.join(", "));
  }
  function stop() { cancelAnimationFrame(playing); playing = 0; play.textContent = say("drawing.play"); }
  /** @param {number} now */
  function step(now) {
    if (!g) return;
    const t = time + Math.min(now - last, 250) / 1000 * Number(rate.value);
    last = now;
    if (t >= g.seconds) { show(Infinity); stop(); return; }
    show(t);
    playing = requestAnimationFrame(step);
  }
  play.addEventListener("click", () => {
    if (playing) { stop(); return; }
    if (!g) return;
    if (time >= g.seconds) time = 0;
    play.textContent = say("drawing.pause");
    last = performance.now();
    playing = requestAnimationFrame(step);
  });
  find("[data-all]").addEventListener("click", () => { stop(); show(Infinity); });
  for (const [hook, act] of /** @type {[string, () => void][]} */ ([["[data-in]", () => drawing.view.zoom(1.5)], ["[data-out]", () => drawing.view.zoom(1 / 1.5)], ["[data-fit]", () => drawing.view.fit()]])) find(hook).addEventListener("click", act);

  // The choice what the colours say; the legend has the colours of the kinds.
  const choice = box.querySelector("[data-colours]");
  if (choice instanceof HTMLSelectElement) {
    const colours = (find("[data-kinds]").dataset.kinds || "").split(" ").map((s) => [1, 3, 5].map((i) => parseInt(s.slice(i, i + 2), 16)));
    const coloured = () => {
      const kinds = choice.value === "kind";
      find("[data-kinds]").hidden = !kinds; find("[data-speeds]").hidden = kinds;
      drawing.by(kinds ? colours : null);
    };
    choice.addEventListener("change", coloured);
    document.addEventListener("np:fresh", coloured);
    coloured(); // a browser may remember the choice
  }

  // A click on the cloth goes to the stitch that lies there.
  /** @type {[number, number]|undefined} */ let down;
  const cloth = find(".cloth");
  cloth.addEventListener("pointerdown", (e) => { down = e.target instanceof HTMLButtonElement ? undefined : [e.clientX, e.clientY]; });
  cloth.addEventListener("pointerup", (e) => {
    if (!g || !down || Math.hypot(e.clientX - down[0], e.clientY - down[1]) > 4) return;
    const r = cloth.getBoundingClientRect(), v = drawing.view;
    const x = v.x + (e.clientX - r.left - v.w / 2) / v.k, y = v.y - (e.clientY - r.top - v.h / 2) / v.k;
    let best = -1, near = (12 / v.k) ** 2;
    for (let i = 0; i < g.n; i++) { // the uppermost of the nearest
      const dx = g.xy[4 * i + 2] - x, dy = g.xy[4 * i + 3] - y, d = dx * dx + dy * dy;
      if (d <= near) { near = d; best = i; }
    }
    if (best >= 0) { stop(); show(g.start[best] + took(g, best)); }
  });

  // A row of the block table shows its block alone while it is pointed at or focused.
  const only = (/** @type {Event} */ e, /** @type {boolean} */ on) => {
    const row = e.target instanceof Element ? e.target.closest("[data-block]") : null;
    if (row instanceof HTMLElement) drawing.only(on ? Number(row.dataset.block) : -1);
  };
  document.addEventListener("pointerover", (e) => only(e, true));
  document.addEventListener("pointerout", (e) => only(e, false));
  document.addEventListener("focusin", (e) => only(e, true));
  document.addEventListener("focusout", (e) => only(e, false));

  // A finding goes to its place.
  document.addEventListener("click", (e) => {
    const el = e.target instanceof Element ? e.target.closest("[data-goto]") : null;
    if (!(el instanceof HTMLElement)) return;
    e.preventDefault();
    const on = el.getAttribute("aria-pressed") === "true";
    for (const o of document.querySelectorAll("[data-goto][aria-pressed]")) o.setAttribute("aria-pressed", "false");
    for (const o of document.querySelectorAll("[data-of]")) o.toggleAttribute("data-on", !on && o.getAttribute("data-of") === el.dataset.number);
    if (on) { drawing.mark(0, 0); drawing.view.fit(); return; }
    for (const o of document.querySelectorAll(`[data-goto][data-number="${el.dataset.number}"]`)) o.setAttribute("aria-pressed", "true");
    drawing.mark(Number(el.dataset.from), Number(el.dataset.to));
    if (el.hasAttribute("data-many")) drawing.view.fit(); else goTo(Number(el.dataset.from), Number(el.dataset.to), Number(el.dataset.x) * 10, Number(el.dataset.y) * 10);
    const r = cloth.getBoundingClientRect();
    if (r.bottom < 80 || r.top > innerHeight - 80) cloth.scrollIntoView({ block: "center", behavior: matchMedia("(prefers-reduced-motion: reduce)").matches ? "auto" : "smooth" });
  });

  /** Shows stitches from … to, or a place where there are none. @param {number} from @param {number} to @param {number} x @param {number} y */
  function goTo(from, to, x, y) {
    if (!g || to <= from) { drawing.view.goto(x, y); return; }
    let x0 = Infinity, y0 = Infinity, x1 = -Infinity, y1 = -Infinity;
    for (let i = 4 * from; i < 4 * Math.min(to, g.n); i += 2) { x0 = Math.min(x0, g.xy[i]); x1 = Math.max(x1, g.xy[i]); y0 = Math.min(y0, g.xy[i + 1]); y1 = Math.max(y1, g.xy[i + 1]); }
    drawing.view.goto((x0 + x1) / 2, (y0 + y1) / 2, Math.max(x1 - x0, y1 - y0));
  }

  /** @type {AbortController|undefined} */ let going;
  let url = "";
  async function fetchStitches() {
    const want = box.dataset.run || "";
    if (want === url) { show(time); return; }
    going?.abort();
    const mine = going = new AbortController();
    try {
      const passed = (box.dataset.jumps || "").split(" ").filter(Boolean).map(Number);
      const about = { seconds: Number(box.dataset.seconds), low: Number(box.dataset.low), high: Number(box.dataset.high) };
      const fresh = await load(want, about, mine.signal);
      const share = g && time < g.seconds ? time / g.seconds : 0;
      g = fresh; jumps = passed; url = want;
      if (share) time = share * g.seconds;
      drawing.set(g); trace.set(g); show(time);
      box.dataset.ready = want;
    } catch (err) { if (!mine.signal.aborted) tell(say("drawing.failed", { why: String(err instanceof Error ? err.message : err) })); }
  }
  document.addEventListener("np:fresh", fetchStitches);
  fetchStitches();
}
