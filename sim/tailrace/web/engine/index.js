// All that pages ask of the engine.

import { signalRead } from "../bench/measured.js";
import { answer } from "./answer.js";
import { changedBy, stating, unusualOf } from "./changes.js";
import { useFacts } from "./facts.js";
import { bringMigration } from "./migration.js";
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

bringMigration();

export const engine = {
  answer,
  bestOrder,
  changedBy,
  columnsRead,
  unusualOf,
  stating,
  display,
  general,
  measured,
  plain,
  quantity,
  resolve,
  settled,
  tried,
  useFacts,
};
