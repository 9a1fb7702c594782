// @ts-check
/** Which metrics of a measured peak are resolved: those that noise, window and baseline leave; as
 * `measurements/measuring.py`, with the same random numbers. */
import { noiseDrawn } from "./drawn.js";
import { evenRound, thinned } from "./evening.js";
import { constant, facts } from "./facts.js";
import { normalsOf } from "./normal.js";
import { SUMS, smoothingOf, readAbove, smoothed } from "./treatment.js";

/** @typedef {import("./evening.js").Even} Even */
/** @typedef {import("./evening.js").Stretch} Stretch */
/** @typedef {import("./noise.js").Noise} Noise */
/** @typedef {import("./treatment.js").Piece} Piece */
/** @typedef {import("./treatment.js").Spot} Spot */
/** @typedef {Record<string, number>} Metrics */

/** Points above half height, of more than twice as many of which means of neighbours are taken: noise is drawn sooner. */
const ENOUGH = 40;
const FIRST_SEED = 15;

/**
 * Names of the metrics that are resolved.
 * @param {Even} even @param {Spot} spot @param {Noise} noise @param {number} draws of the noise
 * @param {number} at which peak of the file
 * @returns {Set<string>}
 */
export function determinedOf(even, spot, noise, draws, at) {
  const wider = widened(spot, constant("WIDER"), even.values.length);
  const { piece, places, deviation, correlation } = pieceOf(even, [spot, wider], noise);
  const [plain, long] = places;
  const found = readAbove(piece, plain).metrics;
  const size = (/** @type {string} */ name) => measureOf(name, found, piece.step * (plain.window[1] - plain.window[0]));
  const normal = normalsOf([FIRST_SEED, at]);
  const clean = cleanOf(piece, plain);
  const lanes = Array.from({ length: draws }, () => {
    const drawn = noiseDrawn(clean.length, correlation, normal);
    return { ...piece, values: clean.map((one, k) => one + deviation * drawn[k]) };
  });
  const drawn = lanes.map((lane) => readAbove(lane, plain).metrics);
  /** @type {Metrics} NaN where noise alone changes one by more than half of its size in more than a draw of twenty */
  const spreads = {};
  for (const name of Object.keys(found)) {
    const near = drawn.map((one) => one[name]).filter((one) => Math.abs(one - found[name]) <= size(name) / 2);
    spreads[name] = near.length >= constant("MOSTLY") * draws ? deviationOf(near) : NaN;
  }
  const parts = [long, { ...plain, before: innerHalf(plain.before, -1), behind: innerHalf(plain.behind, 1) }].map((other) =>
    beyond(found, spreads, readAbove(piece, other).metrics, () => {
      const few = lanes.slice(0, constant("VARIANT_DRAWS")).map((lane) => readAbove(lane, other).metrics);
      return (/** @type {string} */ name) => deviationOf(few.map((one, k) => one[name] - drawn[k][name]).filter(Number.isFinite));
    }),
  );
  const told = Object.keys(found).filter((name) => Number.isFinite(found[name]) && !Number.isNaN(spreads[name]) && parts.every((one) => one[name] <= size(name) / 2));
  const [from, to] = plain.window.map((one, k) => piece.start + piece.step * (one - k));
  const meant = told.includes("area") && found.mean > from && found.mean < to && found.variance > 0;
  return new Set(meant ? told : told.filter((name) => !SUMS.includes(name)));
}

/** With a window so many times as long, between the same neighbours. @param {Spot} spot @param {number} by
 * @param {number} count @returns {Spot} */
function widened(spot, by, count) {
  const [low, high] = spot.window;
  return {
    ...spot,
    window: [
      spot.front ? low : Math.max(0, low - evenRound((by - 1) * (spot.apex - low))),
      spot.tail ? high : Math.min(count, high + evenRound((by - 1) * (high - spot.apex))),
    ],
  };
}

