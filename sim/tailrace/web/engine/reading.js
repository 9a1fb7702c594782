// Tables of a scenario as TOML parses them, to numbers in SI, with all that is wrong with them.

import { Refusal, facts } from "./facts.js";
import { found, general, quantity } from "./units.js";

/** @typedef {(string | number)[]} Place keys that lead to a value in the scenario */
/** @typedef {{place: Place, sentence: string}} Problem */
/** @typedef {Record<string, any>} Table */

/**
 * A table's values in SI by key, defaults filled in; what is wrong is added to the problems.
 * @param {string} name of the table, as `facts().tables` has it
 * @param {unknown} written
 * @param {Place} place
 * @param {Problem[]} problems
 * @returns {Table}
 */
export function readTable(name, written, place, problems) {
  const { fields } = facts().tables[name];
  /** @type {Table} */
  const made = {};
  if (!isTable(written)) {
    problems.push({ place, sentence: `expected a table, found ${found(written)}` });
    return made;
  }
  for (const key of Object.keys(written)) {
    if (!Object.hasOwn(fields, key)) {
      problems.push({
        place: [...place, key],
        sentence: `expected a key that ${name.replace(/^path\./, "a ")} has, found ${key}; known are ${Object.keys(fields).join(", ")}`,
      });
    }
  }
  for (const [key, field] of Object.entries(fields)) {
    const given = Object.hasOwn(written, key);
    if (!given && field.needed) {
      const example = field.examples?.[0] ?? field.words?.[0];
      const add = example === undefined ? "add it" : `add ${key} = ${JSON.stringify(example)}`;
      problems.push({ place: [...place, key], sentence: `expected the key ${key}, found none; ${add}` });
    }
    const value = given ? /** @type {Table} */ (written)[key] : field.default;
    if (value === undefined) continue;
    try {
      made[key] = readField(field, value);
    } catch (problem) {
      if (!(problem instanceof Refusal)) throw problem;
      problems.push({ place: [...place, key], sentence: problem.message });
    }
  }
  return made;
}

/** @param {unknown} value @param {{kind: string, endless: string}} field a word that stands for no end */
function orEndless(value, { kind, endless }) {
  if (value === endless) return Infinity;
  try {
    return quantity(value, kind);
  } catch (problem) {
    if (!(problem instanceof Refusal)) throw problem;
    throw new Refusal(problem.message.replace(", found ", `, or "${endless}", found `));
  }
}

/**
 * A field's value in SI; throws Refusal.
 * @param {any} field
 * @param {any} value
 */
export function readField(field, value) {
  if (Object.hasOwn(facts().kinds, field.kind)) {
    return field.endless ? orEndless(value, field) : quantity(value, field.kind);
  }
  if (field.kind === "number") {
    if (typeof value === "bigint") value = Number(value);
    if (typeof value !== "number" || !Number.isFinite(value))
      throw new Refusal(`expected a number, found ${found(value)}; write one`);
    const [low, high] = [field.low ?? -Infinity, field.high ?? Infinity];
    if (value < low || value > high) {
      const range =
        high === Infinity
          ? `of ${general(low, 6)} or more`
          : `from ${general(low, 6)} to ${general(high, 6)}`;
      throw new Refusal(`expected a number ${range}, found ${general(value, 6)}; correct it`);
    }
    return value;
  }
  if (field.kind === "boolean" && typeof value !== "boolean")
    throw new Refusal(`expected true or false, found ${found(value)}`);
  if (field.kind === "text" && typeof value !== "string")
    throw new Refusal(`expected text, found ${found(value)}`);
  if (field.kind === "words") return oneOf(field, value);
  return value;
}

/** A name of particles as the list of them has it. @param {any} value */
export function particleWords(value) {
  const words = String(value).toLowerCase().replaceAll(/[-_ ]+/g, " ").trim();
  return words.replace(/ particles$/, "");
}

/** @param {any} field @param {any} value */
function oneOf(field, value) {
  const synonyms = facts().numbers.SYNONYMS;
  const usual =
    typeof value === "string" && field.words.includes("core-shell")
      ? (synonyms[particleWords(value)] ?? value)
      : value;
  if (field.words.includes(usual)) return usual;
  throw new Refusal(`expected ${field.words.join(" or ")}, found ${found(value)}; write one of them`);
}

/** @param {unknown} value @returns {value is Table} */
export function isTable(value) {
  return typeof value === "object" && value !== null && !Array.isArray(value);
}

/**
 * Tables of an array of tables; what is none is passed over.
 * @param {unknown} list
 * @returns {Table[]}
 */
export function tablesOf(list) {
  return Array.isArray(list) ? list.filter(isTable) : [];
}
