// The packed table of bent tubes, a row for each C: as the program's `benchmarks/bent_page_table.py` packs it.

import { lagrange } from "./curves.js";
import { facts } from "./facts.js";
import { Decoder, bytesOf, unrolled } from "./packed.js";

/**
 * By column, for what is at De = 0 and what the highest De adds, for p and q: the logarithm of
 * variance or skewness, and amounts of curves over u.
 * @typedef {{first: number, count: number, values: Float64Array}} Row
 */

/**
 * How rows lie, and the curves.
 * @typedef {object} Shape
 * @property {number} width numbers for one of p and q
 * @property {Float64Array} curves (curves, rates) numbers
 * @property {Float64Array[]} steps of p and q, by u, of which their curves are multiples
 * @property {Uint8Array} odds
 * @property {Map<number, Row>} rows those that were asked for
 */

/** @type {{given: any, shape: Shape} | null} */
let bentShape = null;

/** @returns {Shape} */
export function shapeOfBent() {
  const given = facts().bends;
  if (!bentShape || bentShape.given !== given) {
    const { RATES, STEP } = given.numbers;
    const terms = given.powers.length;
    const curves = unrolled(given.curves, [terms, RATES, 1]).map((one, n) => one * 0.5 ** given.powers[Math.floor(n / RATES)]);
    const steps = given.weights.map((/** @type {number[]} */ row) => Float64Array.from(row, (one) => STEP / one));
    bentShape = { given, shape: { width: terms + 1, curves, steps, odds: bytesOf(given.odds), rows: new Map() } };
  }
  return bentShape.shape;
}

/** @param {number} at of the table's rows, one that the page has @returns {Row} */
export function bentRow(at) {
  const { width, odds, rows } = shapeOfBent();
  let found = rows.get(at);
  if (!found) {
    const given = facts().bends;
    const { first, count, coarse, bytes } = given.rows[at - given.from];
    const { LONGEST, QUICK, LOG_STEP, COARSER, FAST } = given.numbers;
    const decoder = new Decoder(bytesOf(bytes), odds, LONGEST, QUICK);
    const values = new Float64Array(count * 4 * width);
    const size = (/** @type {number} */ column) => COARSER.findLast((/** @type {number} */ _, /** @type {number} */ n) => column < coarse[n]) ?? 1;
    for (let part = 0; part < 4; part += 1) {
      const numbers = numbersOf(decoder, count, width);
      for (let n = 0; n < numbers.length; n += 1) {
        const column = Math.floor(n / width);
        values[(column * 4 + part) * width + (n % width)] = numbers[n] * size(column) * (part < 2 ? 1 : FAST);
      }
    }
    fromDifferences(values, count, 4 * width);
    for (let n = 0; n < values.length; n += width) values[n] *= LOG_STEP;
    found = { first, count, values };
    rows.set(at, found);
  }
  return found;
}

/** @param {Decoder} decoder @param {number} count of columns @param {number} width */
function numbersOf(decoder, count, width) {
  const { SIZES, LARGE, LEVELS, FAR } = facts().bends.numbers;
  const made = new Int32Array(count * width);
  const around = (/** @type {number} */ at, /** @type {boolean} */ inside) => (inside ? Math.min(Math.abs(made[at]), LARGE) : 0);
  for (let column = 0; column < count; column += 1) {
    let level = 0;
    while (column % (FAR >> level)) level += 1;
    // from one column to the next that is made as late
    const on = FAR >> Math.max(level - 1, 0);
    for (let k = 0; k < width; k += 1) {
      const at = column * width + k;
      const before = 2 * around(at - on * width, column >= on) + around(at - 2 * on * width, column >= 2 * on);
      const near = 2 * around(at - 1, k > 0) + around(at - 2, k > 1) + before;
      const asked = Math.min(32 - Math.clz32((1 + Math.min(near, LARGE)) ** 2 - 1), SIZES - 1) + SIZES * level;
      made[at] = decoder.number(k ? asked : SIZES * LEVELS + level);
    }
  }
  return made;
}

/**
 * From differences to values, in place: column by column FAR apart, then halfway between.
 * @param {Float64Array} values @param {number} count @param {number} each numbers in a column
 */
function fromDifferences(values, count, each) {
  const { FAR, POINTS } = facts().bends.numbers;
  for (let at = FAR; at < count; at += FAR) {
    for (let n = 0; n < each; n += 1) values[at * each + n] += values[(at - FAR) * each + n];
  }
  for (let apart = FAR; apart > 1; apart /= 2) {
    const whole = Math.floor((count - 1) / apart) + 1;
    const points = Math.min(POINTS, whole);
    for (let at = apart / 2; at < count; at += apart) {
      const begin = Math.min(Math.max(Math.floor(at / apart) - POINTS / 2 + 1, 0), whole - points);
      lagrange(at / apart - begin, points).forEach((weight, j) => {
        const from = (begin + j) * apart * each;
        for (let n = 0; n < each; n += 1) values[at * each + n] += weight * values[from + n];
      });
    }
  }
}
