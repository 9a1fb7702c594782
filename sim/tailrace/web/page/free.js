// Positions that the page computes: any value of any slider.

import { answer } from "../engine/answer.js";
import { merged, stating } from "../engine/changes.js";
import { BY_PROGRAM, Refusal, constant, facts } from "../engine/facts.js";
import { display, meant, plain, quantity } from "../engine/units.js";
import { lineOf } from "../shown/lines.js";
import { percent, significant } from "../shown/numbers.js";
import { phrase } from "../shown/words.js";
import { laidUpon } from "./measured.js";
import { emptyView, normal } from "./views.js";

/** Of a slider's unit, which a value has that is told in it: as `studies/axes.py`. */
const HANDY = 1e-3;

/** @typedef {import("./views.js").View} View */
/** @typedef {import("../engine/answer.js").SoluteAnswer} SoluteAnswer */
/** A slider: null as its value leaves the scenario as it is. */
/** @typedef {{name: string, place: (string | number)[], kind: string, low: number, high: number, log: boolean, words: string[], stops: (number | string)[], start: number | string | null, unit?: [string, number] | null}} Axis */

/**
 * The scenario at a position.
 * @param {any} scenario
 * @param {Axis[]} axes
 * @param {(number | string | null)[]} values
 */
export function scenarioAt(scenario, axes, values) {
  let made = scenario;
  axes.forEach((axis, n) => {
    if (values[n] !== null) made = laid(made, axis.place, written(axis, values[n]));
  });
  return made === scenario ? made : stating(scenario, made);
}

/** @param {any} holder @param {(string | number)[]} place @param {unknown} value @returns {any} */
function laid(holder, [key, ...rest], value) {
  if (Array.isArray(holder)) return holder.map((one, n) => (n === key ? laid(one, rest, value) : one));
  return rest.length
    ? { ...holder, [key]: laid(holder[key] ?? {}, rest, value) }
    : merged(holder, { [key]: value });
}

/** As a file holds it. @param {Axis} axis @param {number | string | null} value */
function written(axis, value) {
  if (axis.words.length) return value === "true" ? true : value === "false" ? false : value;
  if (typeof value === "string") return value;
  return axis.kind === "number" ? value : `${value} ${facts().kinds[axis.kind].unit}`;
}

/** As people read it. @param {Axis} axis @param {number | string | null} value */
export function shownOn(axis, value) {
  if (value === null) return phrase("as it is");
  if (typeof value === "string") return value;
  if (axis.kind === "number") return plain(value);
  const [unit, size] = axis.unit ?? ["", NaN];
  // in the unit of the slider's ends, where that takes few digits
  return Math.abs(value) >= HANDY * size ? `${plain(value / size)} ${unit}` : display(value, axis.kind);
}

/** What was typed, in SI; a decimal comma is understood where it can be nothing else; throws Refusal.
 * @param {Axis} axis @param {string} text */
export function typedOn(axis, text) {
  const read = (/** @type {string} */ said) => {
    if (axis.kind !== "number") return quantity(said, axis.kind);
    const value = said.trim() ? Number(said) : NaN;
    if (!Number.isFinite(value)) throw new Refusal(`expected a number, found "${text}"; write one`);
    return value;
  };
  const [first, other] = (text.includes(",") ? meant(text.trim()) : []).filter((one) => {
    try {
      return !Number.isNaN(read(one));
    } catch {
      return false;
    }
  });
  if (other)
    throw new Refusal(`expected a number that can be read in one way, found "${text}", which is ${first} or ${other}; write a point for the decimal sign`);
  return read(first ?? text);
}

/**
 * The view of a position, with the numbers that checks are compared with.
 * @param {any} data
 * @param {(number | string | null)[]} values
 * @returns {View & {numbers: Record<string, number>[]}}
 */
