// A path with columns through which every element of a band migrates by its own clock: products before
// and behind, the band as samples between. As `journey/migration.py` and `parts/column/gradient_march.py`.

import { factorOf, power, productOf, reachOf, signalIn } from "./band.js";
import { deadTime, headTime, holdUpTime, platesOf } from "./column.js";
import { evenly, resampled } from "./curves.js";
import { BY_PROGRAM, Refusal, facts } from "./facts.js";
import { signalOf, transformed } from "./fourier.js";
import { elutionOf, gradientTime, interpolated, levelsOf, metAt, migrationCumulants, shortestTime, variancePassed } from "./gradient.js";
import { manner, migrates } from "./manner.js";
import { metricsOf, momentsOf } from "./metrics.js";
import { outlineOf, widthOf } from "./outline.js";
import { cumulantsOf, isOf } from "./parts.js";
import { ofTanks, throughTanks } from "./responses.js";

/** @typedef {import("./resolve.js").Passage} Passage */
/** @typedef {import("./parts.js").Part} Part */
/** @typedef {import("./eluent.js").Stream} Stream */
/** @typedef {import("./band.js").Band} Band */
/** @typedef {import("./metrics.js").Moments} Moments */
/** @typedef {import("./responses.js").Cumulants} Cumulants */

/** Of the moments' sums: variance and third cumulant add. @param {Moments} one @param {Cumulants} more @returns {Moments} */
const plus = (one, { mean, variance, third }) => ({ area: one.area, mean: one.mean + mean, variance: one.variance + variance, third: one.third + third });

/** Without what holds next to nothing at both ends. @param {Band} band @returns {Band} */
function trimmed({ start, step, values }) {
  const least = values.reduce((sum, one) => sum + Math.abs(one), 0) * facts().migration.TRUNCATION;
  let [first, last, sum] = [0, values.length - 1, 0];
  while (first < last && (sum += Math.abs(values[first])) <= least) first += 1;
  sum = 0;
  while (last > first && (sum += Math.abs(values[last])) <= least) last -= 1;
  return { start: start + first * step, step, values: values.slice(first, last + 1) };
}

/** 2 / sqrt(pi) times the integral of exp(-t^2) from x on: series and continued fraction.
 * @param {number} x @returns {number} */
function erfc(x) {
  if (x < 0) return 2 - erfc(-x);
  if (x > 3) {
    let rest = 0;
    for (let k = 60; k > 0; k -= 1) rest = k / 2 / (x + rest);
    return Math.exp(-x * x) / Math.sqrt(Math.PI) / (x + rest);
  }
  let [term, sum] = [x, x];
  for (let n = 1; n < 60; n += 1) {
    term *= (-x * x) / n;
    sum += term / (2 * n + 1);
  }
  return 1 - (2 * sum) / Math.sqrt(Math.PI);
}

/** Whether a curve does not end within its window. @param {Float64Array} values */
function cutOff(values) {
  const last = values.length - 1;
  const height = values.reduce((most, one) => Math.max(most, one), 0);
  return [0, 1, last - 1, last].some((n) => Math.abs(values[n]) > facts().numbers.WRAPPED * height);
}

/**
 * The band that enters the bed of a column: the product before it and its head, without what the
 * column does not let through.
 * @param {Passage[]} passages @param {Moments} sums behind them @param {Part} column @param {Stream} stream
 * @returns {Band}
 */
