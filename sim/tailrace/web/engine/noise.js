// @ts-check
/** Noise of a signal where it is blank: as `measurements/noise.py`. */
import { constant } from "./facts.js";

/** @typedef {import("./evening.js").Stretch} Stretch */
/** @typedef {{deviation: number, correlation: number, wander: number}} Noise about straight lines through short stretches, of one point and the next, and what is slower */

/** Standard deviation of white noise from third differences, which a smooth peak hardly has. @param {Float64Array} values */
export function quickNoise(values) {
  const third = Float64Array.from({ length: Math.max(values.length - 3, 0) }, (_, k) => Math.abs(values[k + 3] - 3 * values[k + 2] + 3 * values[k + 1] - values[k])).sort();
  return third.length ? (1.4826 * quantile(third, 0.5)) / Math.sqrt(20) : 0;
}

/** Noise in blank stretches; of all points where none of them is long enough.
 * @param {Float64Array} values @param {Stretch[]} blank @returns {Noise} */
export function noiseIn(values, blank) {
  const spans = blank.flatMap(([start, end]) => Array.from({ length: Math.ceil((end - start) / constant("PIECE")) }, (_, k) => /** @type {Stretch} */ ([start + k * constant("PIECE"), Math.min(start + (k + 1) * constant("PIECE"), end)])));
  const left = spans.filter(([from, to]) => to - from >= constant("SHORTEST")).map(([from, to]) => aboutLine(values.subarray(from, to)));
  if (!left.length) return { deviation: quickNoise(values), correlation: 0, wander: 0 };
  const freedom = left.map((one) => one.length - 2);
  const each = left.map((one, k) => squares(one) / freedom[k]);
  let variance = sumOver(each.map((one, k) => one * freedom[k])) / sumOver(freedom);
  // of many pieces the lower quarter says what their variance is: small peaks must not count
  if (left.length >= 8) {
    const spread = 2 / (9 * quantile(Float64Array.from(freedom).sort(), 0.5));
    variance = quantile(Float64Array.from(each).sort(), 0.25) / (1 - spread - constant("QUARTER") * Math.sqrt(spread)) ** 3;
  }
  const [correlation, share] = hangingTogether(left.filter((_, k) => each[k] <= 3 * variance || variance === 0));
  variance *= share;
  return { deviation: Math.sqrt(variance), correlation, wander: wandering(values, spans, (variance * (1 + correlation)) / (1 - correlation)) };
}

/** @param {ArrayLike<number>} sorted @param {number} share */
function quantile(sorted, share) {
  const place = share * (sorted.length - 1);
  const low = Math.floor(place);
  return sorted[low] + (place - low) * ((sorted[low + 1] ?? sorted[low]) - sorted[low]);
}

/** @param {ArrayLike<number>} values */
function sumOver(values) {
  let sum = 0;
  for (let k = 0; k < values.length; k += 1) sum += values[k];
  return sum;
}

/** @param {ArrayLike<number>} values @param {number} [lag] */
function squares(values, lag = 0) {
  let sum = 0;
  for (let k = lag; k < values.length; k += 1) sum += values[k] * values[k - lag];
  return sum;
}

/** @param {Float64Array} piece */
function aboutLine(piece) {
  const middle = (piece.length - 1) / 2;
  const mean = sumOver(piece) / piece.length;
  const slope = sumOver(piece.map((one, k) => one * (k - middle))) / sumOver(piece.map((_, k) => (k - middle) ** 2));
  return piece.map((one, k) => one - mean - (slope || 0) * (k - middle));
}

/** Of neighbours, 0 where it cannot be told from none; and by what the variance is larger. @param {Float64Array[]} pieces */
function hangingTogether(pieces) {
  const whole = sumOver(pieces.map((one) => squares(one)));
  const points = sumOver(pieces.map((one) => one.length));
  const [lost, pairs] = [2 * pieces.length, points - pieces.length];
  if (!whole || pairs < constant("SHORTEST")) return [0, 1];
  const found = sumOver(pieces.map((one) => squares(one, 1))) / whole;
  const taken = (/** @type {number} */ at) => (lost * (1 + at)) / (1 - at);
  const highest = (points / 2 / lost - 1) / (points / 2 / lost + 1);
  const tried = Array.from({ length: 400 }, (_, k) => -constant("HIGHEST") + ((highest + constant("HIGHEST")) * k) / 399);
  const off = (/** @type {number} */ at) => Math.abs((pairs * at - taken(at)) / (points - taken(at)) - found);
  const at = tried.reduce((best, one) => (off(one) < off(best) ? one : best), tried[0]);
  return Math.abs(at) < 2.5 / Math.sqrt(pairs) ? [0, 1] : [at, (points - lost) / (points - taken(at))];
}

/** What the means of pieces differ by beyond a straight line and what noise alone makes of them.
 * @param {Float64Array} values @param {Stretch[]} spans @param {number} variance */
function wandering(values, spans, variance) {
  if (spans.length < 3) return 0;
  const sizes = spans.map(([from, to]) => to - from);
  const all = sumOver(sizes);
  const middles = spans.map(([from, to]) => (from + to - 1) / 2);
  const means = spans.map(([from, to]) => sumOver(values.subarray(from, to)) / (to - from));
  const weighed = (/** @type {number[]} */ of) => sumOver(of.map((one, k) => sizes[k] * one)) / all;
  const [middle, mean] = [weighed(middles), weighed(means)];
  const slope = weighed(middles.map((one, k) => (one - middle) * (means[k] - mean))) / weighed(middles.map((one) => (one - middle) ** 2));
  const rest = weighed(means.map((one, k) => (one - mean - slope * (middles[k] - middle)) ** 2));
  return Math.sqrt(Math.max(rest - (variance * spans.length) / all, 0));
}
