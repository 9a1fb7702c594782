// Everything that the page says of a scenario.

import { highestOf, multiplied, pointsOf, productOf, signalIn } from "./band.js";
import { overlaid, resolutionFromValley, resolutionOf, valleysOf } from "./chromatogram.js";
import { holdUpTime } from "./column.js";
import { evenly, resampled } from "./curves.js";
import { BY_PROGRAM, constant } from "./facts.js";
import { hasMigration, manner } from "./manner.js";
import { metricsOf } from "./metrics.js";
import { apexOf, outlineOf, widthOf } from "./outline.js";
import { can, cumulantsOf, isOf, kindOf, residenceOf } from "./parts.js";
import { overPoints } from "./points.js";
import { pressureOf } from "./pressure.js";
import { resolve } from "./resolve.js";
import { signalsOf } from "./signals.js";
import { straightened, warningsOf } from "./warnings.js";

/** @typedef {import("./resolve.js").Passage} Passage */
/** @typedef {import("./responses.js").Cumulants} Cumulants */
/** @typedef {import("./band.js").Band} Band */
/** @typedef {import("./band.js").Plan} Plan */
/** @typedef {import("./reading.js").Problem} Problem */

/**
 * @typedef {object} PartAnswer
 * @property {string} name
 * @property {string} kind
 * @property {boolean} behind the recording: it adds to the pressure alone
 * @property {number} volume m^3
 * @property {number} residence s
 * @property {number} mean s, by which it delays the middle of the band; of an injection from its start
 * @property {number} variance s^2, as it adds it
 * @property {number} variance_volume m^6, at the flow that is pumped
 * @property {number} gaussian textbook variance, s^2
 * @property {number} skewness of what it adds
 * @property {number} fourier of a tube; NaN of all else
 * @property {number} plates_back if it alone were ideal; NaN of columns, and where it was not asked
 */

/**
 * @typedef {object} SoluteAnswer
 * @property {string} name
 * @property {Float64Array} time s, even
 * @property {Float64Array} recorded 1/s, before points are taken
 * @property {{time: Float64Array, recorded: Float64Array} | null} points that the detector takes
 * @property {Float64Array | null} column_alone delayed by the mean of all else
 * @property {{mean: number, variance: number}} gaussian the textbook's sums, s and s^2
 * @property {number} delay s, by which column_alone is drawn later than the column alone gives it
 * @property {Record<string, number>} metrics
 * @property {Record<string, number>} metrics_column
 * @property {Record<string, number>} signal by the names of the program's signals
 * @property {PartAnswer[]} parts
 */

/** @typedef {{first: string, second: string, resolution: number, column_alone: number, valley: number, from_valley: number}} Pair */
/** @typedef {{time: Float64Array, recorded: Float64Array, column_alone: Float64Array | null, weights: number[], noise: number, unit: string}} Trace */

/**
 * @typedef {object} Answer
 * @property {string | null} refused one sentence: the page does not compute this
 * @property {Problem[]} problems what is wrong with the scenario
 * @property {string[]} bent names of tubes before the recording with bends that the page does not know
 * @property {SoluteAnswer[]} solutes
 * @property {Pair[]} pairs neighbours, in the order of elution
 * @property {Trace | null} trace sum of all solutes
 * @property {import("./pressure.js").Pressure} pressure
 * @property {number} signal_to_noise the least of all solutes; NaN where it is not known
 * @property {string[]} warnings
 * @property {number} milliseconds
 */

/**
 * @typedef {object} Options
 * @property {boolean | number} [platesBack] whether to find what each part alone brings back; true; a number: of this solute
 * @property {boolean} [straight] whether tubes with bends that the page does not know are taken as if they were straight
 * @property {boolean} [trace] whether to add up all solutes; true
 * @property {import("./resolve.js").Files} [files]
 */

/**
 * Answer a scenario.
 * @param {Record<string, any>} scenario as TOML parses it
 * @param {Options} [options]
 * @returns {Answer}
 */
