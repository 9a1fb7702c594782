// Text such as "0.12 mm" to a number in SI, and back: as `quantities/parse.py` and `kinds.py`.

import { Refusal, facts } from "./facts.js";

const NUMBER = "[+-]?(?:[0-9]+\\.?[0-9]*|\\.[0-9]+)(?:[eE][+-]?[0-9]+)?";
const TERM = "[A-Za-zµμ°%Å]+(?:(?:\\^|\\*\\*)?-?[1-9]|[²³])?";
const UNIT = `${TERM}(?:\\s*[*/·]\\s*${TERM}|\\s+${TERM})*`;
const QUANTITY = new RegExp(`^\\s*(${NUMBER})\\s*(${UNIT})?\\s*$`);
const FACTOR = /(\s*[*/·]\s*|\s+|^)([A-Za-zµμ°%Å]+)(?:(?:\^|\*\*)?(-?[1-9])|([²³]))?/gy;
const MARKED_INCHES = new RegExp(`^\\s*(${NUMBER})\\s*(?:"|''|″|”)\\s*$`);
const CELSIUS = ["C", "c", "oC", "Celsius", "deg", "degc"];
const FAHRENHEIT = ["F", "f", "oF", "Fahrenheit", "degf"];
const LONGEST = 60;
const DIMENSIONS = 7;
const ZERO = 8;

/**
 * Read a quantity.
 * @param {unknown} text a number and a unit
 * @param {string} kind of quantity, as the program names it: "volume"
 * @returns {number} in SI; throws Refusal with what was expected, found, and what to write
 */
export function quantity(text, kind) {
  const row = facts().kinds[kind];
  const expected = `expected ${row.name} with a unit such as "${row.examples[0]}"`;
  const usual = row.units[0][0];
  const bare = (/** @type {number} */ found) =>
    new Refusal(
      `${expected}, found ${general(found, 6)} (a bare number); write "${general(found, 6)} ${usual}" if ${usual} is meant`,
    );
  if (typeof text === "number" && Number.isFinite(text)) throw bare(text);
  if (typeof text !== "string")
    throw new Refusal(`${expected}, found ${found(text)}; write a number and a unit`);
  const match = text.length <= LONGEST ? QUANTITY.exec(text) : null;
  if (!match) {
    if (/^\s*[+-]?(nan|inf)/i.test(text)) {
      throw new Refusal(`${expected}, found ${found(text)}, which is not a finite number; write a number`);
    }
    const inches = row.unit === "m" ? MARKED_INCHES.exec(text) : null;
    const advice = inches
      ? `write "${inches[1]} in" for inches`
      : /^\s*[+-]?[0-9]+,[0-9]/.test(text)
        ? "write the decimal sign as a point"
        : "write a number, a space and a unit";
    throw new Refusal(`${expected}, found ${found(text)}; ${advice}`);
  }
  const number = Number(match[1]);
  if (match[2] === undefined) throw bare(number);
  if (!Number.isFinite(number))
    throw new Refusal(`${expected}, found ${found(text)}, which is not a finite number`);
  // a unit of its own may hold a share, such as %/K, which others must not
  const own = row.units.find((/** @type {[string, number]} */ one) => one[0] === match[2]);
  const unit = own && !row.offset ? [own[1]] : unitOf(match[2]);
  const si = unitOf(row.unit) ?? [1];
  const same = unit && (own || sameDimensions(unit, si));
  if (!unit || !same) {
    const hint =
      caseHint(row, match[1], match[2]) ??
      `write it in ${row.units.map((/** @type {any} */ one) => one[0]).join(" or ")}`;
    const wrong = unit ? `is not a unit of ${row.name.replace(/^\S+ /, "")}` : "is not a unit";
    throw new Refusal(`${expected}, found ${found(text)} ("${match[2]}" ${wrong}); ${hint}`);
  }
  const size = own && !row.offset ? 1 : si[0];
  const value = (number * unit[0] + (unit[ZERO] ?? 0)) / size;
  if (!(row.lowest <= value && value <= row.greatest)) {
    const hint = caseHint(row, match[1], match[2]) ?? "check the number and the unit";
    throw new Refusal(`expected ${row.name} from ${row.bounds}, found ${found(text)}; ${hint}`);
  }
  return value;
}

/** What a number may mean in which a comma, a blank or an apostrophe stands: groups of three digits, or a decimal sign.
 * @param {string} text */
