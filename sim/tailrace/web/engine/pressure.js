// Pressure along the path, and where it comes near a limit: as `journey/hydraulics.py`, `validity.py`.

import { constant } from "./facts.js";
import { isOf, kindOf } from "./parts.js";
import { general } from "./units.js";

/** @typedef {import("./resolve.js").Passage} Passage */
/** @typedef {{name: string, drop: number, inlet: number, limit: number}} PartPressure Pa; NaN: no limit */

/**
 * Drop of every part of the path, and the pressure at its inlet: its own drop and all behind it.
 * @param {Passage[]} passages of any solute
 * @returns {{total: number, parts: PartPressure[]}}
 */
export function pressureOf(passages) {
  const parts = passages
    .filter(({ part }) => isOf(part, "carries_flow"))
    .map(({ part, stream }) => ({
      name: part.name,
      drop: (kindOf(part).pressure ?? (() => 0))(part, stream),
      inlet: 0,
      limit: part.pressure_limit ?? NaN,
    }));
  let total = 0;
  for (let n = parts.length - 1; n >= 0; n -= 1) {
    total += parts[n].drop;
    parts[n].inlet = total;
  }
  return { total, parts };
}

/**
 * Sentences where a pressure is above its limit or near it.
 * @param {{total: number, parts: PartPressure[]}} pressure
 * @param {number} limit Pa; NaN: none
 * @returns {string[]}
 */
export function pressureWarnings(pressure, limit) {
  const checks = [{ where: "pressure", found: pressure.total, limit }].concat(
    pressure.parts.map((one) => ({
      where: `${one.name}: pressure at the inlet`,
      found: one.inlet,
      limit: one.limit,
    })),
  );
  return checks.flatMap((one) => {
    const both = `${one.where}: ${general(one.found / 1e5, 3)} bar, the limit is ${general(one.limit / 1e5, 3)} bar`;
    if (one.found > one.limit) return [`${both}. ${constant("PRESSURE_CAUTION")}`];
    if (one.found >= constant("NEAR") * one.limit) {
      return [`${both}: near it, since pressures are estimates. ${constant("NEAR_CAUTION")}`];
    }
    return [];
  });
}
