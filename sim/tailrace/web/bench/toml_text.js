// @ts-check
/**
 * A scenario file as text that is edited in place, so that its comments, its order and its
 * alignment stay. Every edit is held against the parsed result; where a file is written in a way
 * that is not edited in place (dotted keys, tables within lists), it is written anew without them.
 */
import { smolToml } from "../vendor/smol-toml.js";

/** @typedef {Record<string, any>} Tables */
/** @typedef {{keys: string[], start: number, valueStart: number, valueEnd: number, end: number}} Entry */
/** @typedef {{keys: string[], listed: boolean, start: number, head: number, body: number, end: number, entries: Entry[]}} Section */
/** @typedef {{text: string, tables: Tables, rewritten: boolean}} Edited */

/** The order of tables in a file that is written anew, or where one is added. */
const TABLE_ORDER = [
  "method", "solutes", "injection", "gradient", "path", "detector", "limits", "numerics",
  "changes", "uncertain", "correlated", "accept", "measured",
];

/** Tables of a text; throws an Error with the line. @param {string} text @returns {Tables} */
export function parsed(text) {
  const tables = /** @type {any} */ (smolToml).parse(text);
  newerIn(text);
  return tables;
}

/** Refuses what came with TOML 1.1, which the program does not read. @param {string} text of TOML */
function newerIn(text) {
  const refuse = (/** @type {string} */ found, /** @type {number} */ at) => {
    const line = text.slice(0, at).split("\n").length;
    throw Object.assign(new Error(`expected TOML 1.0, which the program reads, found ${found}`), { line });
  };
  const open = [];
  let last = "";
  for (let k = 0; k < text.length; k += 1) {
    const letter = text[k];
    if (letter === '"' || letter === "'") {
      const end = afterQuoted(text, k);
      if (letter === '"' && /^(?:[^\\]|\\[^ex])*\\[ex]/s.test(text.slice(k, end))) refuse("\\e or \\x in a text; write \\u and four digits", k);
      k = end - 1;
    } else if (letter === "#") {
      while (k + 1 < text.length && text[k + 1] !== "\n") k += 1;
      continue;
    } else if (letter === "{" || letter === "[") open.push(letter);
    else if (letter === "}" || letter === "]") {
      if (letter === "}" && last === ",") refuse("a comma before }; take it out", k);
      open.pop();
    } else if (letter === "\n" && open.at(-1) === "{") refuse("a line break within { }; write it on one line", k);
    else if (letter === ":" && /^(?:|.*[^\d:+-])\d\d:\d\d(?!\d|:)/s.test(text.slice(Math.max(0, k - 3), k + 4))) refuse("a time without seconds; write them", k);
    if (letter.trim()) last = letter;
  }
}

/** Where a quoted text that begins at `at` ends. @param {string} text @param {number} at */
function afterQuoted(text, at) {
  const quote = text[at];
  const triple = text.startsWith(quote.repeat(3), at);
  const end = triple ? quote.repeat(3) : quote;
  let k = at + end.length;
  while (k < text.length && !text.startsWith(end, k)) k += quote === '"' && text[k] === "\\" ? 2 : 1;
  k += end.length;
  // up to two quotes may stand before the three that end it
  while (triple && text[k] === quote) k += 1;
  return k;
}

/** Where the value that begins at `at` ends, without blanks and remarks behind it.
 * @param {string} text @param {number} at */
function afterValue(text, at) {
  let depth = 0;
  let last = at;
  for (let k = at; k < text.length; ) {
    const letter = text[k];
    if (letter === '"' || letter === "'") {
      k = afterQuoted(text, k);
      last = k;
    } else if (letter === "#") {
      while (k < text.length && text[k] !== "\n") k += 1;
    } else if (letter === "\n" && depth === 0) {
      return last;
    } else {
      if (letter === "[" || letter === "{") depth += 1;
      if (letter === "]" || letter === "}") depth -= 1;
      k += 1;
      if (letter.trim()) last = k;
    }
  }
  return last;
}

/** Names of a dotted key, and where it ends. @param {string} text @param {number} at
 * @returns {[string[], number]} */
