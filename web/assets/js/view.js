// @ts-check
// View: which part of the design is seen and how large; drag, wheel, pinch
// and keys change it.

/** @typedef {{x0:number,y0:number,x1:number,y1:number}} Box in 0.1 mm, y up */

export class View {
  /** @param {HTMLElement} el @param {() => void} changed */
  constructor(el, changed) {
    this.el = el; this.changed = changed;
    this.w = 1; this.h = 1;
    this.x = 0; this.y = 0; // design point at the middle
    this.k = 1; // px per 0.1 mm
    /** @type {Box} */ this.box = { x0: 0, y0: 0, x1: 1, y1: 1 };
    this.fitted = true;
    /** @type {Map<number, {x:number,y:number}>} */ this.fingers = new Map();
    el.addEventListener("pointerdown", (e) => { if (e.button === 0 && !(e.target instanceof HTMLButtonElement)) { this.fingers.set(e.pointerId, this.#at(e)); el.setPointerCapture(e.pointerId); } });
    el.addEventListener("pointermove", (e) => this.#move(e));
    for (const t of ["pointerup", "pointercancel"]) el.addEventListener(t, (e) => this.fingers.delete(/** @type {PointerEvent} */(e).pointerId));
    el.addEventListener("wheel", (e) => {
      if (!e.ctrlKey && !this.el.matches(":focus, :focus-within")) return; // the page scrolls until the drawing is chosen
      e.preventDefault();
      const p = this.#at(e);
      this.zoom(Math.exp(-e.deltaY * (e.deltaMode ? 0.05 : 0.0016)), p.x, p.y);
    }, { passive: false });
    el.addEventListener("dblclick", () => this.fit());
    el.addEventListener("keydown", (e) => {
      const step = 60;
      const keys = /** @type {Record<string, () => void>} */ ({
        "+": () => this.zoom(1.4), "=": () => this.zoom(1.4), "-": () => this.zoom(1 / 1.4), "0": () => this.fit(),
        ArrowLeft: () => this.pan(step, 0), ArrowRight: () => this.pan(-step, 0), ArrowUp: () => this.pan(0, step), ArrowDown: () => this.pan(0, -step),
      });
      if (keys[e.key] && !e.ctrlKey && !e.metaKey && e.target === el) { keys[e.key](); e.preventDefault(); }
    });
    new ResizeObserver(() => this.resize()).observe(el);
  }
  /** @param {MouseEvent} e */
  #at(e) { const r = this.el.getBoundingClientRect(); return { x: e.clientX - r.left, y: e.clientY - r.top }; }
  /** @param {PointerEvent} e */
  #move(e) {
    const was = this.fingers.get(e.pointerId);
    if (!was) return;
    const now = this.#at(e);
    if (this.fingers.size === 1) this.pan(now.x - was.x, now.y - was.y);
    else {
      const other = [...this.fingers].find(([id]) => id !== e.pointerId)?.[1];
      if (other) {
        const d0 = Math.hypot(was.x - other.x, was.y - other.y), d1 = Math.hypot(now.x - other.x, now.y - other.y);
        if (d0 > 4) this.zoom(d1 / d0, (now.x + other.x) / 2, (now.y + other.y) / 2);
        this.pan((now.x - was.x) / 2, (now.y - was.y) / 2);
      }
    }
    this.fingers.set(e.pointerId, now);
  }
  resize() {
    const w = this.el.clientWidth || 1, h = this.el.clientHeight || 1;
    if (w === this.w && h === this.h) return;
    this.w = w; this.h = h;
    if (this.fitted) this.fit(); else this.changed();
  }
  /** Shows all of the box. */
  fit() {
    const b = this.box, pad = 28;
    this.k = Math.min((this.w - 2 * pad) / Math.max(b.x1 - b.x0, 10), (this.h - 2 * pad) / Math.max(b.y1 - b.y0, 10), 4);
    this.k = Math.max(this.k, 1e-4);
    this.x = (b.x0 + b.x1) / 2; this.y = (b.y0 + b.y1) / 2;
    this.fitted = true;
    this.changed();
  }
  /** @param {number} dx @param {number} dy px */
  pan(dx, dy) { this.x -= dx / this.k; this.y += dy / this.k; this.fitted = false; this.changed(); }
  /** @param {number} f @param {number} [px] @param {number} [py] px that stays where it is */
  zoom(f, px = this.w / 2, py = this.h / 2) {
    const k = Math.min(40, Math.max(1e-4, this.k * f)), q = 1 / this.k - 1 / k;
    this.x += (px - this.w / 2) * q; this.y -= (py - this.h / 2) * q;
    this.k = k; this.fitted = false; this.changed();
  }
  /** Goes to a place, near enough to see it. @param {number} x @param {number} y 0.1 mm @param {number} [size] of what is to be seen, 0.1 mm */
  goto(x, y, size = 120) {
    this.x = x; this.y = y; this.fitted = false;
    this.k = Math.min(4, Math.max(this.k, Math.min(this.w, this.h) / 3 / Math.max(size, 60)));
    this.changed();
  }
  /** Shows a box, as large as it goes. @param {Box} b */
  frame(b) {
    const pad = 28;
    this.x = (b.x0 + b.x1) / 2; this.y = (b.y0 + b.y1) / 2; this.fitted = false;
    this.k = Math.max(1e-4, Math.min((this.w - 2 * pad) / Math.max(b.x1 - b.x0, 30), (this.h - 2 * pad) / Math.max(b.y1 - b.y0, 30), 8));
    this.changed();
  }
  /** The part of the design that is seen. @returns {Box} */
  seen() { const w = this.w / this.k / 2, h = this.h / this.k / 2; return { x0: this.x - w, y0: this.y - h, x1: this.x + w, y1: this.y + h }; }
  /** @param {number} x @param {number} y 0.1 mm @returns {[number, number]} px */
  px(x, y) { return [this.w / 2 + (x - this.x) * this.k, this.h / 2 - (y - this.y) * this.k]; }
}
