// All metrics of one peak, by the names of `measures/registry.py`, in SI.

import { constant } from "./facts.js";
import { apexOf, flanksOf, outlineOf, tangentWidthOf, widthOf } from "./outline.js";

/** @typedef {import("./band.js").Band} Band */
/** @typedef {{area: number, mean: number, variance: number, third: number}} Moments */

/**
 * Moments by sums over the samples.
 * @param {Band} band
 * @returns {Moments}
 */
export function momentsOf({ start, step, values }) {
  let [amount, first] = [0, 0];
  for (let n = 0; n < values.length; n += 1) {
    amount += values[n];
    first += values[n] * n;
  }
  const mean = first / amount;
  let [second, third] = [0, 0];
  for (let n = 0; n < values.length; n += 1) {
    const away = n - mean;
    second += values[n] * away * away;
    third += values[n] * away * away * away;
  }
  return {
    area: amount * step,
    mean: start + step * mean,
    variance: (step ** 2 * second) / amount,
    third: (step ** 3 * third) / amount,
  };
}

/**
 * What some metrics need beside the peak; NaN: not known, and such metrics are left out.
 * @typedef {object} Setting
 * @property {number} [ownTime] retention that the column alone gives, s
 * @property {number} [extraColumn] variance that all but the column add, s^2
 * @property {number} [flow] m^3/s
 * @property {number} [holdUp] mean time of an unretained solute on the whole path, s
 * @property {number} [particlesLong] length of the column over the diameter of its particles
 */

/**
 * @param {Band} band
 * @param {Moments} sums
 * @param {Setting} [setting]
 * @returns {Record<string, number>} NaN where a peak has no such metric
 */
export function metricsOf(band, sums, setting = {}) {
  const peak = outlineOf(band);
  const [halves, level] = [constant("HALF_HEIGHT"), constant("FIVE_SIGMA_LEVEL")];
  const apex = peak ? apexOf(peak) : NaN;
  const width = (/** @type {number} */ fraction) => (peak ? widthOf(peak, fraction) : NaN);
  const half = width(0.5);
  const spread = sums.variance > 0 ? sums.variance : NaN;
  /** @type {Record<string, number>} */
  const found = {
    apex,
    height: peak ? peak.height : NaN,
    area: sums.area,
    mean: sums.mean,
    variance: sums.variance,
    skewness: sums.third / spread ** 1.5,
    width_half: half,
    plates_half_height: halves * (apex / half) ** 2,
    plates_printed: constant("PRINTED_PLATES") * (apex / half) ** 2,
    plates_tangent: peak ? 16 * (apex / tangentWidthOf(peak)) ** 2 : NaN,
    plates_five_sigma: 25 * (apex / width(level)) ** 2,
    plates_moments: sums.mean ** 2 / spread,
    ...sidesOf(peak),
    amount_recovered: 1,
  };
  if (setting.ownTime !== undefined) found.plates_own_retention = halves * (setting.ownTime / half) ** 2;
  if (setting.holdUp !== undefined) found.retention_factor_recorded = apex / setting.holdUp - 1;
  if (setting.particlesLong !== undefined) found.reduced_plate_height = setting.particlesLong / found.plates_printed;
  if (setting.extraColumn !== undefined && setting.flow !== undefined) {
    found.variance_volume_extra_column = setting.extraColumn * setting.flow ** 2;
  }
  return found;
}

/** @param {import("./outline.js").Outline | null} peak */
function sidesOf(peak) {
  if (!peak) return { tailing_5: NaN, asymmetry_10: NaN };
  const [front, tail] = flanksOf(peak, 0.05);
  const [before, behind] = flanksOf(peak, 0.1);
  return {
    tailing_5: (tail - front) / (2 * (peak.crest - front)),
    asymmetry_10: (behind - peak.crest) / (peak.crest - before),
  };
}
