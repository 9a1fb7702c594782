// The column: porosities, plate heights, exchange, and its transfer function.

import { Refusal, constant, facts } from "./facts.js";
import { kozenyCarman } from "./eluent.js";
import { unrolled } from "./packed.js";
import { throughTanks, turned } from "./responses.js";
import { general } from "./units.js";

/** @typedef {import("./eluent.js").Stream} Stream */
/** @typedef {import("./responses.js").Cumulants} Cumulants */
/** @typedef {Float64Array} Numbers */

/**
 * A column with what is usual of its kind filled in.
 * @param {Record<string, any>} given keys of its table, SI
 */
export function columnOf(given) {
  const [usualCore, usualTotal, outsideUsual] = [
    constant("CORE_RATIO")[given.particle],
    constant("TOTAL_POROSITY")[given.particle],
    constant("EXTERNAL_POROSITY"),
  ];
  const core = given.core_ratio ?? usualCore;
  const outside = given.external_porosity ?? outsideUsual;
  const shellShare = 1 - core ** 3;
  const shell = (1 - outside) * shellShare;
  const usualShell = (1 - outsideUsual) * (1 - usualCore ** 3);
  const total = given.porosity ?? outside + (usualTotal - outsideUsual) * (shell / usualShell);
  const bed = (Math.PI / 4) * given.bore ** 2 * given.length * total;
  const head = given.head_volume ?? 0;
  return {
    ...given,
    core,
    external_porosity: outside,
    total_porosity: total,
    shell_porosity: (total - outside) / shell,
    bed_volume: bed,
    head_volume: head,
    volume: bed + 2 * head,
  };
}

/** @param {any} column @param {Stream} stream @returns {number} s */
export const deadTime = (column, stream) => column.bed_volume / stream.flow;
/** @param {any} column @param {Stream} stream */
export const headTime = (column, stream) => column.head_volume / stream.flow;
/** Mean time of an unretained solute. @param {any} column @param {Stream} stream @returns {number} s */
export const holdUpTime = (column, stream) => deadTime(column, stream) + 2 * headTime(column, stream);
/** @param {any} column @param {Stream} stream @returns {number} s */
export const retentionTime = (column, stream) => deadTime(column, stream) * (1 + stream.retention);
/** @param {any} column @param {Stream} stream */
const zoneRetention = (column, stream) =>
  ((1 + stream.retention) * column.total_porosity) / column.external_porosity - 1;

/**
 * Reduced plate heights of dispersion and of slow exchange.
 * @param {any} column @param {Stream} stream @param {number} flow m^3/s
 * @returns {[number, number]}
 */
function heights(column, stream, flow) {
  const { core, external_porosity: outside, shell_porosity: pores } = column;
  const section = (Math.PI / 4) * column.bore ** 2 * outside;
  const velocity = ((flow / section) * column.particle_diameter) / stream.diffusivity;
  const zone = zoneRetention(column, stream);
  const [inside, solid] = [1 - outside, 1 - core ** 3];
  const held = (zone * outside) / (inside * solid);
  const shell =
    constant("PORE_DIFFUSIVITY") * pores + constant("STATIONARY_DIFFUSIVITY") * Math.max(held - pores, 0);
  const particle = (shell * 2 * solid) / (2 + core ** 3);
  const contrast = (particle - 1) / (particle + 2);
  const along = ((2 / outside) * (1 + 2 * contrast * inside)) / (1 - contrast * inside);
  const share = (outside / inside) * (zone / (1 + zone)) ** 2;
  const solidity = (1 + 2 * core + 3 * core ** 2 - core ** 3 - 5 * core ** 4) / (1 + core + core ** 2) ** 2;
  const across = ((share / 30) * solidity) / shell;
  const sherwood = constant("FILM") * outside ** (-2 / 3) * Math.cbrt(velocity);
  const film = ((share / 3) * velocity) / sherwood;
  return [
    constant("EDDY")[column.particle] * Math.cbrt(velocity) + along / velocity,
    across * velocity + film,
  ];
}

/** @param {any} column @param {Stream} stream @returns {number} NaN: none given */
function platesOfBed(column, stream) {
  if (column.plates === undefined) return NaN;
  const plates = byVariance(column.column_tailing, column.plates);
  // in a gradient k falls on the way, and what heads take at no fixed k is not known
  if (column.plates_include_head === false || column.migration?.programme) return plates;
  const [bed, head] = [retentionTime(column, stream), headTime(column, stream)];
  const [taken, whole] = [2 * head ** 2, (bed + 2 * head) ** 2];
  const left = whole / plates - taken;
  if (left > 0) return bed ** 2 / left;
  throw new Refusal(
    `${column.name}: head_volume alone leaves ${general(whole / taken, 3)} plates, fewer than those given: ` +
      "give a smaller head_volume, fewer plates, or plates_include_head = false if they are those of the bed alone",
  );
}