function entering(passages, sums, column, stream) {
  const { HALVED, SOFT, LAST, BLURRED, PER_WIDTH, BENDS } = facts().migration;
  const head = headTime(column, stream);
  const said = passages.map(({ part, stream: its }) => cumulantsOf(part, its));
  if (head > 0) said.push(ofTanks(head, 1));
  if (!said.length) return { start: 0, step: 1, values: Float64Array.of(1) };
  const met = metAt(column, sums.mean, stream);
  let width = shortestTime(met, stream) / Math.sqrt(Math.max(variancePassed(met, stream, sums.variance), 1));
  if (column.migration.sample) width /= BENDS;
  /** @type {Band} */
  let band = { start: 0, step: 1, values: new Float64Array(0) };
  for (const room of facts().numbers.ROOM) {
    const [before, behind] = reachOf(said, room).map((one) => one + BLURRED * width);
    const length = before + behind;
    const samples = power((PER_WIDTH * length) / width);
    const spacing = (2 * Math.PI) / length;
    const omega = evenly(0, spacing, Math.min(Math.floor(LAST / width / spacing) + 1, samples / 2 + 1));
    const whole = productOf(passages.map((one) => factorOf(one, omega)), omega.length);
    if (head > 0) throughTanks(head, 1, omega, whole.re, whole.im);
    omega.forEach((one, n) => {
      const kept = 0.5 * erfc((one * width - HALVED) / SOFT);
      whole.re[n] *= kept;
      whole.im[n] *= kept;
    });
    band = signalIn(whole, { window: { start: sums.mean + head - before, step: length / samples, samples, every: 1 }, omega });
    if (!cutOff(band.values)) break;
  }
  return trimmed(band);
}

/** How elements of one solute migrate: X of the column, and what spreads them, over the time at the inlet. */
class Clock {
  /** @param {Part} column @param {Stream} stream @param {Band} band */
  constructor(column, stream, band) {
    const { PANEL, NODES, WEIGHTS } = facts().migration.BED;
    this.dead = deadTime(column, stream);
    const plates = platesOf(column, stream);
    const { times, levels } = levelsOf(column, stream);
    const last = times.length - 1;
    const knots = [Math.min(band.start, times[0]) - 1, ...times, Math.max(band.start + band.step * (band.values.length - 1), times[last]) + 2 * this.dead * Math.exp(-levels[last])];
    const heights = [levels[0], ...levels, levels[last]];
    /** @type {number[]} */
    this.begin = [];
    /** Of each panel: ln(1/k) and its slope; cubics of both integrals. @type {number[][]} */
    this.level = [];
    /** @type {number[][]} */
    this.migrated = [];
    /** @type {number[][]} */
    this.spreading = [];
    let [here, there] = [0, 0];
    /** @param {number} level @returns {[number, number]} speeds of both integrals */
    const speeds = (level) => {
      const inverse = Math.exp(level);
      return [inverse / this.dead, ((inverse / this.dead) * (1 + inverse) ** 2) / plates(1 / inverse)];
    };
    for (let n = 0; n < knots.length - 1; n += 1) {
      const whole = knots[n + 1] - knots[n];
      if (!(whole > 0)) continue;
      const rise = heights[n + 1] - heights[n];
      const count = Math.max(1, Math.ceil(Math.abs(rise) / PANEL));
      const span = whole / count;
      let left = speeds(heights[n]);
      for (let k = 0; k < count; k += 1) {
        const level = heights[n] + (rise * k) / count;
        const right = rise ? speeds(level + rise / count) : left;
        const inner = NODES.map((/** @type {number} */ node) => (rise ? speeds(level + (rise / count) * node) : left));
        const mean = [0, 1].map((which) => WEIGHTS.reduce((/** @type {number} */ sum, /** @type {number} */ weight, /** @type {number} */ m) => sum + weight * inner[m][which], 0));
        this.begin.push(knots[n] + span * k);
        this.level.push([level, rise / whole]);
        this.migrated.push(cubic(here, left[0], right[0], mean[0], span));
        this.spreading.push(cubic(there, left[1], right[1], mean[1], span));
        here += span * mean[0];
        there += span * mean[1];
        left = right;
      }
    }
  }

  /** @param {number[]} starts rising @param {number} value @returns {number} the last that is not above it */
  static panel(starts, value) {
    let [low, high] = [0, starts.length - 1];
    while (low < high) {
      const middle = (low + high + 1) >> 1;
      if (starts[middle] <= value) low = middle;
      else high = middle - 1;
    }
    return low;
  }

