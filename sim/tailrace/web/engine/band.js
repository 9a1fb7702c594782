// A path as a product of transfer functions: which window, which frequencies, and the signal.
// As `journey/product.py`, one solute at a time.

import { evenly } from "./curves.js";
import { BY_PROGRAM, Refusal, constant } from "./facts.js";
import { signalOf } from "./fourier.js";
import { can, kindOf } from "./parts.js";

/** Of a signal; with more a browser stands still for seconds. */
const MOST_SAMPLES = 2 ** 18;

/** @typedef {import("./resolve.js").Passage} Passage */
/** @typedef {import("./responses.js").Cumulants} Cumulants */

const MANY = 8192;
const LEAST_EACH = 4;

/**
 * A signal at even times.
 * @typedef {object} Band
 * @property {number} start s
 * @property {number} step s
 * @property {Float64Array} values 1/s
 */

/**
 * A spectrum, or one part's factor in it.
 * @typedef {{re: Float64Array, im: Float64Array}} Spectrum
 */

/** @typedef {{start: number, step: number, samples: number, every: number}} Window */

/** @param {Passage} passage whether a band is changed by it */
const counts = ({ part }) =>
  !part.behind && !(can(part, "records") && !(part.time_constant > 0 || part.averaging > 0));

/**
 * The factor of each part at some frequencies.
 * @param {Passage[]} passages
 * @param {Float64Array} omega rad/s, increasing
 * @returns {Spectrum[]}
 */
export function factorsOf(passages, omega) {
  return passages.map((passage) => factorOf(passage, omega));
}

/**
 * @param {Passage} passage
 * @param {Float64Array} omega rad/s, increasing
 * @returns {Spectrum}
 */
export function factorOf(passage, omega) {
  const [re, im] = [new Float64Array(omega.length).fill(1), new Float64Array(omega.length)];
  if (counts(passage)) kindOf(passage.part).through(passage.part, passage.stream, omega, re, im);
  return { re, im };
}

/**
 * @param {Spectrum[]} factors
 * @param {number} size
 * @returns {Spectrum}
 */
export function productOf(factors, size) {
  const [re, im] = [new Float64Array(size).fill(1), new Float64Array(size)];
  for (const one of factors) {
    for (let n = 0; n < size; n += 1) {
      const [a, b] = [re[n], im[n]];
      re[n] = a * one.re[n] - b * one.im[n];
      im[n] = a * one.im[n] + b * one.re[n];
    }
  }
  return { re, im };
}

/**
 * Frequency beyond which what is left is below REST of the height, rad/s.
 * @param {Passage[]} passages
 * @param {number} deviation s
 * @returns {number}
 */
export function highestOf(passages, deviation) {
  const [first, step, probes, farthest, rest] = ["FIRST", "STEP", "PROBES", "FARTHEST", "REST"].map(constant);
  /** @type {number[]} */
  let reduced = Array.from({ length: probes }, (_, n) => first * step ** n);
  /** @type {boolean[]} */
  const above = [];
  for (;;) {
    const fresh = reduced.slice(above.length);
    const omega = Float64Array.from(fresh, (one) => one / deviation);
    const { re, im } = productOf(factorsOf(passages, omega), omega.length);
    fresh.forEach((one, n) => above.push(Math.hypot(re[n], im[n]) * one > rest));
    const size = reduced.length;
    if (reduced[size - 1] > farthest || !(above[size - 1] || above[size - 2])) {
      const beyond = above.includes(true) ? Math.min(above.lastIndexOf(true) + 1, size - 1) : 0;
      return reduced[beyond] / deviation;
    }
    reduced = [...reduced, ...Array.from({ length: probes }, (_, n) => reduced[size - 1] * step ** (n + 1))];
  }
}

/**
 * How far a window reaches before and behind the mean, s.
 * @param {Cumulants[]} said
 * @param {number} room by which single tails are stretched
 * @returns {[number, number]}
 */
export function reachOf(said, room) {
  const variances = said.map((one) => one.variance);
  const scales = said.map((one) => (one.variance > 0 ? Math.max(one.third / (2 * one.variance), 0) : 0));
  const limit = -Math.log(constant("TAIL"));
  const whole = variances.reduce((sum, one) => sum + one, 0);
  const gaussian = Math.sqrt(whole / (2 * limit));
  const longest = Math.max(...scales);
  let [before, after] = [Infinity, Infinity];
  for (const share of [0.25, 0.5, 1, 2]) {
    const slow = 1 / (share * gaussian);
    before = Math.min(before, (growth(variances, scales, -slow) + limit) / slow);
    const rate = 1 / (share * gaussian + 1.02 * room * longest);
    after = Math.min(
      after,
      (growth(
        variances,
        scales.map((one) => room * one),
        rate,
      ) +
        limit) /
        rate,
    );
  }
  const deviation = Math.sqrt(whole);
  return [Math.min(room * before + deviation, Math.sqrt(2 * limit) * deviation), after];
}

/** @param {number[]} variances @param {number[]} scales @param {number} rate */
function growth(variances, scales, rate) {
  return variances.reduce((sum, variance, n) => {
    const x = scales[n] * rate;
    const shape = Math.abs(x) < 1e-3 ? 0.5 + x / 3 : (-Math.log1p(-x) - x) / x ** 2;
    return sum + variance * rate ** 2 * shape;
  }, 0);
}

/**
 * Window and samples; where the last part takes points, they fall on samples.
 * @param {number} start s
 * @param {number} length s
 * @param {number} highest rad/s
 * @param {Passage} last
 * @returns {Window}
 */
