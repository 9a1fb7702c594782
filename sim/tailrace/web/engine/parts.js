// The kinds of parts: what each is, what closed form says of it, what it makes of a pulse.

import { Refusal, constant, facts } from "./facts.js";
import { columnCumulants, columnOf, columnPressure, loadingOf, throughColumn } from "./column.js";
import { manner } from "./manner.js";
import { hagenPoiseuille, reynoldsNumber } from "./eluent.js";
import { loopCumulants, loopOf, measuredCumulants, throughLoop, throughMeasured, waysOf } from "./injected.js";
import { tablesOf } from "./reading.js";
import { ofTanks, throughEven, throughMeanOfTanks, throughTanks, times } from "./responses.js";
import { reducedCumulants, throughTube } from "./tables.js";
import { display, general, quantity } from "./units.js";

/** @typedef {import("./eluent.js").Stream} Stream */
/** @typedef {import("./responses.js").Cumulants} Cumulants */
/** @typedef {Float64Array} Numbers */
/** @typedef {Record<string, any>} Part name, kind, volume in m^3, and its own numbers in SI */

/**
 * What can be asked of the parts of one kind.
 * @typedef {object} Kind
 * @property {(given: Record<string, any>, method: Record<string, any>) => Part} make
 * @property {(part: Part, stream: Stream) => Cumulants} cumulants
 * @property {(part: Part, stream: Stream, omega: Numbers, re: Numbers, im: Numbers) => void} through
 * @property {(part: Part, stream: Stream) => number} [residence] s; else volume over flow
 * @property {(part: Part, stream: Stream) => number} [pressure] drop, Pa; else none
 * @property {(part: Part, stream: Stream) => Stream} [passesOn]
 * @property {(part: Part, stream: Stream) => number} [fourier] Fourier number
 * @property {(part: Part, stream: Stream) => string} [notLinear] a clause where it is no product
 * @property {(part: Part, streams: Stream[]) => string[]} [cautions] sentences, of all solutes
 * @property {(part: Part, stream: Stream) => [string, string] | null} [refused] key and sentence where it cannot be as it is given
 */

const BOTH_KINDS = { mean: 0, gaussian: 0, variance: 0, third: 0 };

/** @type {Record<string, Kind>} */
const KINDS = {
  injector: {
    make: (given) => ({ volume: NaN, ...given, name: "injection", kind: "injector" }),
    residence: () => 0,
    cumulants: injected,
    through: throughInjector,
  },
  loop: {
    make: loopOf,
    residence: () => 0,
    cumulants: loopCumulants,
    through: throughLoop,
    notLinear: (part, stream) => {
      const { least, most } = facts().tube;
      return waysOf(part, stream).some(({ residence, fourier }) => residence && !(fourier >= least && fourier <= most))
        ? `the liquid in the loop mixes across it less, or more, than the table of this page holds: Fourier number outside ${general(least, 6)} to ${general(most, 6)}`
        : "";
    },
  },
  tube: {
    make: tubeOf,
    cumulants: tubeCumulants,
    fourier: fourierNumber,
    through: (part, stream, omega, re, im) => {
      const residence = part.volume / stream.flow;
      if (part.bent) manner.throughBend(bendOf(part, stream), residence, omega, re, im);
      else throughTube(fourierNumber(part, stream), residence, omega, re, im);
    },
    pressure: (part, stream) => hagenPoiseuille(stream, part.bore, part.length) * frictionOf(part, stream),
    notLinear: notTabulated,
    cautions: tubeCautions,
    refused: refusedBend,
  },
  fitting: {
    make: (given) => ({ ...given, volume: (Math.PI / 4) * given.gap_bore ** 2 * given.gap_length }),
    cumulants: jointCumulants,
    through: throughJoint,
    pressure: (part, stream) => hagenPoiseuille(stream, part.gap_bore, part.gap_length),
  },
  chamber: {
    make: (given) => given,
    cumulants: (part, stream) => ofTanks(part.volume / stream.flow, part.tanks),
    through: (part, stream, omega, re, im) =>
      throughTanks(part.volume / stream.flow, part.tanks, omega, re, im),
  },
  column: {
    make: (given, method) => columnOf({ ...given, plates_flow: given.plates_flow ?? method.stated_flow }),
    residence: (part, stream) => inBed(part, stream).mean,
    cumulants: inBed,
    through: throughColumn,
    pressure: columnPressure,
    notLinear: (part, stream) => (loadingOf(part, stream) > 0 ? `${part.name} is overloaded` : ""),
  },
  tee: {
    make: (given) => ({ volume: 0, ...given }),
    residence: (part, stream) => part.volume / (stream.flow + (part.make_up ?? 0)),
    cumulants: (part, stream) => ofTanks(residenceOf(part, stream), 1),
    through: (part, stream, omega, re, im) => throughTanks(residenceOf(part, stream), 1, omega, re, im),
    passesOn: behindTee,
  },
  cell: {
    make: cellOf,
    cumulants: cellCumulants,
    through: throughCell,
  },
  detector: {
    make: detectorOf,
    residence: () => 0,
    cumulants: (part) => {
      const [constantTime, width] = [part.time_constant, part.averaging];
      const variance = constantTime ** 2 + width ** 2 / 12;
      return { mean: constantTime + width / 2, gaussian: variance, variance, third: 2 * constantTime ** 3 };
    },
    through: (part, _, omega, re, im) => {
      if (part.time_constant > 0) throughTanks(part.time_constant, 1, omega, re, im);
      if (part.averaging > 0) throughEven(part.averaging, omega, re, im);
    },
  },
};

