// @ts-check
// Bars: the plan as strips over open time, a row a machine. Only what is seen is
// drawn: wide lots are buttons, which can be read and moved; narrow ones a picture.

import { say, count, daytime, moment, near, writes } from "./words.js";

/**
 * The plan as the server sends it (pages/plan_bars.go); times are seconds after from.
 * @typedef {object} Sent
 * @property {number} version @property {number} from Unix time @property {number} now
 * @property {string} zone @property {boolean} hours12
 * @property {{at: number, label: string}[]} days
 * @property {number[][]} opens @property {{id: string, name: string, heads: string, open: number}[]} machines
 * @property {string[]} customers @property {string[]} designs @property {string[]} chances
 * @property {Record<"number"|"line"|"lines"|"machine"|"customer"|"design"|"pieces"|"sewn"|"free"|"set_up"|"wait"|"sews"|"risk"|"chance"|"is", number[]>} lots
 */
/**
 * A lot of it.
 * @typedef {object} Lot
 * @property {number} i its place in the plan @property {string} value as forms have it @property {string} name
 * @property {number} number @property {number} line @property {number} row of its machine
 * @property {string} customer @property {string} design @property {number} pieces @property {number} done
 * @property {number} setup @property {number} ready @property {number} from @property {number} to
 * @property {number} risk 0 none, 1 some, 2 late @property {string} chance "" for no due day
 * @property {boolean} running @property {boolean} held @property {boolean} again
 */

/** @param {Sent} sent @returns {Lot[]} */
export function lotsOf(sent) {
  const all = sent.lots, /** @type {number[]} */ ended = [];
  /** A reader of texts: 0 is the next of them, else how many before it. @param {string[]} texts */
  const reader = (texts) => { let next = 0; return (/** @type {number} */ back) => texts[back ? next - back : next++]; };
  const customer = reader(sent.customers), design = reader(sent.designs);
  return all.number.map((number, i) => {
    const line = all.line[i], row = all.machine[i], chance = all.chance[i], is = all.is[i];
    const setup = (ended[row] ?? 0) + all.free[i], ready = setup + all.set_up[i], from = ready + all.wait[i], to = ended[row] = from + all.sews[i];
    return {
      i, value: `${number}/${line}@${sent.machines[row].id}`, name: all.lines[i] ? `${number}/${line}` : String(number), number, line, row,
      customer: customer(all.customer[i]), design: design(all.design[i]), pieces: all.pieces[i], done: all.sewn[i], setup, ready: Math.min(ready, from), from, to,
      risk: all.risk[i], chance: chance < 0 ? "" : sent.chances[chance], running: !!(is & 1), held: !!(is & 2), again: !!(is & 4),
    };
  });
}

const night = 6; // px of time in which nothing is open

/** Time along a line from which nights are taken out. */
export class Axis {
  /** @param {number[][]} opens from, to, from, to … @param {number} end the last thing shown */
  constructor(opens, end) {
    const all = opens.flatMap((o) => o.length ? Array.from({ length: o.length >> 1 }, (_, k) => [Math.max(0, o[2 * k]), o[2 * k + 1]]) : [[0, end]]).filter(([a, b]) => b > a && a < end).sort((a, b) => a[0] - b[0]);
    /** @type {number[][]} from, to, open seconds before it */ this.spans = [];
    for (const [a, b] of all) {
      const last = this.spans.at(-1);
      if (last && a <= last[1] + 1800) last[1] = Math.max(last[1], b); // a pause is no night
      else this.spans.push([a, b, 0]);
    }
    if (!this.spans.length) this.spans = [[0, Math.max(end, 3600), 0]];
    const last = this.spans[this.spans.length - 1];
    last[1] = Math.max(last[1], end); // what is beyond the hours entered
    this.open = 0;
    for (const s of this.spans) { s[2] = this.open; this.open += s[1] - s[0]; }
    this.k = 1 / 60; // px a second
  }
  /** Its whole length, px. */
  get length() { return this.open * this.k + night * (this.spans.length - 1); }
  /** The k at which all of it is so long. @param {number} px */
  fits(px) { return Math.max(px - night * (this.spans.length - 1), 40) / this.open; }
  /** The last span that begins at or before what by says. @param {(s: number[], k: number) => boolean} by */
  #span(by) {
    let lo = 0, hi = this.spans.length - 1;
    while (lo < hi) { const m = (lo + hi + 1) >> 1; if (by(this.spans[m], m)) lo = m; else hi = m - 1; }
    return lo;
  }
  /** Where a time lies. @param {number} t @returns {number} px */
  x(t) {
    const k = this.#span((s) => s[0] <= t), s = this.spans[k];
    return (s[2] + Math.min(Math.max(t - s[0], 0), s[1] - s[0])) * this.k + night * k;
  }
  /** The time at a place. @param {number} x px @returns {number} */
  t(x) {
    const k = this.#span((s, n) => s[2] * this.k + night * n <= x), s = this.spans[k];
    return s[0] + Math.min(Math.max((x - night * k) / this.k - s[2], 0), s[1] - s[0]);
  }
}

