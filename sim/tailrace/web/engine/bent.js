// Tubes with one bend: transfer functions and cumulants, as `parts/tube/bent/spectrum.py`, whose letters these are.

import { bentRow, shapeOfBent } from "./bent_rows.js";
import { lagrange } from "./curves.js";
import { facts } from "./facts.js";
import { manner } from "./manner.js";
import { general } from "./units.js";

/**
 * A tube in the units of its section: De, C and X.
 * @typedef {{dean: number, strength: number, length: number}} Bend
 */

/**
 * What the table says of one.
 * @typedef {object} Entry
 * @property {number} variance (a^2/D)^2
 * @property {number} third (a^2/D)^3
 * @property {number} sigma a^2/D
 * @property {number} twist sixth of the skewness
 * @property {number} front by how much the first are earlier than the mean, over sigma
 * @property {Float64Array} p at fine steps of arsinh(u)
 * @property {Float64Array} q
 */

const MOST_BENT = 256;

/** @type {{given: any, entries: Map<string, Entry>} | null} */
let bentKnown = null;

/** @param {number} strength C @returns {number} De^2 to which the table reaches */
function highestSquare(strength) {
  const { LEAST_SCHMIDT, MORE_SCHMIDT } = facts().bends.numbers;
  return strength / (LEAST_SCHMIDT + MORE_SCHMIDT * strength);
}

/** Where a tube stands among the rows. @param {number} strength C */
function acrossOf(strength) {
  const { STIRRED, STEP_STRENGTH, ACROSS, ROWS } = facts().bends.numbers;
  const across = Math.asinh(strength / STIRRED) / STEP_STRENGTH;
  const row = Math.min(Math.floor(across) - ACROSS / 2 + 1, ROWS - ACROSS);
  return { across: across - row, rows: Array.from({ length: ACROSS }, (_, n) => Math.abs(row + n)) };
}

/**
 * Why the page does not know a tube with this bend: a clause; empty if it does.
 * @param {Bend} bend
 */
export function unknownBend({ dean, strength, length }) {
  const given = facts().bends;
  const { LEAST_PASSED, LONG, MOST, MOST_STRENGTH } = given.numbers;
  if (!(length >= LEAST_PASSED && length <= MOST))
    return `too short or too long at this flow for what this page holds (a Fourier number from ${general(LEAST_PASSED, 6)} to ${general(MOST, 6)})`;
  if (!(strength <= MOST_STRENGTH))
    return `and the flow in it is faster than what this page holds (Dean number squared times Schmidt number up to ${general(MOST_STRENGTH, 6)})`;
  if (!(dean ** 2 <= highestSquare(strength))) return "and its Dean number is high for how slowly the solute diffuses";
  const asked = length > LONG ? [LONG, LONG / 2] : [length];
  return asked.every((one) => isHeld(strength, one)) ? "" : "by more or less than the sliders of this page ask for";
}

/** Where a tube stands between columns, and the first of these. @param {number} strength C @param {number} length X @param {number[]} rows */
function alongOf(strength, length, rows) {
  const { ALONG, STEP_LENGTH, DENSE, MIXED, TURNED } = facts().bends.numbers;
  const turned = length * Math.hypot(TURNED, strength);
  const place = Math.log(turned) / STEP_LENGTH + DENSE * Math.atan(turned / MIXED);
  const latest = Math.min(...rows.map((row) => facts().bends.ends[row])) - ALONG;
  return { place, column: Math.min(Math.floor(place) - ALONG / 2 + 1, latest) };
}

/** Whether the page has what is asked of the table. @param {number} strength C @param {number} length X */
function isHeld(strength, length) {
  const given = facts().bends;
  const { rows } = acrossOf(strength);
  const { column } = alongOf(strength, length, rows);
  return rows.every((row) => {
    const held = given.rows[row - given.from];
    return held && column >= held.first && column + given.numbers.ALONG <= held.first + held.count;
  });
}

/** @param {Bend} bend with a length that is in the table @returns {Entry} */
function entryOf(bend) {
  const given = facts().bends;
  if (!bentKnown || bentKnown.given !== given || bentKnown.entries.size > MOST_BENT) bentKnown = { given, entries: new Map() };
  const { entries } = bentKnown;
  const name = `${bend.dean} ${bend.strength} ${bend.length}`;
  let found = entries.get(name);
  if (!found) entries.set(name, (found = madeOf(bend)));
  return found;
}

