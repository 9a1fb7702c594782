// @ts-check
/** As much of the sample as another injected volume holds: amounts that are given go with it. */
import { injectedShare } from "../engine/changes.js";
import { withKey } from "./toml_text.js";

const DIGITS_KEPT = 6;

/** What gives each solute the amount that another volume of the same sample holds.
 * @param {any} before tables of the scenario @param {any} volume as it is typed @returns {import("./model.js").Edit[]} */
export function dosesOf(before, volume) {
  const share = injectedShare(before.injection, { volume });
  if (!(share > 0)) return [];
  return before.solutes.flatMap((/** @type {any} */ { amount }, /** @type {number} */ k) => {
    const [, number, unit] = /^\s*([0-9.]+(?:e[+-]?[0-9]+)?)(.*)$/i.exec(String(amount)) ?? [];
    if (number === undefined) return [];
    const now = share === 1 ? amount : Number((Number(number) * share).toPrecision(DIGITS_KEPT)) + unit;
    return [(/** @type {string} */ text, /** @type {any} */ tables) => withKey(text, tables, "solutes", k, "amount", now)];
  });
}
