// @ts-check
// Words: numbers the server gave, written for people as package words writes
// them (words/testdata/cases.json holds the two together), and sentences by
// their key.

/**
 * @typedef {string | Record<string, string>} Phrase text with {arguments}, or its forms by plural category
 * @typedef {{tag: string, decimal: string, group: string, minus: string, months: string[], weekdays: string[], phrases: Record<string, Phrase>}} Language
 */
/** @type {{language: Language}} made from package words */
const { language } = await import(`./language-${document.documentElement.lang || "en"}.js`);
const plurals = new Intl.PluralRules(language.tag);
const inches = () => document.documentElement.dataset.length === "inch";
const none = "–", mmPerInch = 25.4;
const two = (/** @type {number} */ v) => String(v).padStart(2, "0");

/**
 * A sentence. A number among the arguments is written whole, and decides which form is said.
 * @param {string} key @param {Record<string, string | number>} [args]
 */
export function say(key, args = {}) {
  const p = language.phrases[key];
  if (p === undefined) return `[${key}]`;
  let form = p;
  if (typeof form !== "string") {
    const n = args[form.by];
    form = n === 0 && form.none || typeof n === "number" && form[plurals.select(n)] || form.other;
  }
  return form.replace(/\{([^}]+)\}/g, (all, name) => { const v = args[name]; return v === undefined ? all : typeof v === "number" ? whole(v) : v; });
}

/** 1 piece, 12 pieces @param {number} n @param {string} noun */
export const count = (n, noun) => say(`count.${noun}`, { n });

/** So many decimals, half away from zero: 1,204.5 @param {number} v @param {number} places */
export function fixed(v, places) {
  if (!Number.isFinite(v)) return none;
  const p = 10 ** places, r = Math.round(Math.abs(v) * p) / p, [front, frac] = r.toFixed(places).split(".");
  return (v < 0 && r > 0 ? language.minus : "") + front.replace(/\B(?=(\d{3})+$)/g, language.group) + (frac ? language.decimal + frac : "");
}
/** 12,480 @param {number} v */
export const whole = (v) => fixed(v, 0);
/** Three figures: 0.0125, 12.5, 12,480 @param {number} v */
export function figure(v) {
  const a = Math.abs(v), places = a > 0 && a < 99.95 ? Math.min(2 - Math.floor(Math.log10(a)), 9) : 0;
  const s = fixed(v, places);
  return places ? s.replace(/0+$/, "").replace(/\D$/, "") : s;
}

/** A time of day: 14:05, 2:05 pm @param {number} s seconds since midnight @param {boolean} hours12 */
export function daytime(s, hours12) {
  const m = Math.floor(s / 60), h = Math.floor(m / 60);
  return hours12 ? say(h % 24 < 12 ? "day.am" : "day.pm", { time: `${h % 12 || 12}:${two(m % 60)}` }) : `${two(h)}:${two(m % 60)}`;
}
/**
 * When it is by the clocks of a zone: seconds since their midnight, and the day as the page writes it, Mon 30 Nov,
 * in one piece. The browser is asked for numbers only: names and order are package words'.
 * @param {Intl.DateTimeFormat} by of {@link writes} @param {number} ms
 */
export function moment(by, ms) {
  const p = Object.fromEntries(by.formatToParts(ms).map((x) => [x.type, Number(x.value)]));
  const wd = language.weekdays[new Date(Date.UTC(p.year, p.month - 1, p.day)).getUTCDay()];
  const day = say("day.near", { wd, d: String(p.day), mon: language.months[p.month - 1] }).replaceAll(" ", "\u00a0");
  return { day, seconds: p.hour * 3600 + p.minute * 60 };
}
/** @param {string} zone */
export const writes = (zone) => new Intl.DateTimeFormat("en-u-ca-gregory-nu-latn", { year: "numeric", month: "numeric", day: "numeric", hour: "2-digit", minute: "2-digit", hourCycle: "h23", timeZone: zone });
/** A day with its time: Mon 30 Nov, 07:04. @param {Intl.DateTimeFormat} by @param {number} ms @param {boolean} hours12 */
export function near(by, ms, hours12) {
  const m = moment(by, ms);
  return say("day.moment", { day: m.day, time: daytime(m.seconds, hours12) });
}

/** 18 min 45 s, 1 h 02 min, 8.4 s @param {number} s @returns {string} */
export function seconds(s) {
  if (!Number.isFinite(s)) return none;
  if (s <= -0.05) return language.minus + seconds(-s);
  if (s < 9.95) return say("time.s", { s: fixed(Math.abs(s), 1) });
  const r = Math.round(s);
  if (r < 60) return say("time.s", { s: r });
  if (r < 3600) return say("time.min-s", { min: Math.floor(r / 60), s: two(r % 60) });
  const m = Math.round(s / 60);
  return say("time.h-min", { h: Math.floor(m / 60), min: two(m % 60) });
}
/** 18:45, 1:02:05 @param {number} s */
export function clock(s) {
  if (!Number.isFinite(s)) return none;
  const r = Math.round(Math.abs(s)), h = Math.floor(r / 3600), m = Math.floor(r / 60) % 60;
  return (s < 0 && r > 0 ? language.minus : "") + (h ? `${h}:${two(m)}` : m) + `:${two(r % 60)}`;
}
/** 850/min @param {number} v stitches/min */
export const perMinute = (v) => Number.isFinite(v) ? say("speed.per-min", { n: v }) : none;
/** A stitch's length: 3.2 mm, 0.126 in @param {number} mm */
export const stitchLength = (mm) => inches() ? say("length.inch", { n: fixed(mm / mmPerInch, 3) }) : say("length.mm", { n: fixed(mm, 1) });
/** The length of the scale bar, in the reader's unit. @param {number} v */
export const scaleLength = (v) => say(inches() ? "length.inch" : "length.mm", { n: figure(v) });
