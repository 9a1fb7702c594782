// Numbers as people read them: as `report/numbers.py`.

/**
 * To so many significant digits; "-" where there is none.
 * @param {number | null | undefined} value @param {number} [digits]
 */
export function significant(value, digits = 3) {
  if (value === null || value === undefined || !Number.isFinite(value)) return "-";
  if (value === 0) return "0";
  const size = Math.abs(Number(value.toPrecision(digits)));
  if (!(size >= 1e-4 && size < 1e7))
    return value
      .toExponential(digits - 1)
      .replace("e+", "e+0")
      .replace(/e([+-])0?(\d\d)$/, "e$1$2");
  const decimals = Math.max(digits - 1 - Math.floor(Math.log10(size)), 0);
  return Number(value.toPrecision(digits)).toFixed(decimals);
}

/** In per cent without the sign. @param {number} fraction */
export function percent(fraction) {
  if (!Number.isFinite(fraction)) return "-";
  const value = 100 * fraction;
  if (value > 0 && value < 0.005) return "<0.01";
  // nearly all is not all
  if (value >= 99.95 && value < 100 - 1e-9) return value < 99.995 ? value.toFixed(2) : ">99.99";
  if (Math.abs(value) >= 99.95) return value.toFixed(0);
  return value.toFixed(Math.abs(value) >= 9.995 ? 1 : 2);
}
