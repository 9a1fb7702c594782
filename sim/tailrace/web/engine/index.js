// All that pages ask of the engine.

import { answer } from "./answer.js";
import { changedBy, unusualOf } from "./changes.js";
import { useFacts } from "./facts.js";
import { bestOrder } from "./order.js";
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

export const engine = {
  answer,
  bestOrder,
  changedBy,
  unusualOf,
  display,
  general,
  plain,
  quantity,
  resolve,
  settled,
  tried,
  useFacts,
};
