// A measured signal laid upon the simulated one: delay and area by least squares.

import { lineOf } from "./draw.js";

/** @typedef {{name: string, start: number, step: number, values: number[], noise: number}} Measured shares of amount over s */

const ROUNDS = 60;

/** @param {ArrayLike<number>} times even @param {ArrayLike<number>} heights @param {number} time */
function heightAt(times, heights, time) {
  const place = (time - times[0]) / (times[1] - times[0]);
  const k = Math.floor(place);
  if (k < 0 || k >= times.length - 1) return 0;
  return heights[k] + (place - k) * (heights[k + 1] - heights[k]);
}

/** @param {ArrayLike<number>} heights */
function highest(heights) {
  let found = 0;
  for (let n = 0; n < heights.length; n += 1) if (heights[n] > heights[found]) found = n;
  return found;
}

/**
 * @param {Measured} measured
 * @param {{time: ArrayLike<number>, recorded: ArrayLike<number>}} one
 */
export function laidUpon(measured, one) {
  const { start, step, values, noise } = measured;
  const tried = (/** @type {number} */ delay) => {
    let [own, both] = [0, 0];
    const made = values.map((_, n) => heightAt(one.time, one.recorded, start + n * step - delay));
    made.forEach((height, n) => {
      own += height * height;
      both += height * values[n];
    });
    const area = own > 0 ? both / own : 0;
    const sum = made.reduce((sum, height, n) => sum + (values[n] - area * height) ** 2, 0);
    return { delay, area, rest: Math.sqrt(sum / values.length) };
  };
  const apart = start + step * highest(values) - one.time[highest(one.recorded)];
  const width = 2 / values[highest(values)];
  const golden = (Math.sqrt(5) - 1) / 2;
  let [low, high] = [apart - width, apart + width];
  let [left, right] = [tried(high - golden * (high - low)), tried(low + golden * (high - low))];
  for (let round = 0; round < ROUNDS && high - low > 1e-4 * step; round += 1) {
    if (left.rest < right.rest) {
      high = right.delay;
      right = left;
      left = tried(high - golden * (high - low));
    } else {
      low = left.delay;
      left = right;
      right = tried(low + golden * (high - low));
    }
  }
  const { delay, area, rest } = left;
  const times = values.map((_, n) => start + n * step - delay);
  const heights = values.map((value) => value / area);
  return { line: lineOf("measured", times, heights), residual: rest / noise };
}
