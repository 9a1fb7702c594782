// A slider's place, its value, and the value's text; a slider that is free has a place in the scenario.

import { micro } from "../engine/units.js";
import { local } from "../shown/words.js";
import { shownOn, typedOn } from "./free.js";

/** @typedef {number | string | null} Value of a slider: in SI, a word, or none: as the scenario has it */

const FINE = 1000;

/** @param {any} axis @param {Value} value @returns {string} */
export function shown(axis, value) {
  return axis.place ? shownOn(axis, value) : axis.labels[/** @type {number} */ (value)];
}

/** As people read it, in their language. @param {any} axis @param {Value} value */
export function readable(axis, value) {
  return local(micro(shown(axis, value)));
}

/** Of a slider that is free: its place, 0 to FINE, as a value: a stop, or one with four digits. @param {any} axis @param {number} place */
export function valueOf(axis, place) {
  if (!axis.place) return place;
  if (axis.words.length) return axis.words[place];
  // at the mark of a stop it is the stop
  const stop = axis.stops.find((/** @type {number | string} */ one) => placeOf(axis, one) === place);
  if (stop !== undefined) return stop;
  const part = place / FINE;
  const value = axis.log
    ? axis.low * (axis.high / axis.low) ** part
    : axis.low + (axis.high - axis.low) * part;
  return Number(value.toPrecision(4));
}

/** @param {any} axis @param {Value} value */
export function placeOf(axis, value) {
  if (!axis.place) return Number(value);
  if (axis.words.length) return axis.words.indexOf(value);
  // "straight" is farther than any bend
  const number = value === null ? axis.low : typeof value === "string" ? axis.high : value;
  const part = axis.log
    ? Math.log(number / axis.low) / Math.log(axis.high / axis.low)
    : (number - axis.low) / (axis.high - axis.low);
  return Math.round(FINE * Math.min(Math.max(part, 0), 1));
}

/** A value from its text; the one before where it is none. @param {any} axis @param {string} typed @param {Value} before @returns {Value} */
export function valueFrom(axis, typed, before) {
  const text = typed.replace("µ", "u");
  if (text === shown(axis, before)) return before;
  if (!axis.place) return Math.max(axis.labels.indexOf(text), 0);
  if (axis.words.length) return axis.words.includes(text) ? text : before;
  const stop = axis.stops.find((/** @type {number} */ one) => shown(axis, one) === text);
  if (stop !== undefined) return stop;
  if (text === shown(axis, axis.start)) return axis.start;
  try {
    const value = typedOn(axis, text);
    return Number.isFinite(value) ? value : before;
  } catch {
    return before;
  }
}
