// @ts-check
// Stitches by Canvas2D, for browsers without WebGL2: the same picture, drawn
// whole when the hand rests and shifted as an image while it moves.

import { cividis } from "./cividis.js";

const bins = 24;

export class FlatStitches {
  /** @param {HTMLCanvasElement} canvas */
  constructor(canvas) {
    this.canvas = canvas;
    this.c = /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d"));
    this.n = 0;
    this.kept = document.createElement("canvas");
    /** @type {{x:number,y:number,k:number,key:string,sewn:number,kept:boolean}|null} what the canvas shows */ this.at = null;
  }
  /** @param {import("./geometry.js").Geometry} g */
  set(g) { this.g = g; this.n = g.n; this.at = null; }
  /** @param {import("./view.js").View} v @param {import("./drawing.js").Shown} s */
  draw(v, s) {
    const w = Math.round(v.w * s.dpr), h = Math.round(v.h * s.dpr);
    if (this.canvas.width !== w || this.canvas.height !== h) { this.canvas.width = w; this.canvas.height = h; this.at = null; }
    const key = [!!s.kinds, s.only, s.from, s.to, s.first, s.past, s.cloth.join()].join();
    clearTimeout(this.later);
    const at = this.at && this.at.key === key ? this.at : null;
    if (at && at.x === v.x && at.y === v.y && at.k === v.k && s.sewn >= at.sewn && s.to <= s.from && s.past <= s.first) {
      this.#place(v, s, w, h); // playing: only what was sewn since
      this.#lines(at.sewn, s.sewn, s, 1, "");
      at.sewn = s.sewn; at.kept = false;
      return;
    }
    if (at && this.n > 15000 && at.sewn === s.sewn) { // moving: the image is shifted until the hand rests
      if (!at.kept) { this.#keep(w, h); at.kept = true; }
      const f = v.k / at.k, c = this.c;
      c.setTransform(1, 0, 0, 1, 0, 0);
      c.globalAlpha = 1; c.fillStyle = css(s.cloth); c.fillRect(0, 0, w, h);
      c.setTransform(f, 0, 0, f, w / 2 * (1 - f) + (at.x - v.x) * v.k * s.dpr, h / 2 * (1 - f) - (at.y - v.y) * v.k * s.dpr);
      c.drawImage(this.kept, 0, 0);
      this.later = setTimeout(() => this.#whole(v, s, w, h, key), 120);
      return;
    }
    this.#whole(v, s, w, h, key);
  }
  /** Keeps what the canvas shows. @param {number} w @param {number} h px */
  #keep(w, h) {
    this.kept.width = w; this.kept.height = h;
    /** @type {CanvasRenderingContext2D} */ (this.kept.getContext("2d")).drawImage(this.canvas, 0, 0);
  }
  /** Design coordinates from here on. @param {import("./view.js").View} v @param {import("./drawing.js").Shown} s @param {number} w @param {number} h px */
  #place(v, s, w, h) {
    const c = this.c, k = v.k * s.dpr;
    c.setTransform(k, 0, 0, -k, w / 2 - v.x * k, h / 2 + v.y * k);
    c.lineCap = c.lineJoin = "round";
    c.lineWidth = Math.max(s.thread, 0.9 / k);
  }
  /** Draws all of it. @param {import("./view.js").View} v @param {import("./drawing.js").Shown} s @param {number} w @param {number} h px @param {string} key */
  #whole(v, s, w, h, key) {
    const c = this.c, g = this.g, began = performance.now();
    c.setTransform(1, 0, 0, 1, 0, 0);
    c.globalAlpha = 1; c.fillStyle = css(s.cloth); c.fillRect(0, 0, w, h);
    if (g) {
      this.#place(v, s, w, h);
      const near = s.past > s.first;
      if (near) this.#lines(0, g.n, s, 0.16, ""); else if (s.sewn < g.n) this.#lines(s.sewn, g.n, s, 0.16, "");
      this.#lines(near ? s.first : 0, near ? Math.min(s.sewn, s.past) : s.sewn, s, s.to > s.from ? 0.3 : 1, "");
      if (s.to > s.from) this.#lines(s.from, s.to, s, 1, css(s.mark));
    }
    this.at = { x: v.x, y: v.y, k: v.k, key, sewn: s.sewn, kept: false };
    this.canvas.dataset.whole = String(Math.round(performance.now() - began)); // ms
  }
  /** Draws stitches from … to. @param {number} from @param {number} to @param {import("./drawing.js").Shown} s @param {number} alpha @param {string} one colour for all; "" for that of the speed */
  #lines(from, to, s, alpha, one) {
    const g = /** @type {import("./geometry.js").Geometry} */ (this.g), c = this.c, span = Math.max(g.high - g.low, 1);
    let pen = -1, layer = -1;
    for (let i = from; i < to; i++) {
      const p = one ? 0 : s.kinds ? g.kind[i] : Math.min(bins - 1, Math.max(0, Math.floor((g.speed[i] - g.low) / span * bins)));
      if (p !== pen || g.layer[i] !== layer) {
        if (pen >= 0) c.stroke();
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