function keysAt(text, at) {
  const keys = [];
  let k = at;
  for (;;) {
    while (text[k] === " " || text[k] === "\t") k += 1;
    const start = k;
    if (text[k] === '"' || text[k] === "'") {
      k = afterQuoted(text, k);
      const quoted = text.slice(start, k);
      keys.push(quoted[0] === '"' ? JSON.parse(quoted) : quoted.slice(1, -1));
    } else {
      while (k < text.length && /[A-Za-z0-9_-]/.test(text[k])) k += 1;
      keys.push(text.slice(start, k));
    }
    while (text[k] === " " || text[k] === "\t") k += 1;
    if (text[k] !== ".") return [keys, k];
    k += 1;
  }
}

/** Where each table and each key of a file stands. @param {string} text @returns {Section[]} */
export function sections(text) {
  /** @type {Section[]} */
  const found = [{ keys: [], listed: false, start: 0, head: 0, body: 0, end: 0, entries: [] }];
  let remark = -1;
  for (let at = 0; at < text.length; ) {
    let k = at;
    while (text[k] === " " || text[k] === "\t") k += 1;
    const lineEnd = text.indexOf("\n", k) < 0 ? text.length : text.indexOf("\n", k) + 1;
    const here = found[found.length - 1];
    if (text[k] === "#") {
      if (remark < 0) remark = at;
      at = lineEnd;
      continue;
    }
    if (text[k] === "[") {
      const listed = text[k + 1] === "[";
      const [keys, after] = keysAt(text, k + (listed ? 2 : 1));
      const end = text.indexOf("\n", after) < 0 ? text.length : text.indexOf("\n", after) + 1;
      const start = remark < 0 || found.length === 1 && !here.entries.length && remark === 0 ? at : remark;
      here.end = start;
      found.push({ keys, listed, start, head: at, body: end, end, entries: [] });
      at = end;
    } else if (text[k] && text[k] !== "\n" && text[k] !== "\r") {
      const [keys, after] = keysAt(text, k);
      let valueStart = text.indexOf("=", after) + 1;
      while (text[valueStart] === " " || text[valueStart] === "\t") valueStart += 1;
      const valueEnd = afterValue(text, valueStart);
      const end = text.indexOf("\n", valueEnd) < 0 ? text.length : text.indexOf("\n", valueEnd) + 1;
      here.entries.push({ keys, start: at, valueStart, valueEnd, end });
      at = end;
    } else {
      at = lineEnd;
    }
    remark = -1;
  }
  found[found.length - 1].end = text.length;
  return found;
}

const BARE = /^[A-Za-z0-9_-]+$/;

/** @param {string} key */
function keyText(key) {
  return BARE.test(key) ? key : quoted(key);
}

/** @param {string} text */
function quoted(text) {
  const whole = /** @type {any} */ (text).toWellFormed ? /** @type {any} */ (text).toWellFormed() : text;
  return JSON.stringify(whole).replaceAll("\x7f", "\\u007f");
}

/** A value as it is written behind a key. @param {any} value @returns {string} */
export function literal(value) {
  if (typeof value === "string") return quoted(value);
  if (typeof value === "boolean" || typeof value === "bigint") return String(value);
  if (typeof value === "number") {
    if (Number.isNaN(value)) return "nan";
    return Number.isFinite(value) ? String(value) : value > 0 ? "inf" : "-inf";
  }
  if (value instanceof Date) return value.toISOString();
  if (Array.isArray(value)) return `[${value.map(literal).join(", ")}]`;
  const rows = Object.entries(value).map(([key, one]) => `${keyText(key)} = ${literal(one)}`);
  return rows.length ? `{ ${rows.join(", ")} }` : "{}";
}

/** Lines of a table, with the equals signs below each other. @param {Tables} table */
function lines(table) {
  const rows = Object.entries(table).map(([key, value]) => [keyText(key), literal(value)]);
  const width = Math.max(0, ...rows.map(([key]) => key.length));
  return rows.map(([key, value]) => `${key.padEnd(width)} = ${value}\n`).join("");
}

/** @param {any} value */
function isTableOfFile(value) {
  return typeof value === "object" && value !== null && !Array.isArray(value) && !(value instanceof Date);
}

/** The text of a file with these tables, each below its heading. @param {Tables} tables */
export function written(tables) {
  let loose = "";
  let headed = "";
  const rank = (/** @type {string} */ key) => (TABLE_ORDER.indexOf(key) + 99) % 100;
  for (const [key, value] of Object.entries(tables).sort((a, b) => rank(a[0]) - rank(b[0]))) {
    if (isTableOfFile(value)) headed += `\n[${keyText(key)}]\n${lines(value)}`;
    else if (Array.isArray(value) && value.length && value.every(isTableOfFile)) {
      for (const one of value) headed += `\n[[${keyText(key)}]]\n${lines(one)}`;
    } else loose += lines({ [key]: value });
  }
  return (loose + headed).replace(/^\n+/, "");
}

