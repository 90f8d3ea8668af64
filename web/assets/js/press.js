// @ts-check
// Press: the marks of a timed run, and what the next press means.

/** @typedef {{kind: "start"|"stop"|"restart"|"end", at_ms: number}} Mark */
/** @typedef {{id: string, design: string, machine: string, set_speed: number, job?: string, started: string, marks: Mark[], rev: number, done: boolean, skipped?: boolean, finish?: boolean, sure?: boolean, holder?: string}} Timing */

/** How many marks are of a kind. @param {Mark[]} marks @param {Mark["kind"]} kind */
export const countOf = (marks, kind) => marks.filter((m) => m.kind === kind).length;

/** What the next press means; "" after the end. @param {Pick<Timing, "marks"|"skipped">} t @param {number} stops of the design @returns {Mark["kind"] | ""} */
export function nextPress(t, stops) {
  const m = t.marks.at(-1);
  if (!m) return "start";
  if (m.kind === "end") return "";
  if (m.kind === "stop" && !t.skipped) return "restart";
  return countOf(t.marks, "stop") < stops ? "stop" : "end";
}

/** Two presses nearer than this, in ms, may be one. */
export const leastPress = 300;

/** How many times outside what was predicted a run may lie before it is asked about. */
export const mostOff = 2;

/** Whether a run lies so far off that it is asked about. @param {number} seconds @param {number} low of the prediction @param {number} high */
export const unlikely = (seconds, low, high) => high > 0 && (seconds * mostOff < low || seconds > high * mostOff);

/** The timing that counts: the newer one, the shop's where both are as new; never the phone's own after its end. @param {Timing} shops @param {Timing|null} phones */
export const newer = (shops, phones) => phones && !shops.done && phones.rev > shops.rev ? phones : shops;
