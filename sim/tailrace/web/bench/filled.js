// @ts-check
/** What a change must set beside a loop that holds less than is injected. */
import { LOOP } from "../engine/rules.js";
import { injectedShare } from "../engine/changes.js";
import { display } from "../engine/units.js";
import { significant } from "../shown/numbers.js";
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

/** What another injected volume does to the signal; empty: the same is injected, or it is not known.
 * @param {any} injection of the scenario @param {any} fresh what a change sets of it */
export function injects(injection, fresh) {
  const share = fresh?.volume === undefined ? 1 : injectedShare(injection, fresh);
  if (!(share > 0) || Math.abs(share - 1) < ROUNDING) return "";
  return `${injectedWords(share)}, of the same sample: for the signal take ${significant(share, 2)} times the heights in the picture`;
}

/** @param {number} share of what was injected */
export const injectedWords = (share) => `${significant(100 * Math.abs(share - 1), 2)} % ${share < 1 ? "less" : "more"} is injected`;