/** Whether two parsed values are the same. @param {any} one @param {any} other @returns {boolean} */
export function same(one, other) {
  if (Object.is(one, other) || one === other) return true;
  if (typeof one !== "object" || typeof other !== "object" || !one || !other) return false;
  if (one instanceof Date || other instanceof Date) {
    return one instanceof Date && other instanceof Date && one.getTime() === other.getTime();
  }
  if (Array.isArray(one) !== Array.isArray(other)) return false;
  const keys = Object.keys(one);
  return (
    keys.length === Object.keys(other).length &&
    keys.every((key) => Object.hasOwn(other, key) && same(one[key], other[key]))
  );
}

/** The edited text if it says what is wanted; else all of it written anew.
 * @param {() => string} edit @param {Tables} wanted @returns {Edited} */
function checked(edit, wanted) {
  try {
    const text = edit();
    if (same(parsed(text), wanted)) return { text, tables: wanted, rewritten: false };
  } catch {
    // not edited in place: written anew below
  }
  return { text: written(wanted), tables: wanted, rewritten: true };
}

/** Sections of one element of a list of tables, or of a table (index 0), with those below it.
 * @param {Section[]} all @param {string} name @param {number} index @returns {Section[]} */
function blockOf(all, name, index) {
  let seen = -1;
  const found = [];
  let inside = false;
  for (const one of all) {
    if (one.keys[0] === name && one.keys.length === 1) {
      seen += 1;
      inside = seen === index;
      if (inside) found.push(one);
    } else if (inside && one.keys[0] === name) found.push(one);
    else inside = false;
  }
  return found;
}

/** Two pieces of a file with one empty line between them. @param {string} before @param {string} behind */
function joined(before, behind) {
  const head = before.replace(/\s*$/, "");
  const tail = behind.replace(/^\s*\n/, "");
  if (!head) return tail;
  return tail.trim() ? `${head}\n\n${tail}` : `${head}\n`;
}

/** Where a table of this name is put that is not there yet. @param {string} text @param {string} name */
function placeFor(text, name) {
  const rank = TABLE_ORDER.indexOf(name);
  const next = sections(text).find(
    (one) => one.keys.length && TABLE_ORDER.indexOf(one.keys[0]) > rank && rank >= 0,
  );
  return next ? next.start : text.length;
}

/** Put a block of lines at a place. @param {string} text @param {number} at @param {string} block */
function putIn(text, at, block) {
  return joined(joined(text.slice(0, at), block), text.slice(at));
}

/** A key of a table set to a value, or taken out where that is undefined.
 *
 * `name` is that of the table ("" of keys above all), `index` its place in a list of tables.
 * @param {string} text @param {Tables} tables @param {string} name @param {number} index
 * @param {string} key @param {any} value @returns {Edited} */
export function withKey(text, tables, name, index, key, value) {
  const wanted = structuredClone(tables);
  let table = name ? wanted[name] : wanted;
  if (Array.isArray(table)) table = table[index];
  if (table === undefined) table = wanted[name] = {};
  if (value === undefined) delete table[key];
  else table[key] = structuredClone(value);
  return checked(() => keyEdited(text, name, index, key, value), wanted);
}

/** @param {string} text @param {string} name @param {number} index @param {string} key @param {any} value */
function keyEdited(text, name, index, key, value) {
  const all = sections(text);
  const section = name ? blockOf(all, name, index)[0] : all[0];
  if (!section) {
    return value === undefined ? text : putIn(text, placeFor(text, name), `[${keyText(name)}]\n${lines({ [key]: value })}`);
  }
  const entry = section.entries.find((one) => one.keys.length === 1 && one.keys[0] === key);
  if (entry && value === undefined) return text.slice(0, entry.start) + text.slice(entry.end);
  if (entry) {
    const rest = text.slice(entry.valueEnd, entry.end);
    return text.slice(0, entry.valueStart) + literal(value) + (rest.trim() === ASSUMED ? rest.slice(rest.trimEnd().length) : rest) + text.slice(entry.end);
  }
  if (value === undefined) return text;
  const last = section.entries[section.entries.length - 1];
  let at = last ? last.end : section.body;
  if (!last && !name) {
    // above everything, below the remark that a file begins with
    while (text[at] === "#") at = text.indexOf("\n", at) < 0 ? text.length : text.indexOf("\n", at) + 1;
  }
  const model = last ? text.slice(last.start, last.valueStart) : "";
  const width = model ? model.indexOf("=") - 1 : 0;
  const indent = /^\s*/.exec(model)?.[0] ?? "";
  const line = `${indent}${keyText(key).padEnd(Math.max(0, width - indent.length))} = ${literal(value)}\n`;
  const before = text.slice(0, at);
  return before + (before && !before.endsWith("\n") ? "\n" : "") + line + text.slice(at);
}