export function answer(scenario, options = {}) {
  const began = now();
  const resolved = resolve(scenario, options.files);
  const { problems } = resolved;
  const { bent, unbentLanes } = withoutBends(resolved.lanes);
  const lanes = options.straight ? unbentLanes : resolved.lanes;
  /** @type {Answer} */
  const made = {
    refused: problems.length
      ? `${problems[0].place.join(".")}: ${problems[0].sentence}`
      : notComputed(scenario, lanes),
    problems,
    bent,
    solutes: [],
    pairs: [],
    trace: null,
    pressure: { total: NaN, highest: NaN, parts: [] },
    signal_to_noise: NaN,
    warnings: [],
    milliseconds: 0,
  };
  const peaks = made.refused === null ? lanes.map((passages) => peakOf(passages)) : [];
  if (peaks.some((one) => one.cut > constant("UNRESOLVED"))) {
    made.refused =
      "An edge of the injection is left that is too sharp for this page; the program has to compute it: " +
      `${BY_PROGRAM}.`;
  }
  if (made.refused === null) {
    made.solutes = peaks.map((peak, lane) =>
      soluteAnswer(resolved.names[lane], peak, (options.platesBack ?? true) === true || options.platesBack === lane),
    );
    made.pressure = pressureOf(lanes[0], resolved.thickest);
    together(made, peaks, options.trace ?? true);
    made.warnings = [...straightened(bent), ...warningsOf(lanes, peaks, resolved.pressureLimit, made)];
    made.signal_to_noise = Math.min(...made.solutes.map((one) => one.signal.signal_to_noise));
  }
  made.milliseconds = now() - began;
  return made;
}

function now() {
  return globalThis.performance?.now() ?? Date.now();
}

/** Names of tubes whose bends this page does not know, and lanes in which these are straight. @param {Passage[][]} lanes */
export function withoutBends(lanes) {
  const unknown = lanes.flat().filter(({ part, stream }) => part.bent && !part.behind && kindOf(part).notLinear?.(part, stream));
  const bent = [...new Set(unknown.map(({ part }) => part.name))];
  return { bent, unbentLanes: lanes.map((lane) => lane.map((one) => (bent.includes(one.part.name) ? unbent(one) : one))) };
}

/** @param {Passage} passage of a bent tube @returns {Passage} */
function unbent({ part, stream }) {
  return { part: { ...part, bent: false, stretches: [{ share: 1, radius: Infinity }] }, stream };
}

/**
 * Why the page cannot compute it: one sentence; null if it can.
 * @param {Record<string, any>} scenario
 * @param {Passage[][]} lanes
 * @returns {string | null}
 */
export function notComputed(scenario, lanes) {
  const hand = `the program has to compute it: ${BY_PROGRAM}`;
  const { part: first } = lanes[0][0];
  if (first.shape === "signal" && !first.curve) {
    return `The injection is read from the file ${first.file}, which a page cannot open by itself: drop it here, or choose it with Open.`;
  }
  for (const { part, stream } of lanes.flat()) {
    const reason = (kindOf(part).notLinear ?? (() => ""))(part, stream);
    if (reason && !part.behind)
      return `${reason[0].toUpperCase()}${reason.slice(1)}; ${hand}.`;
  }
  if (!manner.migratingPeak && lanes.some(hasMigration)) return `Every element of the band migrates by its own clock (a gradient, or a solvent of the sample's own); ${hand}.`;
  for (const lane of lanes) {
    const column = lane.findLastIndex(({ part }) => part.migration);
    const cell = lane.slice(0, Math.max(column, 0)).find(({ part }) => can(part, "observes"));
    if (cell) return `${cell.part.name} stands before a column through which bands migrate; ${hand}.`;
  }
  return lanes[0].some(({ part }) => can(part, "smooths"))
    ? null
    : `Nothing on this path smooths the injection; ${hand}.`;
}

