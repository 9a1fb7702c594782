// @ts-check
/** The chromatogram as recorded, over what the column would give, with the textbook's sum as a ghost. */
import { bendsOf, splineAt } from "../engine/curves.js";
import { withNoise } from "../engine/drawn.js";
import { Chart } from "../shown/chart.js";
import { say, windowHeight } from "../shown/dom.js";
import { endsOf, framed, lineOf, maximum, readAt } from "../shown/lines.js";
import { significant } from "../shown/numbers.js";
import { saveColumns } from "../shown/saved.js";
import { onSheet } from "./paper.js";

const MINUTES_FROM = 180;

/** @typedef {import("../shown/chart.js").Picture} Picture */
/** @typedef {{time: ArrayLike<number>, values: ArrayLike<number>}} Curve */

/** What the picture shows of an answer: all solutes, or the peak of one.
 * @param {any} answer
 * @param {{lane: number | null, before: any, measured: Curve | null, noise: number, minutes: boolean}} asked
 *   before: another answer, or null; noise: peak to peak, in the unit of the trace, 0: not drawn; minutes: however short it is
 * @param {{width: number, height: number}} size more points than dots of the screen would make steps
 * @returns {Picture & {minutes: boolean, title: string}} */
export function pictureOf(answer, { lane, before, measured, noise, minutes }, size) {
  const { trace, solutes } = answer;
  const one = lane === null ? null : solutes[lane];
  const alike = (/** @type {any[]} */ all) => (one ? all.filter((other) => other.name === one.name) : all);
  const seen = [...alike(solutes), ...alike(before?.solutes ?? [])].flatMap(({ time, recorded, column_alone: own }) =>
    [recorded, ...(own ? [own] : [])].map((heights) => lineOf("", time, heights)),
  );
  const view = framed(endsOf(seen));
  const [from, to] = [Math.max(0, view.from), view.to];
  const count = Math.round(size.width);
  const times = Float64Array.from({ length: count }, (_, k) => from + ((to - from) * k) / (count - 1));
  times[count - 1] = to;
  const unit = minutes || to > MINUTES_FROM ? 60 : 1;
  const across = times.map((time) => time / unit);
  const recorded = noise ? withNoise(trace.time, trace.recorded, noise, solutes[0].signal.relative_noise ** 2 / 4) : trace.recorded;
  const own = trace.column_alone && sumOf(solutes, trace.weights, times, "column_alone");
  /** @type {[string, ArrayLike<number | null> | null][]} */
  const curves = [
    ["own", own],
    ["gaussian", sumOf(solutes, trace.weights, times, "gaussian")],
    ["pinned", before?.trace ? readAt(times, before.trace.time, before.trace.recorded, 0) : null],
    ["measured", measured && readAt(times, measured.time, measured.values, null)],
    ["recorded", readAt(times, trace.time, recorded, 0)],
  ];
  const full = maximum(own ?? /** @type {any} */ (curves[4][1])) || 1;
  const lines = curves.flatMap(([kind, values]) => (values ? [lineOf(kind, across, /** @type {any} */ (Array.from(values, (value) => (value === null ? null : (100 * value) / full))))] : []));
  const low = Math.min(0, .../** @type {number[]} */ (lines[lines.length - 1].heights));
  return {
    lines,
    from: across[0],
    to: across[count - 1],
    top: 1.05 * Math.max(...lines.map((line) => line.height)) || 100,
    low,
    log: false,
    across: unit === 60 ? "time, min" : "time, s",
    up: own ? "% of the column's highest" : "% of the highest",
    brief: "height, %",
    words: { recorded: "recorded, simulated", gaussian: "textbook sum of variances", pinned: "before" },
    minutes: unit === 60,
    title: one ? `The peak of ${one.name}` : "The chromatogram",
  };
}

/** A curve of all solutes together, at even times. @param {any[]} solutes @param {number[]} weights
 * @param {Float64Array} time @param {string} key */
function sumOf(solutes, weights, time, key) {
  const sum = new Float64Array(time.length);
  const step = time[1] - time[0];
  solutes.forEach((one, lane) => {
    if (!one[key]) return;
    const weight = weights[lane];
    const first = Math.max(0, Math.ceil((one.time[0] - time[0]) / step));
    const last = Math.min(sum.length - 1, Math.floor((one.time[one.time.length - 1] - time[0]) / step));
    if (last < first) return;
    // its own samples may be as far apart as the recorded points: a curve is drawn through them
    const bends = bendsOf(one[key]);
    const [start, apart] = [one.time[0], one.time[1] - one.time[0]];
    for (let k = first; k <= last; k += 1) sum[k] += weight * splineAt(one[key], bends, (time[k] - start) / apart);
  });
  return sum;
}

/** Where it is drawn. @param {HTMLElement} place @param {HTMLElement} names of its lines */
export function chartOf(place, names) {
  return new Chart(place, names, (width) => Math.max(190, Math.min(0.46 * width, 0.42 * windowHeight(), 900)), onSheet());
}

/** @param {any} answer */
export function chartWords(answer) {
  const peaks = answer.solutes.map((/** @type {any} */ one) => {
    const own = one.column_alone ? maximum(one.column_alone) : 0;
    const kept = own ? `, ${significant((100 * maximum(one.recorded)) / own, 2)} % as high as from the column alone` : "";
    return `${one.name} at ${significant(one.metrics.apex, 4)} s${kept}`;
  });
  return `Recorded peaks: ${peaks.join("; ")}`;
}

/** The curves as columns. @param {any} answer @returns {[string, ArrayLike<number>][]} */
function tabled({ solutes, trace }) {
  const textbook = sumOf(solutes, trace.weights, trace.time, "gaussian");
  return [["time_s", trace.time], ["recorded", trace.recorded], ["column_alone", trace.column_alone ?? []], ["textbook", textbook]];
}

/** The curves of the picture as columns of a file. @param {any} answer @param {string} fileName of the scenario */
export function saveCurves(answer, fileName) {
  const name = fileName.replace(/\.toml$/, "");
  const { count, every } = saveColumns(name, tabled(answer));
  const thinned = every > 1 ? `one of every ${every}, which is what a spreadsheet takes` : "all of them";
  say(`The curves are saved as ${name}.csv: ${count} points, ${thinned}; time in s.`);
}