function windowOf(start, length, highest, last) {
  const most = Math.min(highest, (2 * Math.PI * constant("MOST_FREQUENCIES")) / length);
  const { interval, sampling_phase: phase = 0 } = last.part;
  if (!(can(last.part, "records") && interval > 0)) {
    const turns = (most * length) / (2 * Math.PI);
    // of spectra that fall slowly, whose high end is faint, fewer a frequency
    const each = Math.min(Math.max(MANY / turns, LEAST_EACH), constant("POINTS"));
    const samples = power(each * turns);
    return { start, step: length / samples, samples, every: 1 };
  }
  const first = Math.ceil(start / interval - phase) + phase;
  const every = Math.max(Math.ceil((interval * most) / Math.PI), 1);
  const samples = every * power(Math.max(length / interval + 1, 8));
  // a power of two, for the transform; the step between points stays whole
  const even = power(every);
  return { start: first * interval, step: interval / even, samples: (samples / every) * even, every: even };
}

/** @param {number} least @returns {number} the least power of two that is not smaller, 8 or more */
export function power(least) {
  return Math.max(2 ** Math.ceil(Math.log2(least)), 1);
}

/**
 * A planned product: the factors of all parts over the frequencies of one window.
 * @typedef {object} Plan
 * @property {Window} window
 * @property {Float64Array} omega
 * @property {Spectrum[]} factors
 * @property {Cumulants[]} said
 * @property {number} mean s
 * @property {number} deviation s
 * @property {number} highest rad/s
 */

/**
 * @param {Passage[]} passages
 * @param {Cumulants[]} said of each part
 * @param {number} highest rad/s
 * @param {number} room
 * @returns {Plan}
 */
export function planOf(passages, said, highest, room) {
  const mean = said.reduce((sum, one) => sum + one.mean, 0);
  const deviation = Math.sqrt(said.reduce((sum, one) => sum + one.variance, 0));
  const [before, after] = reachOf(said, room);
  const window = windowOf(mean - before, before + after, highest, passages[passages.length - 1]);
  if (window.samples > MOST_SAMPLES) {
    throw new Refusal(
      "This path holds what is quick and what is very slow, so that the page would take long; " +
        `check its sizes, or ${BY_PROGRAM}.`,
    );
  }
  const spacing = (2 * Math.PI) / (window.samples * window.step);
  const needed = Math.min(
    Math.ceil(highest / spacing) + 1,
    window.samples / 2 + 1,
    constant("MOST_FREQUENCIES"),
  );
  const omega = evenly(0, spacing, needed);
  return { window, omega, factors: factorsOf(passages, omega), said, mean, deviation, highest };
}

/**
 * The signal of a spectrum in a window.
 * @param {Spectrum} whole
 * @param {{window: Window, omega: Float64Array}} plan
 * @param {number} [later] s, by which it is delayed
 * @returns {Band}
 */
export function signalIn(whole, { window, omega }, later = 0) {
  const size = omega.length;
  const [re, im] = [new Float64Array(size), new Float64Array(size)];
  for (let n = 0; n < size; n += 1) {
    const angle = omega[n] * (window.start - later);
    const [x, y] = [Math.cos(angle), Math.sin(angle)];
    re[n] = whole.re[n] * x - whole.im[n] * y;
    im[n] = whole.re[n] * y + whole.im[n] * x;
  }
  const values = signalOf(re, im, window.samples);
  for (let n = 0; n < values.length; n += 1) values[n] /= window.step;
  return { start: window.start, step: window.step, values };
}

/**
 * The samples that are points of the recorder, where it takes points.
 * @param {Band} band
 * @param {number} every
 * @returns {Band}
 */
export function pointsOf(band, every) {
  if (every === 1) return band;
  const values = new Float64Array(Math.ceil(band.values.length / every));
  for (let n = 0; n < values.length; n += 1) values[n] = band.values[n * every];
  return { start: band.start, step: band.step * every, values };
}

/**
 * The band behind a path, in a window that holds it.
 * @param {Passage[]} passages
 * @param {Cumulants[]} said
 * @param {(deviation: number) => number} [highest] rad/s; that of the product if it is left out
 * @returns {{plan: Plan, band: Band, whole: Spectrum, cut: number}} and what the frequencies leave out, over the height
 */
export function multiplied(passages, said, highest) {
  const deviation = Math.sqrt(said.reduce((sum, one) => sum + one.variance, 0));
  const most = (highest ?? ((one) => highestOf(passages, one)))(deviation);
  let made;
  for (const room of constant("ROOM")) {
    const plan = planOf(passages, said, most, room);
    const whole = productOf(plan.factors, plan.omega.length);
    const band = signalIn(whole, plan);
    made = { plan, band, whole };
    if (!(wrapped(band.values) > constant("WRAPPED"))) break;
  }
  const { plan, band, whole } = /** @type {{plan: Plan, band: Band, whole: Spectrum}} */ (made);
  const last = plan.omega.length - 1;
  const cut = Math.hypot(whole.re[last], whole.im[last]) * plan.omega[last] * plan.deviation;
  return { plan, band, whole, cut };
}

/** @param {Float64Array} values what stands at the window's ends, over the height */
function wrapped(values) {
  const last = values.length - 1;
  let height = 0;
  for (const one of values) height = Math.max(height, one);
  return Math.max(...[0, 1, last - 1, last].map((n) => Math.abs(values[n]))) / height;
}
