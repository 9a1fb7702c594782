// @ts-check
/** Numbers for people. */

/** Digits that the page's numbers and the program's have in common, to one unit of the last. */
const SURE = 4;

/** In place of a number that noise hides: as `report/numbers.py`. */
export const NOT_RESOLVED = "not resolved";

/** So many significant digits, without a power of ten where that can be read.
 * @param {number | null | undefined} value @param {number} [digits] */
export function significant(value, digits = 3) {
  if (value === null || value === undefined || !Number.isFinite(value)) return "–";
  if (value === 0) return "0";
  const size = Math.abs(value);
  if (size >= 1e7 || size < 1e-4) return value.toExponential(digits - 1).replace("e+", "e");
  const places = Math.max(0, digits - 1 - Math.floor(Math.log10(size) + 1e-12));
  const rounded = Number(value.toPrecision(Math.max(digits, Math.min(SURE, Math.ceil(Math.log10(size + 1))))));
  return size >= 10 ** digits ? String(Math.round(rounded)) : rounded.toFixed(Math.min(places, 12));
}

/** With its sign. @param {number} value @param {number} [digits] */
export function signed(value, digits = 3) {
  if (!Number.isFinite(value)) return "–";
  const text = significant(Math.abs(value), digits);
  return value < 0 && Number(text) !== 0 ? `−${text}` : `+${text}`;
}

/** A share in per cent. @param {number} share */
export function perCent(share) {
  if (!Number.isFinite(share)) return "–";
  const value = 100 * share;
  return value > 0 && value < 0.01 ? "<0.01" : value.toFixed(value < 9.95 ? 1 : 0);
}

/** Multipliers from SI to what the trade reads. */
export const MICROLITRES = 1e9;
export const MICROLITRES_SQUARED = 1e18;
export const BARS = 1e-5;

/** Plates, or peak capacity, that are gained or lost, as far as they are sure.
 * @param {number} value @param {number} whole what there is @param {number} [decimals] at most */
export function plateChange(value, whole, decimals = 0) {
  if (!Number.isFinite(value)) return "–";
  const step = 10 ** Math.max(-decimals, Math.ceil(Math.log10(Math.abs(whole) || 1)) - SURE);
  const size = Number((Math.round(Math.abs(value) / step) * step).toPrecision(8));
  return size ? `${value < 0 ? "−" : "+"}${size}` : "±0";
}

/** As short as it can be written. @param {number} value */
export function money(value) {
  return Number.isFinite(value) ? String(Number(value.toPrecision(6))) : "–";
}

/** With the first letter large. @param {string} text */
export function capital(text) {
  return text ? text[0].toUpperCase() + text.slice(1) : text;
}

/** @param {string} key */
export function spoken(key) {
  return capital(key.replaceAll("_", " "));
}

/** @param {ArrayLike<number>} values */
export function maximum(values) {
  let most = -Infinity;
  for (let k = 0; k < values.length; k += 1) if (values[k] > most) most = values[k];
  return most;
}