/**
 * The recorded peak of one solute, and the columns' own.
 * @typedef {object} Peak
 * @property {Passage[]} passages
 * @property {Cumulants[]} said
 * @property {Plan} [plan] where the path is one product
 * @property {Band} band before points are taken
 * @property {Band} recorded
 * @property {Band | null} own
 * @property {Record<string, number>} metrics
 * @property {Record<string, number>} alone
 * @property {number} cut what the frequencies leave out, over the height
 * @property {number} surplus s^2, of sums over few points beside the curve's variance
 * @property {{band: Band, begin: number, head: number, passages: Passage[]}} [bed] of a path on which bands migrate
 * @property {{added: number[], gaussian: {mean: number, variance: number}}} [migrated] s^2 that parts add there; the textbook's peak
 */

/**
 * @param {Passage[]} passages
 * @param {boolean} [blame] whether the window has to hold the path with each part ideal, too
 * @returns {Peak}
 */
export function peakOf(passages, blame = true) {
  if (manner.migratingPeak && hasMigration(passages)) return manner.migratingPeak(passages);
  const said = passages.map(({ part, stream }) => cumulantsOf(part, stream));
  const columns = passages.map((_, at) => at).filter((at) => can(passages[at].part, "separates"));
  let [own, alone] = [/** @type {Band | null} */ (null), /** @type {Record<string, number>} */ ({})];
  if (columns.length) {
    const only = columns.map((at) => said[at]);
    own = multiplied(
      columns.map((at) => passages[at]),
      only,
    ).band;
    alone = metricsOf(own, summed(only));
    alone.plates_own_retention = alone.plates_half_height;
  }
  const { plan, band, cut } = multiplied(
    passages,
    said,
    blame ? (deviation) => highestOfAll(passages, deviation) : undefined,
  );
  const recorded = pointsOf(band, plan.window.every);
  const outside = said.reduce((sum, one, at) => sum + (columns.includes(at) ? 0 : one.variance), 0);
  const sums = overPoints(passages, summed(said), plan.highest);
  // what sums over few points say beside the curve counts as the detector's
  const surplus = sums.variance - summed(said).variance;
  const all = said.reduce((sum, one) => sum + Math.abs(one.variance), Math.abs(surplus));
  const unseen = said[said.length - 1].variance + surplus < -constant("UNSEEN") * all;
  const setting = {
    extraColumn: outside + surplus,
    flow: passages[0].stream.flow,
    ...(own ? { ownTime: alone.apex, ...ofColumns(passages, sums.mean) } : {}),
  };
  const metrics = metricsOf(recorded, sums, setting);
  return { passages, said, plan, band, cut, recorded, own, metrics, alone, surplus: unseen ? NaN : surplus };
}

/**
 * What metrics need of the columns.
 * @param {Passage[]} passages
 * @param {number} mean s, as recorded
 */
export function ofColumns(passages, mean) {
  const columns = passages.filter(({ part }) => can(part, "separates"));
  const held = columns.reduce((sum, { part, stream }) => sum + residenceOf(part, stream) - holdUpTime(part, stream), 0);
  const [{ part }] = columns;
  return { holdUp: mean - held, particlesLong: columns.length > 1 ? NaN : part.length / part.particle_diameter };
}

/** @param {Cumulants[]} said */
export function summed(said) {
  const sum = (/** @type {"mean" | "variance" | "third" | "gaussian"} */ key) =>
    said.reduce((all, one) => all + one[key], 0);
  return {
    area: 1,
    mean: sum("mean"),
    variance: sum("variance"),
    third: sum("third"),
    gaussian: sum("gaussian"),
  };
}

/** @param {Passage[]} passages parts of which it is asked what they bring back */
function askable(passages) {
  const smooth = passages.filter(({ part }) => can(part, "smooths")).length;
  return passages
    .map((_, at) => at)
    .filter((at) => {
      const { part } = passages[at];
      return !(isOf(part, "separates") || part.behind) && smooth > Number(can(part, "smooths"));
    });
}

