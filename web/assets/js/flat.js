// @ts-check
// Stitches by Canvas2D, for browsers without WebGL2 or a graphics card: the same
// picture. A small design is drawn at once; a large one in slices of time, so
// that no press waits for it, with the image so far shifted where the hand moves.

import { cividis } from "./cividis.js";

const bins = 24;
const slice = 10; // ms of drawing between two looks at what was pressed
const few = 1500; // stitches that are drawn at once

/** @typedef {{x:number,y:number,k:number,key:string,sewn:number,s:import("./drawing.js").Shown,w:number,h:number}} Picture a view, what is shown in it, px */

export class FlatStitches {
  /** @param {HTMLCanvasElement} canvas */
  constructor(canvas) {
    this.canvas = canvas;
    this.front = /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d"));
    this.whole = backstage(); // the last picture that was finished
    this.c = backstage(); // the one in work
    this.n = 0;
    /** @type {Picture | null} what whole is */ this.at = null;
    /** @type {Picture | null} what is worked on */ this.doing = null;
    /** @type {Picture | null} what was asked for last */ this.want = null;
  }
  /** @param {import("./geometry.js").Geometry} g */
  set(g) { this.g = g; this.n = g.n; this.at = this.doing = null; clearTimeout(this.later); }
  /** @param {import("./view.js").View} v @param {import("./drawing.js").Shown} s @param {boolean} [now] all of it before this returns */
  draw(v, s, now = false) {
    const w = Math.round(v.w * s.dpr), h = Math.round(v.h * s.dpr);
    const key = [!!s.kinds, s.only, s.from, s.to, s.first, s.past, s.cloth.join()].join();
    if (this.canvas.width !== w || this.canvas.height !== h) {
      for (const c of [this.canvas, this.whole.canvas, this.c.canvas]) { c.width = w; c.height = h; }
      this.at = this.doing = null;
    }
    this.want = { x: v.x, y: v.y, k: v.k, key, sewn: s.sewn, s: { ...s }, w, h };
    this.#go(now);
  }
  /** Works on what is wanted. @param {boolean} now */
  #go(now) {
    const want = /** @type {Picture} */ (this.want);
    if (!now && this.doing && goesOn(this.doing, want)) return; // what was sewn since comes after it
    clearTimeout(this.later);
    this.doing = want;
    if (this.at && goesOn(this.at, want)) { // playing: only what was sewn since
      const work = this.#since(this.at, want);
      if (now || want.sewn - this.at.sewn <= few) this.#all(work); else this.#some(work);
      return;
    }
    const work = this.#picture(want), moved = this.at && !sameView(this.at, want);
    if (now || this.n <= few) { this.#all(work); return; }
    if (moved && this.at) { // the image is shifted until the hand rests
      const f = want.k / this.at.k, c = this.front, k = want.k * want.s.dpr;
      c.setTransform(1, 0, 0, 1, 0, 0);
      c.fillStyle = css(want.s.cloth); c.fillRect(0, 0, want.w, want.h);
      c.setTransform(f, 0, 0, f, want.w / 2 * (1 - f) + (this.at.x - want.x) * k, want.h / 2 * (1 - f) - (this.at.y - want.y) * k);
      c.drawImage(this.whole.canvas, 0, 0);
    }
    this.later = setTimeout(() => this.#some(work), moved ? 120 : 0);
  }
  /** @param {Generator<void>} work */
  #all(work) { while (!work.next().done); this.#done(); }
  /** Draws for a slice of time, and goes on when the browser has had its turn. @param {Generator<void>} work */
  #some(work) {
    const until = performance.now() + slice;
    let done = false;
    while (!done && performance.now() < until) done = !!work.next().done;
    if (done) this.#done(); else this.later = setTimeout(() => this.#some(work), 0);
  }
  /** Shows what was worked on, and goes on where more is wanted by now. */
  #done() {
    this.at = this.doing; this.doing = null;
    this.front.setTransform(1, 0, 0, 1, 0, 0);
    this.front.drawImage(this.whole.canvas, 0, 0);
    if (this.want !== this.at) this.#go(false);
  }
  /** Design coordinates from here on. @param {CanvasRenderingContext2D} c @param {Picture} p */
  #place(c, p) {
    const k = p.k * p.s.dpr;
    c.setTransform(k, 0, 0, -k, p.w / 2 - p.x * k, p.h / 2 + p.y * k);
    c.lineCap = c.lineJoin = "round";
    c.lineWidth = Math.max(p.s.thread, 0.9 / k);
  }
  /** Draws what was sewn since upon the finished picture. @param {Picture} at @param {Picture} p */
  *#since(at, p) {
    this.#place(this.whole, p);
    yield* this.#lines(this.whole, at.sewn, p.sewn, p.s, 1, "");
  }
  /** Draws all of it. @param {Picture} p */
  *#picture(p) {
    const c = this.c, g = this.g, s = p.s;
    c.setTransform(1, 0, 0, 1, 0, 0);
    c.globalAlpha = 1; c.fillStyle = css(s.cloth); c.fillRect(0, 0, p.w, p.h);
    if (g) {
      this.#place(c, p);
      const near = s.past > s.first;
      if (near) yield* this.#lines(c, 0, g.n, s, 0.16, ""); else if (s.sewn < g.n) yield* this.#lines(c, s.sewn, g.n, s, 0.16, "");
      yield* this.#lines(c, near ? s.first : 0, near ? Math.min(s.sewn, s.past) : s.sewn, s, s.to > s.from ? 0.3 : 1, "");
      if (s.to > s.from) yield* this.#lines(c, s.from, s.to, s, 1, css(s.mark));
    }
    [this.whole, this.c] = [this.c, this.whole];
  }
  /** Draws stitches from … to. @param {CanvasRenderingContext2D} c @param {number} from @param {number} to @param {import("./drawing.js").Shown} s @param {number} alpha @param {string} one colour for all; "" for that of the speed */
  *#lines(c, from, to, s, alpha, one) {
    const g = /** @type {import("./geometry.js").Geometry} */ (this.g), span = Math.max(g.high - g.low, 1);
    let pen = -1, layer = -1;
    for (let i = from; i < to; i++) {
      const p = one ? 0 : s.kinds ? g.kind[i] : Math.min(bins - 1, Math.max(0, Math.floor((g.speed[i] - g.low) / span * bins)));
      if (p !== pen || g.layer[i] !== layer || i % 256 === 0) {
        if (pen >= 0) c.stroke();
        if (i % 256 === 0 && i > from) { c.getImageData(0, 0, 1, 1); yield; } // read: so it is drawn by now
        const q = Math.round(p / (bins - 1) * 255) * 3;
        c.strokeStyle = one || (s.kinds ? `rgb(${s.kinds[p]})` : `rgb(${cividis[q]},${cividis[q + 1]},${cividis[q + 2]})`);
        c.globalAlpha = alpha * (s.only >= 0 && g.layer[i] !== s.only ? 0.14 : 1);
        c.beginPath(); pen = p; layer = g.layer[i];
      }
      const k = 4 * i;
      c.moveTo(g.xy[k], g.xy[k + 1]); c.lineTo(g.xy[k + 2], g.xy[k + 3]);
    }
    if (pen >= 0) c.stroke();
    c.globalAlpha = 1;
  }
}

/** @param {number[]} c */
const css = (c) => `rgb(${c.map((v) => Math.round(v * 255)).join()})`;
/** A canvas that is not seen, and kept where the processor draws. @returns {CanvasRenderingContext2D} */
const backstage = () => /** @type {CanvasRenderingContext2D} */ (document.createElement("canvas").getContext("2d", { willReadFrequently: true }));
/** @param {Picture} a @param {Picture} b */
const sameView = (a, b) => a.x === b.x && a.y === b.y && a.k === b.k;
/** Whether b is a with more stitches sewn. @param {Picture} a @param {Picture} b */
const goesOn = (a, b) => a.key === b.key && sameView(a, b) && (a.sewn === b.sewn || a.sewn < b.sewn && b.s.to <= b.s.from && b.s.past <= b.s.first);