export function meant(text) {
  const grouped = /^[+-]?[1-9]\d{0,2}([ ,'’]\d{3})+(?!\d)/.exec(text)?.[0];
  const whole = grouped ? [grouped.replace(/[ ,'’]/g, "") + text.slice(grouped.length)] : [];
  return /\d,\d/.test(text) ? [...whole, text.replace(",", ".")] : whole;
}

/** With the letter for micro and the exponents that are printed. @param {string} text */
export function micro(text) {
  return text.replace(/\bu(?=(?:[LMm]|mol)\b)/g, "µ").replace(/(?<=m)\^([23])\b/g, (_, /** @type {string} */ n) => "²³"[Number(n) - 2]);
}

/**
 * Print an SI value in the trade's unit: "0.12 mm".
 * @param {number} value
 * @param {string} kind of quantity
 * @param {number} [digits] significant ones
 * @returns {string}
 */
export function display(value, kind, digits = 4) {
  const row = facts().kinds[kind];
  if (Number.isNaN(value)) return "not known";
  if (!Number.isFinite(value)) return kind === "bend radius" ? "straight" : "without limit";
  if (row.offset) return `${general(Number((value - row.offset).toFixed(6)), digits + 2)} ${row.units[0][0]}`;
  const numbers = row.units.map((/** @type {[string, number]} */ one) => [
    general(value / one[1], digits),
    one[0],
  ]);
  const handy = numbers.find(
    (/** @type {[string, string]} */ one) =>
      Math.abs(Number(one[0])) >= 0.1 && Math.abs(Number(one[0])) < 1000,
  );
  return (handy ?? numbers[0]).join(" ");
}

/**
 * As Python's format "g": significant digits, without zeros at the end.
 * @param {number} value
 * @param {number} digits
 * @returns {string}
 */
export function general(value, digits) {
  if (value === 0 || !Number.isFinite(value))
    return Number.isNaN(value) ? "nan" : String(value).replace("Infinity", "inf");
  const [mantissa, exponent] = value.toExponential(digits - 1).split("e");
  const power = Number(exponent);
  if (power < -4 || power >= digits) {
    const trimmed = mantissa.includes(".") ? mantissa.replace(/\.?0+$/, "") : mantissa;
    return `${trimmed}e${power < 0 ? "-" : "+"}${String(Math.abs(power)).padStart(2, "0")}`;
  }
  const plain = value.toFixed(Math.max(digits - 1 - power, 0));
  return plain.includes(".") ? plain.replace(/\.?0+$/, "") : plain;
}

/**
 * A number without a unit as people read it.
 * @param {number} value
 * @param {number} [digits]
 */
export function plain(value, digits = 4) {
  return Number.isNaN(value) ? "not known" : general(Number(value.toPrecision(digits)), 12);
}

/** @param {unknown} value */
export function found(value) {
  if (typeof value === "string")
    return value.length <= LONGEST ? `"${value}"` : `"${value.slice(0, LONGEST)}…"`;
  if (Array.isArray(value)) return value.length ? "a list" : "an empty list";
  if (value !== null && typeof value === "object") return "a table";
  return typeof value === "number" ? general(value, 6) : String(value);
}

/** @type {Map<string, number[] | null>} */
const known = new Map();

/**
 * Size in SI, exponents of the dimensions, and perhaps a zero, of a unit; null: it is none.
 * @param {string} text
 * @returns {number[] | null}
 */
function unitOf(text) {
  const before = known.get(text);
  if (before !== undefined) return before;
  const made = factored(text);
  known.set(text, made);
  return made;
}

/** @param {string} text */
function factored(text) {
  /** @type {number[]} */
  const whole = [1, 0, 0, 0, 0, 0, 0, 0];
  FACTOR.lastIndex = 0;
  let terms = 0;
  let last = null;
  for (let match = FACTOR.exec(text); match; match = FACTOR.exec(text)) {
    const row = named(match[2]);
    if (!row) return null;
    const power = match[4] ? (match[4] === "²" ? 2 : 3) : Number(match[3] ?? 1);
    const signed = match[1].includes("/") ? -power : power;
    whole[0] *= row[0] ** signed;
    for (let at = 1; at <= DIMENSIONS; at += 1) whole[at] += signed * (row[at] ?? 0);
    terms += 1;
    last = power === 1 ? row : null;
    if (FACTOR.lastIndex === text.length) break;
  }
  if (terms === 1 && last && last.length > ZERO) whole.push(last[ZERO]);
  return terms ? whole : null;
}

/**
 * A unit by its name, with a prefix or a plural's s perhaps.
 * @param {string} name
 * @returns {number[] | null}
 */
function named(name) {
  const { names, prefixes } = facts().units;
  if (Object.hasOwn(names, name)) return names[name];
  for (const stem of name.endsWith("s") ? [name, name.slice(0, -1)] : [name]) {
    for (const prefix of ["", ...Object.keys(prefixes)]) {
      const rest = stem.slice(prefix.length);
      // a letter alone has no plural
      const said =
        stem.startsWith(prefix) && Object.hasOwn(names, rest) && (stem === name || rest.length > 1);
      if (said && (!prefix || names[rest].length <= ZERO)) {
        return [names[rest][0] * (prefix ? prefixes[prefix] : 1), ...names[rest].slice(1)];
      }
    }
  }
  return null;
}

/**
 * @param {number[]} one
 * @param {number[]} other
 */
function sameDimensions(one, other) {
  for (let at = 1; at <= DIMENSIONS; at += 1) {
    if ((one[at] ?? 0) !== (other[at] ?? 0)) return false;
  }
  return true;
}

/**
 * What was meant where only the case of a unit is wrong, or C and F stand for degrees.
 * @param {any} row of a kind
 * @param {string} number
 * @param {string} unit
 * @returns {string | null}
 */
function caseHint(row, number, unit) {
  if (row.offset && CELSIUS.includes(unit)) return `write "${number} degC" for degrees Celsius`;
  if (row.offset && FAHRENHEIT.includes(unit)) return `write "${number} degF" for degrees Fahrenheit`;
  for (const [right] of row.units) {
    if (right !== unit && right.toLowerCase() === unit.toLowerCase())
      return `units are case-sensitive: write "${number} ${right}"`;
  }
  return null;
}
