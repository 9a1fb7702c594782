// @ts-check
/** What a change must set beside a loop that holds less than is injected. */
import { LOOP } from "../engine/rules.js";
import { display } from "../engine/units.js";
import { sizeOf } from "./forms.js";

const ROUNDING = 1e-6;

/** The volume that fills the loop after a change, as it is typed; null: what is injected fits, or is not known.
 * @param {any} injection of the scenario @param {any} fresh what the change sets of it @returns {string | null} */
export function filling(injection, fresh) {
  if (injection?.shape !== "loop" || !LOOP.some((key) => key in fresh)) return null;
  const { loop_bore: bore, loop_length: length, loop_volume: volume } = { ...injection, ...fresh };
  const size = (/** @type {any} */ one, /** @type {string} */ kind) => (typeof one === "string" ? sizeOf(one, kind) : NaN);
  const holds = volume === undefined ? (Math.PI / 4) * size(bore, "bore") ** 2 * size(length, "length") : size(volume, "volume");
  if (!(holds < size(injection.volume, "volume") * (1 - ROUNDING))) return null;
  // rounded down, so that it fits
  return typeof volume === "string" ? volume : display(Number((holds * 0.9995).toPrecision(3)), "volume");
}
