// Positions that the solver has computed: unpacked, nothing is computed here but the Gaussian.

import { lineOf, readAt } from "../shown/lines.js";
import { phrase } from "../shown/words.js";
import { emptyView, normal } from "./views.js";

/** @typedef {import("./views.js").View} View */
/** @typedef {{times: Float64Array, heights: Float64Array} | null} Curve */

const FRAME = 6;
const POINTS = 1500;

/**
 * Curves of a page, null where there is none.
 * @param {any} data
 * @returns {Curve[]}
 */
export function unpacked(data) {
  const text = atob(data.knots);
  const bytes = Uint8Array.from(text, (digit) => digit.charCodeAt(0));
  const view = new DataView(bytes.buffer);
  /** @type {Curve[]} */
  const found = [];
  let at = 0;
  for (let f = 0; f < data.frames.length; f += FRAME) {
    const [count, start, step, height] = data.frames.slice(f, f + FRAME);
    const [times, heights] = [new Float64Array(count), new Float64Array(count)];
    let place = 0;
    for (let k = 0; k < count; k += 1, at += 4) {
      place += view.getUint16(at, true);
      times[k] = start + step * place;
      heights[k] = (view.getUint16(at + 2, true) / 65535) * height;
    }
    found.push(count ? { times, heights } : null);
  }
  return found;
}

/**
 * The view of a position.
 * @param {any} data
 * @param {Curve[]} curves
 * @param {number[]} places on each slider
 * @returns {View}
 */
export function stopsView(data, curves, places) {
  const at = places.reduce((sum, place, axis) => sum * data.axes[axis].labels.length + place, 0);
  const told = data.cases[at];
  const warnings = told.warnings.map((/** @type {number} */ number) => data.warnings[number]);
  if (!told.solutes) return { ...emptyView(phrase("This position could not be computed.")), warnings };
  const curve = (/** @type {number} */ lane, /** @type {number} */ own) =>
    curves[2 * (at * data.solutes.length + lane) + own];
  const lanes = told.solutes.map((/** @type {any} */ _, /** @type {number} */ lane) => lane);
  return {
    refused: "",
    lines: told.solutes.map((/** @type {any} */ one, /** @type {number} */ lane) => {
      const [own, recorded] = [curve(lane, 1), curve(lane, 0)];
      return [
        ...(own ? [lineOf("own", own.times, own.heights)] : []),
        ...(recorded ? [lineOf("recorded", recorded.times, recorded.heights)] : []),
        ...(one.gaussian ? [normal(one.gaussian[0], one.gaussian[1])] : []),
      ];
    }),
    trace: joinedUp(
      lanes.map((/** @type {number} */ lane) => curve(lane, 0)),
      told.weights,
    ),
    figures: told.solutes.map((/** @type {any} */ one) => one.figures),
    parts: told.solutes.map((/** @type {any} */ one) => chunks(one.parts, 3)),
    shares: told.solutes.map((/** @type {any} */ one) =>
      chunks(one.parts, 3).map((row) => (parseFloat(row[2]) || 0) / 100),
    ),
    delays: told.solutes.map((/** @type {any} */ one) => one.delay),
    apart: told.apart ?? "",
    pressure: told.pressure,
    measured: NaN,
    warnings,
  };
}

/** @param {string[]} texts @param {number} size @returns {string[][]} */
function chunks(texts, size) {
  return Array.from({ length: texts.length / size }, (_, n) => texts.slice(size * n, size * (n + 1)));
}

/**
 * The sum of curves on even times.
 * @param {Curve[]} curves @param {number[]} weights
 * @returns {View["trace"]}
 */
function joinedUp(curves, weights) {
  const known = curves.flatMap((one, lane) => (one ? [{ ...one, weight: weights[lane] }] : []));
  if (!known.length) return null;
  const [from, to] = [
    Math.min(...known.map((one) => one.times[0])),
    Math.max(...known.map((one) => one.times[one.times.length - 1])),
  ];
  const times = Float64Array.from({ length: POINTS }, (_, n) => from + ((to - from) * n) / (POINTS - 1));
  const heights = new Float64Array(POINTS);
  for (const one of known) readAt(times, one.times, one.heights, 0).forEach((height, n) => (heights[n] += one.weight * height));
  return { times, heights, own: null, unit: "1/s", noise: NaN, bandwidth: NaN };
}
