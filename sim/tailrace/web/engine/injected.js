// What leaves a loop, and an injection that was measured: as `parts/tube/loop/` and `parts/injector/`.

import { bendsOf, evenly, hermite, monotone, smooth, splineAt } from "./curves.js";
import { BY_PROGRAM, Refusal, constant } from "./facts.js";
import { transformed } from "./fourier.js";
import { turned } from "./responses.js";
import { reducedCumulants, throughTube } from "./tables.js";

/** @typedef {import("./eluent.js").Stream} Stream */
/** @typedef {import("./responses.js").Cumulants} Cumulants */
/** @typedef {Record<string, any>} Part */
/** @typedef {Float64Array} Numbers */
/** @typedef {{times: ArrayLike<number>, heights: ArrayLike<number>}} Curve s and any unit */

/**
 * @param {Record<string, any>} given
 * @returns {Part}
 */
export function loopOf(given) {
  const section = (/** @type {number} */ bore) => (Math.PI / 4) * bore ** 2;
  const size = given.loop_volume ?? given.volume;
  const bore = given.loop_bore ?? Math.sqrt(size / given.loop_length / section(1));
  const length = given.loop_length ?? size / section(bore);
  const whole = section(bore) * length;
  if (!(given.volume <= whole * (1 + 1e-6))) {
    throw new Refusal(
      `expected at most the ${(whole * 1e9).toPrecision(3)} uL that the loop holds, found ` +
        `${(given.volume * 1e9).toPrecision(3)} uL; fill less, or write a longer loop`,
      ["injection", "volume"],
    );
  }
  return { ...given, loop_bore: bore, loop_length: length, whole, name: "injection", kind: "loop" };
}

/**
 * Residences and Fourier numbers of the loop that first and last of the sample pass.
 * @param {Part} part @param {Stream} stream
 */
export function waysOf(part, stream) {
  const last = part.emptied === "forwards" ? part.whole : part.volume;
  const first = last - part.volume > 1e-9 * last ? last - part.volume : 0;
  const lengthOf = (/** @type {number} */ volume) => (part.loop_length * volume) / part.whole;
  return [first, last].map((volume) => ({
    residence: volume / stream.flow,
    fourier: (Math.PI * stream.diffusivity * lengthOf(volume)) / stream.flow,
  }));
}

/**
 * Fourth cumulant of a straight tube, s^4: from how the size of its transfer function leaves that of
 * a Gaussian, at two frequencies.
 * @param {number} fourier @param {number} residence s @param {number} variance s^2
 */
function fourthOf(fourier, residence, variance) {
  const omega = Float64Array.of(0.4 / Math.sqrt(variance), 0.8 / Math.sqrt(variance));
  const [x, y] = [Float64Array.of(1, 1), new Float64Array(2)];
  throughTube(fourier, residence, omega, x, y);
  const [near, far] = [0, 1].map((n) => {
    const square = omega[n] ** 2;
    return (24 * (Math.log(Math.hypot(x[n], y[n])) + (square * variance) / 2)) / square ** 2;
  });
  return (4 * near - far) / 3;
}

/**
 * As of a loop that is rinsed: raw moments of the bands behind both ways, one order higher.
 * @param {Part} part @param {Stream} stream
 * @returns {Cumulants}
 */
export function loopCumulants(part, stream) {
  const duration = part.volume / stream.flow;
  const [near, far] = waysOf(part, stream).map(({ residence, fourier }) => {
    if (!residence) return { square: 0, cube: 0, gaussian: 0, fourth: 0 };
    const radial = residence / fourier;
    const [reduced, third] = reducedCumulants(fourier);
    const [variance, skew] = [reduced * radial ** 2, third * radial ** 3];
    const textbook = (residence * radial) / 24;
    const cube = (/** @type {number} */ one) => residence ** 3 + 3 * residence * one;
    return {
      square: residence ** 2 + variance,
      cube: cube(variance) + skew,
      gaussian: cube(textbook),
      fourth:
        residence ** 4 +
        6 * residence ** 2 * variance +
        4 * residence * skew +
        3 * variance ** 2 +
        fourthOf(fourier, residence, variance),
    };
  });
  const mean = (far.square - near.square) / (2 * duration);
  const second = (far.cube - near.cube) / (3 * duration);
  const third = (far.fourth - near.fourth) / (4 * duration);
  return {
    mean,
    gaussian: (far.gaussian - near.gaussian) / (3 * duration) - mean ** 2,
    variance: second - mean ** 2,
    third: third - 3 * mean * second + 2 * mean ** 3,
  };
}

/**
 * The share that the first way has let pass less that of the last, over the time of filling.
 * @param {Part} part @param {Stream} stream @param {Numbers} omega @param {Numbers} re @param {Numbers} im
 */
export function throughLoop(part, stream, omega, re, im) {
  const duration = part.volume / stream.flow;
  const size = omega.length;
  const [near, far] = waysOf(part, stream).map(({ residence, fourier }) => {
    const [x, y] = [new Float64Array(size).fill(1), new Float64Array(size)];
    if (residence) throughTube(fourier, residence, omega, x, y);
    return [x, y];
  });
  for (let n = 0; n < size; n += 1) {
    const late = omega[n] * duration;
    if (late === 0) continue;
    // (near - far) / (i late)
    const [x, y] = [(near[1][n] - far[1][n]) / late, -(near[0][n] - far[0][n]) / late];
    turned(Math.hypot(x, y), Math.atan2(y, x), n, re, im);
  }
}

