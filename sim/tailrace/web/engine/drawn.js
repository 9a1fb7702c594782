// Random numbers that are the same every time, and noise that is drawn from them.

const NOISE_SEED = 20;
/** Standard deviations from peak to peak (common practice, no source). */
const PEAK_TO_PEAK = 6;

/**
 * Random numbers from 0 to 1, the same for the same seed (mulberry32, public domain; from memory).
 * @param {number} seed
 */
export function randomOf(seed) {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let mixed = Math.imul(state ^ (state >>> 15), state | 1);
    mixed ^= mixed + Math.imul(mixed ^ (mixed >>> 7), mixed | 61);
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 4294967296;
  };
}

/**
 * Standard normal noise, each point correlated so much with the one before: white noise behind a filter
 * of the first order.
 * @param {number} count @param {number} correlation @param {() => number} random
 * @returns {Float64Array}
 */
export function noiseDrawn(count, correlation, random) {
  const fresh = Math.sqrt(1 - correlation ** 2);
  const made = new Float64Array(count);
  for (let n = 0; n < count; n += 1) {
    const normal = Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random());
    made[n] = n ? correlation * made[n - 1] + fresh * normal : normal;
  }
  return made;
}

/**
 * Heights with noise on them, as a filter of the detector's bandwidth passes it.
 * @param {ArrayLike<number>} times even, s
 * @param {ArrayLike<number>} heights
 * @param {number} noise from peak to peak, in their unit
 * @param {number} bandwidth of the detector, Hz; NaN: white from sample to sample
 * @returns {Float64Array}
 */
export function withNoise(times, heights, noise, bandwidth) {
  const keep = bandwidth > 0 ? Math.exp(-4 * bandwidth * (times[1] - times[0])) : 0;
  const drawn = noiseDrawn(heights.length, keep, randomOf(NOISE_SEED));
  return Float64Array.from(heights, (one, n) => one + (noise / PEAK_TO_PEAK) * drawn[n]);
}
