// All that pages ask of the engine.

import { signalRead } from "../bench/measured.js";
import { percent, significant } from "../shown/numbers.js";
import { answer } from "./answer.js";
import { bentCumulants, frictionAt, throughBend, unknownBend } from "./bent.js";
import { changedBy, stating, unusualOf } from "./changes.js";
import { useFacts } from "./facts.js";
import { bringMigration } from "./migration.js";
import { normalsOf } from "./normal.js";
import { bestOrder } from "./order.js";
import { peaksOf } from "./peaks.js";
import { resolve, settled } from "./resolve.js";
import { display, general, plain, quantity } from "./units.js";

/**
 * A quantity, or why it is none.
 * @param {unknown} text @param {string} kind
 */
function tried(text, kind) {
  try {
    return { value: quantity(text, kind), refused: null };
  } catch (problem) {
    return { value: null, refused: /** @type {Error} */ (problem).message };
  }
}

/** A signal of a text, or why it is none. @param {string} text @param {{unit?: string, column?: number}} [asked] */
function columnsRead(text, asked) {
  try {
    return { signal: signalRead(text, asked), refused: null };
  } catch (problem) {
    return { signal: null, refused: /** @type {Error} */ (problem).message };
  }
}

/** The peaks of a signal of points. @param {{time: number[], values: number[], quantum?: number}} signal @param {[number, number]} [within] s */
function measured({ time, values, quantum }, within) {
  return peaksOf({ time: Float64Array.from(time), values: Float64Array.from(values), quantum }, within);
}

/** What the table says of tubes, De, C and X of each, at frequencies of each in D/a^2. @param {number[][]} tubes @param {number[][]} omega */
function bendsAt(tubes, omega) {
  return tubes.map(([dean, strength, length], n) => {
    const bend = { dean, strength, length };
    const [re, im] = [new Float64Array(omega[n].length).fill(1), new Float64Array(omega[n].length)];
    throughBend(bend, length, Float64Array.from(omega[n]), re, im);
    return { re, im, cumulants: bentCumulants(bend), unknown: unknownBend(bend) };
  });
}

/** @param {number[]} deans */
const frictions = (deans) => deans.map(frictionAt);

/** Random numbers of seeds. @param {number[]} seeds @param {number} count */
const normals = (seeds, count) => Array.from({ length: count }, normalsOf(seeds));

bringMigration();

export const engine = {
  answer,
  bendsAt,
  bestOrder,
  changedBy,
  columnsRead,
  unusualOf,
  stating,
  display,
  frictions,
  general,
  measured,
  normals,
  percent,
  plain,
  quantity,
  resolve,
  significant,
  settled,
  tried,
  useFacts,
};