/** The first of lots in the order of time that ends after t. @param {Lot[]} lots @param {number} t */
export function firstAfter(lots, t) {
  let lo = 0, hi = lots.length;
  while (lo < hi) { const m = (lo + hi) >> 1; if (lots[m].to > t) hi = m; else lo = m + 1; }
  return lo;
}

/** What a lot's risk is called. @param {Lot} l */
export const riskSays = (l) => l.risk === 2 ? say("bars.late") : l.risk === 1 ? say("bars.at-risk", { chance: l.chance }) : "";
/** Done and left. @param {Lot} l */
export const doneSays = (l) => l.done ? say("bars.done-left", { done: l.done, left: l.pieces - l.done }) : count(l.pieces, "piece");

const narrow = 26; // px: what is narrower is drawn and no button
const head = 26; // px of the line of days

export class Bars {
  /** @param {HTMLElement} el the box that scrolls @param {Sent} sent */
  constructor(el, sent) {
    this.el = el; this.sent = sent; this.end = 0; this.axis = new Axis([], 0);
    /** @type {Lot[]} */ this.lots = [];
    /** @type {Lot[][]} a row a machine, in the order of time */ this.rows = [];
    /** @type {number | undefined} the lot that stays drawn wherever it is */ this.kept = undefined;
    /** @type {{i: number, row: number, t: number} | undefined} a lot that keys have taken elsewhere */ this.moved = undefined;
    /** @type {Intl.DateTimeFormat | undefined} to make one takes longer than to draw a bar */ this.writes = undefined;
    this.field = document.createElement("div"); this.field.className = "barfield";
    this.canvas = document.createElement("canvas"); this.canvas.setAttribute("aria-hidden", "true");
    this.top = document.createElement("canvas"); this.top.className = "bartop"; this.top.setAttribute("aria-hidden", "true");
    this.list = document.createElement("div"); this.list.className = "barlist"; this.list.setAttribute("role", "group");
    this.names = document.createElement("div"); this.names.className = "barnames";
    this.ghost = document.createElement("i"); this.ghost.className = "barghost"; this.ghost.hidden = true;
    this.field.append(this.canvas, this.list, this.ghost, this.names, this.top);
    el.replaceChildren(this.field);
    /** @type {Map<number, HTMLButtonElement>} */ this.shown = new Map();
    this.all = true; this.asked = 0;
    /** What the page's layout says, as it was when all was drawn last: asked for between two bars it is worked out anew for each. */ this.known = { side: 0, row: 46 };
    this.plan(sent);
    el.addEventListener("scroll", () => this.draw(), { passive: true });
    new ResizeObserver(() => { if (this.all) this.fit(); else this.draw(); }).observe(el);
  }
  /** Shows a plan: as close as the one before it was seen. @param {Sent} sent */
  plan(sent) {
    const k = this.axis.k;
    this.sent = sent;
    this.lots = lotsOf(sent);
    this.rows = sent.machines.map(() => []);
    for (const l of this.lots) this.rows[l.row].push(l);
    for (const r of this.rows) r.sort((a, b) => a.from - b.from);
    this.end = Math.max(3600, ...this.lots.map((l) => l.to));
    this.axis = new Axis(sent.opens, this.end);
    this.names.replaceChildren(...sent.machines.map((m) => {
      const n = document.createElement("p"), s = document.createElement("small");
      n.append(m.name, s); s.textContent = m.heads; n.title = m.name;
      return n;
    }));
    for (const b of this.shown.values()) b.remove();
    this.shown.clear();
    this.kept = this.moved = this.writes = undefined;
    if (this.all) this.fit(); else { this.axis.k = k; this.draw(); }
  }
  get side() { return this.names.offsetWidth; }
  get rowHeight() { return parseFloat(getComputedStyle(this.el).getPropertyValue("--row")) || 46; }
  /** All of it is seen. */
  fit() {
    this.all = true;
    this.axis.k = this.axis.fits(this.el.clientWidth - this.side - 8);
    this.draw();
  }
  /** @param {number} f larger than 1: closer @param {number} [px] from the left that stays where it is */
  zoom(f, px = (this.el.clientWidth - this.side) / 2 + this.side) {
    const t = this.axis.t(this.el.scrollLeft + px - this.side), least = this.axis.fits(this.el.clientWidth - this.side - 8);
    this.axis.k = Math.min(Math.max(this.axis.k * f, least), Math.max(400 / 3600, least));
    this.all = this.axis.k <= least * 1.0001;
    this.#size();
    this.el.scrollLeft = this.axis.x(t) + this.side - px;
    this.draw();
  }
  /** Shows a time, a third from the left. @param {number} t */
  goto(t) {
    if (this.all) { this.axis.k = Math.max(this.axis.k, Math.min(this.axis.k * 12, 60 / 3600)); this.all = false; this.#size(); }
    this.el.scrollLeft = this.axis.x(t) - (this.el.clientWidth - this.side) / 3;
    this.draw();
  }
  /** Brings a lot, or a place in a row, into sight. @param {number} row @param {number} t */
  reveal(row, t) {
    const x = this.axis.x(t), y = row * this.rowHeight, wide = this.el.clientWidth - this.side, high = this.el.clientHeight - head;
    if (x < this.el.scrollLeft || x > this.el.scrollLeft + wide - 60) this.el.scrollLeft = x - wide / 3;
    if (y < this.el.scrollTop) this.el.scrollTop = y; else if (y + this.rowHeight > this.el.scrollTop + high) this.el.scrollTop = y + this.rowHeight - high;
  }
  #size() {
    this.field.style.width = `${Math.ceil(this.axis.length + this.side + 8)}px`;
    this.field.style.height = `${head + this.rows.length * this.rowHeight}px`;
  }
  draw() {
    if (this.asked) return;
    this.asked = requestAnimationFrame(() => { this.asked = 0; this.#draw(); });
  }
  #draw() {
    this.#size();
    const el = this.el, dpr = Math.min(devicePixelRatio || 1, 2), wide = el.clientWidth, high = el.clientHeight, side = this.side, row = this.rowHeight;
    this.known = { side, row };
    const left = el.scrollLeft, top = el.scrollTop, css = getComputedStyle(el), colour = (/** @type {string} */ n) => css.getPropertyValue(n);
    if (wide < 1 || high < 1) return;
    const [c, h] = /** @type {[HTMLCanvasElement, number][]} */ ([[this.canvas, high], [this.top, head]]).map(([of, h]) => {
      of.width = Math.round(wide * dpr); of.height = Math.round(h * dpr);
      of.style.width = `${wide}px`; of.style.height = `${h}px`;
      const c = /** @type {CanvasRenderingContext2D} */ (of.getContext("2d"));
      c.scale(dpr, dpr); c.font = `${css.fontSize} Go, sans-serif`;
      return c;
    });
    const t0 = this.axis.t(left), t1 = this.axis.t(left + wide - side);
    const r0 = Math.max(0, Math.floor(top / row)), r1 = Math.min(this.rows.length - 1, Math.floor((top + high - head) / row));
    const at = (/** @type {number} */ t) => side + this.axis.x(t) - left;
    // Open time as hairlines, days as upright ones.
    c.fillStyle = colour("--np-hair");
    for (let r = r0; r <= r1; r++) {
      const y = head + r * row - top + row / 2, o = this.sent.opens[this.sent.machines[r].open] || [];
      if (!o.length) c.fillRect(side, y, wide, 1);
      for (let k = 0; k + 1 < o.length && o[k] < t1; k += 2) if (o[k + 1] > t0) c.fillRect(at(o[k]), y, at(Math.min(o[k + 1], this.end)) - at(o[k]), 1);
    }
    // What is too narrow to read.
    const fills = ["--np-at-set-speed", "--np-at-set-speed", "--np-at-set-speed"].map(colour), foot = ["--np-quiet", "--np-warn", "--np-warn"].map(colour);
    /** @type {Lot[]} */ const wideOnes = [];
    let narrowOnes = 0;
    for (let r = r0; r <= r1; r++) {
      const lots = this.rows[r], y = head + r * row - top + 5, tall = row - 10;
      for (let k = firstAfter(lots, t0); k < lots.length && lots[k].setup < t1; k++) {
        const l = lots[k], x = at(l.setup), w = at(l.to) - x;
        if (w >= narrow || l.i === this.kept) { wideOnes.push(l); continue; }
        narrowOnes++;
        c.fillStyle = fills[l.risk]; c.fillRect(x, y, Math.max(w - .6, 1), tall);
        c.fillStyle = foot[l.risk];
        if (l.risk) c.fillRect(x, y + tall - (l.risk === 2 ? 7 : 4), Math.max(w - .6, 1), l.risk === 2 ? 7 : 4);
        else c.fillRect(x, y + tall - 1, Math.max(w - .6, 1), 1);
        const free = (k + 1 < lots.length ? at(lots[k + 1].setup) : wide) - x - w;
        if (free > 30) { // its number behind it
          c.font = h.font;
          if (h.measureText(l.name).width + 8 < free) { c.fillStyle = colour("--np-ink"); c.fillText(l.name, x + w + 4, y + 14); }
        }
      }
    }
    if (this.kept !== undefined && !wideOnes.some((l) => l.i === this.kept)) wideOnes.push(this.lots[this.kept]);
    // The line of days, over what scrolls under it, and now.
    h.fillStyle = colour("--np-ground"); h.fillRect(0, 0, wide, head);
    let room = -Infinity;
    const said = say("bars.now"), nx = at(this.sent.now), nw = this.sent.now >= 0 && this.sent.now <= this.end && nx >= side ? h.measureText(said).width + 8 : 0;
    for (const d of this.sent.days) {
      if (d.at > this.end) break;
      const x = at(d.at), w = h.measureText(d.label).width;
      if (x < side - 1 || x > wide) continue;
      c.fillStyle = h.fillStyle = colour("--np-hair"); c.fillRect(x, head, 1, high); h.fillRect(x, 18, 1, head);
      if (x < room || nw && x + w > nx - 6 && x < nx + nw && x < nx - 40) continue;
      h.fillStyle = colour("--np-quiet"); const lx = nw && x + w > nx - 6 && x < nx + nw ? nx + nw + 4 : x + 3;
      h.fillText(d.label, lx, 15); room = lx + w + 14;
    }
    if (this.axis.k * 3600 > 40) this.#hours(h, at, t0, t1, room, colour("--np-quiet"));
    const now = this.sent.now;
    if (now >= 0 && now <= this.end) {
      const x = at(now);
      if (x >= side) {
        c.fillStyle = h.fillStyle = colour("--np-accent"); c.fillRect(x - 1, head, 2, high); h.fillRect(x - 1, 4, 2, head);
        h.fillStyle = colour("--np-ground"); h.fillRect(x + 2, 2, nw, 17);
        h.fillStyle = colour("--np-accent"); h.fillText(said, x + 5, 15);
      }
    }
    this.#buttons(wideOnes);
    el.dataset.drawn = String(wideOnes.length + narrowOnes); // of all lots
    el.dataset.frames = String(Number(el.dataset.frames || 0) + 1);
  }
  /** Hours between the days. @param {CanvasRenderingContext2D} c @param {(t: number) => number} at @param {number} t0 @param {number} t1 @param {number} room @param {string} ink */
  #hours(c, at, t0, t1, room, ink) {
    const every = this.axis.k * 3600 > 110 ? 3600 : 2 * 3600;
    const begin = this.sent.from - this.sent.from % 3600;
    c.save(); c.fillStyle = ink; c.globalAlpha = .8;
    let last = -Infinity;
    for (let u = begin + Math.ceil((t0 + this.sent.from - begin) / every) * every; u <= t1 + this.sent.from; u += every) {
      const t = u - this.sent.from, x = at(t);
      if (x < last + 12 || this.sent.days.some((d) => at(d.at) - 44 < x && x < at(d.at) + 90) || Math.abs(this.axis.t(x + this.el.scrollLeft - this.side) - t) > 60) continue;
      const text = this.hour(t);
      c.fillRect(x, 18, 1, 6); c.fillText(text, x + 3, 15);
      last = x + c.measureText(text).width;
    }
    c.restore();
  }
  /** The wide lots, each in its place; those that were there stay, with their focus. @param {Lot[]} lots */
  #buttons(lots) {
    const want = new Set(lots.map((l) => l.i));
    for (const [i, b] of this.shown) if (!want.has(i)) { b.remove(); this.shown.delete(i); }
    for (const l of lots) {
      let b = this.shown.get(l.i);
      if (!b) { b = this.#button(l); this.shown.set(l.i, b); this.list.append(b); }
      const m = this.moved;
      if (m && m.i === l.i) this.place(b, l, m.row, m.t, m.t + l.to - l.setup); else this.place(b, l, l.row, l.setup, l.to);
    }
  }
  /** Puts a lot's button at a row and a time. @param {HTMLElement} b @param {Lot} l @param {number} row @param {number} from @param {number} to */
  place(b, l, row, from, to) {
    const x = this.axis.x(from), w = Math.max(this.axis.x(to) - x - 1, narrow), known = this.known;
    b.style.left = `${known.side + x}px`; b.style.width = `${w}px`; b.style.top = `${head + row * known.row + 5}px`;
    b.toggleAttribute("data-thumb", w > 110); b.toggleAttribute("data-says", w > 44);
    const next = this.rows[row].find((o) => o !== l && o.setup >= to);
    b.toggleAttribute("data-beside", w <= 44 && (next ? this.axis.x(next.setup) - x - w : 1e9) > 50); // room for its number behind it
    const set = /** @type {HTMLElement} */ (b.querySelector(".setup"));
    set.style.width = `${Math.max(0, this.axis.x(l.ready) - this.axis.x(l.setup))}px`;
    if (w > 110 && !b.querySelector("img")) {
      const img = new Image(40, 30);
      img.alt = ""; img.src = `/api/v1/designs/${l.design}/thumb.png`;
      img.onerror = () => img.remove(); // the design was taken away
      b.querySelector(".setup")?.after(img);
    }
  }
  /** @param {Lot} l */
  #button(l) {
    const b = document.createElement("button");
    b.type = "button"; b.className = "lot"; b.dataset.i = String(l.i); b.dataset.lot = l.value; b.dataset.risk = String(l.risk);
    b.toggleAttribute("data-running", l.running); b.toggleAttribute("data-held", l.held);
    const marks = [l.running ? say("bars.running") : l.held ? say("bars.held") : "", l.again ? say("bars.again") : "", riskSays(l)].filter(Boolean);
    const says = made("span", "says");
    says.append(made("b"), " ", made("em"), " ", made("small"));
    b.append(made("i", "setup"), made("i", "done"), says, made("span", "vh"));
    /** @type {HTMLElement} */ (b.querySelector(".done")).style.width = `${l.pieces ? 100 * l.done / l.pieces : 0}%`;
    const put = (/** @type {string} */ s, /** @type {string} */ text) => { /** @type {HTMLElement} */ (b.querySelector(s)).textContent = text; };
    put("b", l.name + (l.risk === 2 ? " !" : l.risk === 1 ? " ?" : "")); put("em", l.customer); put("small", [doneSays(l), ...marks].join(" · "));
    put(".vh", `, ${say("bars.lot", { machine: this.sent.machines[l.row].name, from: this.when(l.from), to: this.when(l.to) })}`);
    b.title = (b.textContent || "").trim();
    return b;
  }
  /** A time as the page writes it: Mon 30 Nov, 07:04. @param {number} t */
  when(t) { return near(this.#zone(), this.#ms(t), this.sent.hours12); }
  /** Its time of day: 07:04. @param {number} t */
  hour(t) { return daytime(moment(this.#zone(), this.#ms(t)).seconds, this.sent.hours12); }
  #zone() { return this.writes ??= writes(zoned(this.sent.zone)); }
  /** @param {number} t */
  #ms(t) { return (this.sent.from + t) * 1000; }
  /** What a machine's row has beside a lot, in its order. @param {number} row @param {Lot} but */
  queue(row, but) { return this.rows[row].filter((l) => l !== but); }
  /** The row and the place in it, from 1, at a point of the window. @param {number} clientX @param {number} clientY @param {Lot} but */
  at(clientX, clientY, but) {
    const r = this.el.getBoundingClientRect(), x = clientX - r.left + this.el.scrollLeft - this.side, y = clientY - r.top + this.el.scrollTop - head;
    const row = Math.min(this.rows.length - 1, Math.max(0, Math.floor(y / this.rowHeight)));
    return { row, place: 1 + this.queue(row, but).filter((l) => (this.axis.x(l.setup) + this.axis.x(l.to)) / 2 < x).length };
  }
  /** Shows where a lot would go; undefined for nowhere. @param {Lot} [lot] @param {number} [row] @param {number} [place] */
  aim(lot, row = 0, place = 1) {
    this.ghost.hidden = !lot;
    if (!lot) return;
    const t = this.begins(lot, row, place);
    this.ghost.style.left = `${this.side + this.axis.x(t) - 2}px`;
    this.ghost.style.top = `${head + row * this.rowHeight}px`;
    this.ghost.style.height = `${this.rowHeight}px`;
  }
  /** When it would begin there, about. @param {Lot} lot @param {number} row @param {number} place */
  begins(lot, row, place) {
    const q = this.queue(row, lot);
    return place > 1 && q.length ? q[Math.min(place - 2, q.length - 1)].to : q.length ? Math.min(q[0].setup, q[0].from) : Math.max(0, this.sent.now);
  }
}

/** @param {string} tag @param {string} [kind] its class */
function made(tag, kind = "") { const e = document.createElement(tag); e.className = kind; return e; }

/** A zone that the browser knows. @param {string} zone */
function zoned(zone) { try { new Intl.DateTimeFormat("en", { timeZone: zone }); return zone; } catch { return "UTC"; } }

/** How many lots are late and at risk, in words. @param {Lot[]} lots */
export function riskCount(lots) {
  const late = lots.filter((l) => l.risk === 2).length, some = lots.filter((l) => l.risk === 1).length, words = [];
  if (late) words.push(say("bars.some-late", { n: late }));
  if (some) words.push(say("bars.some-at-risk", { n: some }));
  return words.join(", ");
}
