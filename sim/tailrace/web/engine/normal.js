// @ts-check
/** Normal random numbers, those of numpy's `default_rng(…).standard_normal`: `measurements/measuring.py` draws them.
 *
 * Seeds are mixed as O'Neill's seed_seq_fe128, the generator is her PCG XSL RR 128/64 (2014), the numbers are
 * Marsaglia and Tsang's ziggurat (2000) of 256 layers; constants and order as numpy 1.17 and later have them. */

const LAYERS = 256;
/** Where the tail begins, and the area of each layer. */
const TAIL = 3.6541528853610087963519472518;
const AREA = 0.0049286732339746519;
const WHOLE = 2 ** 52;
const MULTIPLIER = 0x2360ed051fc65da44385df649fccf645n;

/** Widths of the layers over 2^52, the share of each that lies below the curve times 2^52, and its heights. */
const CUT = layersOf();

function layersOf() {
  const [widths, below, heights] = [0, 1, 2].map(() => new Float64Array(LAYERS));
  const curve = (/** @type {number} */ x) => Math.exp(-0.5 * x * x);
  let [edge, before] = [TAIL, TAIL];
  below[0] = (TAIL * curve(TAIL) * WHOLE) / AREA;
  widths[0] = AREA / curve(TAIL) / WHOLE;
  widths[LAYERS - 1] = TAIL / WHOLE;
  [heights[0], heights[LAYERS - 1]] = [1, curve(TAIL)];
  for (let k = LAYERS - 2; k > 0; k -= 1) {
    edge = Math.sqrt(-2 * Math.log(AREA / edge + curve(edge)));
    below[k + 1] = (edge / before) * WHOLE;
    before = edge;
    widths[k] = edge / WHOLE;
    heights[k] = curve(edge);
  }
  return { widths, below, heights };
}

/** Four pairs of words from seeds. @param {number[]} seeds */
function mixed(seeds) {
  let hash = 0x43b0d7e5;
  const hashed = (/** @type {number} */ value) => {
    const other = value ^ hash;
    hash = Math.imul(hash, 0x931e8875);
    const made = Math.imul(other, hash);
    return made ^ (made >>> 16);
  };
  const pool = Array.from({ length: 4 }, (_, k) => hashed(seeds[k] ?? 0));
  for (let from = 0; from < 4; from += 1)
    for (let to = 0; to < 4; to += 1) {
      if (from === to) continue;
      const both = Math.imul(0xca01f9dd, pool[to]) - Math.imul(0x4973f715, hashed(pool[from]));
      pool[to] = both ^ (both >>> 16);
    }
  let last = 0x8b51f9dd;
  return Array.from({ length: 8 }, (_, k) => {
    const other = pool[k % 4] ^ last;
    last = Math.imul(last, 0x58f38ded);
    const made = Math.imul(other, last);
    return BigInt((made ^ (made >>> 16)) >>> 0);
  });
}

/** Draws them one by one. @param {number[]} seeds up to four @returns {() => number} */
export function normalsOf(seeds) {
  const words = mixed(seeds);
  const long = (/** @type {number} */ at) => (words[at + 1] << 96n) | (words[at] << 64n) | (words[at + 3] << 32n) | words[at + 2];
  const odd = BigInt.asUintN(128, (long(4) << 1n) | 1n);
  let state = BigInt.asUintN(128, (odd + long(0)) * MULTIPLIER + odd);
  /** The next 64 bits, as two halves. */
  const bits = () => {
    state = BigInt.asUintN(128, state * MULTIPLIER + odd);
    const both = BigInt.asUintN(64, (state >> 64n) ^ state);
    const turn = state >> 122n;
    return BigInt.asUintN(64, (both >> turn) | (both << (64n - turn)));
  };
  const share = () => Number(bits() >> 11n) / 2 ** 53;
  return () => {
    for (;;) {
      const drawn = bits();
      const layer = Number(drawn & 255n);
      const size = Number((drawn >> 9n) & 0xfffffffffffffn);
      const value = (drawn >> 8n) & 1n ? -size * CUT.widths[layer] : size * CUT.widths[layer];
      if (size < CUT.below[layer]) return value;
      if (layer === 0) {
        for (;;) {
          const [beyond, other] = [-Math.log1p(-share()) / TAIL, -Math.log1p(-share())];
          if (other + other > beyond * beyond) return (drawn >> 17n) & 1n ? -(TAIL + beyond) : TAIL + beyond;
        }
      }
      if ((CUT.heights[layer - 1] - CUT.heights[layer]) * share() + CUT.heights[layer] < Math.exp(-0.5 * value * value)) return value;
    }
  };
}