/**
 * Frequency that holds the path and all paths with one part ideal, rad/s.
 * @param {Passage[]} passages @param {number} deviation s
 */
function highestOfAll(passages, deviation) {
  const without = askable(passages).map((at) =>
    highestOf(
      passages.filter((_, n) => n !== at),
      deviation,
    ),
  );
  return Math.max(highestOf(passages, deviation), ...without);
}

/**
 * @param {string} name
 * @param {Peak} peak
 * @param {boolean} platesBack
 * @returns {SoluteAnswer}
 */
function soluteAnswer(name, peak, platesBack) {
  const { band, passages, said } = peak;
  const size = band.values.length;
  const time = evenly(band.start, band.step, size);
  const { start, step } = peak.recorded;
  const points =
    isOf(passages[passages.length - 1].part, "records") && passages[passages.length - 1].part.interval > 0;
  const { mean, gaussian } = summed(said);
  const textbook = peak.migrated?.gaussian ?? { mean, variance: gaussian };
  const delay = said.reduce((sum, one, at) => sum + (can(passages[at].part, "separates") ? 0 : one.mean), 0);
  const { own } = peak;
  const back = platesBack ? platesBackOf(peak) : new Map();
  return {
    name,
    time,
    recorded: band.values,
    points: points
      ? {
          time: evenly(start, step, peak.recorded.values.length),
          recorded: peak.recorded.values,
        }
      : null,
    column_alone:
      own && resampled(own.values, (band.start - own.start - delay) / own.step, band.step / own.step, size),
    gaussian: textbook,
    delay,
    metrics: peak.metrics,
    metrics_column: peak.alone,
    signal: signalsOf(passages, peak.metrics, peak.alone),
    parts: passages.map(({ part, stream }, at) => ({
      name: part.name,
      kind: part.kind,
      behind: Boolean(part.behind),
      volume: part.volume,
      residence: residenceOf(part, stream),
      mean: said[at].mean,
      variance: said[at].variance,
      variance_volume:
        (peak.migrated?.added[at] ?? said[at].variance + (at === passages.length - 1 ? peak.surplus : 0)) *
        passages[0].stream.flow ** 2,
      gaussian: said[at].gaussian,
      fourier: kindOf(part).fourier?.(part, stream) ?? NaN,
      skewness: said[at].variance > 0 ? said[at].third / said[at].variance ** 1.5 : NaN,
      plates_back: back.get(at) ?? NaN,
    })),
  };
}

/**
 * The plan with no more samples than a width needs, where points of a recorder do not matter.
 * @param {Plan} plan @param {Passage} last
 * @returns {Plan}
 */
function briefly(plan, last) {
  const { start, step, samples } = plan.window;
  const dense = !isOf(last.part, "records") || !(last.part.interval > plan.deviation / 10);
  const fewer = 2 ** Math.ceil(Math.log2(8 * plan.omega.length));
  if (!dense || fewer >= samples) return plan;
  return { ...plan, window: { start, step: (step * samples) / fewer, samples: fewer, every: 1 } };
}

/** @param {Float64Array} values @param {number} factor @returns {Float64Array} */
function scaled(values, factor) {
  const made = new Float64Array(values.length);
  for (let n = 0; n < made.length; n += 1) made[n] = values[n] * factor;
  return made;
}

/**
 * By place, the plates that come back if the part alone delayed the band and did nothing else.
 * @param {Peak} peak
 * @returns {Map<number, number>}
 */