export function freeView(data, values) {
  const found = answer(scenarioAt(data.scenario, data.axes, values));
  if (found.refused !== null) return { ...emptyView(refusalOn(data, found.refused)), numbers: [] };
  const solutes = data.shown.map((/** @type {number} */ lane) => found.solutes[lane]);
  const { trace } = found;
  const lines = solutes.map(linesOf);
  const beside = data.measured ? laidUpon(data.measured, solutes[0]) : null;
  if (beside) lines[0].push(beside.line);
  return {
    refused: "",
    lines,
    measured: beside ? beside.residual : NaN,
    trace: trace && {
      times: trace.time,
      heights: trace.recorded,
      own: trace.column_alone && lineOf("own", trace.time, trace.column_alone),
      unit: trace.unit,
      noise: trace.noise,
      bandwidth: solutes[0].signal.relative_noise ** 2 / 4,
    },
    figures: solutes.map((/** @type {SoluteAnswer} */ one) => figuresOf(one, data.leading)),
    parts: solutes.map((/** @type {SoluteAnswer} */ one) => partRowsOf(one, one.metrics[data.leading])),
    shares: solutes.map(sharesOf),
    delays: solutes.map((/** @type {SoluteAnswer} */ one) => one.delay),
    apart: apartOf(found.pairs),
    pressure: significant(found.pressure.highest / 1e5),
    warnings: found.warnings,
    numbers: solutes.map((/** @type {SoluteAnswer} */ one) => one.metrics),
  };
}

/** Students have the page alone. @param {any} data @param {string} refused */
function refusalOn(data, refused) {
  const here = phrase("choose another value, or go back to the one before");
  return data.lesson === undefined ? refused : refused.replace(BY_PROGRAM, here);
}

/** @param {SoluteAnswer} one */
function linesOf(one) {
  const points = one.points ?? { time: one.time, recorded: one.recorded };
  return [
    ...(one.column_alone ? [lineOf("own", one.time, one.column_alone)] : []),
    lineOf("recorded", points.time, points.recorded),
    ...(one.gaussian.variance > 0 ? [normal(one.gaussian.mean, one.gaussian.variance)] : []),
  ];
}

/** @param {SoluteAnswer} one @param {string} leading @returns {string[]} */
function figuresOf(one, leading) {
  const passed = one.parts.filter((part) => !part.behind);
  const variance = passed.reduce((sum, part) => sum + part.gaussian, 0);
  const columns = passed.filter((part) => facts().parts[part.kind].separates);
  const mean = columns.length ? columns.reduce((sum, part) => sum + part.residence, 0) : one.metrics.mean;
  const [plates, names] = ["plates_half_height", ["tailing_5", "width_half", "height", "variance"]];
  const deviation = Math.sqrt(variance);
  const halves = Math.sqrt(constant("HALF_HEIGHT"));
  const theory = [
    mean ** 2 / variance,
    1,
    halves * deviation,
    1 / (Math.sqrt(2 * Math.PI) * deviation),
    variance,
    (mean + one.delay) ** 2 / variance,
  ];
  const rows = [leading, ...names, ...(leading === plates ? [] : [plates])].map((name, n) => [
    significant(one.metrics_column[name] ?? NaN, 4),
    significant(one.metrics[name], 4),
    significant(theory[n], 4),
  ]);
  const own = one.metrics_column[leading] ?? NaN;
  const kept = [percent(own / own), percent(one.metrics[leading] / own), percent(theory[0] / own)];
  return [...rows[0], ...kept, ...rows.slice(1).flat()];
}

/** @param {SoluteAnswer} one */
function sharesOf(one) {
  const total = one.parts.reduce((sum, part) => sum + part.variance, 0);
  return one.parts.map((part) => part.variance / total);
}

/** @param {SoluteAnswer} one @param {number} plates as recorded @returns {string[][]} */
function partRowsOf(one, plates) {
  // the plates' own last digit; hundredths of a plate tell nothing
  const least = Math.max(0.5 * 10 ** (Math.floor(Math.log10(plates)) - 3), 0.005);
  const shares = sharesOf(one);
  return one.parts.map((part, n) => [
    significant(part.gaussian),
    significant(part.variance),
    percent(shares[n]),
    Math.abs(part.plates_back) < least ? "0" : significant(part.plates_back),
    significant(part.fourier),
  ]);
}

/** @param {import("../engine/answer.js").Pair[]} pairs */
function apartOf(pairs) {
  const known = pairs.filter((one) => Number.isFinite(one.resolution));
  if (!known.length) return "";
  const pair = known.reduce((one, other) => (other.resolution < one.resolution ? other : one));
  const { first, second } = pair;
  const told = { first, second, resolution: significant(pair.resolution) };
  const line = phrase("Critical pair: {first} and {second}, resolution {resolution} recorded", told);
  const could = Number.isFinite(pair.column_alone)
    ? phrase(" of {could} that the column could give", { could: significant(pair.column_alone) })
    : "";
  if (!Number.isFinite(pair.valley)) return `${line}${could}${phrase("; on the recorded trace they have run into one peak.")}`;
  return `${line}${could}${phrase("; the valley between them is {valley} % of the smaller peak.", { valley: percent(pair.valley) })}`;
}