/** @param {Part} part @param {Stream} stream */
function inBed(part, stream) {
  return ((part.migration && manner.migrationCumulants) || columnCumulants)(part, stream);
}

/** @param {Part} part @returns {Kind} */
export function kindOf(part) {
  return KINDS[part.kind];
}

/** @param {Part} part @param {string} capability as `facts().parts` names it */
export function isOf(part, capability) {
  return Boolean(facts().parts[part.kind][capability]);
}

/** @param {Part} part @param {string} capability lost behind the recording */
export function can(part, capability) {
  return !part.behind && isOf(part, capability);
}

/**
 * A part from its table, numbers in SI.
 * @param {string} kind
 * @param {Record<string, any>} given
 * @param {Record<string, any>} [method] its table, SI
 * @returns {Part}
 */
export function partOf(kind, given, method = {}) {
  return KINDS[kind].make({ ...given, kind }, method);
}

/** @param {Part} part @param {Stream} stream @returns {number} s */
export function residenceOf(part, stream) {
  return (kindOf(part).residence ?? ((one, its) => one.volume / its.flow))(part, stream);
}

/** @param {Part} part @param {Stream} stream @returns {Cumulants} */
export function cumulantsOf(part, stream) {
  return part.behind ? BOTH_KINDS : kindOf(part).cumulants(part, stream);
}

/** @param {Part} part @param {Stream} stream */
export function fourierNumber(part, stream) {
  return (Math.PI * stream.diffusivity * part.length) / stream.flow;
}

/** @param {Part} part @param {Stream} stream @returns {Cumulants} */
function injected(part, stream) {
  if (part.shape === "gaussian") {
    return { mean: 0, gaussian: part.sigma ** 2, variance: part.sigma ** 2, third: 0 };
  }
  if (part.shape === "signal") return measuredCumulants(part);
  const a = part.volume / stream.flow;
  const w = (part.washout_volume ?? 0) / stream.flow;
  const plug = [a / 2, a ** 2 / 3, a ** 3 / 4];
  const tail = [
    a + w,
    a ** 2 + 2 * a * w + 2 * w ** 2,
    a ** 3 + 3 * a ** 2 * w + 6 * a * w ** 2 + 6 * w ** 3,
  ];
  const [mean, second, third] = plug.map((one, n) => (a * one + w * tail[n]) / (a + w));
  const variance = second - mean ** 2;
  return { mean, gaussian: variance, variance, third: third - 3 * mean * second + 2 * mean ** 3 };
}