  /** When an element that enters at a time is through; its k there, and its variance in time then.
   * @param {number} enters s */
  leaving(enters) {
    const first = Clock.panel(this.begin, enters);
    const goal = cubicAt(this.migrated[first], enters - this.begin[first]) + 1;
    let [low, high] = [first, this.begin.length - 1];
    while (low < high) {
      const middle = (low + high + 1) >> 1;
      if (this.migrated[middle][0] < goal) low = middle;
      else high = middle - 1;
    }
    const [d, c, b, a] = this.migrated[low];
    let x = 0;
    for (let turn = 0; turn < 8; turn += 1) {
      const step = (((a * x + b) * x + c) * x + d - goal) / ((3 * a * x + 2 * b) * x + c);
      x -= step;
      if (Math.abs(step) < 1e-14 * x) break;
    }
    const factor = Math.exp(-(this.level[low][0] + this.level[low][1] * x));
    const spread = cubicAt(this.spreading[low], x) - cubicAt(this.spreading[first], enters - this.begin[first]);
    return { arrival: this.begin[low] + x, variance: (this.dead * factor) ** 2 * spread };
  }
}

/** The cubic with a rise and slopes at both ends. @param {number} start @param {number} left @param {number} right
 * @param {number} mean slope @param {number} span */
const cubic = (start, left, right, mean, span) => [start, left, (3 * mean - 2 * left - right) / span, (left + right - 2 * mean) / span ** 2];

/** @param {number[]} of coefficients @param {number} x */
const cubicAt = ([d, c, b, a], x) => ((a * x + b) * x + c) * x + d;

/** The same band with half the step, by interpolation. @param {Band} band @returns {Band} */
function doubled({ start, step, values }) {
  const size = 2 * values.length + 5;
  return { start: start - 1.5 * step, step: step / 2, values: resampled(values, -1.5, 0.5, size) };
}

/** A band behind the bed of a column. @param {Part} column @param {Stream} stream @param {Band} band @returns {Band} */
function behindBed(column, stream, band) {
  const { COARSEST, MOST_DOUBLINGS, NEGLIGIBLE, POINTS_PER_WIDTH } = facts().migration.BED;
  const clock = new Clock(column, stream, band);
  for (let round = 0; round < MOST_DOUBLINGS; round += 1) {
    const { values, step: apart } = band;
    const times = Array.from(values, (_, n) => band.start + n * apart);
    const left = times.map((one) => clock.leaving(one));
    const leaving = left.map((one) => one.arrival + clock.dead);
    const most = values.reduce((found, one) => Math.max(found, Math.abs(one)), 0);
    const weighty = Array.from(values, (one) => Math.abs(one) > NEGLIGIBLE * most);
    const narrowest = Math.sqrt(left.reduce((least, { variance }, n) => (weighty[n] ? Math.min(least, variance) : least), Infinity));
    const gap = leaving.reduce((found, one, n) => (n && (weighty[n] || weighty[n - 1]) ? Math.max(found, one - leaving[n - 1]) : found), 0);
    if (gap > COARSEST * narrowest) {
      band = doubled(band);
      continue;
    }
    const step = narrowest / POINTS_PER_WIDTH;
    const amounts = values.map((one) => one * apart);
    const places = leaving.map((one) => (one - leaving[0]) / step + 1);
    const nodes = Math.ceil(places[places.length - 1]) + 3;
    const start = leaving[0] - step;
    const grid = Array.from({ length: nodes }, (_, n) => start + step * n);
    const passage = interpolated(grid, leaving, leaving.map((one, n) => one - times[n]));
    const variance = interpolated(grid, leaving, left.map((one) => one.variance));
    const { first, heights } = addedUp(shared(places, amounts, nodes), passage, variance, step);
    return trimmed({ start: start + first * step, step, values: heights });
  }
  throw new Refusal(`${column.name}: the band is too wide for what the column spreads it by; the program has to compute it.`);
}

/** Amounts at any places shared out over a grid: moments up to the third stay. @param {number[]} places in steps
 * @param {Float64Array} amounts @param {number} count */
