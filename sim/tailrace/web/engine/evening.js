// @ts-check
/** A measured signal at even times: as `measurements/evening.py`. */
import { evenly, hermite, smooth } from "./curves.js";
import { constant } from "./facts.js";

/** @typedef {[number, number]} Stretch first point, and the one behind the last; of times s */
/** @typedef {{start: number, step: number, values: Float64Array, gaps: Stretch[]}} Even */
/** @typedef {{time: Float64Array, values: Float64Array, quantum?: number}} Points times in s, rounded to the quantum */

/** At even times: the signal's own, or a spline through its points, which is straight where there are none.
 * @param {Points} signal @returns {Even} */
export function evened({ time, values, quantum = 0 }) {
  const last = time.length - 1;
  const steps = time.slice(1).map((one, k) => one - time[k]);
  const step = middle(steps);
  /** @type {Stretch[]} */
  const gaps = [];
  steps.forEach((one, k) => {
    if (one > constant("GAP") * step) gaps.push([time[k], time[k + 1]]);
  });
  const mean = (time[last] - time[0]) / last;
  let off = 0;
  for (let k = 0; k <= last; k += 1) off = Math.max(off, Math.abs(time[k] - time[0] - mean * k));
  if (!gaps.length && off <= Math.max(constant("EVEN") * mean, 1.01 * quantum)) return { start: time[0], step: mean, values, gaps };
  const count = evenRound((time[last] - time[0]) / step) + 1;
  if (count > constant("MOST_EVEN")) throw new Error(`expected a signal without long gaps, found ${count} intervals between its ends; cut out the gap`);
  const places = evenly(time[0], step, count);
  const read = hermite(time, values, smooth(time, values), places);
  for (const [from, to] of gaps) {
    const before = time.indexOf(from);
    for (let k = Math.max(0, Math.floor((from - time[0]) / step)); k < count && places[k] < to; k += 1) {
      if (places[k] > from) read[k] = values[before] + ((places[k] - from) / (to - from)) * (values[before + 1] - values[before]);
    }
  }
  return { start: time[0], step, values: read, gaps };
}

/** The median. @param {Float64Array} values */
function middle(values) {
  const sorted = values.slice().sort();
  return (sorted[(sorted.length - 1) >> 1] + sorted[sorted.length >> 1]) / 2;
}

/** To the nearest whole number, of two the even one: as Python does. @param {number} value */
export function evenRound(value) {
  const near = Math.round(value);
  return near - value === 0.5 && near % 2 ? near - 1 : near;
}

/** Means of so many neighbours, all of which are there. @param {Float64Array} values @param {number} every */
export function thinned(values, every) {
  if (every === 1) return values;
  return Float64Array.from({ length: Math.floor(values.length / every) }, (_, k) => {
    let sum = 0;
    for (let n = k * every; n < (k + 1) * every; n += 1) sum += values[n];
    return sum / every;
  });
}