/** @param {Bend} bend @returns {Entry} */
function madeOf(bend) {
  const { strength, length } = bend;
  const { STIRRED_AXIS, AXIS, SWEPT, SHARPLY, LATE } = facts().bends.numbers;
  const [logs, [p, q]] = between(bend);
  const ratio = Math.exp(logs[0]);
  const variance = (length ** 2 / (1 + length)) * ratio;
  const third = (length ** 3 / (1 + length ** 2)) * ratio ** 1.5 * Math.exp(logs[1]);
  const sigma = Math.sqrt(variance);
  const ahead = STIRRED_AXIS + (AXIS - STIRRED_AXIS) / (1 + ((strength * length) / SWEPT) ** SHARPLY);
  const front = (ahead * length) / sigma;
  return { variance, third, sigma, twist: third / sigma ** 3 / 6, front, p: finely(p), q: finely(q, front / LATE ** 2) };
}

/**
 * Logarithms, and p and q at `grid`, between entries.
 * @param {Bend} bend
 * @returns {[Float64Array, Float64Array[]]}
 */
function between({ dean, strength, length }) {
  const { ACROSS, ALONG } = facts().bends.numbers;
  const { across, rows } = acrossOf(strength);
  const found = rows.map(bentRow);
  const { place, column } = alongOf(strength, length, rows);
  const [up, on] = [lagrange(across, ACROSS), lagrange(place - column, ALONG)];
  const fast = (dean ** 2 / highestSquare(Math.max(strength, 1e-9))) ** 2;
  const { width, curves, steps } = shapeOfBent();
  const sum = new Float64Array(2 * width);
  found.forEach(({ first, values }, i) => {
    for (let j = 0; j < ALONG; j += 1) {
      const from = (column + j - first) * 4 * width;
      const [still, more] = [up[i] * on[j], up[i] * on[j] * fast];
      for (let n = 0; n < 2 * width; n += 1) sum[n] += still * values[from + n] + more * values[from + 2 * width + n];
    }
  });
  const rates = steps[0].length;
  const curve = [0, 1].map((part) =>
    Float64Array.from({ length: rates }, (_, n) => {
      let all = 0;
      for (let k = 1; k < width; k += 1) all += sum[part * width + k] * curves[(k - 1) * rates + n];
      return all * steps[part][n];
    }),
  );
  return [Float64Array.of(sum[0], sum[width]), curve];
}

/** @type {{places: Int32Array, weights: Float64Array} | null} */
let refining = null;

/** From values at `grid` to those at FINER times as many. @param {Float64Array} values @param {number} [less] */
function finely(values, less = 0) {
  const { RATES, FINER, OVER_U } = facts().bends.numbers;
  const count = (RATES - 1) * FINER + 1;
  if (!refining) {
    refining = { places: new Int32Array(count), weights: new Float64Array(count * OVER_U) };
    for (let n = 0; n < count; n += 1) {
      refining.places[n] = Math.min(Math.floor(n / FINER) - OVER_U / 2 + 1, RATES - OVER_U);
      refining.weights.set(lagrange(n / FINER - refining.places[n], OVER_U), n * OVER_U);
    }
  }
  const { places, weights } = refining;
  const made = new Float64Array(count);
  for (let n = 0; n < count; n += 1) {
    let sum = -less;
    // even in u
    for (let k = 0; k < OVER_U; k += 1) sum += weights[n * OVER_U + k] * values[Math.abs(places[n] + k)];
    made[n] = sum;
  }
  return made;
}

/**
 * What multiplies exp(i m f) / sqrt(1 + u^2); nothing beyond the last u.
 * @param {Entry} entry
 * @param {number} u
 * @param {Float64Array} found real and imaginary part
 * @param {{RATES: number, FINER: number, STEP_RATE: number}} numbers
 */
function bracket({ p, q, twist }, u, found, { RATES, FINER, STEP_RATE }) {
  const last = (RATES - 1) * FINER;
  const place = (Math.asinh(u) * FINER) / STEP_RATE;
  if (place > last) {
    found[0] = found[1] = 0;
    return;
  }
  const first = Math.min(Math.max(Math.floor(place) - 1, 0), last - 3);
  const t = place - first;
  const [a, b, c] = [t - 1, t - 2, t - 3];
  const [w, x, y, z] = [(-a * b * c) / 6, (t * b * c) / 2, (-t * a * c) / 2, (t * a * b) / 6];
  const near = (u * u) / (1 + u * u);
  const turned = w * q[first] + x * q[first + 1] + y * q[first + 2] + z * q[first + 3];
  found[0] = 1 + (w * p[first] + x * p[first + 1] + y * p[first + 2] + z * p[first + 3]) * near * near;
  found[1] = (turned + twist) * near * Math.sqrt(near);
}

