// What the engine must know: the object that `web/facts.py` writes.

/** @typedef {Record<string, any>} Facts */

const CONTRACT = 1;

/** @type {Facts | null} */
let held = null;

/**
 * Take the facts, once, before anything else is asked.
 * @param {Facts} given
 */
export function useFacts(given) {
  if (given.contract !== CONTRACT) {
    throw new Error(`expected facts of contract ${CONTRACT}, found ${given.contract}`);
  }
  held = given;
}

/** @returns {Facts} */
export function facts() {
  if (held === null) throw new Error("no facts yet: call useFacts first");
  return held;
}

/**
 * A constant of the program by its name there.
 * @param {string} name
 * @returns {any}
 */
export function constant(name) {
  const found = facts().numbers[name];
  if (found === undefined) throw new Error(`no constant is called ${name}`);
  return found;
}

/** What is done where only the program can; a page of lessons has another way. */
export const BY_PROGRAM = "save the scenario and run tailrace";

/** A scenario that cannot be computed as it stands, or not here: one sentence, and where. */
export class Refusal extends Error {
  /**
   * @param {string} sentence
   * @param {(string | number)[]} [place] keys that lead to it in the scenario
   */
  constructor(sentence, place = []) {
    super(sentence);
    this.place = place;
  }
}