/** Of a curve: what is made of it once. @type {WeakMap<Curve, ReturnType<typeof readCurve>>} */
const readCurves = new WeakMap();

/** @param {Curve} curve */
function knownOf(curve) {
  let found = readCurves.get(curve);
  if (!found) readCurves.set(curve, (found = readCurve(curve)));
  return found;
}

/**
 * Moments by sums over the points; spectrum of the curve through them, in time from their mean.
 * @param {Curve} curve
 */
function readCurve({ times, heights }) {
  const [zeros, steps, dense] = ["ZEROS", "STEPS", "DENSE"].map(constant);
  const count = times.length;
  const gaps = Array.from({ length: count - 1 }, (_, k) => times[k + 1] - times[k]);
  const span = (/** @type {number} */ k) => (gaps[Math.max(k - 1, 0)] + gaps[Math.min(k, count - 2)]) / 2;
  let total = 0;
  for (let k = 0; k < count; k += 1) total += heights[k] * span(k);
  const sum = (/** @type {(k: number) => number} */ of) => {
    let all = 0;
    for (let k = 0; k < count; k += 1) all += (heights[k] * span(k) * of(k)) / total;
    return all;
  };
  const mean = sum((k) => times[k]);
  const [variance, third] = [2, 3].map((power) => sum((k) => (times[k] - mean) ** power));
  const shortest = Math.min(...gaps);
  const uneven = Math.max(...gaps) > constant("UNEVEN") * shortest;
  const around = (/** @type {number} */ k) => (k < 0 ? times[0] + k * gaps[0] : k < count ? times[k] : times[count - 1] + (k - count + 1) * gaps[count - 2]);
  const x = Float64Array.from({ length: count + 2 * zeros }, (_, k) => around(k - zeros));
  const y = Float64Array.from(x, (_, k) => heights[k - zeros] ?? 0);
  const step = shortest / steps;
  const size = Math.ceil((x[x.length - 1] - x[0]) / step);
  if (size > 2 ** 19) throw new Refusal(`the injected signal has points far closer than it is long; the program has to compute it: ${BY_PROGRAM}.`, ["injection", "file"]);
  const amounts = matched(hermite(x, y, (uneven ? monotone : smooth)(x, y), evenly(x[0], step, size)), x[0] - mean, step, variance, third);
  const samples = 2 ** Math.ceil(Math.log2(dense * size));
  const { re, im } = transformed(amounts, Math.min(samples, 2 ** 20));
  const spacing = (2 * Math.PI) / (Math.min(samples, 2 ** 20) * step);
  for (let k = 0; k < re.length; k += 1) turned(1, -spacing * k * (x[0] - mean), k, re, im);
  return { mean, variance, third, spacing, re, im, bends: [bendsOf(re), bendsOf(im)] };
}

/**
 * Amounts times the cubic in time that gives them area one and these moments.
 * @param {Numbers} amounts @param {number} first time of the first from the mean, s @param {number} step s
 * @param {number} variance s^2 @param {number} third s^3
 */
function matched(amounts, first, step, variance, third) {
  const deviation = Math.sqrt(variance);
  const sums = new Float64Array(7);
  for (let k = 0; k < amounts.length; k += 1) {
    let power = amounts[k];
    for (let n = 0; n < 7; n += 1) {
      sums[n] += power;
      power *= (first + step * k) / deviation;
    }
  }
  const cubic = solved([0, 1, 2, 3].map((row) => [0, 1, 2, 3].map((column) => sums[row + column])), [1, 0, 1, third / deviation ** 3]);
  return amounts.map((one, k) => {
    const at = (first + step * k) / deviation;
    return one * (cubic[0] + at * (cubic[1] + at * (cubic[2] + at * cubic[3])));
  });
}

/**
 * Linear equations by elimination with pivots.
 * @param {number[][]} rows @param {number[]} wanted
 */
export function solved(rows, wanted) {
  const all = rows.map((row, k) => [...row, wanted[k]]);
  const size = all.length;
  for (let k = 0; k < size; k += 1) {
    let best = k;
    for (let row = k + 1; row < size; row += 1) if (Math.abs(all[row][k]) > Math.abs(all[best][k])) best = row;
    [all[k], all[best]] = [all[best], all[k]];
    for (let row = 0; row < size; row += 1) {
      if (row === k) continue;
      const factor = all[row][k] / all[k][k];
      for (let column = k; column <= size; column += 1) all[row][column] -= factor * all[k][column];
    }
  }
  return all.map((row, k) => row[size] / row[k]);
}

/** @param {Part} part @returns {Cumulants} */
export function measuredCumulants({ curve }) {
  const { mean, variance, third } = knownOf(curve);
  return { mean, gaussian: variance, variance, third };
}

/** @param {Part} part @param {Numbers} omega @param {Numbers} re @param {Numbers} im */
export function throughMeasured({ curve }, omega, re, im) {
  const known = knownOf(curve);
  for (let n = 0; n < omega.length; n += 1) {
    const place = omega[n] / known.spacing;
    if (place > known.re.length - 1) {
      re[n] = 0;
      im[n] = 0;
      continue;
    }
    const [x, y] = [splineAt(known.re, known.bends[0], place), splineAt(known.im, known.bends[1], place)];
    turned(Math.hypot(x, y), Math.atan2(y, x) - omega[n] * known.mean, n, re, im);
  }
}