/** @type {Kind["through"]} */
function throughInjector(part, stream, omega, re, im) {
  if (part.shape === "gaussian") {
    for (let n = 0; n < omega.length; n += 1)
      times(Math.exp(-0.5 * (omega[n] * part.sigma) ** 2), 0, n, re, im);
    return;
  }
  if (part.shape === "signal") {
    throughMeasured(part, omega, re, im);
    return;
  }
  const plug = part.volume / stream.flow;
  const tail = (part.washout_volume ?? 0) / stream.flow;
  const share = plug / (plug + tail);
  for (let n = 0; n < omega.length; n += 1) {
    const turn = omega[n] * plug;
    const late = omega[n] * tail;
    const even = turn === 0 ? 1 : Math.sin(turn / 2) / (turn / 2);
    const [x, y] = [even * Math.cos(turn / 2), -even * Math.sin(turn / 2)];
    // exp(-i turn) / (1 + i late)
    const [cos, sin, square] = [Math.cos(turn), Math.sin(turn), 1 + late * late];
    const [u, v] = [(cos - late * sin) / square, -(sin + late * cos) / square];
    times(share * x + (1 - share) * u, share * y + (1 - share) * v, n, re, im);
  }
}

/** @type {Kind["make"]} */
function tubeOf(given, method) {
  const sizes = { ...given };
  const area = (/** @type {number} */ bore) => (Math.PI / 4) * bore ** 2;
  if (sizes.volume !== undefined) {
    if (sizes.bore === undefined) sizes.bore = Math.sqrt(sizes.volume / ((Math.PI / 4) * sizes.length));
    else sizes.length = sizes.volume / area(sizes.bore);
  }
  const stretches = given.bends
    ? tablesOf(given.bends).map((one) => ({
        share: quantity(String(one.length), "length"),
        radius: one.radius === "straight" ? Infinity : quantity(String(one.radius), "bend radius"),
      }))
    : [{ share: 1, radius: given.bend_radius ?? method.bend_radius ?? Infinity }];
  const bent = stretches.some((/** @type {Bending} */ one) => Number.isFinite(one.radius));
  return { ...sizes, volume: area(sizes.bore) * sizes.length, stretches, bent };
}

/** @typedef {{share: number, radius: number}} Bending m; share of the length, to a factor */

/** Reynolds number times the root of half the bore over the bend radius. @param {Part} part @param {Stream} stream @param {number} radius m */
function deanNumber(part, stream, radius) {
  return Number.isFinite(radius) ? reynoldsNumber(stream, part.bore) * Math.sqrt(part.bore / 2 / radius) : 0;
}

/** @param {Part} part with one bend @param {Stream} stream */
function bendOf(part, stream) {
  const dean = deanNumber(part, stream, part.stretches[0].radius);
  const schmidt = stream.viscosity / (stream.density * stream.diffusivity);
  return { dean, strength: dean ** 2 * schmidt, length: fourierNumber(part, stream) };
}

/** Pressure gradient over that of the straight tube. @param {Part} part @param {Stream} stream @returns {number} */
function frictionOf(part, stream) {
  if (!part.bent) return 1;
  const sum = (/** @type {(one: Bending) => number} */ of) => part.stretches.reduce((/** @type {number} */ all, /** @type {Bending} */ one) => all + of(one), 0);
  return sum(({ share, radius }) => share * (manner.frictionAt?.(deanNumber(part, stream, radius)) ?? NaN)) / sum(({ share }) => share);
}

/** A bend that no tube of this bore makes, or in which the flow is not known. @type {NonNullable<Kind["refused"]>} */
function refusedBend(part, stream) {
  if (!part.bent) return null;
  const key = part.bends ? "bends" : "bend_radius";
  const radii = part.stretches.map((/** @type {Bending} */ one) => one.radius);
  const tightest = Math.min(...radii);
  if (tightest < part.bore) {
    return [
      key,
      `expected bends wider than the bore of ${display(part.bore, "bore")}, found a radius of ` +
        `${display(tightest, "bend radius")}; check both and their units`,
    ];
  }
  const highest = Math.max(...radii.map((/** @type {number} */ one) => deanNumber(part, stream, one)));
  if (Number.isNaN(highest)) return [key, "expected a viscosity beside a bent tube, found none; add one"];
  const most = constant("MOST_DEAN");
  return highest > most
    ? [
        key,
        `expected a Dean number up to ${general(most, 6)}, up to which the flow in a bend is known, found ` +
          `${general(highest, 4)}; lower the flow rate or widen the bend`,
      ]
    : null;
}

