// @ts-check
// Words: numbers the server gave, written for people.

/** 27 min 22 s, 1 h 02 min, 8.4 s @param {number} s */
export function longTime(s) {
  if (s < 10) return `${s.toFixed(1)} s`;
  const r = Math.round(s), two = (/** @type {number} */ v) => String(v).padStart(2, "0");
  if (r < 60) return `${r} s`;
  if (r < 3600) return `${Math.floor(r / 60)} min ${two(r % 60)} s`;
  const m = Math.round(s / 60);
  return `${Math.floor(m / 60)} h ${two(m % 60)} min`;
}
/** 27:22, 1:02:05 @param {number} s */
export function shortTime(s) {
  const r = Math.floor(Math.max(0, s)), two = (/** @type {number} */ v) => String(v).padStart(2, "0");
  const h = Math.floor(r / 3600), m = Math.floor(r / 60) % 60;
  return h ? `${h}:${two(m)}:${two(r % 60)}` : `${m}:${two(r % 60)}`;
}
/** @param {number} v */
export const thousands = (v) => Math.round(v).toLocaleString("en");
/** @param {number} v @param {boolean} inch */
export const lengthText = (v, inch) => inch ? `${v >= 1 ? v : v.toPrecision(1)} in` : `${v} mm`;
/** A stitch length in the reader's unit. @param {number} mm */
export function stitchLength(mm) { return document.documentElement.dataset.length === "inch" ? `${(mm / 25.4).toFixed(3)} in` : `${mm.toFixed(1)} mm`; }
