// @ts-check
/** Numbers as people read them: as `report/numbers.py`. */

/** Digits at most of what is added up. */
const COUNTED = 5;

/** In place of a number that does not exist, and of one that noise hides. */
export const ABSENT = "-";
export const NOT_RESOLVED = "not resolved";
/** In place of a gain of nothing that is shown. */
export const UNCHANGED = "±0";

/** To so many significant digits.
 * @param {number | null | undefined} value @param {number} [digits] */
export function significant(value, digits = 3) {
  if (value === null || value === undefined || !Number.isFinite(value)) return ABSENT;
  if (value === 0) return "0";
  const [mantissa, power] = value.toExponential(digits - 1).split("e");
  const exponent = Number(power);
  if (exponent < -4 || exponent >= 7) return `${mantissa}e${exponent < 0 ? "-" : "+"}${String(Math.abs(exponent)).padStart(2, "0")}`;
  return Number(value.toPrecision(digits)).toFixed(Math.max(digits - 1 - exponent, 0));
}

/** With its sign. @param {number} value @param {number} [digits] */
export function signed(value, digits = 3) {
  if (!Number.isFinite(value)) return ABSENT;
  const text = significant(Math.abs(value), digits);
  return value < 0 && Number(text) !== 0 ? `−${text}` : `+${text}`;
}

/** In per cent without the sign. @param {number} fraction */
export function percent(fraction) {
  if (!Number.isFinite(fraction)) return ABSENT;
  const value = 100 * fraction;
  if (value > 0 && value < 0.005) return "<0.01";
  // nearly all is not all
  if (value >= 99.95 && value < 100 - 1e-9) return value < 99.995 ? value.toFixed(2) : ">99.99";
  if (Math.abs(value) >= 99.95) return value.toFixed(0);
  return value.toFixed(Math.abs(value) >= 9.995 ? 1 : 2);
}

/** What is typed where per cent are asked for: 50, 50 % or 50,5. @param {string} text */
export function perCentOf(text) {
  return Number(text.trim().replace(",", ".").replace(/\s*%$/, ""));
}

/** Multipliers from SI to what the trade reads. */
export const MICROLITRES = 1e9;
export const MICROLITRES_SQUARED = 1e18;
export const BARS = 1e-5;

/** Plates, peak capacity and what else is added up on a page, rounded alike: to so many decimals, and digits at most.
 * @param {number} value @param {number} [decimals] @param {number} [digits] */
export function counted(value, decimals = 0, digits = COUNTED) {
  const step = 10 ** Math.max(-decimals, Math.floor(Math.log10(Math.abs(value) || 1)) + 1 - digits);
  return Number((Math.round(value / step) * step).toPrecision(12));
}

/** Digits of the ends of a range, and into how many steps of its last digit it is parted at least. */
const RANGE_DIGITS = 3;
const RANGE_STEPS = 4;

/** A range, rounded outward, so that it holds all that lies in it, in digits that tell its ends apart.
 * @param {number} low @param {number} high @param {number} [decimals] at most */
export function outward(low, high, decimals = 0) {
  const least = 10 ** -decimals;
  let step = Math.max(least, 10 ** (Math.floor(Math.log10(Math.abs(high) || 1)) + 1 - RANGE_DIGITS));
  while (step > least && RANGE_STEPS * step > high - low) step /= 10;
  const places = Math.max(0, -Math.round(Math.log10(step)));
  // what lies on a step stays there
  const [from, to] = [Math.floor(low / step + 1e-9), Math.ceil(high / step - 1e-9)].map((one) => (one * step).toFixed(places));
  return `${from} to ${to}`;
}

/** Decimals that are shown of it. @param {number} value @param {number} decimals @param {number} digits */
function placesOf(value, decimals, digits) {
  return Math.max(0, Math.min(decimals, digits - 1 - Math.floor(Math.log10(Math.abs(value) || 1))));
}

/** The same as it is shown: as many decimals whatever the last of them are. @param {number} value @param {number} [decimals] @param {number} [digits] */
export function countedText(value, decimals = 0, digits = COUNTED) {
  return counted(value, decimals, digits).toFixed(placesOf(value, decimals, digits));
}

/** What is gained or lost between two of them as they are shown, so that they add up.
 * @param {number} now @param {number} was @param {number} [decimals] @param {number} [digits] */
export function gained(now, was, decimals = 0, digits = COUNTED) {
  const change = Number((counted(now, decimals, digits) - counted(was, decimals, digits)).toPrecision(12));
  if (!Number.isFinite(change)) return ABSENT;
  const places = Math.max(placesOf(now, decimals, digits), placesOf(was, decimals, digits));
  return change ? `${change < 0 ? "−" : "+"}${Math.abs(change).toFixed(places)}` : UNCHANGED;
}

/** As short as it can be written. @param {number} value */
export function money(value) {
  return Number.isFinite(value) ? String(Number(value.toPrecision(6))) : ABSENT;
}

/** With the first letter large. @param {string} text */
export function capital(text) {
  return text ? text[0].toUpperCase() + text.slice(1) : text;
}

/** @param {string} key */
export function spoken(key) {
  return capital(key.replaceAll("_", " "));
}
