// @ts-check
// Place: where a strip of the plan was let go.

/** Which row lies nearest. @param {number[]} rows their middles, px @param {number} y px */
export const nearest = (rows, y) => rows.reduce((best, at, k) => Math.abs(at - y) < Math.abs(rows[best] - y) ? k : best, 0);

/**
 * The place in a row, from 1, of a strip let go at x: after those whose middle lies before it.
 * @param {number[]} rows the row of each strip @param {number[]} middles of each strip, px @param {number} own the strip itself @param {number} row @param {number} x px
 */
export const placeOf = (rows, middles, own, row, x) => 1 + rows.filter((r, k) => k !== own && r === row && middles[k] < x).length;
