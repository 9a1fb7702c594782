// @ts-check
/** Values that nobody has given: the page put in usual ones. The file says so in a remark behind each, which goes as soon as
 * the value is typed or confirmed; so undo, the saved file and the address know of it, too. */
import { micro } from "../engine/units.js";
import { titleOf } from "./titles.js";
import { ASSUMED, remarked, same, sections } from "./toml_text.js";

/** None where a file is written so that its places are not found. @param {string} text */
function sectionsOf(text) {
  try {
    return sections(text);
  } catch {
    return [];
  }
}

/** Of one text. @type {{text: string, found: Map<string, string[]>}} */
let last = { text: "", found: new Map() };

/** Keys of each table, as "path 0", that are assumed. @param {string} text @returns {Map<string, string[]>} */
export function assumedIn(text) {
  if (text === last.text) return last.found;
  /** @type {Map<string, string[]>} */
  const found = new Map();
  last = { text, found };
  if (!text.includes(ASSUMED)) return found;
  /** @type {Map<string, number>} */
  const seen = new Map();
  for (const { keys, entries } of sectionsOf(text)) {
    if (keys.length !== 1) continue;
    const index = seen.get(keys[0]) ?? 0;
    seen.set(keys[0], index + 1);
    const told = entries.filter((one) => text.slice(one.valueEnd, one.end).trim() === ASSUMED).map((one) => one.keys[0]);
    if (told.length) found.set(`${keys[0]} ${index}`, told);
  }
  return found;
}

/** Of one table. @param {string} text @param {string} name @param {number} index @returns {string[]} */
export const assumedOf = (text, name, index) => assumedIn(text).get(`${name} ${index}`) ?? [];

/** Each in words, but what ticked changes give. @param {string} text @param {any} tables @param {any} shown tables with what is ticked */
export function assumedWords(text, tables, shown) {
  return [...assumedIn(text)].flatMap(([place, keys]) => {
    const [name, index] = place.split(" ");
    if (name === "changes") return [];
    const table = Array.isArray(tables[name]) ? tables[name][Number(index)] : tables[name];
    const now = Array.isArray(shown[name]) ? shown[name].find((/** @type {any} */ one) => one.name === table.name) : shown[name];
    const values = keys.filter((key) => now && same(now[key], table[key]));
    return values.map((key) => `${key.replaceAll("_", " ")}${typeof table[key] === "object" ? "" : (" " + micro(String(table[key])))} (${titleOf(name, table)})`);
  });
}

/** These keys of a table are assumed. @param {string} name @param {number} index @param {string[]} keys
 * @returns {import("./model.js").Edit} */
export function assuming(name, index, keys) {
  return (text, tables) => ({ text: remarked(text, name, index, keys, true), tables, rewritten: false });
}

/** This key of a table is as it is written. @param {string} name @param {number} index @param {string} key
 * @returns {import("./model.js").Edit} */
export function confirming(name, index, key) {
  return (text, tables) => ({ text: remarked(text, name, index, [key], false), tables, rewritten: false });
}

/** Remarks that are lost where a text is written anew. @param {string} before @param {any} was its tables
 * @param {import("./toml_text.js").Edited} made @returns {import("./toml_text.js").Edited} */
export function stillAssumed(before, was, made) {
  let { text } = made;
  for (const [place, keys] of assumedIn(before)) {
    const [name, index] = place.split(" ");
    const listed = Array.isArray(was[name]);
    const old = listed ? was[name][Number(index)] : was[name];
    const at = listed ? (made.tables[name] ?? []).findIndex((/** @type {any} */ one) => one.name === old?.name) : 0;
    const now = listed ? made.tables[name]?.[at] : made.tables[name];
    if (now) text = remarked(text, name, at, keys.filter((key) => key in now && JSON.stringify(now[key]) === JSON.stringify(old[key])), true);
  }
  return { ...made, text };
}
