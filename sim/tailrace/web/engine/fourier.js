// From a spectrum to a signal: the inverse of a real Fourier transform, of 2^n samples.

/** @type {Map<number, Float64Array>} */
const turns = new Map();

/**
 * exp(2 pi i k / size) for k below half of it, cosines and sines in turn.
 * @param {number} size
 * @returns {Float64Array}
 */
function turnsOf(size) {
  let found = turns.get(size);
  if (!found) {
    found = new Float64Array(size);
    for (let k = 0; 2 * k < size; k += 1) {
      found[2 * k] = Math.cos((2 * Math.PI * k) / size);
      found[2 * k + 1] = Math.sin((2 * Math.PI * k) / size);
    }
    turns.set(size, found);
  }
  return found;
}

/**
 * Real samples whose transform begins with a spectrum and is zero beyond: as numpy's irfft.
 * @param {Float64Array} re
 * @param {Float64Array} im
 * @param {number} samples a power of two, 8 or more
 * @returns {Float64Array}
 */
export function signalOf(re, im, samples) {
  const half = samples / 2;
  const real = (/** @type {number} */ k) => (k < re.length ? re[k] : 0);
  const imaginary = (/** @type {number} */ k) => (k < im.length && k > 0 && k < half ? im[k] : 0);
  const turn = turnsOf(samples);
  const z = new Float64Array(samples);
  const known = Math.min(re.length, half + 1);
  const fill = (/** @type {number} */ k) => {
    const [a, b, c, d] = [real(k), imaginary(k), real(half - k), -imaginary(half - k)];
    const [er, ei, dr, di] = [(a + c) / 2, (b + d) / 2, (a - c) / 2, (b - d) / 2];
    const [cos, sin] = [turn[2 * k], turn[2 * k + 1]];
    z[2 * k] = er - (dr * sin + di * cos);
    z[2 * k + 1] = ei + (dr * cos - di * sin);
  };
  for (let k = 0; k < Math.min(known, half); k += 1) fill(k);
  for (let k = Math.max(known, half - known + 1); k < half; k += 1) fill(k);
  backwards(z);
  for (let n = 0; n < samples; n += 1) z[n] /= half;
  return z;
}

/**
 * Transform of real values with zeros behind them, up to half the turns.
 * @param {Float64Array} values
 * @param {number} size a power of two
 */
export function transformed(values, size) {
  const z = new Float64Array(2 * size);
  for (let n = 0; n < values.length; n += 1) z[2 * n] = values[n];
  backwards(z);
  const half = size / 2 + 1;
  return {
    re: Float64Array.from({ length: half }, (_, k) => z[2 * k]),
    im: Float64Array.from({ length: half }, (_, k) => -z[2 * k + 1]),
  };
}

/**
 * Complex inverse transform in place, without the factor: radix two.
 * @param {Float64Array} z real and imaginary parts in turn
 */
function backwards(z) {
  const size = z.length / 2;
  for (let i = 1, j = 0; i < size; i += 1) {
    let bit = size >> 1;
    for (; j & bit; bit >>= 1) j ^= bit;
    j ^= bit;
    if (i < j) {
      const [a, b] = [z[2 * i], z[2 * i + 1]];
      z[2 * i] = z[2 * j];
      z[2 * i + 1] = z[2 * j + 1];
      z[2 * j] = a;
      z[2 * j + 1] = b;
    }
  }
  const turn = turnsOf(size);
  for (let width = 2; width <= size; width *= 2) {
    const half = width / 2;
    const stride = size / width;
    for (let start = 0; start < size; start += width) {
      for (let k = 0; k < half; k += 1) {
        const cos = turn[2 * k * stride];
        const sin = turn[2 * k * stride + 1];
        const p = 2 * (start + k);
        const q = p + width;
        const a = z[q] * cos - z[q + 1] * sin;
        const b = z[q] * sin + z[q + 1] * cos;
        z[q] = z[p] - a;
        z[q + 1] = z[p + 1] - b;
        z[p] += a;
        z[p + 1] += b;
      }
    }
  }
}