/** The remark behind a value that the page has put in, and nobody given. */
export const ASSUMED = "# assumed by the bench: correct or confirm it";

/** The text with that remark behind values of a table, or without it.
 * @param {string} text @param {string} name @param {number} index @param {string[]} keys @param {boolean} wanted */
export function remarked(text, name, index, keys, wanted) {
  const entries = blockOf(sections(text), name, index)[0]?.entries ?? [];
  return entries.reduceRight((made, { keys: [key, ...more], valueEnd, end }) => {
    const rest = made.slice(valueEnd, end);
    if (more.length || !keys.includes(key) || rest.trim() !== (wanted ? "" : ASSUMED)) return made;
    return made.slice(0, valueEnd) + (wanted ? `  ${ASSUMED}` : "") + rest.slice(rest.trimEnd().length) + made.slice(end);
  }, text);
}

/** One more table in a list of tables, at a place of it.
 * @param {string} text @param {Tables} tables @param {string} name @param {number} index
 * @param {Tables} item @returns {Edited} */
export function withItem(text, tables, name, index, item) {
  const wanted = structuredClone(tables);
  wanted[name] ??= [];
  wanted[name].splice(index, 0, structuredClone(item));
  return checked(() => {
    const all = sections(text);
    const next = blockOf(all, name, index)[0];
    const before = blockOf(all, name, index - 1);
    let at = placeFor(text, name);
    if (next) at = next.start;
    else if (before.length) at = before[before.length - 1].end;
    return putIn(text, at, `[[${keyText(name)}]]\n${lines(item)}`);
  }, wanted);
}

/** A list of tables without one, or a file without a table (index 0). @param {string} text @param {Tables} tables @param {string} name
 * @param {number} index @returns {Edited} */
export function withoutItem(text, tables, name, index) {
  const wanted = structuredClone(tables);
  if (Array.isArray(wanted[name])) wanted[name].splice(index, 1);
  if (!wanted[name].length) delete wanted[name];
  return checked(() => {
    const block = blockOf(sections(text), name, index);
    return joined(text.slice(0, block[0].start), text.slice(block[block.length - 1].end));
  }, wanted);
}

/** A table of a list at another place of it. @param {string} text @param {Tables} tables
 * @param {string} name @param {number} from @param {number} to @returns {Edited} */
export function withMoved(text, tables, name, from, to) {
  const wanted = structuredClone(tables);
  wanted[name].splice(to, 0, ...wanted[name].splice(from, 1));
  return checked(() => {
    const block = blockOf(sections(text), name, from);
    const lifted = text.slice(block[0].start, block[block.length - 1].end);
    const rest = joined(text.slice(0, block[0].start), text.slice(block[block.length - 1].end));
    const left = sections(rest);
    const next = blockOf(left, name, to)[0];
    const before = blockOf(left, name, to - 1);
    const at = next ? next.start : before[before.length - 1].end;
    return putIn(rest, at, lifted);
  }, wanted);
}

/** A whole table in the place of one of its name, or taken out where undefined.
 * @param {string} text @param {Tables} tables @param {string} name @param {number} index
 * @param {Tables} item @returns {Edited} */
export function withTable(text, tables, name, index, item) {
  const wanted = structuredClone(tables);
  const listed = Array.isArray(wanted[name]);
  if (listed) wanted[name][index] = structuredClone(item);
  else wanted[name] = structuredClone(item);
  return checked(() => {
    const block = blockOf(sections(text), name, index);
    const head = listed ? `[[${keyText(name)}]]` : `[${keyText(name)}]`;
    const next = `${head}\n${lines(item)}`;
    if (!block.length) return putIn(text, placeFor(text, name), next);
    const tail = text.slice(block[block.length - 1].end);
    return joined(text.slice(0, block[0].head) + next, tail);
  }, wanted);
}
