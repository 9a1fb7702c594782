// What the page shows of one position, whether the page computes it or the solver has.

import { lineOf } from "../shown/lines.js";

/** @typedef {import("../shown/lines.js").Line} Line */

/**
 * @typedef {object} View
 * @property {string} refused why nothing is shown; empty: it is
 * @property {Line[][]} lines by solute: the column alone, recorded, Gaussian theory
 * @property {{times: ArrayLike<number>, heights: ArrayLike<number>, own: Line | null, unit: string, noise: number, bandwidth: number} | null} trace the sum of all
 * @property {string[][]} figures by solute: column alone, recorded, Gaussian theory, row after row
 * @property {string[][][]} parts by solute and part: the cells of its row
 * @property {number[][]} shares by solute and part, 1
 * @property {number[]} delays by solute, s, by which the column's own peak is drawn later
 * @property {string} apart a sentence on the critical pair
 * @property {number} measured residuals over noise of a measured signal; NaN where there is none
 * @property {string} pressure bar
 * @property {string[]} warnings
 */

/**
 * A view of which nothing is known.
 * @param {string} refused
 * @returns {View}
 */
export function emptyView(refused) {
  return {
    refused,
    lines: [],
    trace: null,
    figures: [],
    parts: [],
    shares: [],
    delays: [],
    apart: "",
    pressure: "-",
    measured: NaN,
    warnings: [],
  };
}

/** The textbook's peak, whole, also where it begins before all else. @param {number} mean @param {number} variance */
export function normal(mean, variance) {
  const width = Math.sqrt(variance);
  const times = Float64Array.from({ length: 161 }, (_, k) => mean + (k / 16 - 5) * width);
  const heights = times.map(
    (time) => Math.exp(-((time - mean) ** 2) / (2 * variance)) / Math.sqrt(2 * Math.PI * variance),
  );
  return lineOf("gaussian", times, heights);
}
