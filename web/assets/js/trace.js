// @ts-check
// Trace: shaft speed against time under the drawing, in the colours of the
// drawing; the same axis as the strip. A slider: hand or keys move the time.
// Its time can be zoomed: then it shows from … to.

import { cividis } from "./cividis.js";
import { begun, took } from "./geometry.js";
import { whole, perMinute, clock } from "./words.js";

/**
 * What is sewn in each px column: lowest and highest speed, their sum over the time in it, and that time in px.
 * @typedef {{lo: Float32Array, hi: Float32Array, sum: Float32Array, weight: Float32Array, high: number}} Columns
 */

/** @param {import("./geometry.js").Geometry} g @param {number} w px @param {number} to seconds at the right end @param {number} [from] at the left end @returns {Columns} */
export function columns(g, w, to, from = 0) {
  const lo = new Float32Array(w).fill(Infinity), hi = new Float32Array(w).fill(-1), sum = new Float32Array(w), weight = new Float32Array(w);
  const px = w / (to - from);
  let high = g.high;
  for (let i = Math.max(0, begun(g, from) - 1); i < g.n && g.start[i] <= to; i++) {
    const v = g.speed[i], a = (g.start[i] - from) * px, b = (g.start[i] + took(g, i) - from) * px;
    if (b < 0) continue;
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

/** The least that a zoomed axis shows, seconds. */
const least = 2;

/** Ticks of a stretch of time: a round step, six or so. @param {number} from @param {number} to @returns {number[]} */
export function ticks(from, to) {
  const step = [0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600].find((s) => (to - from) / s <= 7) || 7200;
  const all = [];
  for (let k = Math.max(0, Math.ceil(from / step - 1e-9)); k * step <= to + 1e-9; k++) all.push(k * step);
  return all;
}

export class Trace {
  /**
   * @param {HTMLElement} el role=slider, holds a canvas and .cursor; its parent holds what is stretched with it
   * @param {(t: number, by: "hand"|"keys") => void} moved
   * @param {() => void} zoomed is told when from or to changed
   */
  constructor(el, moved, zoomed) {
    this.el = el; this.moved = moved; this.zoomed = zoomed;
    this.box = /** @type {HTMLElement} */ (el.parentElement);
    this.canvas = /** @type {HTMLCanvasElement} */ (el.querySelector("canvas"));
    this.cursor = /** @type {HTMLElement} */ (el.querySelector(".cursor"));
    this.paper = false; this.time = 0; this.from = 0; this.to = this.max; this.shownMax = 0;
    /** @type {import("./geometry.js").Geometry | undefined} another machine's run of the design */ this.other = undefined;
    /** @type {import("./geometry.js").Geometry["box"] | null} the part of the design that is seen; null: all */ this.seen = null;
    el.addEventListener("pointerdown", (e) => { if (e.button === 0) { el.setPointerCapture(e.pointerId); el.focus(); this.moved(this.when(e), "hand"); e.preventDefault(); } });
    el.addEventListener("pointermove", (e) => { if (el.hasPointerCapture(e.pointerId)) this.moved(this.when(e), "hand"); });
    el.addEventListener("keydown", (e) => this.#key(e));
    el.addEventListener("wheel", (e) => {
      if (!e.ctrlKey && document.activeElement !== el) return; // the page scrolls until the trace is chosen
      e.preventDefault();
      if (e.shiftKey || Math.abs(e.deltaX) > Math.abs(e.deltaY)) this.pan((e.deltaX || e.deltaY) / Math.max(el.clientWidth, 1) * (this.to - this.from));
      else this.zoom(Math.exp(-e.deltaY * (e.deltaMode ? 0.05 : 0.0016)), this.when(e));
    }, { passive: false });
    new ResizeObserver(() => this.draw()).observe(el);
    document.addEventListener("np:theme", () => this.draw());
    for (const [kind, on] of /** @type {[string, boolean][]} */ ([["beforeprint", true], ["afterprint", false]])) addEventListener(kind, () => { this.paper = on; this.#draw(); });
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => this.draw());
  }
  /** Seconds at the right end of all of it. */
  get max() { return Number(this.el.dataset.max) || 1; }
  get zoomedIn() { return this.to - this.from < this.max * 0.999; }
  /** The time at the pointer. @param {MouseEvent} e */
  when(e) {
    const r = this.el.getBoundingClientRect();
    return this.from + Math.min(1, Math.max(0, (e.clientX - r.left) / r.width)) * (this.to - this.from);
  }
  /** Shows from … to, within the run. @param {number} from @param {number} to seconds */
  window(from, to) {
    const span = Math.min(this.max, Math.max(to - from, least, this.max / 400)), begin = Math.min(this.max - span, Math.max(0, from));
    if (begin === this.from && begin + span === this.to) return;
    this.from = begin; this.to = begin + span;
    this.#stretch();
    this.at(this.time, this.el.getAttribute("aria-valuetext") || "");
    this.draw();
    this.zoomed();
  }
  /** @param {number} f larger than 1: closer @param {number} [about] the time that stays where it is */
  zoom(f, about) {
    const t = about ?? (this.time >= this.from && this.time <= this.to ? this.time : (this.from + this.to) / 2);
    const span = Math.min(this.max, Math.max((this.to - this.from) / f, least, this.max / 400)), share = (t - this.from) / (this.to - this.from);
    this.window(t - span * share, t + span * (1 - share));
  }
  /** @param {number} by seconds */
  pan(by) { this.window(this.from + by, this.to + by); }
  all() { this.window(0, this.max); }
  /** What lies under the trace in the order of time is stretched with it. */
  #stretch() {
    const k = this.max / (this.to - this.from), near = this.box.querySelector(".axis.near");
    this.box.style.setProperty("--k", String(k));
    this.box.style.setProperty("--off", String(this.from / (this.to - this.from)));
    this.box.toggleAttribute("data-zoomed", this.zoomedIn);
    if (near) near.innerHTML = ticks(this.from, this.to).map((t) => {
      const x = ((t - this.from) / (this.to - this.from) * 100).toFixed(2);
      return `<line x1="${x}%" x2="${x}%" y1="0" y2="4"/><text x="${x}%" y="16" text-anchor="${Number(x) < 2 ? "start" : Number(x) > 96 ? "end" : "middle"}">${clock(t)}</text>`;
    }).join("");
  }
  /** @param {KeyboardEvent} e */
  #key(e) {
    const g = this.g;
    if (!g || e.ctrlKey || e.metaKey) return;
    const to = moved(g, this.time, e.key, e.shiftKey);
    if (to !== undefined) { e.preventDefault(); this.moved(to, "keys"); return; }
    const act = /** @type {Record<string, () => void>} */ ({ "+": () => this.zoom(1.6), "=": () => this.zoom(1.6), "-": () => this.zoom(1 / 1.6), "0": () => this.all() })[e.key];
    if (act) { e.preventDefault(); act(); }
  }
  /** @param {import("./geometry.js").Geometry} g */
  set(g) {
    this.g = g;
    if (this.shownMax !== this.max) { this.shownMax = this.max; this.window(0, this.max); } // another run: all of it
    this.draw();
  }
  /** @param {number} t @param {string} text read out */
  at(t, text) {
    this.time = t;
    this.cursor.style.left = `${(t - this.from) / (this.to - this.from) * 100}%`;
    this.cursor.hidden = t < this.from || t > this.to;
    this.el.setAttribute("aria-valuenow", t.toFixed(1));
    this.el.setAttribute("aria-valuetext", text);
  }
  /** Moves what is shown so that a time is in it. @param {number} t */
  reveal(t) { if (t < this.from || t > this.to) this.window(t - (this.to - this.from) / 4, t + (this.to - this.from) * 3 / 4); }
  draw() {
    if (this.asked) return;
    this.asked = requestAnimationFrame(() => { this.asked = 0; this.#draw(); });
  }
  #draw() {
    const g = this.g, dpr = this.paper ? 3 : Math.min(devicePixelRatio || 1, 2);
    const w = Math.round(this.canvas.clientWidth * dpr), h = Math.round(this.canvas.clientHeight * dpr);
    if (!g || w < 1 || h < 1) return;
    this.canvas.width = w; this.canvas.height = h;
    const c = /** @type {CanvasRenderingContext2D} */ (this.canvas.getContext("2d"));
    const style = getComputedStyle(document.documentElement), cloth = this.paper ? "#fff" : style.getPropertyValue("--np-cloth");
    c.fillStyle = cloth; c.fillRect(0, 0, w, h);
    const { lo, hi, sum, weight, high } = columns(g, w, this.to, this.from), px = w / (this.to - this.from);
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
      if (x > (g.seconds - this.from) * px) break;
    }
    c.stroke();
    delete this.el.dataset.seen;
    if (this.seen) this.#veil(c, g, w, h, px, cloth);
    if (this.other) this.#beside(c, this.other, w, y, dpr);
    c.font = `${11 * dpr}px Go, sans-serif`; c.fillStyle = "#1d2124"; c.strokeStyle = cloth; c.lineWidth = 3 * dpr;
    const tick = high > 700 ? 500 : high > 300 ? 200 : 100;
    for (let v = tick; v <= high; v += tick) {
      const text = v + tick > high ? perMinute(v) : whole(v);
      c.strokeText(text, 4 * dpr, y(v) + 12 * dpr); c.fillText(text, 4 * dpr, y(v) + 12 * dpr);
      c.fillRect(0, Math.round(y(v)), 3 * dpr, dpr);
    }
    this.el.dataset.drawn = String(Number(this.el.dataset.drawn || 0) + 1);
  }
  /** Pales what is sewn outside of the part of the design that is seen. @param {CanvasRenderingContext2D} c @param {import("./geometry.js").Geometry} g @param {number} w @param {number} h @param {number} px a second @param {string} cloth */
  #veil(c, g, w, h, px, cloth) {
    const b = /** @type {import("./geometry.js").Geometry["box"]} */ (this.seen), inside = new Uint8Array(w);
    for (let i = Math.max(0, begun(g, this.from) - 1); i < g.n && g.start[i] <= this.to; i++) {
      const x = g.xy[4 * i + 2], y = g.xy[4 * i + 3];
      if (x < b.x0 || x > b.x1 || y < b.y0 || y > b.y1) continue;
      const last = Math.min(w - 1, Math.floor((g.start[i] + took(g, i) - this.from) * px));
      for (let k = Math.max(0, Math.floor((g.start[i] - this.from) * px)); k <= last; k++) inside[k] = 1;
    }
    c.save();
    c.fillStyle = cloth; c.globalAlpha = 0.72;
    let hidden = 0;
    for (let x = 0; x < w; x++) if (!inside[x]) { c.fillRect(x, 0, 1, h); hidden++; }
    c.restore();
    this.el.dataset.seen = ((w - hidden) / w).toFixed(3);
  }
  /** The other machine's speed as a dashed line. @param {CanvasRenderingContext2D} c @param {import("./geometry.js").Geometry} o @param {number} w @param {(v: number) => number} y @param {number} dpr */
  #beside(c, o, w, y, dpr) {
    const { hi, sum, weight } = columns(o, w, this.to, this.from);
    c.save();
    c.strokeStyle = "#b3261e"; c.lineWidth = 1.5 * dpr; c.setLineDash([5 * dpr, 3 * dpr]); c.beginPath();
    for (let x = 0; x < w && this.from + x / w * (this.to - this.from) <= o.seconds; x++) {
      const v = y(hi[x] < 0 || weight[x] < 0.02 ? 0 : sum[x] / weight[x]);
      if (x) c.lineTo(x + 0.5, v); else c.moveTo(x + 0.5, v);
    }
    c.stroke(); c.restore();
  }
}
