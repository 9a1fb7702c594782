// @ts-check
/** What is done to a measured peak before it is read: as `measurements/treatment.py` with a straight baseline. */
import { constant } from "./facts.js";
import { solved } from "./injected.js";
import { metricsOf, momentsOf } from "./metrics.js";

/** @typedef {import("./evening.js").Even} Even */
/** @typedef {import("./evening.js").Stretch} Stretch */
/** Places of points; half: points above half height; front, tail: whether a neighbour or the end of the signal cuts it short; cut: whether it stands out there. */
/** @typedef {{apex: number, window: Stretch, before: Stretch, behind: Stretch, half: number, front: boolean, tail: boolean, cut: boolean}} Spot */
/** @typedef {{start: number, step: number, values: Float64Array}} Piece */
/** @typedef {import("./metrics.js").Moments} Moments */

/** Metrics that mean something only where the peak has an area above its baseline. */
export const SUMS = ["mean", "variance", "skewness", "plates_moments"];

/** Smoothed by polynomials of the fourth degree through neighbours (Savitzky and Golay).
 * @param {Float64Array} values @param {number} reach points on either side */
export function smoothed(values, reach) {
  if (2 * reach + 1 <= 5 || 2 * reach + 1 > values.length) return values;
  const weights = fitWeights(reach);
  const last = values.length - 1;
  const padded = new Float64Array(values.length + 2 * reach).fill(values[0], 0, reach).fill(values[last], reach + last);
  padded.set(values, reach);
  const made = new Float64Array(values.length);
  for (let k = 0; k <= last; k += 1) {
    let sum = 0;
    for (let n = 0; n < weights.length; n += 1) sum += weights[n] * padded[k + n];
    made[k] = sum;
  }
  return made;
}

/** Of each neighbour. @param {number} reach */
function fitWeights(reach) {
  const powers = [0, 1, 2, 3, 4];
  const places = Array.from({ length: 2 * reach + 1 }, (_, k) => (k - reach) / reach);
  const rows = powers.map((row) => powers.map((column) => places.reduce((sum, one) => sum + one ** (row + column), 0)));
  const terms = solved(rows, [1, 0, 0, 0, 0]);
  return places.map((one) => powers.reduce((sum, n) => sum + terms[n] * one ** n, 0));
}

/** The line through blank points on both sides, by places of points. @param {Float64Array} values @param {Spot} spot */
export function groundOf(values, { before, behind }) {
  let [count, places, level] = [0, 0, 0];
  for (const [one, other] of [before, behind]) {
    for (let k = one; k < other; k += 1) level += values[k];
    count += other - one;
    places += ((other - one) * (one + other - 1)) / 2;
  }
  const middle = places / count;
  let [across, up] = [0, 0];
  for (const [one, other] of [before, behind]) {
    for (let k = one; k < other; k += 1) {
      across += (k - middle) ** 2;
      up += (k - middle) * values[k];
    }
  }
  return (/** @type {number} */ k) => level / count + (up / (across || 1)) * (k - middle);
}

/** Half width of the smoothing, points. @param {Spot} spot */
export const smoothingOf = ({ half }) => Math.floor(constant("SMOOTHING") * half);

/** What is read off a peak above its baseline; sums are left out where it has no area there.
 * @param {Piece} piece @param {Spot} spot @returns {{metrics: Record<string, number>, band: Piece}} */
export function readAbove({ start, step, values }, spot) {
  const [low, high] = spot.window;
  const ground = groundOf(values, spot);
  const above = smoothed(values.slice(low, high).map((one, k) => one - ground(low + k)), smoothingOf(spot));
  const band = { start: start + step * low, step, values: above };
  const sums = momentsOf(band);
  if (sums.area > 0) return { metrics: metricsOf(band, sums), band };
  const metrics = metricsOf({ ...band, values: above.map((one) => Math.max(one, 0)) }, sums);
  for (const name of ["area", ...SUMS]) metrics[name] = NaN;
  return { metrics, band };
}
