// @ts-check
/** Words of a page in its language, and the decimal sign of its numbers: as `tailrace/wording`. */

/** What stands for each English text; empty: the page is English. @type {Record<string, string>} */
let table = {};

/** @param {Record<string, string>} words */
export function useWords(words) {
  table = words;
}

/** A text in the page's language, with values in its places. @param {string} text @param {Record<string, string | number>} [values] */
export function phrase(text, values = {}) {
  return (table[text] ?? text).replace(/\{(\w+)\}/g, (_, name) => String(values[name]));
}

/** Whether numbers are written with a decimal comma. */
export function comma() {
  return Object.keys(table).length > 0;
}

/** Numbers within a text as the language writes them. @param {string} text */
export function local(text) {
  return comma() ? text.replace(/(?<=\d)\.(?=\d)/g, ",") : text;
}