function platesBackOf(peak) {
  const { passages, said, metrics, alone } = peak;
  if (peak.bed && manner.migratingBack) return manner.migratingBack(peak, askable(passages));
  const plan = /** @type {Plan} */ (peak.plan);
  const size = plan.omega.length;
  const key = alone.apex === undefined ? "plates_half_height" : "plates_own_retention";
  const behind = /** @type {import("./band.js").Spectrum[]} */ ([]);
  behind[passages.length] = productOf([], size);
  for (let at = passages.length - 1; at > 0; at -= 1)
    behind[at] = productOf([plan.factors[at], behind[at + 1]], size);
  const found = new Map();
  const brief = briefly(plan, passages[passages.length - 1]);
  let before = productOf([], size);
  const asked = askable(passages);
  for (let at = 0; at < passages.length; at += 1) {
    if (asked.includes(at)) {
      const whole = productOf([before, behind[at + 1]], size);
      const left = Math.hypot(whole.re[size - 1], whole.im[size - 1]) * plan.omega[size - 1] * plan.deviation;
      const band = signalIn(whole, brief, said[at].mean);
      const peak = outlineOf(isOf(passages[at].part, "records") ? band : pointsOf(band, brief.window.every));
      const time = alone.apex ?? (peak ? apexOf(peak) : NaN);
      const plates = peak && left < 1e-4 ? constant("HALF_HEIGHT") * (time / widthOf(peak, 0.5)) ** 2 : NaN;
      found.set(at, plates - metrics[key]);
    }
    before = productOf([before, plan.factors[at]], size);
  }
  return found;
}

/**
 * The trace of all solutes, and neighbours on it.
 * @param {Answer} made
 * @param {Peak[]} peaks
 * @param {boolean} wanted
 */
function together(made, peaks, wanted) {
  const weights = weightsOf(made.solutes);
  const order = peaks
    .map((_, lane) => lane)
    .filter((lane) => Number.isFinite(peaks[lane].metrics.apex))
    .sort((one, other) => peaks[one].metrics.apex - peaks[other].metrics.apex);
  const trace = wanted
    ? overlaid(
        peaks.map((one) => one.recorded),
        weights,
      )
    : null;
  const valleys = trace
    ? valleysOf(
        trace,
        order.map((lane) => peaks[lane].metrics.apex),
      )
    : [];
  made.pairs = order.slice(1).map((second, n) => {
    const both = [peaks[order[n]], peaks[second]];
    const apart = (/** @type {"metrics" | "alone"} */ of) =>
      resolutionOf([both[0][of].apex, both[1][of].apex], [both[0][of].width_half, both[1][of].width_half]);
    const valley = valleys[n] ?? NaN;
    return {
      first: made.solutes[order[n]].name,
      second: made.solutes[second].name,
      resolution: apart("metrics"),
      column_alone: apart("alone"),
      valley,
      from_valley: resolutionFromValley(valley),
    };
  });
  if (!trace) return;
  const absolute = made.solutes.every((one) => Number.isFinite(one.signal.absorbance));
  const factors = made.solutes.map((one, lane) =>
    absolute ? one.signal.absorbance / one.metrics.height : weights[lane],
  );
  const scale = factors[0] / weights[0];
  const own = peaks.map(
    (one, lane) => one.own && { ...one.own, start: one.own.start + made.solutes[lane].delay },
  );
  const alone = own.every(Boolean) ? overlaid(/** @type {Band[]} */ (own), weights) : null;
  made.trace = {
    time: evenly(trace.start, trace.step, trace.values.length),
    recorded: scaled(trace.values, scale),
    column_alone:
      alone &&
      scaled(
        resampled(
          alone.values,
          (trace.start - alone.start) / alone.step,
          trace.step / alone.step,
          trace.values.length,
        ),
        scale,
      ),
    weights: factors,
    noise: absolute ? made.solutes[0].signal.noise : NaN,
    unit: absolute ? "AU" : "1/s",
  };
}

/** @param {SoluteAnswer[]} solutes share of each in the chromatogram, over the greatest */
function weightsOf(solutes) {
  let shares = solutes.map(() => 1);
  for (const name of ["amount", "absorptivity"]) {
    const given = solutes.map((one) => one.signal[name]);
    if (given.every(Number.isFinite)) shares = shares.map((one, lane) => one * given[lane]);
  }
  const most = Math.max(...shares);
  return shares.map((one) => one / most);
}