function shared(places, amounts, count) {
  const found = new Float64Array(count);
  places.forEach((place, k) => {
    const n = Math.floor(place);
    const t = place - n;
    found[n - 1] += (amounts[k] * -t * (t - 1) * (t - 2)) / 6;
    found[n] += (amounts[k] * (t + 1) * (t - 1) * (t - 2)) / 2;
    found[n + 1] += (amounts[k] * -(t + 1) * t * (t - 2)) / 2;
    found[n + 2] += (amounts[k] * (t + 1) * t * (t - 1)) / 6;
  });
  return found;
}

/** Inverse Gaussian densities, one for each node, added up; and the first place of them.
 * @param {Float64Array} weights @param {number[]} passage s @param {number[]} variance s^2 @param {number} step s */
function addedUp(weights, passage, variance, step) {
  const limit = -Math.log(facts().migration.TRUNCATION);
  const plates = passage.map((one, n) => one ** 2 / variance[n]);
  let [first, last] = [Infinity, -Infinity];
  plates.forEach((one, n) => {
    const reach = 1 + limit / one;
    const swing = Math.sqrt(reach ** 2 - 1);
    first = Math.min(first, Math.floor((passage[n] * (reach - swing - 1)) / step));
    last = Math.max(last, Math.ceil((passage[n] * (reach + swing - 1)) / step));
  });
  if (weights.length * (last - first) > facts().migration.BED.MOST_VALUES / 4) {
    throw new Refusal(`A band so wide leaves a column that spreads it by so little in too many steps for this page; ${BY_PROGRAM}.`);
  }
  const heights = new Float64Array(weights.length + last - first);
  weights.forEach((weight, n) => {
    if (weight === 0) return;
    const mean = passage[n];
    const scale = weight * Math.sqrt((plates[n] * mean) / (2 * Math.PI));
    const slope = plates[n] / (2 * mean);
    for (let k = first; k < last; k += 1) {
      const time = Math.max(mean + step * k, 1e-6 * mean);
      const exponent = (slope * (time - mean) ** 2) / time;
      if (exponent < 60) heights[n + k - first] += (scale * Math.exp(-exponent)) / (time * Math.sqrt(time));
    }
  });
  return { first, heights };
}

/**
 * A band behind parts that are a product, and behind the outlet's head of a column before them.
 * @param {Passage[]} passages @param {number[]} heads s @param {Band} band
 * @returns {Band}
 */
function behind(passages, heads, band) {
  const { FINER } = facts().migration;
  const said = passages.map(({ part, stream }) => cumulantsOf(part, stream));
  const tanks = heads.filter((one) => one > 0);
  said.push(...tanks.map((one) => ofTanks(one, 1)));
  if (!said.some((one) => one.mean > 0 || one.variance > 0)) return band;
  const entered = momentsOf(band);
  const whole = { ...entered, gaussian: entered.variance };
  const delay = said.reduce((sum, one) => sum + one.mean, 0);
  const width = band.values.length * band.step;
  for (const room of facts().numbers.ROOM) {
    const [early, late] = reachOf([whole, ...said], room);
    const start = Math.min(entered.mean + delay - early, band.start + delay);
    const end = Math.max(entered.mean + delay + late, band.start + delay + width);
    const samples = power((end - start) / band.step);
    const omega = evenly(0, (2 * Math.PI) / (samples * band.step), samples / 2 + 1);
    const product = productOf([transformed(band.values, samples), ...passages.map((one) => factorOf(one, omega))], omega.length);
    for (const one of tanks) throughTanks(one, 1, omega, product.re, product.im);
    for (let n = 0; n < omega.length; n += 1) {
      const [cos, sin] = [Math.cos(omega[n] * (start - band.start)), Math.sin(omega[n] * (start - band.start))];
      [product.re[n], product.im[n]] = [product.re[n] * cos - product.im[n] * sin, product.re[n] * sin + product.im[n] * cos];
    }
    const values = signalOf(product.re, product.im, FINER * samples).map((one) => FINER * one);
    if (!cutOff(values) || room === facts().numbers.ROOM.at(-1)) return { start, step: band.step / FINER, values };
  }
  return band;
}

