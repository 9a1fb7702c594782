// Pressure along the path, and where it comes near a limit: as `journey/hydraulics.py`, `validity.py`.

import { pressureFactor } from "./eluent.js";
import { constant, facts } from "./facts.js";
import { isOf, kindOf } from "./parts.js";
import { general } from "./units.js";

/** @typedef {import("./resolve.js").Passage} Passage */
/** @typedef {{name: string, drop: number, inlet: number, highest: number, limit: number}} PartPressure Pa; highest: at the inlet along the programme; NaN: no limit */
/** @typedef {{total: number, highest: number, parts: PartPressure[]}} Pressure Pa; highest: with the most viscous liquid of a programme */

/**
 * Drop of every part of the path, and the pressure at its inlet: its own drop and all behind it.
 * @param {Passage[]} passages of any solute
 * @param {number} thickest highest viscosity on the programme of a gradient over the eluent's
 * @returns {Pressure}
 */
export function pressureOf(passages, thickest) {
  const most = Math.max(thickest, 1);
  const parts = passages
    .filter(({ part }) => isOf(part, "carries_flow"))
    .map(({ part, stream }) => ({
      name: part.name,
      drop: (kindOf(part).pressure ?? (() => 0))(part, stream),
      inlet: 0,
      highest: 0,
      limit: part.pressure_limit ?? NaN,
    }));
  let total = 0;
  for (let n = parts.length - 1; n >= 0; n -= 1) {
    total += parts[n].drop;
    parts[n].inlet = total;
    parts[n].highest = most * total;
  }
  return { total, highest: most * total, parts };
}

/**
 * The same parts, each with viscosity and diffusivity at the pressure within.
 * @param {{part: import("./parts.js").Part, stream: import("./eluent.js").Stream, temperature: number}[]} passages
 * @param {Record<string, number>} composition
 * @returns {Passage[]}
 */
export function underPressure(passages, composition) {
  let behind = 0;
  const under = [...passages].reverse().map(({ part, stream, temperature }) => {
    const drop = isOf(part, "carries_flow") ? (kindOf(part).pressure ?? (() => 0))(part, stream) : 0;
    let factor = 1;
    for (let n = 0; n < constant("ROUNDS"); n += 1) {
      const low = facts().eluent.ATMOSPHERE + behind;
      const thinner = (/** @type {number} */ place) =>
        0.5 / pressureFactor(composition, temperature, low + place * drop * factor);
      const [first, second] = facts().numbers.PLACES;
      factor = 1 / (thinner(first) + thinner(second));
    }
    behind += drop * factor;
    const { viscosity, diffusivity } = stream;
    return { part, stream: { ...stream, viscosity: viscosity * factor, diffusivity: diffusivity / factor } };
  });
  return under.reverse();
}

/**
 * Sentences where a pressure is above its limit or near it.
 * @param {Pressure} pressure
 * @param {number} limit Pa; NaN: none
 * @returns {string[]}
 */
export function pressureWarnings(pressure, limit) {
  const when = pressure.highest > pressure.total ? ", with the most viscous liquid of the programme" : "";
  const checks = [{ where: "pressure", found: pressure.highest, limit }].concat(
    pressure.parts.map((one) => ({
      where: `${one.name}: pressure at the inlet`,
      found: one.highest,
      limit: one.limit,
    })),
  );
  return checks.flatMap(({ where, ...one }) => {
    const both = `${where}${when}: ${general(one.found / 1e5, 3)} bar, the limit is ${general(one.limit / 1e5, 3)} bar`;
    if (one.found > one.limit) return [`${both}. ${constant("PRESSURE_CAUTION")}`];
    if (one.found >= constant("NEAR") * one.limit) {
      return [`${both}: near it, since pressures are estimates. ${constant("NEAR_CAUTION")}`];
    }
    return [];
  });
}
