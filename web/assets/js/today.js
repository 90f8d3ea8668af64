// @ts-check
// Today and the wall: countdowns run, the wall renews itself and turns its pages,
// a sound or a shake tells when a machine needs somebody, where that was asked for.

import { clock, daytime, moment, say, writes } from "./words.js";

const renew = 30_000, turn = 12_000; // ms
const counts = 12 * 3_600_000; // ms before a person is needed from which they are counted: the server says when it is before

// The server's clock counts: a phone's may be off.
let ahead = 0;
function set() {
  const at = document.querySelector("[data-now]");
  if (at instanceof HTMLElement && at.dataset.now) ahead = Date.parse(at.dataset.now) - Date.now();
}
const now = () => Date.now() + ahead;

/** @type {Set<string>} */ const told = new Set();
function tick() {
  for (const e of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll("[data-until]"))) {
    const left = Date.parse(e.dataset.until || "") - now();
    if (left > counts) continue;
    const text = left > 0 ? clock(left / 1000) : say("live.due");
    if (e.textContent !== text) e.textContent = text;
    e.toggleAttribute("data-due", left < 60_000);
  }
  for (const e of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll("[data-need]"))) {
    const at = Date.parse((e.dataset.need || "").split(" ")[2] || ""), what = e.dataset.need || "";
    if (at - now() < 30_000 && !told.has(what)) { told.add(what); if (at - now() > -30_000) alarm(); }
  }
  const t = document.querySelector("[data-clock]");
  if (t) t.textContent = daytime(moment(writes(zone()), now()).seconds, t.hasAttribute("data-hours12"));
  paging();
}
/** The shop's offset, as the page's own time has it. */
function zone() {
  const at = document.querySelector("[data-now]"), m = /([+-]\d\d:\d\d)$/.exec(at instanceof HTMLElement && at.dataset.now || "");
  return m ? m[1] : "UTC";
}

// Who asks for it is told by sound or shake: browsers let none sound before a press.
/** @type {AudioContext|undefined} */ let audio;
for (const box of /** @type {NodeListOf<HTMLInputElement>} */ (document.querySelectorAll("[data-alert-by]"))) {
  if (box.dataset.alertBy === "shake" && "vibrate" in navigator) box.closest("label")?.removeAttribute("hidden");
  box.closest("[data-alert]")?.removeAttribute("hidden");
  const key = `np-alert-${box.dataset.alertBy}`;
  try { box.checked = localStorage.getItem(key) === "1"; } catch { /* it lasts for this page */ }
  box.addEventListener("change", () => {
    try { localStorage.setItem(key, box.checked ? "1" : ""); } catch { /* as above */ }
    if (box.checked) alarm(); // so that one knows it
  });
}
/** @param {string} by */
const wants = (by) => { const b = document.querySelector(`[data-alert-by=${by}]`); return b instanceof HTMLInputElement && b.checked; };
function alarm() {
  if (wants("shake") && "vibrate" in navigator) navigator.vibrate([200, 100, 200]);
  if (!wants("sound")) return;
  audio ||= new AudioContext();
  const tone = audio.createOscillator(), loud = audio.createGain(), t = audio.currentTime;
  tone.frequency.value = 660;
  loud.gain.setValueAtTime(0, t); loud.gain.linearRampToValueAtTime(.2, t + .02); loud.gain.linearRampToValueAtTime(0, t + .6);
  tone.connect(loud).connect(audio.destination);
  tone.start(t); tone.stop(t + .65);
  document.documentElement.dataset.sounded = String(Date.now());
}

// More machines than the wall holds are shown in turn: what lies under the screen's edge is read by nobody.
let holds = 0;
function measure() {
  const list = document.querySelector(".wall ol");
  if (!(list instanceof HTMLElement)) return;
  const all = /** @type {HTMLElement[]} */ ([...list.children]);
  for (const e of all) e.hidden = false;
  const rest = document.documentElement.scrollHeight - list.offsetHeight;
  holds = Math.max(1, Math.floor((innerHeight - rest) / Math.max(1, ...all.map((e) => e.offsetHeight))));
}
function paging() {
  const all = [...document.querySelectorAll(".wall li")];
  const pages = Math.ceil(all.length / holds), page = pages > 1 ? Math.floor(now() / turn) % pages : 0;
  all.forEach((e, i) => e.toggleAttribute("hidden", pages > 1 && Math.floor(i / holds) !== page));
  const says = document.querySelector("[data-turn]");
  if (says) says.textContent = pages > 1 ? say("live.turn", { n: page + 1, of: pages }) : "";
}

const fresh = () => { set(); measure(); tick(); };
document.addEventListener("np:fresh", fresh);
addEventListener("resize", fresh);
document.fonts?.ready.then(fresh);
fresh();
setInterval(tick, 1000);
setInterval(() => document.dispatchEvent(new Event("np:old")), renew); // live.js waits until nobody is at it