/** The points that a detector takes of a band; the band where it takes none. @param {Part} part @param {Band} band @returns {Band} */
function pointsTaken(part, band) {
  const { interval, sampling_phase: phase = 0 } = part;
  if (!(isOf(part, "records") && interval > 0)) return band;
  const first = Math.ceil(band.start / interval - phase) + phase;
  const last = Math.floor((band.start + band.step * (band.values.length - 1)) / interval - phase) + phase;
  const values = resampled(band.values, (first * interval - band.start) / band.step, interval / band.step, Math.max(Math.round(last - first) + 1, 1));
  return { start: first * interval, step: interval, values };
}

/** Of the spectrum, around one turn an interval: sums over points are then those of the curve; our own choice. */
const NOTHING = 1e-7;

/** Size of the spectrum of a band at a frequency. @param {Band} band @param {number} omega rad/s */
function sizeAt({ values, step }, omega) {
  let [re, im] = [0, 0];
  for (let n = 0; n < values.length; n += 1) {
    re += values[n] * Math.cos(omega * step * n);
    im += values[n] * Math.sin(omega * step * n);
  }
  return Math.hypot(re, im) * step;
}

/** @typedef {{band: Band, recorded: Band, sums: Moments[], bed: {band: Band, begin: number, head: number}}} Travelled the
 * band before and as points; moments behind each part; behind the last bed, where its path goes on, and its head in s */

/**
 * The band behind a path.
 * @param {Passage[]} passages
 * @returns {Travelled}
 */
function travelled(passages) {
  /** @type {Moments[]} */
  const sums = [];
  /** @type {Moments} */
  let now = { area: 1, mean: 0, variance: 0, third: 0 };
  /** @type {Band | null} */
  let band = null;
  let begin = 0;
  let head = 0;
  passages.forEach((passage, at) => {
    const { part, stream } = passage;
    if (!migrates(passage)) {
      now = plus(now, cumulantsOf(part, stream));
      sums.push(now);
      return;
    }
    const before = passages.slice(begin, at);
    const inlet = headTime(part, stream);
    if (!band) band = entering(before, now, part, stream);
    else band = trimmed(behind(before, [head, inlet], band));
    band = behindBed(part, stream, band);
    head = inlet;
    begin = at + 1;
    now = momentsOf(band);
    if (head > 0) now = plus(now, ofTanks(head, 1));
    sums.push(now);
  });
  if (!band) throw new Error("expected a column through which bands migrate, found none");
  const last = passages[passages.length - 1].part;
  const bed = { band, begin, head };
  band = behind(passages.slice(begin), [head], band);
  const recorded = pointsTaken(last, band);
  // what the spectra of tubes are rounded by stands all over the window: closed form knows the sums better
  if (last.interval > 0 && sizeAt(band, (2 * Math.PI) / last.interval) > NOTHING) sums[sums.length - 1] = momentsOf(recorded);
  return { band, recorded, sums, bed };
}

/**
 * The recorded peak of one solute, and the columns' own, as of `answer.js`.
 * @param {Passage[]} passages
 * @returns {import("./answer.js").Peak}
 */