/** @param {Part} part @param {Stream} stream @returns {Cumulants} */
function tubeCumulants(part, stream) {
  const fourier = fourierNumber(part, stream);
  const residence = part.volume / stream.flow;
  const peclet = pecletNumber(part, stream);
  const radial = residence / fourier;
  const [variance, third] = part.bent && !notTabulated(part, stream) ? manner.bentCumulants(bendOf(part, stream)) : reducedCumulants(fourier);
  return {
    mean: residence,
    gaussian: ((residence * radial) / 24) * (1 + 192 / peclet ** 2),
    variance: variance * radial ** 2,
    third: third * radial ** 3,
  };
}

/** @param {Part} part @param {Stream} stream */
function pecletNumber(part, stream) {
  return (4 * stream.flow) / (Math.PI * part.bore * stream.diffusivity);
}

/** @param {Part} part @param {Stream} stream */
function notTabulated(part, stream) {
  if (part.inlet === "carried over" || part.handsOn) return `${part.name} keeps its profile`;
  if (part.bent && part.stretches.length > 1) return `${part.name} is bent in several stretches`;
  if (part.bent) {
    const reason = manner.unknownBend ? manner.unknownBend(bendOf(part, stream)) : "and this page was made without the table of bends";
    return reason && `${part.name} is bent, ${reason}`;
  }
  const { least, most } = facts().tube;
  const fourier = fourierNumber(part, stream);
  return fourier < least || fourier > most
    ? `the liquid in ${part.name} mixes across it less, or more, than the table of this page holds: Fourier number outside ${general(least, 6)} to ${general(most, 6)}`
    : "";
}

/** @param {Part} part @param {Stream[]} streams */
function tubeCautions(part, streams) {
  const [fourier, peclet] = [fourierNumber, pecletNumber].map((of) =>
    streams.map((stream) => of(part, stream)),
  );
  const [slowest, least] = [Math.min(...fourier), Math.min(...peclet)];
  const reynolds = Math.max(...streams.map((stream) => reynoldsNumber(stream, part.bore)));
  const [low, high, slow, limit] = ["LEAST_FOURIER", "MOST_FOURIER", "LEAST_PECLET", "LAMINAR_LIMIT"].map(
    constant,
  );
  const said = [];
  if (slowest < low || Math.max(...fourier) > high) {
    said.push(
      `${part.name}: Fourier number ${general(slowest, 2)} is outside ${low} to ${high.toFixed(1)}, ` +
        "where the tube is checked against the exact solution",
    );
  }
  if (least < slow) {
    said.push(
      `${part.name}: Peclet number ${least.toFixed(0)} is below ${slow.toFixed(0)}: diffusion along the tube, about ` +
        `${general(192 / least ** 2, 1)} of its long-tube variance, is left out of the simulation`,
    );
  }
  if (reynolds > limit) {
    said.push(
      `${part.name}: Reynolds number ${reynolds.toFixed(0)} is above ${limit.toFixed(0)}: the flow may be turbulent, ` +
        "then neither the variance nor the pressure drop holds",
    );
  }
  const tightest = Math.min(...part.stretches.map((/** @type {Bending} */ one) => one.radius));
  if (part.bore > 2 * constant("LOOSE") * tightest) {
    said.push(
      `${part.name}: bent to a radius of only ${general(tightest / part.bore, 2)} bores; the flow is that of a bend ` +
        "much wider than the bore",
    );
  }
  return said;
}

/**
 * Residence of the whole gap and of its pocket, and the time in which that fills, s.
 * @param {Part} part @param {Stream} stream
 */
function pocketOf(part, stream) {
  const whole = part.volume / stream.flow;
  const pocket = part.unswept * whole;
  const depth = (part.gap_bore / 2) * (1 - Math.sqrt(1 - part.unswept));
  const still = depth ** 2 / stream.diffusivity;
  const filling = pocket > 0 ? (still * 3 * pocket) / (3 * pocket + part.exchange * still) : 0;
  return { whole, pocket, filling };
}

/** @param {Part} part @param {Stream} stream @returns {Cumulants} */
function jointCumulants(part, stream) {
  const { whole, pocket, filling } = pocketOf(part, stream);
  return {
    mean: whole,
    gaussian: whole ** 2,
    variance: whole ** 2 + (2 * pocket * filling) / 3,
    third: 2 * whole ** 3 + 2 * whole * pocket * filling + (4 * pocket * filling ** 2) / 5,
  };
}