/**
 * Variances in time of the bed: dispersion, and slow exchange.
 * @param {any} column @param {Stream} stream
 * @returns {[number, number]}
 */
function variances(column, stream) {
  const [h, c] = heights(column, stream, stream.flow);
  const stated = platesOfBed(column, stream);
  const square = retentionTime(column, stream) ** 2;
  let scale = (square * column.particle_diameter) / column.length;
  if (!Number.isNaN(stated)) {
    const at = { ...stream, diffusivity: stream.platesDiffusivity ?? stream.diffusivity };
    const [one, other] = heights(column, at, column.plates_flow ?? stream.flow);
    scale /= (stated * (one + other) * column.particle_diameter) / column.length;
  } else {
    const curve = column.length / ((h + c) * column.particle_diameter);
    scale *= curve / byVariance(column.column_tailing, curve);
  }
  let [dispersion, exchange] = [h * scale, c * scale];
  if (column.kinetics === "equilibrium") return [dispersion + exchange, 0];
  const rate = column.mass_transfer_rate ?? NaN;
  let [slow, whole] = [exchange, false];
  if (column.kinetics === "two-site") {
    const [mobile, sites] = twoSites(column, stream);
    slow = 2 * mobile * sites.reduce((sum, [held, r]) => sum + held / r, 0);
    whole = !Number.isNaN(stated);
    if (!whole && Number.isNaN(rate)) dispersion += exchange;
  } else if (!Number.isNaN(rate)) {
    slow = (2 * deadTime(column, stream) * stream.retention) / rate;
    whole = !Number.isNaN(stated);
  }
  if (whole) dispersion += exchange - slow;
  if (dispersion > 0) return [dispersion, slow];
  const key = column.kinetics === "two-site" ? "slow_rate" : "mass_transfer_rate";
  throw new Refusal(
    `${column.name}: ${key} alone leaves ${general(square / slow, 3)} plates, fewer than those given: ` +
      `give a higher ${key} or fewer plates`,
  );
}

/**
 * Plates that the bed has, isocratic, by k.
 * @param {any} column @param {Stream} stream
 * @returns {(k: number) => number}
 */
export function platesOf(column, stream) {
  const own = platesOfBed(column, stream);
  const bed = { ...column, plates: Number.isNaN(own) ? undefined : own, plates_include_head: false };
  return (k) => {
    const at = { ...stream, retention: k };
    const [dispersion, slow] = variances(bed, at);
    return retentionTime(bed, at) ** 2 / (dispersion + slow);
  };
}

/**
 * Mobile time, s; on each kind of site its retention and rate, 1/s.
 * @param {any} column @param {Stream} stream
 * @returns {[number, [number, number][]]}
 */
function twoSites(column, stream) {
  const k = stream.retention;
  return [
    deadTime(column, stream),
    [
      [(1 - column.slow_share) * k, column.mass_transfer_rate ?? Infinity],
      [column.slow_share * k, column.slow_rate],
    ],
  ];
}

/**
 * As of twoSites, of any column.
 * @param {any} column @param {Stream} stream
 * @returns {[number, [number, number][]]}
 */
function exchangeOf(column, stream) {
  if (column.kinetics === "two-site") return twoSites(column, stream);
  const given = column.mass_transfer_rate !== undefined || column.kinetics === "equilibrium";
  const zone = zoneRetention(column, stream);
  const mobile = given ? deadTime(column, stream) : retentionTime(column, stream) / (1 + zone);
  const held = given ? stream.retention : zone;
  const slow = variances(column, stream)[1];
  return [mobile, [[held, slow > 0 ? (2 * mobile * held) / slow : Infinity]]];
}

/**
 * Time constant of the exponential that makes the column tail, s.
 * @param {any} column @param {Stream} stream
 */
function tailTime(column, stream) {
  if (column.column_tailing === undefined) return 0;
  const retention = retentionTime(column, stream);
  const [dispersion, slow] = variances(column, stream);
  const plates = retention ** 2 / (dispersion + slow);
  return (tailShare(column.column_tailing, plates) * retention) / Math.sqrt(plates);
}

/** @param {number} tailing @param {number} plates */
function tailShare(tailing, plates) {
  const { shares } = facts().tailing;
  const at = atSpread("read", plates);
  if (!(tailing > at(0))) return 0;
  let above = 1;
  while (above < shares.length - 1 && at(above) < tailing) above += 1;
  const part = Math.min(Math.max((tailing - at(above - 1)) / (at(above) - at(above - 1)), 0), 1);
  return Math.sqrt((1 - part) * shares[above - 1] ** 2 + part * shares[above] ** 2);
}

