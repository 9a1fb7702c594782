// @ts-check
/** A measured signal from a text file: read, put on its baseline, laid over the picture. */
import { metricsOf, momentsOf } from "../engine/metrics.js";
import { readAt } from "./picture.js";

const MOST_BYTES_OF_DATA = 2e7;
const FEWEST_POINTS = 20;
/** Share of the height at which the foot of a peak is taken to end. */
const FOOT = 0.01;

/** @typedef {{time: Float64Array, values: Float64Array, unit: string, stated: boolean, signal: string, columns: string[]}} Signal */

/** Times (s) and heights of a file of columns; throws an Error with one sentence.
 * @param {string} text @param {{unit?: string, column?: number}} [asked] @returns {Signal} */
export function signalRead(text, asked = {}) {
  if (text.length > MOST_BYTES_OF_DATA) throw new Error("expected a file of less than 20 MB, found a larger one");
  if (text.includes("\0")) throw new Error("expected a text of columns (CSV), found a file that is none; export it as text");
  const lines = text.replace(/^\uFEFF/, "").split(/\r\n|\n|\r/);
  const separator = separatorOf(lines);
  const decimal = separator !== "," && lines.slice(0, 400).some((line) => /^\s*-?\d+,\d+/.test(line)) ? "," : ".";
  const split = (/** @type {string} */ line) => (separator === " " ? line.trim().split(/\s+/) : line.split(separator)).map((one) => one.trim().replace(/^"(.*)"$/, "$1"));
  const number = (/** @type {string} */ one) => {
    const point = decimal === "," ? one.replace(",", ".") : one;
    return /^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$/i.test(point) ? Number(point) : NaN;
  };
  const rows = [];
  /** @type {string[]} */
  let heads = [];
  for (const line of lines) {
    const cells = split(line);
    const numbers = cells.map(number);
    if (cells.length > 1 && Number.isFinite(numbers[0]) && Number.isFinite(numbers[1])) rows.push(numbers);
    else if (!rows.length && line.trim()) heads = cells;
  }
  if (rows.length < FEWEST_POINTS) {
    throw new Error(`expected two columns of numbers, time and signal, of at least ${FEWEST_POINTS} rows, found ${rows.length}`);
  }
  const column = asked.column ?? 1;
  const words = heads.join(" ").toLowerCase() + lines.slice(0, 40).join(" ").toLowerCase();
  const [inMinutes, inSeconds] = unitsIn(heads[0] ?? "", words);
  const unit = asked.unit ?? (inMinutes ? "min" : "s");
  const stated = asked.unit !== undefined || inMinutes || inSeconds;
  const size = unit === "min" ? 60 : 1;
  const time = Float64Array.from(rows, (row) => row[0] * size);
  const values = Float64Array.from(rows, (row) => row[column] ?? NaN);
  for (let k = 1; k < time.length; k += 1) {
    if (!(time[k] > time[k - 1])) throw new Error(`expected times that rise, found ${rows[k][0]} behind ${rows[k - 1][0]} in row ${k + 1}`);
  }
  if (values.some((one) => !Number.isFinite(one))) throw new Error("expected a number in every row of the column, found a row without");
  return { time, values, unit, stated, signal: heads[column] ?? "", columns: rows[0].map((_, k) => heads[k] ?? `column ${k + 1}`) };
}

/** Whether minutes and whether seconds are spoken of: at the head of the column, else anywhere above.
 * @param {string} head @param {string} words */
function unitsIn(head, words) {
  const minutes = /\bmin(ute)?s?\b/;
  const first = head.toLowerCase();
  if (minutes.test(first)) return [true, false];
  if (/\b(s|sec|seconds?)\b/.test(first)) return [false, true];
  return [minutes.test(words), !minutes.test(words) && /\b(sec|seconds?)\b|[([]s[)\]]/.test(words)];
}

/** Time of the highest value, s. @param {Signal} signal */
export function highest({ time, values }) {
  return time[values.indexOf(maximumOf(values))];
}

/** @param {string[]} lines */
function separatorOf(lines) {
  const some = lines.filter((line) => /\d/.test(line)).slice(-200);
  for (const one of ["\t", ";"]) if (some.filter((line) => line.includes(one)).length > some.length / 2) return one;
  return some.filter((line) => /\d\s*,\s*[-+.\d]/.test(line)).length > some.length / 2 ? "," : " ";
}

/** The highest peak above a line between its feet: the window and the heights above that line.
 * @param {Signal} signal @param {number} from @param {number} to s */
export function highestPeak(signal, from, to) {
  const { time, values } = signal;
  let [low, high] = [0, time.length - 1];
  while (low < high && time[low] < from) low += 1;
  while (high > low && time[high] > to) high -= 1;
  if (high - low < FEWEST_POINTS) return null;
  const sorted = values.slice(low, high + 1).sort();
  const ground = sorted[Math.floor(sorted.length / 10)];
  let apex = low;
  for (let k = low; k <= high; k += 1) if (values[k] > values[apex]) apex = k;
  const tall = values[apex] - ground;
  if (!(tall > 0)) return null;
  let [first, last] = [apex, apex];
  while (first > low && values[first] - ground > FOOT * tall) first -= 1;
  while (last < high && values[last] - ground > FOOT * tall) last += 1;
  const room = Math.round(0.25 * (last - first));
  [first, last] = [Math.max(low, first - room), Math.min(high, last + room)];
  const [left, right] = [ends(values, first, room, 1), ends(values, last, room, -1)];
  const slope = (right - left) / (time[last] - time[first] || 1);
  const above = Float64Array.from({ length: last - first + 1 }, (_, k) => values[first + k] - left - slope * (time[first + k] - time[first]));
  return { time: time.slice(first, last + 1), values: above, apex: time[apex], height: maximumOf(above), ground: left };
}

/** Mean of a few points at an end. @param {Float64Array} values @param {number} at @param {number} room @param {number} step */
function ends(values, at, room, step) {
  const count = Math.max(1, Math.min(9, Math.floor(room / 2)));
  let sum = 0;
  for (let k = 0; k < count; k += 1) sum += values[at + step * k];
  return sum / count;
}

/** @param {Float64Array} values */
function maximumOf(values) {
  return values.reduce((most, one) => (one > most ? one : most), -Infinity);
}

/** All metrics of a peak, by the program's names. @param {{time: Float64Array, values: Float64Array}} peak
 * @returns {Record<string, number>} */
export function readingsOf({ time, values }) {
  // times of data systems are rounded, so that a step is read off the whole
  const step = (time[time.length - 1] - time[0]) / (time.length - 1);
  const even = Float64Array.from(readAt(Float64Array.from(time, (_, k) => time[0] + step * k), time, values, 0));
  const band = { start: time[0], step, values: even };
  return metricsOf(band, momentsOf(band));
}