/**
 * Logarithm of the size, and the angle in time from the mean.
 * @param {Entry} entry
 * @param {number} u
 * @param {Float64Array} found
 * @param {any} numbers
 */
function logarithm(entry, u, found, numbers) {
  bracket(entry, u, found, numbers);
  const [real, imaginary] = found;
  const square = u * u;
  const much = entry.twist * square * u;
  // most of the phase is that of the third cumulant, the rest within half a turn
  const rest = Math.atan2(imaginary, real) + (entry.front * square * u) / (numbers.LATE ** 2 + square) - much;
  const size = Math.hypot(real, imaginary);
  found[0] = size > 0 ? Math.log(Math.max(size, 1e-30)) - Math.log1p(square) / 2 : -numbers.MOST_LOST;
  found[1] = much + rest - 2 * Math.PI * Math.round(rest / (2 * Math.PI));
}

/**
 * Multiply a spectrum by the transfer function of a tube with one bend.
 * @param {Bend} bend
 * @param {number} residence s
 * @param {Float64Array} omega rad/s
 * @param {Float64Array} re
 * @param {Float64Array} im
 */
export function throughBend(bend, residence, omega, re, im) {
  const { numbers } = facts().bends;
  const entry = entryOf({ ...bend, length: Math.min(bend.length, numbers.LONG) });
  if (bend.length > numbers.LONG) {
    throughLong(bend, entry, residence, omega, re, im);
    return;
  }
  const found = new Float64Array(2);
  const scale = (entry.sigma * residence) / bend.length;
  for (let n = 0; n < omega.length; n += 1) {
    const u = omega[n] * scale;
    bracket(entry, u, found, numbers);
    const square = u * u;
    const turn = (entry.front * square * u) / (numbers.LATE ** 2 + square) - omega[n] * residence;
    const height = 1 / Math.sqrt(1 + square);
    const [cos, sin] = [height * Math.cos(turn), height * Math.sin(turn)];
    const [x, y] = [found[0] * cos - found[1] * sin, found[0] * sin + found[1] * cos];
    const [a, b] = [re[n], im[n]];
    re[n] = a * x - b * y;
    im[n] = a * y + b * x;
  }
}

/**
 * The same where all goes with the length.
 * @param {Bend} bend @param {Entry} entry of LONG @param {number} residence s
 * @param {Float64Array} omega rad/s @param {Float64Array} re @param {Float64Array} im
 */
function throughLong(bend, entry, residence, omega, re, im) {
  const { numbers } = facts().bends;
  const sooner = entryOf({ ...bend, length: numbers.LONG / 2 });
  const times = 2 * (bend.length / numbers.LONG - 1);
  const [one, half] = [new Float64Array(2), new Float64Array(2)];
  for (let n = 0; n < omega.length; n += 1) {
    const rate = (omega[n] * residence) / bend.length;
    logarithm(entry, rate * entry.sigma, one, numbers);
    logarithm(sooner, rate * sooner.sigma, half, numbers);
    const angle = one[1] + (one[1] - half[1]) * times;
    const size = one[0] + Math.min(one[0] - half[0], one[0] / 4) * times;
    const height = Math.exp(Math.max(size, -numbers.MOST_LOST));
    const turn = rate * bend.length - angle;
    const [x, y] = [height * Math.cos(turn), -height * Math.sin(turn)];
    const [a, b] = [re[n], im[n]];
    re[n] = a * x - b * y;
    im[n] = a * y + b * x;
  }
}

/**
 * Variance and third cumulant, in units of a^2/D.
 * @param {Bend} bend
 * @returns {[number, number]}
 */
export function bentCumulants(bend) {
  const { LONG } = facts().bends.numbers;
  const { length } = bend;
  const { variance, third } = entryOf({ ...bend, length: Math.min(length, LONG) });
  if (!(length > LONG)) return [variance, third];
  const sooner = entryOf({ ...bend, length: LONG / 2 });
  const times = 2 * (length / LONG - 1);
  return [variance + (variance - sooner.variance) * times, third + (third - sooner.third) * times];
}

/** Pressure gradient over that of the straight tube. @param {number} dean */
export function frictionAt(dean) {
  const { friction: series, friction_scale: scale, friction_highest: highest } = facts().bends;
  const reach = Math.asinh((highest / scale) ** 2);
  const x = (2 * Math.asinh((Math.min(dean, highest) / scale) ** 2)) / reach - 1;
  let [one, before] = [0, 0];
  for (let n = series.length - 1; n > 0; n -= 1) [one, before] = [series[n] + 2 * x * one - before, one];
  return series[0] + x * one - before;
}

Object.assign(manner, { throughBend, bentCumulants, unknownBend, frictionAt });
