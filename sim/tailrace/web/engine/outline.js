// What is read off a peak's outline: as `measures/outlines.py`, one peak at a time.

import { bendsOf } from "./curves.js";
import { constant } from "./facts.js";

/** @typedef {import("./band.js").Band} Band */

/**
 * One peak, joined by a cubic spline; places are counted in steps from the first sample kept.
 * @typedef {object} Outline
 * @property {number} start s, of place 0
 * @property {number} step s
 * @property {Float64Array} y samples
 * @property {Float64Array} m bends
 * @property {number} crest place of the maximum
 * @property {number} height 1/s
 */

/**
 * @param {Band} band
 * @returns {Outline | null} null: no peak
 */
export function outlineOf({ start, step, values }) {
  const [foot, margin, fewest] = ["FOOT", "MARGIN", "FEWEST_SAMPLES"].map(constant);
  let [top, there] = [0, 0];
  for (let n = 0; n < values.length; n += 1) {
    if (values[n] !== 0) there += 1;
    if (values[n] > values[top]) top = n;
  }
  if (!(values[top] > 0) || there < fewest) return null;
  let [low, high] = [top, top];
  while (low > 0 && values[low] >= foot * values[top]) low -= 1;
  while (high < values.length - 1 && values[high] >= foot * values[top]) high += 1;
  const first = low - margin;
  const y = new Float64Array(Math.max(high + margin + 1 - first, 5));
  for (let n = 0; n < y.length; n += 1) y[n] = values[first + n] ?? 0;
  const m = bendsOf(y);
  const [crest, height] = crestOf(y, m, top - first);
  return { start: start + step * first, step, y, m, crest, height };
}

/** @param {Float64Array} y @param {Float64Array} m @param {number} top @returns {[number, number]} */
function crestOf(y, m, top) {
  let [crest, height] = [top, y[top]];
  for (const n of [top - 1, top]) {
    const [a, b, c] = cubicOf(y, m, n);
    const root = 4 * b * b - 12 * a * c;
    if (root < 0 || b >= 0) continue;
    const at = (-2 * c) / (2 * b - Math.sqrt(root));
    if (!(at >= 0 && at <= 1)) continue;
    const found = ((a * at + b) * at + c) * at + y[n];
    if (found > height) [crest, height] = [n + at, found];
  }
  return [crest, height];
}

/** @param {Float64Array} y @param {Float64Array} m @param {number} n @returns {[number, number, number]} */
function cubicOf(y, m, n) {
  return [(m[n + 1] - m[n]) / 6, m[n] / 2, y[n + 1] - y[n] - (2 * m[n] + m[n + 1]) / 6];
}

/** @param {Outline} peak @returns {number} s */
export const apexOf = (peak) => peak.start + peak.step * peak.crest;

/**
 * Places at which the peak first falls to a fraction of its height; NaN where it does not.
 * @param {Outline} peak
 * @param {number} fraction
 * @returns {[number, number]}
 */
export function flanksOf({ y, m, crest, height }, fraction) {
  const level = fraction * height;
  let front = Math.ceil(crest) - 1;
  while (front >= 0 && y[front] >= level) front -= 1;
  let tail = Math.floor(crest) + 1;
  while (tail < y.length && y[tail] >= level) tail += 1;
  if (front < 0 || tail === y.length) return [NaN, NaN];
  return [
    meets(y, m, front, level, 0, Math.min(1, crest - front)),
    meets(y, m, tail - 1, level, 1, Math.max(0, crest - tail + 1)),
  ];
}

/**
 * Place at which an interval comes to a level between two places of it.
 * @param {Float64Array} y @param {Float64Array} m @param {number} n @param {number} level
 * @param {number} under @param {number} over
 */
function meets(y, m, n, level, under, over) {
  const [a, b, c] = cubicOf(y, m, n);
  const d = y[n] - level;
  let at = 0.5 * (under + over);
  for (let turn = 0; turn < 60; turn += 1) {
    const value = ((a * at + b) * at + c) * at + d;
    if (value < 0) under = at;
    else over = at;
    const step = at - value / ((3 * a * at + 2 * b) * at + c);
    const inside = Math.min(under, over) < step && step < Math.max(under, over);
    const fresh = inside ? step : 0.5 * (under + over);
    if (Math.abs(fresh - at) < 1e-15) break;
    at = fresh;
  }
  return n + at;
}

/** @param {Outline} peak @param {number} fraction @returns {number} full width, s */
export function widthOf(peak, fraction) {
  const [front, tail] = flanksOf(peak, fraction);
  return (tail - front) * peak.step;
}

/** @param {Outline} peak @returns {number} distance of the feet of the tangents where the flanks are steepest, s */
export function tangentWidthOf({ y, m, crest, step }) {
  let [front, tail, rise, fall] = [NaN, NaN, 0, 0];
  for (let n = 0; n < y.length - 1; n += 1) {
    if (!(m[n] * m[n + 1] < 0)) continue;
    const at = m[n] / (m[n] - m[n + 1]);
    const [a, b, c] = cubicOf(y, m, n);
    const slope = (3 * a * at + 2 * b) * at + c;
    const foot = n + at - (((a * at + b) * at + c) * at + y[n]) / slope;
    if (n + at < crest) {
      if (slope > rise) [front, rise] = [foot, slope];
    } else if (slope < fall) [tail, fall] = [foot, slope];
  }
  return (tail - front) * step;
}
