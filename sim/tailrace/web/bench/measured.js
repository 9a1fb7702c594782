// @ts-check
/** A measured signal from a text file. */
import { maximum } from "./picture.js";

const MOST_BYTES_OF_DATA = 2e7;
const FEWEST_POINTS = 20;

/** @typedef {{time: Float64Array, values: Float64Array, quantum: number, unit: string, stated: boolean, signal: string, columns: string[]}} Signal */

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
  let places = 0;
  /** @type {string[]} */
  let heads = [];
  for (const line of lines) {
    const cells = split(line);
    const numbers = cells.map(number);
    if (cells.length > 1 && Number.isFinite(numbers[0]) && Number.isFinite(numbers[1])) {
      rows.push(numbers);
      places = Math.max(places, cells[0].split(decimal)[1]?.length ?? 0);
    } else if (!rows.length && line.trim()) heads = cells;
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
  return { time, values, quantum: size / 10 ** places, unit, stated, signal: heads[column] ?? "", columns: rows[0].map((_, k) => heads[k] ?? `column ${k + 1}`) };
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
  return time[values.indexOf(maximum(values))];
}

/** @param {string[]} lines */
function separatorOf(lines) {
  const some = lines.filter((line) => /\d/.test(line)).slice(-200);
  for (const one of ["\t", ";"]) if (some.filter((line) => line.includes(one)).length > some.length / 2) return one;
  return some.filter((line) => /\d\s*,\s*[-+.\d]/.test(line)).length > some.length / 2 ? "," : " ";
}
