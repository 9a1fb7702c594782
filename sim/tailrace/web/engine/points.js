// Moments by sums over points that are far apart: as `journey/points.py`.

import { factorsOf, productOf } from "./band.js";
import { constant } from "./facts.js";
import { isOf } from "./parts.js";

/** @typedef {import("./metrics.js").Moments} Moments */

/**
 * @param {import("./resolve.js").Passage[]} passages
 * @param {Moments} curve
 * @param {number} highest rad/s, to which its spectrum reaches
 * @returns {Moments} of what is recorded: of the curve, where the detector takes no points
 */
export function overPoints(passages, curve, highest) {
  const { part } = passages[passages.length - 1];
  const turn = (2 * Math.PI) / part.interval;
  if (!(isOf(part, "records") && part.interval > 0 && highest >= turn)) return curve;
  const step = Math.min(constant("APART") / Math.sqrt(curve.variance), turn / 8);
  const count = Math.min(Math.floor(highest / turn), constant("MOST_TURNS"));
  const omega = Float64Array.from(
    { length: 9 * count },
    (_, k) => turn * (1 + Math.floor(k / 9)) + step * ((k % 9) - 4),
  );
  const { re, im } = productOf(factorsOf(passages, omega), omega.length);
  const added = [0, 0, 0, 0];
  for (let k = 0; k < omega.length; k += 1) {
    const phase = 2 * Math.PI * (1 + Math.floor(k / 9)) * (part.sampling_phase ?? 0);
    // times are counted from the mean, lest the cubes lose digits
    const angle = phase + step * ((k % 9) - 4) * curve.mean;
    const [cos, sin] = [Math.cos(angle), Math.sin(angle)];
    const [x, y] = [re[k] * cos - im[k] * sin, re[k] * sin + im[k] * cos];
    // real part of i^n z
    [x, -y, -x, y].forEach((one, n) => {
      added[n] += 2 * one * constant("DIFFERENCES")[n][k % 9];
    });
  }
  const [area, first, second, third] = [curve.area, 0, curve.variance, curve.third].map(
    (one, n) => one + added[n] / step ** n,
  );
  const [shift, square, cube] = [first / area, second / area, third / area];
  return {
    area,
    mean: curve.mean + shift,
    variance: square - shift ** 2,
    third: cube - 3 * shift * square + 2 * shift ** 3,
  };
}