function migratingPeak(passages) {
  const columns = passages.filter(migrates);
  // each column as a band meets it that spends no time elsewhere
  let elsewhere = 0;
  const alone = passages.flatMap(({ part, stream }) => {
    if (migrates({ part, stream })) return [{ part: metAt(part, elsewhere, stream), stream }];
    elsewhere += cumulantsOf(part, stream).mean;
    return [];
  });
  const time = gradientTime(columns[0].part.migration);
  const own = travelled(alone);
  const ownMetrics = inGradient(metricsOf(own.recorded, own.sums[own.sums.length - 1]), time);
  ownMetrics.plates_own_retention = ownMetrics.plates_half_height;
  const { band, recorded, sums, bed } = travelled(passages);
  const started = { area: 1, mean: 0, variance: 0, third: 0 };
  const entered = [started, ...sums];
  const met = passages.map((one, at) => (migrates(one) ? { ...one, part: metAt(one.part, entered[at].mean, one.stream) } : one));
  const passed = met.map((one, at) => (migrates(one) ? variancePassed(one.part, one.stream, entered[at].variance) : 1));
  const added = met.map((_, at) => sums[at].variance - entered[at].variance * passed[at]);
  const left = met.map((_, at) => passed.slice(at + 1).reduce((all, one) => all * one, 1));
  const sum = (/** @type {(at: number) => number} */ of) => met.reduce((all, _, at) => all + of(at), 0);
  const last = sums[sums.length - 1];
  const metrics = inGradient(
    metricsOf(recorded, last, {
      extraColumn: sum((at) => (migrates(met[at]) ? 0 : added[at] * left[at])),
      flow: passages[0].stream.flow,
      ownTime: ownMetrics.apex,
      holdUp: sum((at) => (migrates(met[at]) ? holdUpTime(met[at].part, met[at].stream) : sums[at].mean - entered[at].mean)),
      particlesLong: columns.length > 1 ? NaN : columns[0].part.length / columns[0].part.particle_diameter,
    }),
    time,
  );
  const said = met.map(({ part, stream }) => cumulantsOf(part, stream));
  const gaussian = said.reduce((all, one, at) => all * passed[at] + one.gaussian, 0);
  return {
    ...{ passages: met, said, band, recorded, own: own.band, metrics, alone: ownMetrics, surplus: 0, cut: 0 },
    bed: { ...bed, passages },
    migrated: { added, gaussian: { mean: sum((at) => said[at].mean), variance: gaussian } },
  };
}

/** Metrics that say nothing in a gradient are left out, and what stands in for them is there.
 * @param {Record<string, number>} metrics @param {number} time of the gradient, s; NaN: none */
function inGradient(metrics, time) {
  if (Number.isNaN(time)) return metrics;
  const deviation = metrics.width_half / Math.sqrt(facts().numbers.HALF_HEIGHT);
  const found = Object.fromEntries(Object.entries(metrics).map(([key, value]) => [key, facts().metrics[key]?.in_gradient ? NaN : value]));
  return { ...found, peak_capacity: 1 + time / (4 * deviation) };
}

/**
 * Plates, or peak capacity, that come back if each part alone delayed the band and did nothing else.
 * @param {import("./answer.js").Peak} peak @param {number[]} asked places
 * @returns {Map<number, number>}
 */
function migratingBack({ metrics, alone, bed }, asked) {
  const { band, begin, head, passages } = /** @type {NonNullable<typeof bed>} */ (bed);
  const time = gradientTime(passages.filter(migrates)[0].part.migration);
  return new Map(
    asked.map((at) => {
      const { part, stream } = passages[at];
      // met as much earlier as the part delays
      const earlier = cumulantsOf(part, stream).mean;
      const rest = passages
        .map((one, k) => (k > at && migrates(one) ? { ...one, part: metAt(one.part, earlier, one.stream) } : one))
        .filter((_, k) => k !== at);
      const seen = at < begin ? travelled(rest).recorded : pointsTaken(rest[rest.length - 1].part, behind(rest.slice(begin), [head], band));
      const peak = outlineOf(seen);
      const width = peak ? widthOf(peak, 0.5) : NaN;
      const halves = facts().numbers.HALF_HEIGHT;
      return [at, Number.isNaN(time) ? halves * (alone.apex / width) ** 2 - metrics.plates_own_retention : 1 + (time * Math.sqrt(halves)) / (4 * width) - metrics.peak_capacity];
    }),
  );
}

/** Once, by pages that compute gradients and samples in a solvent of their own. */
export function bringMigration() {
  return Object.assign(manner, { migratingPeak, migratingBack, migrationCumulants, elutionOf, metAt });
}
