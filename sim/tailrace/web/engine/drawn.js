// Noise that is drawn, the same every time.

import { normalsOf } from "./normal.js";

const NOISE_SEED = 20;
/** Standard deviations from peak to peak (common practice, no source). */
const PEAK_TO_PEAK = 6;

/**
 * Standard normal noise, each point correlated so much with the one before: white noise behind a filter
 * of the first order.
 * @param {number} count @param {number} correlation @param {(at: number) => number} normal
 * @returns {Float64Array}
 */
export function noiseDrawn(count, correlation, normal) {
  const fresh = Math.sqrt(1 - correlation ** 2);
  const made = new Float64Array(count);
  for (let n = 0; n < count; n += 1) {
    made[n] = n ? correlation * made[n - 1] + fresh * normal(n) : normal(n);
  }
  return made;
}

const draw = normalsOf([NOISE_SEED]);
/** Normal numbers that were drawn: each picture has the same. @type {number[]} */
const drawnBefore = [];
/** @param {number} at */
function normalAt(at) {
  while (drawnBefore.length <= at) drawnBefore.push(draw());
  return drawnBefore[at];
}

/**
 * Heights with noise on them, as a filter of the detector's bandwidth passes it.
 * @param {ArrayLike<number>} times even, s
 * @param {ArrayLike<number>} heights
 * @param {number} noise from peak to peak, in their unit
 * @param {number} bandwidth of the detector, Hz; NaN: white from sample to sample
 * @returns {Float64Array}
 */
export function withNoise(times, heights, noise, bandwidth) {
  const keep = bandwidth > 0 ? Math.exp(-4 * bandwidth * (times[1] - times[0])) : 0;
  const drawn = noiseDrawn(heights.length, keep, normalAt);
  return Float64Array.from(heights, (one, n) => one + (noise / PEAK_TO_PEAK) * drawn[n]);
}