/** What of the signal these windows and their blank stretches hold, thinned where that is enough; the
 * same windows in it, and the noise there.
 * @param {Even} even @param {Spot[]} spots @param {Noise} noise */
function pieceOf(even, spots, noise) {
  const ends = spots.flatMap((one) => [...one.window, ...one.before, ...one.behind]);
  const [first, last] = [Math.min(...ends), Math.max(...ends)];
  const every = Math.max(1, Math.floor(spots[0].half / ENOUGH));
  const values = thinned(even.values.slice(first, last), every);
  const place = (/** @type {number} */ one) => Math.min(Math.round((one - first) / every), values.length);
  const stretch = (/** @type {Stretch} */ [one, other]) => /** @type {Stretch} */ ([place(one), Math.max(place(other), place(one) + 1)]);
  const places = spots.map((one) => ({
    ...one,
    apex: place(one.apex),
    half: one.half / every,
    window: stretch(one.window),
    before: stretch(one.before),
    behind: stretch(one.behind),
  }));
  const piece = { start: even.start + even.step * (first + (every - 1) / 2), step: even.step * every, values };
  return { piece, places, ...noiseOfMeans(noise, every) };
}

/** Of means of so many neighbours whose correlation falls geometrically. @param {Noise} noise @param {number} every */
function noiseOfMeans({ deviation, correlation }, every) {
  const fallen = 1 - correlation ** every;
  const share = ((1 + correlation) / (1 - correlation) - (2 * correlation * fallen) / (every * (1 - correlation) ** 2)) / every;
  const next = (correlation * fallen ** 2) / (1 - correlation) ** 2 / every ** 2;
  return { deviation: deviation * Math.sqrt(share), correlation: next / share };
}

/** With the peak smoothed: noise is drawn upon it. @param {Piece} piece @param {Spot} spot */
function cleanOf({ values }, spot) {
  const [low, high] = spot.window;
  const clean = values.slice();
  clean.set(smoothed(values.slice(low, high), smoothingOf(spot)), low);
  return clean;
}

/** By whose half a metric has to be known: a time means something over the width. @param {string} name
 * @param {Metrics} found @param {number} window s */
function measureOf(name, found, window) {
  const { relative_to: over, unit } = facts().metrics[name];
  if (over === "width") return Number.isFinite(found.width_half) ? found.width_half : window;
  return Math.max(Math.abs(found[name]), unit === "1" ? 1 : 0);
}

/** The half of a blank stretch that is nearer to the peak. @param {Stretch} stretch @param {number} way @returns {Stretch} */
function innerHalf([low, high], way) {
  const size = Math.max(1, Math.floor((high - low) / 2));
  return way < 0 ? [high - size, high] : [low, low + size];
}

/** How much another window or baseline changes each metric beyond noise.
 * @param {Metrics} found @param {Metrics} spreads @param {Metrics} other
 * @param {() => (name: string) => number} draw what noise makes of the change
 * @returns {Metrics} */
function beyond(found, spreads, other, draw) {
  const [least, most] = constant("PLAIN");
  const names = Object.keys(found);
  const change = (/** @type {string} */ name) => Math.abs(other[name] - found[name]);
  const share = (/** @type {string} */ name) => (spreads[name] ? change(name) / spreads[name] : 0);
  if (names.every((name) => !(share(name) > least && share(name) < most)))
    return Object.fromEntries(names.map((name) => [name, share(name) > least || !spreads[name] ? change(name) || 0 : 0]));
  const noise = draw();
  return Object.fromEntries(
    names.map((name) => [name, Math.sqrt(Math.max(0, change(name) ** 2 - (constant("CERTAIN") * noise(name)) ** 2) || 0)]),
  );
}

/** Standard deviation; NaN of fewer than three. @param {number[]} values */
function deviationOf(values) {
  if (values.length < 3) return NaN;
  const mean = values.reduce((sum, one) => sum + one, 0) / values.length;
  return Math.sqrt(values.reduce((sum, one) => sum + (one - mean) ** 2, 0) / (values.length - 1));
}
