// A measured signal laid upon the simulated one: delay and area by least squares.

import { lineOf, maximum, readAt } from "../shown/lines.js";

/** @typedef {{name: string, start: number, step: number, values: number[], noise: number}} Measured shares of amount over s */

const ROUNDS = 60;

/**
 * @param {Measured} measured
 * @param {{time: ArrayLike<number>, recorded: ArrayLike<number>}} one
 */
export function laidUpon(measured, one) {
  const { start, step, values, noise } = measured;
  const tried = (/** @type {number} */ delay) => {
    let [own, both] = [0, 0];
    const made = readAt(values.map((_, n) => start + n * step - delay), one.time, one.recorded, 0);
    made.forEach((height, n) => {
      own += height * height;
      both += height * values[n];
    });
    const area = own > 0 ? both / own : 0;
    const sum = made.reduce((sum, height, n) => sum + (values[n] - area * height) ** 2, 0);
    return { delay, area, rest: Math.sqrt(sum / values.length) };
  };
  const most = maximum(values);
  const apart = start + step * values.indexOf(most) - one.time[Array.from(one.recorded).indexOf(maximum(one.recorded))];
  const width = 2 / most;
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
