// @ts-check
/** The file of an injection that was measured: as the program reads it. */
import { general } from "../engine/units.js";

const FEWEST_OF_PULSE = 3;
/** Of the maximum: a curve that ends higher was cut off, one that dips lower stands on a baseline. */
const HIGHEST_END = 0.1;
const DEEPEST = 0.5;
const WRITTEN_NUMBER = /^\s*[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?\s*$/i;

/** Times (s) and heights of a text of two columns; throws an Error with one sentence.
 * @param {string} text @returns {import("../engine/injected.js").Curve} */
export function pulseRead(text) {
  const times = /** @type {number[]} */ ([]);
  const heights = /** @type {number[]} */ ([]);
  let first = true;
  text.split(/\r\n|\n|\r/).forEach((line, k) => {
    if (!line.trim() || line.trimStart().startsWith("#")) return;
    const cells = line.split(",");
    const head = first && !WRITTEN_NUMBER.test(cells[0]);
    first = false;
    if (head && /\bmin(ute)?s?\b/i.test(cells[0])) throw new Error(`line ${k + 1}: expected times in s, found minutes; convert them`);
    if (head) return;
    if (cells.length !== 2 || !cells.every((one) => WRITTEN_NUMBER.test(one))) throw new Error(`line ${k + 1}: expected a time in s, a comma and a height`);
    if (times.length && Number(cells[0]) <= times[times.length - 1]) throw new Error(`line ${k + 1}: expected a time after ${general(times[times.length - 1], 6)} s; put the rows in order`);
    times.push(Number(cells[0]));
    heights.push(Number(cells[1]));
  });
  if (times.length < FEWEST_OF_PULSE) throw new Error(`expected at least ${FEWEST_OF_PULSE} points, found ${times.length}; add points`);
  const [least, most] = heights.reduce(([low, high], one) => [Math.min(low, one), Math.max(high, one)], [Infinity, -Infinity]);
  if (!(most > 0) || !Number.isFinite(most)) throw new Error("expected a height above 0, found none; check the column");
  if (least < -DEEPEST * most) throw new Error(`expected a peak with noise around 0, found ${general(least, 6)} against ${general(most, 6)}; take off the baseline, or the sign`);
  if (Math.max(heights[0], heights[heights.length - 1]) > HIGHEST_END * most) throw new Error("expected a curve that begins and ends near 0; take off the baseline, or record it whole");
  return { times, heights };
}
