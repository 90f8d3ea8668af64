// @ts-check
// Drawing: the design to scale on its cloth, with the needle, the scale bar
// and the places an audit points at.

import { GLStitches } from "./gl.js";
import { FlatStitches } from "./flat.js";
import { View } from "./view.js";
import { begun, needleAt } from "./geometry.js";
import { scaleLength } from "./words.js";

/**
 * @typedef {object} Shown
 * @property {number} dpr @property {number} thread width of the thread, 0.1 mm
 * @property {number} sewn stitches sewn so far @property {number} only layer to show, -1 all
 * @property {number} from @property {number} to stitches marked
 * @property {number} first @property {number} past stitches that a zoomed trace shows, others are paler; first = past: all
 * @property {number[][] | null} kinds colours of the kinds, 0…255, to colour by them; null: by speed
 * @property {number[]} cloth @property {number[]} mark colours, 0…1
 */

export class Drawing {
  /** @param {HTMLElement} el the cloth: holds a canvas, .needle and .scalebar @param {() => void} [looked] is told when another part of the design is seen */
  constructor(el, looked = () => {}) {
    this.el = el; this.looked = looked;
    this.needle = /** @type {HTMLElement} */ (el.querySelector(".needle"));
    this.bar = /** @type {HTMLElement} */ (el.querySelector(".scalebar"));
    this.marks = /** @type {HTMLElement[]} */ ([...el.querySelectorAll("[data-mark]")]);
    /** @type {Shown} */ this.shown = { dpr: Math.min(devicePixelRatio || 1, 2), thread: 3.6, sewn: 0, only: -1, from: 0, to: 0, first: 0, past: 0, kinds: null, cloth: [1, 1, 1], mark: [0, 0, 0] };
    this.time = Infinity;
    this.view = new View(el, () => { this.redraw(); this.looked(); });
    /** @type {GLStitches | FlatStitches} */ this.stitches = this.#renderer();
    const again = () => { this.#colours(); this.redraw(); };
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", again);
    document.addEventListener("np:theme", again);
    this.#colours();
    this.view.resize();
    addEventListener("beforeprint", () => this.#print(true));
    addEventListener("afterprint", () => this.#print(false));
  }
  /** On paper: white, in the size of paper, at once. @param {boolean} on */
  #print(on) {
    this.el.closest(".run")?.toggleAttribute("data-paper", on);
    this.shown.dpr = on ? 3 : Math.min(devicePixelRatio || 1, 2);
    if (on) this.shown.cloth = [1, 1, 1]; else this.#colours();
    this.view.resize();
    this.#draw(true);
  }
  /** The renderer for this browser: WebGL2 where it has it. @returns {GLStitches | FlatStitches} */
  #renderer() {
    const canvas = /** @type {HTMLCanvasElement} */ (this.el.querySelector("canvas"));
    if (!new URLSearchParams(location.search).has("flat")) try {
      const r = new GLStitches(canvas);
      this.el.dataset.by = "webgl2";
      canvas.addEventListener("webglcontextlost", (e) => { e.preventDefault(); this.#plain(); this.redraw(); });
      return r;
    } catch { /* no WebGL2 here: the plain canvas does it */ }
    return this.#plain();
  }
  /** Goes on with the plain canvas; one that WebGL2 had cannot be used again. @returns {FlatStitches} */
  #plain() {
    const old = /** @type {HTMLCanvasElement} */ (this.el.querySelector("canvas")), fresh = document.createElement("canvas");
    fresh.setAttribute("aria-hidden", "true");
    old.replaceWith(fresh);
    this.el.dataset.by = "canvas";
    const plain = new FlatStitches(fresh);
    if (this.g) plain.set(this.g);
    return this.stitches = plain;
  }
  #colours() {
    const s = getComputedStyle(document.documentElement);
    this.shown.cloth = hex(s.getPropertyValue("--np-cloth")); this.shown.mark = hex("#b3261e");
  }
  /** @param {import("./geometry.js").Geometry} g */
  set(g) {
    const first = !this.g;
    this.g = g;
    this.view.box = g.box;
    this.stitches.set(g);
    if (first || this.view.fitted) this.view.fit();
    // Where the processor has to compute WebGL2, a press waits for each frame; the
    // plain canvas draws a slice at a time.
    if (first && g.total > 2000 && this.stitches instanceof GLStitches) {
      const frame = this.stitches.pace(this.view, this.shown) * g.total / 1000; // ms
      if (frame > 30) { this.#plain(); this.el.dataset.slow = frame.toFixed(0); }
    }
    this.redraw();
  }
  /** @param {number} t seconds; Infinity shows all */
  at(t) { this.time = t; this.redraw(); }
  /** @param {number} layer −1 for all */
  only(layer) { this.shown.only = layer; this.redraw(); }
  /** Colours by kind of stitches, or by speed. @param {number[][] | null} kinds colours of the kinds, 0…255 */
  by(kinds) { this.shown.kinds = kinds; this.redraw(); }
  /** Pales all but stitches first … past; none paler where they are equal. @param {number} first @param {number} past */
  span(first, past) { if (first !== this.shown.first || past !== this.shown.past) { this.shown.first = first; this.shown.past = past; this.redraw(); } }
  /** @param {number} from @param {number} to */
  mark(from, to) { this.shown.from = from; this.shown.to = to; this.redraw(); }
  redraw() {
    if (this.asked) return;
    this.asked = requestAnimationFrame(() => { this.asked = 0; this.#draw(); });
  }
  /** @param {boolean} [now] */
  #draw(now = false) {
    const g = this.g, v = this.view;
    if (!g) return;
    const sewing = this.time < g.seconds;
    this.shown.sewn = sewing ? begun(g, this.time) : g.n;
    this.stitches.draw(v, this.shown, now);
    this.el.toggleAttribute("data-fitted", v.fitted); // all of it is seen: a finger scrolls the page
    this.needle.hidden = !sewing;
    if (sewing) { const p = needleAt(g, this.time), [x, y] = v.px(p.x, p.y); this.needle.style.transform = `translate(${x}px,${y}px)`; }
    for (const m of this.marks) { const [x, y] = v.px(Number(m.dataset.x) * 10, Number(m.dataset.y) * 10); m.style.transform = `translate(${x}px,${y}px)`; m.style.setProperty("--ring", `${Math.max(5, Number(m.dataset.r || 0) * 10 * v.k)}px`); }
    this.#scale();
    this.el.dataset.frames = String(Number(this.el.dataset.frames || 0) + 1);
  }
  #scale() {
    const inch = document.documentElement.dataset.length === "inch", unit = inch ? 254 : 10; // 0.1 mm
    const most = this.view.w * 0.3 / this.view.k / unit;
    let size = 10 ** Math.floor(Math.log10(most));
    for (const m of [5, 2]) if (size * m <= most) { size *= m; break; }
    this.bar.style.width = `${size * unit * this.view.k}px`;
    /** @type {HTMLElement} */ (this.bar.firstElementChild).textContent = scaleLength(size);
  }
}

/** @param {string} s @returns {number[]} */
function hex(s) { const v = parseInt(s.trim().slice(1), 16); return [(v >> 16 & 255) / 255, (v >> 8 & 255) / 255, (v & 255) / 255]; }
