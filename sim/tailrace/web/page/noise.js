// Noise that is drawn: the same at every position, as a filter of the detector's bandwidth passes it.

const SEED = 20;
/** Standard deviations from peak to peak (common practice, no source). */
const PEAK_TO_PEAK = 6;

/**
 * Random numbers from 0 to 1, the same for the same seed (mulberry32, public domain; from memory).
 * @param {number} seed
 */
function randomOf(seed) {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let mixed = Math.imul(state ^ (state >>> 15), state | 1);
    mixed ^= mixed + Math.imul(mixed ^ (mixed >>> 7), mixed | 61);
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 4294967296;
  };
}

/**
 * Heights with noise on them.
 * @param {ArrayLike<number>} times even, s
 * @param {ArrayLike<number>} heights
 * @param {number} noise from peak to peak, in their unit
 * @param {number} bandwidth of the detector, Hz; NaN: white from sample to sample
 * @returns {Float64Array}
 */
export function withNoise(times, heights, noise, bandwidth) {
  const random = randomOf(SEED);
  const keep = bandwidth > 0 ? Math.exp(-4 * bandwidth * (times[1] - times[0])) : 0;
  const fresh = Math.sqrt(1 - keep * keep);
  const made = new Float64Array(times.length);
  let last = 0;
  for (let n = 0; n < made.length; n += 1) {
    const normal = Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random());
    last = n ? keep * last + fresh * normal : normal;
    made[n] = heights[n] + (noise / PEAK_TO_PEAK) * last;
  }
  return made;
}
