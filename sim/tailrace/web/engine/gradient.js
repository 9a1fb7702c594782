// Columns whose liquid changes on the way of solutes: a gradient, a solvent of the sample's own; when
// a band leaves them, in closed form, stretch by stretch. As `parts/column/gradient*.py`.

import { deadTime, headTime, platesOf } from "./column.js";
import { facts } from "./facts.js";

/** @typedef {import("./eluent.js").Stream} Stream */
/** @typedef {import("./parts.js").Part} Part */
/** @typedef {{times: number[], levels: number[]}} Lines straight lines of ln(1/k) in time, s; two at one time are a step */
/** @typedef {{retention: number, entering: number, leaving: number, stretching: number}} Elution s; k; mean of (1 + 1/k)^2 */

/**
 * What a column knows of the liquid that changes, of one solute.
 * @typedef {object} Migration
 * @property {{weak: number, strength: number, times: number[], fractions: number[]} | null} programme kw, S; s and 1
 * @property {number} dwell m^3, from where the liquids meet to the inlet of the column
 * @property {{factor: number, volume: number, washout: number, delay: number} | null} sample k in its solvent; m^3
 */

/**
 * The same column for a band that enters at this time, called zero.
 * @param {Part} column @param {number} time s @param {Stream} stream
 */
export function metAt(column, time, stream) {
  const { programme, dwell, sample } = column.migration;
  const earlier = time * stream.flow;
  return {
    ...column,
    migration: {
      programme,
      dwell: dwell - earlier,
      sample: sample && { ...sample, delay: sample.delay - earlier },
    },
  };
}

/** From the first point of the programme to its strongest composition, s; NaN: none. @param {Migration} migration */
export function gradientTime({ programme }) {
  if (!programme) return NaN;
  const { times, fractions } = programme;
  return times[fractions.indexOf(Math.max(...fractions))] - times[0];
}

/** Linear between points, the ends' values beyond; at a step what comes behind it.
 * @param {number[]} at rising @param {ArrayLike<number>} x never falling @param {ArrayLike<number>} y */
export function interpolated(at, x, y) {
  const last = x.length - 1;
  let k = 0;
  return at.map((one) => {
    while (k < last && x[k + 1] <= one) k += 1;
    if (k === last || one < x[0]) return y[k];
    return y[k] + ((y[k + 1] - y[k]) * (one - x[k])) / (x[k + 1] - x[k]);
  });
}

/** When the sample's solvent begins and ends to enter the bed, and how slowly it is rinsed out, s.
 * @param {Part} column @param {Stream} stream */
function windowOfSample({ head_volume: head, migration: { sample } }, { flow }) {
  const begin = (sample.delay + head) / flow;
  return { begin, end: begin + sample.volume / flow, rinsing: sample.washout / flow };
}

/** ln(1/k) of what enters the bed. @param {Part} column @param {Stream} stream @returns {Lines} */
export function levelsOf(column, stream) {
  const { LEAST_FACTOR: least, MOST_FACTOR: most } = facts().migration;
  const { programme, dwell, sample } = column.migration;
  // the liquid waits in the inlet's head as long as the band does
  const delay = (dwell + column.head_volume) / stream.flow;
  /** @type {Lines} */
  let found = programme
    ? {
        times: programme.times.map((/** @type {number} */ one) => one + delay),
        levels: programme.fractions.map((/** @type {number} */ one) => Math.LN10 * programme.strength * one - Math.log(programme.weak)),
      }
    : { times: [0], levels: [-Math.log(Math.max(stream.retention, least))] };
  if (sample) found = withSample(found, column, stream);
  const bounds = [-Math.log(most), -Math.log(least)];
  const { times, levels } = found;
  /** @type {Lines} */
  const made = { times: [], levels: [] };
  const add = (/** @type {number} */ time, /** @type {number} */ level) => {
    made.times.push(time);
    made.levels.push(Math.min(Math.max(level, bounds[0]), bounds[1]));
  };
  times.slice(0, -1).forEach((time, n) => {
    const rise = levels[n + 1] - levels[n];
    const met = rise ? bounds.map((one) => (one - levels[n]) / rise).filter((one) => one > 0 && one < 1) : [];
    for (const share of [0, ...met.sort((one, other) => one - other)]) add(time + share * (times[n + 1] - time), levels[n] + share * rise);
  });
  add(times[times.length - 1], levels[levels.length - 1]);
  return made;
}

/** The lines with those of the sample's solvent in their place while it enters; behind the plug it is
 * mixed with what follows, and ln k with its share. @param {Lines} lines @param {Part} column @param {Stream} stream @returns {Lines} */
function withSample({ times, levels }, column, stream) {
  const { LEAST_FACTOR: least, RINSED: rinsed, RINSING_POINTS: points } = facts().migration;
  const { begin, end, rinsing } = windowOfSample(column, stream);
  const own = -Math.log(Math.max(column.migration.sample.factor, least));
  const shares = rinsing > 0 ? Array.from({ length: points }, (_, n) => (rinsed * n) / (points - 1)) : [0];
  const inside = [begin, ...shares.map((share) => end + rinsing * share)];
  const last = inside[inside.length - 1];
  const base = interpolated(inside, times, levels);
  const mixed = base.map((one, n) => one + (own - one) * (n ? Math.exp(-shares[n - 1]) : 1));
  const [before, behind] = [times.filter((one) => one <= begin), times.filter((one) => one >= last)];
  return {
    times: [...before, begin, ...inside, last, ...behind],
    levels: [...levels.slice(0, before.length), base[0], ...mixed, base[base.length - 1], ...levels.slice(levels.length - behind.length)],
  };
}