/** @type {{given: any, read: Float64Array, shown: Float64Array} | null} */
let tails = null;

/**
 * Of a table by spread and share of the tail, the value of each share at the spread of so many plates.
 * @param {"read" | "shown"} name @param {number} plates
 * @returns {(share: number) => number}
 */
function atSpread(name, plates) {
  const given = facts().tailing;
  const { spreads, shares, read, shown } = given;
  const shape = [spreads.length, shares.length, 1];
  if (!tails || tails.given !== given) tails = { given, read: unrolled(read, shape), shown: unrolled(shown, shape) };
  const table = tails[name];
  const spread = Math.min(1 / Math.sqrt(plates), spreads[spreads.length - 1]);
  let left = 0;
  while (left < spreads.length - 2 && spreads[left + 1] < spread) left += 1;
  const weight = (spread - spreads[left]) / (spreads[left + 1] - spreads[left]);
  return (share) => (1 - weight) * table[left * shares.length + share] + weight * table[(left + 1) * shares.length + share];
}

/**
 * Mean squared over variance of a column that shows so many plates at half height.
 * @param {number | undefined} tailing @param {number} plates
 * @returns {number}
 */
function byVariance(tailing, plates) {
  if (tailing === undefined) return plates;
  const { shares, rounds } = facts().tailing;
  let found = plates;
  for (let round = 0; round < rounds; round += 1) {
    const at = atSpread("shown", found);
    const place = tailShare(tailing, found) ** 2 / shares[1] ** 2;
    const below = Math.min(Math.floor(place), shares.length - 2);
    found = (plates * at(0)) / (at(below) + (place - below) * (at(below + 1) - at(below)));
  }
  return found;
}

/**
 * Cumulants of the bed and of two mixed heads.
 * @param {any} column @param {Stream} stream
 * @returns {Cumulants}
 */
export function columnCumulants(column, stream) {
  const retention = retentionTime(column, stream);
  const [dispersion, slow] = variances(column, stream);
  const [mobile, sites] = exchangeOf(column, stream);
  const tail = tailTime(column, stream);
  const head = headTime(column, stream);
  const [first, second] = [1, 2].map((power) =>
    sites.reduce((sum, [held, rate]) => sum + held / rate ** power, 0),
  );
  const third =
    (3 * (dispersion - tail ** 2) ** 2) / (retention - tail) +
    2 * tail ** 3 +
    (6 * dispersion * mobile * first) / retention +
    6 * mobile * second;
  const variance = dispersion + slow + 2 * head ** 2;
  return { mean: retention + 2 * head, gaussian: variance, variance, third: third + 4 * head ** 3 };
}

/**
 * Multiply a spectrum by exp(N (1 - sqrt(1 + 2 z / N))), z = p m (1 + sum K / (1 + p / r)).
 * @param {any} column @param {Stream} stream
 * @param {Numbers} omega @param {Numbers} re @param {Numbers} im
 */
export function throughColumn(column, stream, omega, re, im) {
  const [mobileTime, sites] = exchangeOf(column, stream);
  const [tail, whole] = [tailTime(column, stream), retentionTime(column, stream)];
  const mobile = mobileTime * (1 - tail / whole);
  const plates = (whole - tail) ** 2 / (variances(column, stream)[0] - tail ** 2);
  for (let n = 0; n < omega.length; n += 1) {
    const w = omega[n];
    let [x, y] = [1, 0];
    for (const [held, rate] of sites) {
      const late = w / rate;
      const square = 1 + late * late;
      x += held / square;
      y -= (held * late) / square;
    }
    // z = i w m (x + i y)
    const [zr, zi] = [-w * mobile * y, w * mobile * x];
    const [ar, ai] = [1 + (2 * zr) / plates, (2 * zi) / plates];
    // the root with the positive real part
    const size = Math.hypot(ar, ai);
    const real = Math.sqrt((size + ar) / 2);
    const [dr, di] = [1 + real, ai / (2 * real)];
    const square = dr * dr + di * di;
    turned(Math.exp((-2 * (zr * dr + zi * di)) / square), (-2 * (zi * dr - zr * di)) / square, n, re, im);
  }
  if (tail > 0) throughTanks(tail, 1, omega, re, im);
  for (let end = 0; end < 2 && column.head_volume > 0; end += 1)
    throughTanks(headTime(column, stream), 1, omega, re, im);
}

/** @param {any} column @param {Stream} stream @returns {number} Pa */
export function columnPressure(column, stream) {
  return kozenyCarman(stream, column);
}

/** @param {any} column @param {Stream} stream @returns {number} amount over capacity */
export function loadingOf(column, stream) {
  const found = stream.amount / (column.capacity ?? NaN);
  return Number.isNaN(found) ? 0 : found;
}
