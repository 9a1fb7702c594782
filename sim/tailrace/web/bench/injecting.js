// @ts-check
/** How the sample is injected: what another shape begins with, and a part that holds the sample. */
import { sizeOf } from "./forms.js";

const SHARED = ["volume", "strong"];

/** The injection in another shape; sizes that are not known are typical ones.
 * @param {any} facts @param {string} shape @param {any} before @returns {Record<string, any>} */
export function injectionOf(facts, shape, before) {
  const { fields } = facts.tables[`injection.${shape}`];
  /** @type {Record<string, any>} */
  const made = { shape };
  for (const [key, field] of Object.entries(fields)) {
    if (key === "shape") continue;
    if (SHARED.includes(key) && key in before) made[key] = before[key];
    else if (field.needed) made[key] = field.examples[0];
  }
  if (shape !== "loop") return made;
  const { bore, volume } = facts.usual.find((/** @type {any} */ one) => one.name === "loop").ranges;
  const [, typical] = volume.shown;
  const fits = sizeOf(String(made.volume), "volume") <= sizeOf(typical, "volume");
  return { ...made, loop_bore: bore.shown[1], ...(fits ? { loop_volume: typical } : {}) };
}

/** An injection from a loop that stood on the path. @param {any} part @param {any} before @returns {Record<string, any>} */
export function injectedFrom(part, before) {
  const sizes = ["bore", "length", "volume"].filter((key) => key in part).map((key) => [`loop_${key}`, part[key]]);
  const kept = SHARED.filter((key) => key in before).map((key) => [key, before[key]]);
  return { shape: "loop", volume: part.volume ?? "5 uL", ...Object.fromEntries(kept), ...Object.fromEntries(sizes) };
}
