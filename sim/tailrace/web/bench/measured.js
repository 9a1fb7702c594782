// @ts-check
/** A measured signal from a text file: as `measurements/reading.py`. */
import { TIME_UNITS, columnsOf } from "./columns.js";
import { maximum } from "../shown/lines.js";

const MOST_BYTES_OF_DATA = 2e7;
const FEWEST_POINTS = 20;
/** Share of points at times that were there already, above which the times are wrong. */
const MOST_DOUBLED = 0.1;
/** Intervals, s, outside of which the unit of time must be wrong. */
const SHORTEST_STEP = 1e-6;
const LONGEST_STEP = 600;
const LARGEST_VALUE = 1e60;
/** What stands for a number that is missing. */
const SENTINEL = -9999;

/** @typedef {{time: Float64Array, values: Float64Array, quantum: number, unit: string, stated: boolean, column: number, columns: {at: number, head: string}[]}} Signal
 * time in s; `unit`: of the file; `columns`: those of numbers that are no times */

/** Times (s) and heights of a file of columns; throws an Error with one sentence.
 * @param {string} text @param {{unit?: string, column?: number}} [asked] @returns {Signal} */
export function signalRead(text, asked = {}) {
  if (text.length > MOST_BYTES_OF_DATA) throw new Error("expected a file of less than 20 MB, found a larger one");
  if (text.includes("\0")) throw new Error("expected a text of columns (CSV), found a file that is none; export it as text");
  const { time, values, unit, stated, quantum, signal, heads, others } = columnsOf(text, asked);
  const size = TIME_UNITS[unit];
  const columns = others.map((at) => ({ at, head: heads[at] || `column ${at + 1}` }));
  return { ...cleaned(time, values, unit), quantum: quantum * size, unit, stated, column: signal, columns };
}

/** Points that are there, each time once, in s. @param {number[]} times in `unit` @param {number[]} heights @param {string} unit */
function cleaned(times, heights, unit) {
  const sound = [...times.keys()].filter((k) => Number.isFinite(times[k]) && Math.abs(heights[k]) < LARGEST_VALUE && heights[k] !== SENTINEL);
  if (sound.length < FEWEST_POINTS) throw new Error(`expected at least ${FEWEST_POINTS} points, found ${sound.length}; record it more densely`);
  const fall = sound.findIndex((k, n) => n > 0 && times[k] < times[sound[n - 1]]);
  if (fall > 0) throw new Error(`expected times that rise, found ${times[sound[fall]]} after ${times[sound[fall - 1]]} ${unit} at point ${fall + 1}; cut the file into its runs`);
  /** @type {{time: number, sum: number, count: number}[]} */
  const points = [];
  for (const k of sound) {
    const last = points[points.length - 1];
    if (last?.time !== times[k]) points.push({ time: times[k], sum: heights[k], count: 1 });
    else Object.assign(last, { sum: last.sum + heights[k], count: last.count + 1 });
  }
  const doubled = sound.length - points.length;
  if (points.length < FEWEST_POINTS || doubled > MOST_DOUBLED * sound.length)
    throw new Error(`expected each time once, found ${doubled} of ${sound.length} points at a time that was there already; export them with more digits`);
  const time = Float64Array.from(points, (one) => one.time * TIME_UNITS[unit]);
  const values = Float64Array.from(points, (one) => one.sum / one.count);
  const steps = time.slice(1).map((one, k) => one - time[k]).sort();
  const step = steps[steps.length >> 1];
  if (!(step >= SHORTEST_STEP && step <= LONGEST_STEP)) throw new Error(`expected points ${SHORTEST_STEP} s to ${LONGEST_STEP} s apart, found ${step} s; the unit of time, or the column, is wrong`);
  if (values.every((one) => one === values[0])) throw new Error("expected a signal, found one value only; choose the column of the signal");
  return { time, values };
}

/** Time of the highest value, s. @param {Signal} signal */
export function highest({ time, values }) {
  return time[values.indexOf(maximum(values))];
}
