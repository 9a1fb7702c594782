// All solutes on one trace, and how well neighbours stand apart on it: as `measures/chromatogram.py`.

import { bendsOf, resampled } from "./curves.js";
import { constant } from "./facts.js";

/** @typedef {import("./band.js").Band} Band */

const MOST_POINTS = 200000;

/**
 * The sum of bands on one time axis, at the shortest step of all.
 * @param {Band[]} bands
 * @param {number[]} weights
 * @returns {Band}
 */
export function overlaid(bands, weights) {
  const [start, end] = [
    Math.min(...bands.map((one) => one.start)),
    Math.max(...bands.map((one) => one.start + one.step * (one.values.length - 1))),
  ];
  const step = Math.max(Math.min(...bands.map((one) => one.step)), (end - start) / MOST_POINTS);
  const values = new Float64Array(Math.ceil((end - start) / step - 1e-9) + 1);
  bands.forEach((one, lane) => {
    const low = Math.max(Math.round((one.start - 3 * one.step - start) / step), 0);
    const high = Math.min(
      Math.round((one.start + one.step * (one.values.length + 2) - start) / step),
      values.length - 1,
    );
    const place = (start + step * low - one.start) / one.step;
    const found = resampled(one.values, snapped(place), snapped(step / one.step), high - low + 1);
    for (let n = 0; n < found.length; n += 1) values[low + n] += weights[lane] * found[n];
  });
  return { start, step, values };
}

/** @param {number} place whole where it is so but for rounding */
function snapped(place) {
  return Math.abs(place - Math.round(place)) < 1e-9 ? Math.round(place) : place;
}

/**
 * Lowest point between neighbours, over the height of the smaller of the two; NaN where two have
 * run into one.
 * @param {Band} trace
 * @param {number[]} apexes s, in the order of elution
 * @returns {number[]}
 */
export function valleysOf(trace, apexes) {
  const heights = trace.values;
  const tops = apexes.map((apex) => {
    const at = Math.round((apex - trace.start) / trace.step);
    return uphill(heights, Math.min(Math.max(at, 0), heights.length - 1));
  });
  return tops.slice(1).map((other, pair) => {
    const one = tops[pair];
    if (other <= one) return NaN;
    let lowest = one;
    for (let n = one; n <= other; n += 1) if (heights[n] < heights[lowest]) lowest = n;
    const smaller = Math.min(turning(heights, one, 1), turning(heights, other, 1));
    return Math.max(0, turning(heights, lowest, -1)) / smaller;
  });
}

/** @param {Float64Array} heights @param {number} at */
function uphill(heights, at) {
  for (;;) {
    let higher = at;
    for (const n of [at - 1, at + 1]) if (heights[n] > heights[higher]) higher = n;
    if (higher === at) return at;
    at = higher;
  }
}

/**
 * Height of the maximum (sign 1) or minimum (-1) near a sample, by a spline through its neighbours.
 * @param {Float64Array} heights @param {number} at @param {number} sign
 */
function turning(heights, at, sign) {
  const reach = constant("REACH");
  const first = Math.max(at - reach, 0);
  const window = heights.slice(first, at + reach + 1);
  let best = sign * heights[at];
  if (window.length < 5) return sign * best;
  const m = bendsOf(window);
  for (let n = Math.max(at - first - 1, 0); n < Math.min(at - first + 1, window.length - 1); n += 1) {
    const [a, b, c] = [
      (m[n + 1] - m[n]) / 6,
      m[n] / 2,
      window[n + 1] - window[n] - (2 * m[n] + m[n + 1]) / 6,
    ];
    const root = Math.sqrt(b * b - 3 * a * c);
    for (const t of [c / (-b - root), c / (-b + root)]) {
      if (t >= 0 && t <= 1) best = Math.max(best, sign * (((a * t + b) * t + c) * t + window[n]));
    }
  }
  return sign * best;
}

/**
 * Resolution from the widths at half height.
 * @param {[number, number]} apexes s
 * @param {[number, number]} widths s
 */
export function resolutionOf(apexes, widths) {
  return (constant("RESOLUTION_FACTOR") * (apexes[1] - apexes[0])) / (widths[0] + widths[1]);
}

/**
 * Resolution of two equal Gaussians with the same valley; NaN where it says nothing.
 * @param {number} ratio valley over peak
 */
export function resolutionFromValley(ratio) {
  const barely = constant("BARELY_APART");
  if (!(ratio >= constant("LEAST_VALLEY") && ratio < gaussianValley(barely))) return NaN;
  return halved((distance) => gaussianValley(distance) - ratio, barely, 20) / 4;
}

/** @param {number} distance of two equal Gaussians in standard deviations, above 2 */
function gaussianValley(distance) {
  const slope = (/** @type {number} */ at) => (distance - at) * Math.exp(distance * (at - distance / 2)) - at;
  const top = halved(slope, 0, (distance / 2) * (1 - 1e-6));
  const peak = Math.exp(-(top ** 2) / 2) + Math.exp(-((distance - top) ** 2) / 2);
  return (2 * Math.exp(-(distance ** 2) / 8)) / peak;
}

/** @param {(at: number) => number} value falling @param {number} low @param {number} high */
function halved(value, low, high) {
  for (let turn = 0; turn < 60; turn += 1) {
    const middle = (low + high) / 2;
    if (value(middle) > 0) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}