/** @type {Kind["through"]} */
function throughJoint(part, stream, omega, re, im) {
  const { whole, pocket, filling } = pocketOf(part, stream);
  if (!(pocket > 0)) {
    throughTanks(whole, 1, omega, re, im);
    return;
  }
  for (let n = 0; n < omega.length; n += 1) {
    // tanh(q)/q with q = g (1 + i), by exp(-2 q)
    const g = Math.sqrt((omega[n] * filling) / 2);
    let [x, y] = [1, (-2 * g * g) / 3];
    if (g * Math.SQRT2 >= 1e-3) {
      const fading = Math.exp(-2 * g);
      const [c, s] = [fading * Math.cos(2 * g), -fading * Math.sin(2 * g)];
      // (1 - f) / ((1 + f) q)
      const [ur, ui] = [1 - c, -s];
      const [vr, vi] = [(1 + c) * g - s * g, (1 + c) * g + s * g];
      const square = vr * vr + vi * vi;
      x = (ur * vr + ui * vi) / square;
      y = (ui * vr - ur * vi) / square;
    }
    // 1 / (1 + i w (core + pocket (x + i y)))
    const [dr, di] = [1 - omega[n] * pocket * y, omega[n] * (whole - pocket + pocket * x)];
    const square = dr * dr + di * di;
    times(dr / square, -di / square, n, re, im);
  }
}

/** @param {Part} part @param {Stream} stream @returns {Stream} */
function behindTee(part, stream) {
  const joined = stream.flow + (part.make_up ?? 0);
  const kept = (1 - (part.split ?? 0) / joined) * (1 - (part.split_share ?? 0));
  if (!(kept > 0)) throw new Refusal(`${part.name}: expected less to leave than arrives, found more`);
  return { ...stream, flow: joined * kept, share: stream.share * kept };
}

/** @type {Kind["make"]} */
function cellOf(given) {
  if (given.length === undefined) return given;
  const volume = given.bore === undefined ? given.volume : (Math.PI / 4) * given.bore ** 2 * given.length;
  return { light_path: given.length, ...given, volume, read: "axis" };
}

/** @param {Part} part @param {Stream} stream @returns {Cumulants} */
function cellCumulants(part, stream) {
  const residence = part.volume / stream.flow;
  if (part.read === "axis") {
    const variance = residence ** 2 / 12;
    return { mean: residence / 2, gaussian: variance, variance, third: 0 };
  }
  if (part.read === "outlet") return ofTanks(residence, part.tanks);
  const n = part.tanks;
  const c = residence / n;
  const mean = (c * (n + 1)) / 2;
  const second = (c ** 2 * (n + 1) * (n + 2)) / 3;
  const raw = (c ** 3 * (n + 1) * (n + 2) * (n + 3)) / 4;
  const variance = second - mean ** 2;
  return { mean, gaussian: variance, variance, third: raw - 3 * mean * second + 2 * mean ** 3 };
}

/** @type {Kind["through"]} */
function throughCell(part, stream, omega, re, im) {
  const residence = part.volume / stream.flow;
  if (part.read === "axis") throughEven(residence, omega, re, im);
  else if (part.read === "mean") throughMeanOfTanks(residence, Math.round(part.tanks), omega, re, im);
  else throughTanks(residence, part.tanks, omega, re, im);
}

/** @type {Kind["make"]} */
function detectorOf(given) {
  const filter =
    given.rise_time === undefined
      ? (given.time_constant ?? 0)
      : given.rise_time / constant("RISE_TIMES_IN_TIME_CONSTANTS");
  const interval = given.rate === undefined ? (given.interval ?? NaN) : 1 / given.rate;
  return {
    ...given,
    name: "detector",
    kind: "detector",
    volume: NaN,
    time_constant: filter,
    interval,
    averaging: given.averaged ? interval : (given.moving_average ?? 0),
  };
}

/**
 * Equivalent bandwidth of a detector for white noise, Hz; NaN where nothing limits it.
 * @param {Part} part
 */
export function noiseBandwidth(part) {
  const [filter, width] = [part.time_constant, part.averaging];
  if (!(width > 0)) return filter > 0 ? 1 / (4 * filter) : NaN;
  if (!(filter > 0)) return 1 / (2 * width);
  const ratio = width / filter;
  const share = ratio < 1e-4 ? ratio / 2 - ratio ** 2 / 6 : 1 + Math.expm1(-ratio) / ratio;
  return share / (2 * width);
}