/** Follow a band that enters the column at time zero. @param {Part} column @param {Stream} stream */
export function elutionOf(column, stream) {
  return eluted(levelsOf(column, stream), headTime(column, stream), deadTime(column, stream));
}

/** Of a band that enters the bed at a time. @param {Lines} lines @param {number} enters s @param {number} dead s @returns {Elution} */
export function eluted({ times, levels }, enters, dead) {
  let [here, migrated, stretching] = [enters, 0, 0];
  let [entering, leaving] = [NaN, NaN];
  const last = times.length - 1;
  for (let n = -1; n <= last && migrated < 1; n += 1) {
    const end = n === last ? Infinity : times[n + 1];
    if (!(end > here)) continue;
    const rate = n < 0 || n === last ? 0 : (levels[n + 1] - levels[n]) / (end - times[n]);
    const level = levels[Math.max(n, 0)] + (rate ? rate * (here - times[n]) : 0);
    const [first, pace, room] = [Math.exp(level), dead * Math.exp(-level), 1 - migrated];
    const slow = rate * pace * room;
    const needed = slow > -1 ? pace * room * (slow ? Math.log1p(slow) / slow : 1) : Infinity;
    const step = Math.min(end - here, needed);
    const turn = rate * step;
    const moved = step === needed ? room : (step / pace) * (turn ? Math.expm1(turn) / turn : 1);
    const behind = first * Math.exp(turn);
    if (Number.isNaN(entering)) entering = 1 / first;
    // 1/k is straight in z and its square a parabola: Simpson's rule is exact
    stretching += (moved * ((1 + first) ** 2 + (2 + first + behind) ** 2 + (1 + behind) ** 2)) / 6;
    leaving = 1 / behind;
    here = step === needed ? here + step : end;
    migrated = step === needed ? 1 : migrated + moved;
  }
  return { retention: here - enters + dead, entering, leaving, stretching };
}

/**
 * Variance in time of a band behind the column over that before it; of a sample in a solvent of its
 * own only what enters with it is focused by it.
 * @param {Part} column met @param {Stream} stream @param {number} variance s^2
 */
export function variancePassed(column, stream, variance) {
  const { sample } = column.migration;
  if (!sample) {
    const { leaving, entering } = elutionOf(column, stream);
    return (leaving / entering) ** 2;
  }
  const { RINSED: rinsed, WAYS: ways, EVENLY: evenly, WEIGHTS: weights, NORMALLY: normally, NORMAL_SHARES: normal } = facts().migration;
  const { begin, end, rinsing } = windowOfSample(column, stream);
  const plug = end - begin;
  const even = evenly.map((/** @type {number} */ one) => (one + 1) / 2);
  let times = [...even.map((/** @type {number} */ one) => plug * one), ...even.map((/** @type {number} */ one) => plug + rinsing * rinsed * one)];
  let shares = [...weights.map((/** @type {number} */ one) => plug * one), ...weights.map((/** @type {number} */ one, /** @type {number} */ n) => rinsing * rinsed * one * Math.exp(-rinsed * even[n]))];
  const total = shares.reduce((sum, one) => sum + one, 0);
  shares = shares.map((one) => one / total);
  const mean = shares.reduce((sum, one, n) => sum + one * times[n], 0);
  times = times.map((one) => one - mean);
  const own = shares.reduce((sum, one, n) => sum + one * times[n] ** 2, 0);
  const whole = Math.max(variance, 1e-9 * own);
  const narrow = Math.sqrt(Math.min(1, whole / own));
  const blur = Math.sqrt(Math.max(whole - own, 0));
  const all = times.flatMap((one, n) => normally.map((/** @type {number} */ other, /** @type {number} */ m) => ({ time: narrow * one + blur * other, share: shares[n] * normal[m] })));
  all.sort((one, other) => one.time - other.time);
  const [low, high] = [all[0].time, all[all.length - 1].time];
  const [lines, head, dead] = [levelsOf(column, stream), headTime(column, stream), deadTime(column, stream)];
  const grid = Array.from({ length: ways }, (_, n) => low + ((high - low) * n) / (ways - 1));
  const left = interpolated(all.map((one) => one.time), grid, grid.map((one) => one + eluted(lines, head + one, dead).retention));
  const spread = (/** @type {(n: number) => number} */ of) => {
    const centre = all.reduce((sum, { share }, n) => sum + share * of(n), 0);
    return all.reduce((sum, { share }, n) => sum + share * (of(n) - centre) ** 2, 0);
  };
  return spread((n) => left[n]) / spread((n) => all[n].time);
}

/** Of a narrow band that enters at time zero; where plates depend on k no variance is known.
 * @param {Part} column @param {Stream} stream @returns {import("./responses.js").Cumulants} */
export function migrationCumulants(column, stream) {
  const { retention, entering, leaving, stretching } = elutionOf(column, stream);
  const [plates, first] = [leaving, entering].map(platesOf(column, stream));
  const head = headTime(column, stream);
  const heads = head > 0 ? (1 + variancePassed(column, stream, 0)) * head ** 2 : 0;
  const gaussian = ((deadTime(column, stream) * leaving) ** 2 * stretching) / plates + heads;
  const constant = Math.abs(first / plates - 1) < facts().migration.SAME;
  return { mean: retention + 2 * head, gaussian, variance: constant ? gaussian : NaN, third: NaN };
}

/** Standard deviation in time that the bed adds. @param {Part} column met @param {Stream} stream */
export function shortestTime(column, stream) {
  const residence = elutionOf(column, stream).retention + 2 * headTime(column, stream);
  return residence / Math.sqrt(platesOf(column, stream)(stream.retention));
}
