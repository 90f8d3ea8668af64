// @ts-check
// One design: drawing, trace and time hang together; the needle, the cursor
// and the figures move as one.

import { load, begun, took, stitchesOf, around, nearest, lengthOf } from "./geometry.js";
import { Drawing } from "./drawing.js";
import { Trace } from "./trace.js";
import { seconds, clock, stitchLength, perMinute, say } from "./words.js";
import { tell } from "./page.js";

const box = document.querySelector("[data-run]");
if (box instanceof HTMLElement) start(box);

/** @param {HTMLElement} box */
function start(box) {
  const find = (/** @type {string} */ s) => /** @type {HTMLElement} */ (box.querySelector(s));
  /** @type {import("./geometry.js").Geometry | undefined} */ let g;
  let linking = false; // the trace leads the drawing
  const drawing = new Drawing(find(".cloth"), () => { if (!linking && g) { trace.seen = drawing.view.fitted ? null : drawing.view.seen(); trace.draw(); } });
  const says = find(".now"), play = /** @type {HTMLButtonElement} */ (find("[data-play]")), rate = /** @type {HTMLSelectElement} */ (find("[data-rate]"));
  /** @type {number[]} */ let jumps = [];
  let time = Infinity, playing = 0, last = 0;
  const trace = new Trace(find(".trace"), (t) => { stop(); show(t); }, zoomed);

  /** The drawing shows what is sewn in the time that the trace shows. */
  function zoomed() {
    find("[data-window]").textContent = trace.zoomedIn ? say("drawing.window", { from: clock(trace.from), to: clock(trace.to) }) : "";
    if (!g) return;
    const first = trace.zoomedIn ? Math.max(0, begun(g, trace.from) - 1) : 0, past = trace.zoomedIn ? begun(g, trace.to) : 0;
    linking = true; trace.seen = null;
    drawing.span(first, past);
    if (past > first) drawing.view.frame(around(g.xy, first, past)); else drawing.view.fit();
    linking = false;
  }

  /** Why a stitch is as fast as it is. @param {import("./geometry.js").Geometry} g @param {number} i */
  function why(g, i) {
    const length = stitchLength(lengthOf(g, i)), cap = perMinute(g.most[i]), speed = perMinute(g.speed[i]);
    let held = "";
    const turning = g.speed[i] < g.most[i] * 0.98; // the shaft is not there yet, or leaves already
    switch (g.held[i]) {
    case 1: held = say("drawing.why-frame-x", { length, cap }); break;
    case 2: held = say("drawing.why-frame-y", { length, cap }); break;
    case 3: held = say("drawing.why-ladder", { length, cap }); break;
    case 4: held = say("drawing.why-turn", { length, cap }); break;
    default: return turning ? say("drawing.why-ramp", { length, speed }) : say("drawing.why-set", { length, cap });
    }
    return turning ? say("drawing.why-slower", { why: held, speed }) : held;
  }

  /** @param {number} t */
  function show(t) {
    if (!g) return;
    time = t;
    const at = Math.min(t, g.seconds);
    drawing.at(t);
    const n = begun(g, at), i = n - 1;
    const standing = i < 0 || at > g.start[i] + took(g, i) + 1e-3;
    const all = stitchesOf(jumps, g.total);
    const words = [seconds(at), say("drawing.stitch", { n: stitchesOf(jumps, n), of: all })];
    if (i >= 0) words.push(say("drawing.block", { n: g.layer[i] + 1 }));
    words.push(standing ? say("drawing.standing") : why(g, i));
    says.textContent = t >= g.seconds ? say("drawing.whole-run", { time: seconds(g.seconds), n: all }) : words.join(" · ");
    trace.at(at, words.join(", "));
    if (t < g.seconds) trace.reveal(at);
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
  for (const [hook, act] of /** @type {[string, () => void][]} */ ([["[data-in]", () => drawing.view.zoom(1.5)], ["[data-out]", () => drawing.view.zoom(1 / 1.5)], ["[data-fit]", () => drawing.view.fit()],
    ["[data-time-in]", () => trace.zoom(2)], ["[data-time-out]", () => trace.zoom(0.5)], ["[data-time-all]", () => trace.all()]])) find(hook).addEventListener("click", act);

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
    const i = at(e, 12);
    if (i >= 0) { stop(); show(g.start[i] + took(g, i)); }
  });
  /** The stitch at the pointer, −1 for none. @param {MouseEvent} e @param {number} reach px */
  function at(e, reach) {
    if (!g) return -1;
    const r = cloth.getBoundingClientRect(), v = drawing.view;
    return nearest(g, v.x + (e.clientX - r.left - v.w / 2) / v.k, v.y - (e.clientY - r.top - v.h / 2) / v.k, Math.max(reach / v.k, 2));
  }

  // Pointing at a stitch, or at its time, says why it is as fast as it is.
  const tip = find(".tip");
  /** @param {PointerEvent} e @param {number} i */
  function point(e, i) {
    tip.hidden = !g || i < 0 || e.buttons > 0;
    if (!g || tip.hidden) return;
    tip.textContent = [why(g, i), say("drawing.stitch", { n: stitchesOf(jumps, i + 1), of: stitchesOf(jumps, g.total) })].join(" · ");
    tip.dataset.stitch = String(i);
    const r = box.getBoundingClientRect(), x = e.clientX - r.left, w = tip.offsetWidth;
    tip.style.left = `${Math.max(0, Math.min(x + 14, r.width - w))}px`;
    tip.style.top = `${e.clientY - r.top + (e.clientY - r.top > 60 ? -tip.offsetHeight - 10 : 18)}px`;
  }
  cloth.addEventListener("pointermove", (e) => point(e, e.pointerType === "touch" ? -1 : at(e, 5)));
  trace.el.addEventListener("pointermove", (e) => {
    const t = trace.when(e), i = g ? begun(g, t) - 1 : -1;
    point(e, g && i >= 0 && t <= g.start[i] + took(g, i) + 1e-3 ? i : -1);
  });
  for (const el of [cloth, trace.el]) el.addEventListener("pointerleave", () => { tip.hidden = true; });

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
    const { x0, y0, x1, y1 } = around(g.xy, from, Math.min(to, g.n));
    drawing.view.goto((x0 + x1) / 2, (y0 + y1) / 2, Math.max(x1 - x0, y1 - y0));
  }

  /** @type {AbortController|undefined} */ let going;
  let url = "";
  async function fetchStitches() {
    const want = box.dataset.run || "";
    if (want === url && (box.dataset.with || "") === shown) { show(time); return; }
    going?.abort();
    const mine = going = new AbortController();
    try {
      if (want === url) { trace.set(/** @type {import("./geometry.js").Geometry} */ (g)); await beside(mine.signal); return; }
      const passed = (box.dataset.jumps || "").split(" ").filter(Boolean).map(Number);
      const about = { seconds: Number(box.dataset.seconds), low: Number(box.dataset.low), high: Number(box.dataset.high) };
      const share = g && time < g.seconds ? time / g.seconds : 0;
      jumps = passed;
      const fresh = await load(want, about, (part) => {
        g = part;
        if (share) time = share * g.seconds;
        drawing.set(g); trace.set(g); show(time);
      }, mine.signal);
      url = want;
      zoomed();
      box.dataset.ready = want;
      await beside(mine.signal);
      box.dataset.pieces = String(Math.ceil(fresh.total / 20000));
    } catch (err) { if (!mine.signal.aborted) tell(say("drawing.failed", { why: String(err instanceof Error ? err.message : err) })); }
  }
  let shown = "";
  /** Another machine's run beside this one. @param {AbortSignal} signal */
  async function beside(signal) {
    const want = box.dataset.with || "";
    if (want !== shown) {
      trace.other = want ? await load(want, { seconds: Number(box.dataset.withSeconds), low: 0, high: 0 }, () => {}, signal) : undefined;
      shown = want;
      trace.draw();
    }
    box.dataset.beside = want;
  }
  document.addEventListener("np:fresh", fetchStitches);
  fetchStitches();
}
