// @ts-check
// Trace: shaft speed against time under the drawing, in the colours of the
// drawing; the same axis as the strip. A slider: hand or keys move the time.

import { cividis } from "./cividis.js";
import { begun, took } from "./geometry.js";
import { whole, perMinute } from "./words.js";

/**
 * What is sewn in each px column: lowest and highest speed, their sum over the time in it, and that time in px.
 * @typedef {{lo: Float32Array, hi: Float32Array, sum: Float32Array, weight: Float32Array, high: number}} Columns
 */

/** @param {import("./geometry.js").Geometry} g @param {number} w px @param {number} max seconds at the right end @returns {Columns} */
export function columns(g, w, max) {
  const lo = new Float32Array(w).fill(Infinity), hi = new Float32Array(w).fill(-1), sum = new Float32Array(w), weight = new Float32Array(w);
  const px = w / max;
  let high = g.high;
  for (let i = 0; i < g.n; i++) {
    const v = g.speed[i], a = g.start[i] * px, b = (g.start[i] + took(g, i)) * px;
    if (v > high) high = v;
    for (let x = Math.max(0, Math.floor(a)), last = Math.min(w - 1, Math.floor(b)); x <= last; x++) {
      const part = Math.max(Math.min(b, x + 1) - Math.max(a, x), 1e-6);
      if (v < lo[x]) lo[x] = v;
      if (v > hi[x]) hi[x] = v;
      sum[x] += v * part; weight[x] += part;
    }
  }
  return { lo, hi, sum, weight, high };
}

/**
 * The time that a key leads to, within the run; undefined for a key that leads nowhere.
 * @param {import("./geometry.js").Geometry} g @param {number} time seconds @param {string} key @param {boolean} shift ten seconds for one
 */
export function moved(g, time, key, shift) {
  const step = shift ? 10 : 1, i = Math.max(begun(g, time + 1e-6) - 1, 0);
  const to = /** @type {Record<string, number>} */ ({
    ArrowRight: time + step, ArrowUp: time + step, ArrowLeft: time - step, ArrowDown: time - step,
    PageUp: time + 60, PageDown: time - 60, Home: 0, End: g.seconds,
    ".": g.start[Math.min(i + 1, g.n - 1)] + 1e-4, ",": g.start[Math.max(i - 1, 0)] + 1e-4,
  })[key];
  return to === undefined ? undefined : Math.min(g.seconds, Math.max(0, to));
}

export class Trace {
  /** @param {HTMLElement} el role=slider, holds a canvas and .cursor @param {(t: number, by: "hand"|"keys") => void} moved */
  constructor(el, moved) {
    this.el = el; this.moved = moved;
    this.canvas = /** @type {HTMLCanvasElement} */ (el.querySelector("canvas"));
    this.cursor = /** @type {HTMLElement} */ (el.querySelector(".cursor"));
    this.time = 0;
    const go = (/** @type {PointerEvent} */ e) => {
      const r = el.getBoundingClientRect();
      this.moved(Math.min(1, Math.max(0, (e.clientX - r.left) / r.width)) * this.max, "hand");
    };
    el.addEventListener("pointerdown", (e) => { if (e.button === 0) { el.setPointerCapture(e.pointerId); el.focus(); go(e); e.preventDefault(); } });
    el.addEventListener("pointermove", (e) => { if (el.hasPointerCapture(e.pointerId)) go(e); });
    el.addEventListener("keydown", (e) => this.#key(e));
    new ResizeObserver(() => this.draw()).observe(el);
    document.addEventListener("np:theme", () => this.draw());
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => this.draw());
  }
  /** Seconds at the right end. */
  get max() { return Number(this.el.dataset.max) || 1; }
  /** @param {KeyboardEvent} e */
  #key(e) {
    const g = this.g;
    if (!g || e.ctrlKey || e.metaKey) return;
    const to = moved(g, this.time, e.key, e.shiftKey);
    if (to === undefined) return;
    e.preventDefault();
    this.moved(to, "keys");
  }
  /** @param {import("./geometry.js").Geometry} g */
  set(g) { this.g = g; this.draw(); }
  /** @param {number} t @param {string} text read out */
  at(t, text) {
    this.time = t;
    this.cursor.style.left = `${t / this.max * 100}%`;
    this.el.setAttribute("aria-valuenow", t.toFixed(1));
    this.el.setAttribute("aria-valuetext", text);
  }
  draw() {
    if (this.asked) return;
    this.asked = requestAnimationFrame(() => { this.asked = 0; this.#draw(); });
  }
  #draw() {
    const g = this.g, dpr = Math.min(devicePixelRatio || 1, 2);
    const w = Math.round(this.canvas.clientWidth * dpr), h = Math.round(this.canvas.clientHeight * dpr);
    if (!g || w < 1 || h < 1) return;
    this.canvas.width = w; this.canvas.height = h;
    const c = /** @type {CanvasRenderingContext2D} */ (this.canvas.getContext("2d"));
    const style = getComputedStyle(document.documentElement), cloth = style.getPropertyValue("--np-cloth");
    c.fillStyle = cloth; c.fillRect(0, 0, w, h);
    const { lo, hi, sum, weight, high } = columns(g, w, this.max), px = w / this.max;
    const y = (/** @type {number} */ v) => h - v / (high * 1.04) * h, span = Math.max(g.high - g.low, 1);
    for (let x = 0; x < w; x++) {
      if (hi[x] < 0) continue;
      const m = sum[x] / weight[x], q = Math.round(Math.min(1, Math.max(0, (m - g.low) / span)) * 255) * 3;
      c.fillStyle = `rgb(${cividis[q]},${cividis[q + 1]},${cividis[q + 2]})`;
      c.fillRect(x, y(m), 1, h - y(m));
    }
    c.fillStyle = "rgba(29,33,36,.3)";
    for (let x = 0; x < w; x++) if (hi[x] - lo[x] > high / 200) c.fillRect(x, y(hi[x]), 1, y(lo[x]) - y(hi[x]));
    c.strokeStyle = "#1d2124"; c.lineWidth = dpr; c.lineJoin = "round"; c.beginPath();
    let pen = false;
    for (let x = 0; x < w; x++) {
      const m = hi[x] < 0 ? 0 : sum[x] / Math.max(weight[x], 1e-6) * Math.min(1, weight[x] + 0.02);
      const v = hi[x] < 0 ? 0 : weight[x] < 0.5 ? m : sum[x] / weight[x];
      if (pen) c.lineTo(x + 0.5, Math.min(h - dpr / 2, y(v))); else { c.moveTo(x + 0.5, Math.min(h - dpr / 2, y(v))); pen = true; }
      if (x > g.seconds * px) break;
    }
    c.stroke();
    c.font = `${11 * dpr}px Go, sans-serif`; c.fillStyle = "#1d2124"; c.strokeStyle = cloth; c.lineWidth = 3 * dpr;
    const tick = high > 700 ? 500 : high > 300 ? 200 : 100;
    for (let v = tick; v <= high; v += tick) {
      const text = v + tick > high ? perMinute(v) : whole(v);
      c.strokeText(text, 4 * dpr, y(v) + 12 * dpr); c.fillText(text, 4 * dpr, y(v) + 12 * dpr);
      c.fillRect(0, Math.round(y(v)), 3 * dpr, dpr);
    }
    this.el.dataset.drawn = String(Number(this.el.dataset.drawn || 0) + 1);
  }
}
