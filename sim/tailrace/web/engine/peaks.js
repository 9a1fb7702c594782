// @ts-check
/** Every peak of a measured signal, where it stands and what is read off it: as `tailrace measure`
 * with a straight baseline. */
import { evenly, hermite, smooth } from "./curves.js";
import { constant } from "./facts.js";
import { solved } from "./injected.js";
import { metricsOf, momentsOf } from "./metrics.js";
import { noiseIn, quickNoise } from "./noise.js";

/** @typedef {{start: number, step: number, values: Float64Array}} Even */
/** @typedef {{time: Float64Array, values: Float64Array, quantum?: number}} Points times in s, rounded to the quantum */
/** @typedef {import("./noise.js").Stretch} Stretch */
/** @typedef {{apex: number, window: Stretch, before: Stretch, behind: Stretch, half: number, cut?: boolean}} Spot */
/** @typedef {{apex: number, height: number, ground: number, from: number, to: number, area: number, state: string, metrics: Record<string, number>}} MeasuredPeak times in s */

/** At even times: the signal's own, or a spline through its points. @param {Points} signal @returns {Even} */
export function evened({ time, values, quantum = 0 }) {
  const last = time.length - 1;
  const mean = (time[last] - time[0]) / last;
  let off = 0;
  for (let k = 0; k <= last; k += 1) off = Math.max(off, Math.abs(time[k] - time[0] - mean * k));
  if (off <= Math.max(constant("EVEN") * mean, 1.01 * quantum)) return { start: time[0], step: mean, values };
  const gaps = time.slice(1).map((one, k) => one - time[k]).sort();
  const step = gaps[gaps.length >> 1];
  const count = evenRound((time[last] - time[0]) / step) + 1;
  if (count > 4e6) throw new Error(`expected a signal without long gaps, found ${count} intervals between its ends; cut out the gap`);
  return { start: time[0], step, values: hermite(time, values, smooth(time, values), evenly(time[0], step, count)) };
}

/** To the nearest whole number, of two the even one: as Python does. @param {number} value */
function evenRound(value) {
  const near = Math.round(value);
  return near - value === 0.5 && near % 2 ? near - 1 : near;
}

/** Mean over so many points on either side; fewer at the ends. @param {Float64Array} values @param {number} reach */
function averaged(values, reach) {
  if (values.length <= 2 * reach + 1) return values;
  const sums = new Float64Array(values.length + 1);
  for (let k = 0; k < values.length; k += 1) sums[k + 1] = sums[k] + values[k];
  return values.map((_, k) => {
    const [low, high] = [Math.max(0, k - reach), Math.min(values.length, k + reach + 1)];
    return (sums[high] - sums[low]) / (high - low);
  });
}

/** @param {ArrayLike<number>} values @param {number} low @param {number} high @param {number} sign */
function extreme(values, low, high, sign) {
  let best = low;
  for (let k = low; k < high; k += 1) if (sign * values[k] > sign * values[best]) best = k;
  return best;
}

/** Tops that stand out by a prominence, with their widths halfway down it. @param {Float64Array} values @param {number} least */
function tops(values, least) {
  const found = [];
  for (let k = 1; k < values.length - 1; k += 1) {
    if (!(values[k] > values[k - 1])) continue;
    let end = k;
    while (end < values.length - 1 && values[end + 1] === values[k]) end += 1;
    if (end === values.length - 1 || !(values[end + 1] < values[k])) continue;
    const top = (k + end) >> 1;
    const base = (/** @type {number} */ way) => {
      let lowest = values[top];
      for (let n = top; n >= 0 && n < values.length && values[n] <= values[top]; n += way) lowest = Math.min(lowest, values[n]);
      return lowest;
    };
    const prominence = values[top] - Math.max(base(-1), base(1));
    if (prominence < least) continue;
    const level = values[top] - prominence / 2;
    const fall = (/** @type {number} */ way) => {
      let n = top;
      while (n > 0 && n < values.length - 1 && values[n] > level) n += way;
      return values[n] < level ? n - (way * (level - values[n])) / (values[n - way] - values[n]) : n;
    };
    found.push({ top, prominence, half: fall(1) - fall(-1) });
  }
  return found;
}

/** Points from the top to where a flank first falls to a height. @param {Float64Array} flank @param {number} height */
function fallOf(flank, height) {
  const under = flank.findIndex((one) => one < height);
  return under < 1 ? flank.length - 1 : under - (height - flank[under]) / (flank[under - 1] - flank[under]);
}

/** Where the flanks, continued as exponentials, sink into the noise. @param {Float64Array} values
 * @param {number} top @param {number} half @param {number} noise @returns {Stretch} */
function windowOfPeak(values, top, half, noise) {
  const reach = evenRound(6 * half) + 4;
  const low = Math.max(0, top - reach);
  const piece = averaged(values.slice(low, top + reach + 1), Math.max(1, evenRound(0.15 * half)));
  const middle = top - low;
  const [left, right] = [extreme(piece, 0, middle + 1, -1), extreme(piece, middle, piece.length, -1)];
  const slope = right > left ? (piece[right] - piece[left]) / (right - left) : 0;
  const above = piece.map((one, k) => one - (piece[left] + slope * (Math.min(Math.max(k, left), right) - left)));
  const [, foot] = constant("FEET");
  const folds = Math.log(foot) + Math.log(Math.max(above[middle], 1e-300)) - Math.log(Math.max(constant("LAST") * noise, 1e-300));
  const kept = Math.min(Math.max(folds, constant("LEAST_FOLDS")), constant("MOST_FOLDS"));
  const [before, behind] = [above.slice(0, middle + 1).reverse(), above.slice(middle)].map((flank) => {
    const [first, last] = constant("FEET").map((/** @type {number} */ share) => fallOf(flank, share * above[middle]));
    return evenRound(last + (kept * (last - first)) / Math.log(constant("FEET")[0] / foot));
  });
  return [top - before, top + behind + 1];
}

/** A stretch from the edge of a window outwards; within it where there is no room. @param {number} edge @param {number} end
 * @param {number} length @param {number} way @returns {Stretch} */
function blank(edge, end, length, way) {
  const fewest = constant("FEWEST_BLANK");
  let room = Math.min(Math.abs(end - edge), Math.max(fewest, evenRound(constant("BLANK_SHARE") * length)));
  if (room < fewest) [room, way] = [Math.min(fewest, length), -way];
  return way > 0 ? [edge, edge + room] : [edge - room, edge];
}

/** Every peak that stands out; of noise that is known from a first look. @param {Even} even @returns {Spot[]} */
function spotsOf(even) {
  const found = spotsBy(even, null);
  const better = found.length ? spotsBy(even, noiseIn(even.values, blanksOf(found, even.values.length))) : found;
  return better.length ? better : found;
}

/** What is left between windows, each made a little longer. @param {Spot[]} spots @param {number} count @returns {Stretch[]} */
function blanksOf(spots, count) {
  /** @type {Stretch[]} */
  const free = [];
  let from = 0;
  const taken = spots.map(({ window: [low, high] }) => /** @type {Stretch} */ ([low - evenRound(0.25 * (high - low)), high + evenRound(0.25 * (high - low))]));
  for (const [low, high] of taken.sort(([one], [other]) => one - other)) {
    if (low > from) free.push([from, low]);
    from = Math.max(from, high);
  }
  return from < count ? [...free, [from, count]] : free;
}

/** @param {Even} even @param {import("./noise.js").Noise | null} known @returns {Spot[]} */
function spotsBy({ values }, known) {
  const noise = known ? known.deviation : quickNoise(values);
  const slow = known ? Math.hypot(known.deviation, known.wander) : noise;
  const [low, high] = [values[extreme(values, 0, values.length, -1)], values[extreme(values, 0, values.length, 1)]];
  let found = tops(averaged(values, 2), Math.max((constant("OUT") * noise) / 2, 1e-9 * (high - low)));
  const tallest = Math.max(...found.map((one) => one.prominence));
  found = found.filter((one) => one.prominence >= constant("LEAST_SHARE") * tallest && one.half >= constant("FEWEST")).slice(0, constant("MOST_PEAKS"));
  const windows = found.map(({ top, half }) => windowOfPeak(values, top, half, slow));
  const rims = found.slice(1).map(({ top }, k) => extreme(values, found[k].top, top + 1, -1));
  const cut = windows.map(([one, other], k) => /** @type {Stretch} */ ([Math.max(one, k ? rims[k - 1] : 0), Math.min(other, k < rims.length ? rims[k] + 1 : values.length)]));
  const touching = rims.map((rim, k) => windows[k][1] >= rim || windows[k + 1][0] <= rim);
  const made = found.map(({ top, half }, k) => {
    let [first, last] = [k, k];
    while (first > 0 && touching[first - 1]) first -= 1;
    while (last < rims.length && touching[last]) last += 1;
    const length = cut[k][1] - cut[k][0];
    for (;;) {
      const before = blank(cut[first][0], first ? cut[first - 1][1] : 0, length, -1);
      const behind = blank(cut[last][1], last < rims.length ? cut[last + 1][0] : values.length, length, 1);
      const line = lineOf(values, before, behind);
      const above = rims.slice(first, last).map((rim) => meanOf(values, [Math.max(0, rim - 2), Math.min(values.length, rim + 3)]) - line(rim));
      const lowest = extreme(above, 0, above.length, -1);
      // a valley below the common baseline parts those on its sides
      if (above[lowest] < -constant("BELOW") * noise) [first, last] = k <= first + lowest ? [first, first + lowest] : [first + lowest + 1, last];
      else return { apex: top, window: cut[k], before, behind, half, cut: windows[k][0] < cut[k][0] || windows[k][1] > cut[k][1] };
    }
  });
  return made.filter((one) => stands(values, one));
}

/** Whether there is a maximum within the window, above a line between its blank ends. @param {Float64Array} values @param {Spot} spot */
function stands(values, { apex, window: [low, high], before, behind }) {
  const line = lineOf(values, before, behind);
  const above = averaged(values.slice(low, high).map((one, k) => one - line(low + k)), 1);
  const at = apex - low;
  return 0 < at && at < above.length - 1 && above[at] > constant("STANDS") * Math.max(above[extreme(above, 0, above.length, 1)], 0);
}

/** The line through the means of two stretches. @param {Float64Array} values @param {Stretch} before @param {Stretch} behind */
function lineOf(values, before, behind) {
  const [x, u] = [before, behind].map(([one, other]) => (one + other - 1) / 2);
  const [y, v] = [before, behind].map((one) => meanOf(values, one));
  return (/** @type {number} */ k) => y + ((v - y) * (Math.min(Math.max(k, x), u) - x)) / (u - x);
}

/** @param {Float64Array} values @param {Stretch} stretch */
function meanOf(values, [from, to]) {
  let sum = 0;
  for (let k = from; k < to; k += 1) sum += values[k];
  return sum / (to - from);
}

/** The highest peak of a window that is given. @param {Even} even @param {number} from @param {number} to s @returns {Spot | null} */
function spotAt({ start, step, values }, from, to) {
  const index = (/** @type {number} */ time) => Math.min(Math.max(evenRound((time - start) / step), 0), values.length - 1);
  const [low, high] = [index(from), index(to) + 1];
  const length = high - low;
  if (length < 2 * constant("FEWEST")) return null;
  const rim = Math.max(constant("FEWEST_BLANK"), evenRound(0.05 * length));
  const room = Math.max(rim, evenRound((constant("BLANK_SHARE") * length) / 2));
  /** @type {Stretch} */
  const before = low >= rim ? [Math.max(0, low - room), low] : [low, low + rim];
  /** @type {Stretch} */
  const behind = values.length - high >= rim ? [high, Math.min(values.length, high + room)] : [high - rim, high];
  const [y, v] = [meanOf(values, before), meanOf(values, behind)];
  const above = values.slice(low, high).map((one, k) => one - (y + ((v - y) * k) / (length - 1)));
  const apex = extreme(averaged(above, 1), 0, length, 1);
  if (!(above[apex] > 0)) return null;
  return { apex: low + apex, window: [low, high], before, behind, half: above.filter((one) => one > above[apex] / 2).length };
}

/** Smoothed by polynomials of the fourth degree through neighbours (Savitzky and Golay).
 * @param {Float64Array} values @param {number} reach points on either side */
function smoothed(values, reach) {
  if (2 * reach + 1 <= 5 || 2 * reach + 1 > values.length) return values;
  const powers = [0, 1, 2, 3, 4];
  const places = Array.from({ length: 2 * reach + 1 }, (_, k) => (k - reach) / reach);
  const rows = powers.map((row) => powers.map((column) => places.reduce((sum, one) => sum + one ** (row + column), 0)));
  const terms = solved(rows, [1, 0, 0, 0, 0]);
  const weights = places.map((one) => powers.reduce((sum, n) => sum + terms[n] * one ** n, 0));
  return values.map((_, k) => weights.reduce((sum, weight, n) => sum + weight * values[Math.min(Math.max(k + n - reach, 0), values.length - 1)], 0));
}

/** @param {Even} even @param {Spot} spot @returns {MeasuredPeak} */
function readOff({ start, step, values }, spot) {
  const [low, high] = spot.window;
  const blanks = [spot.before, spot.behind].flatMap(([one, other]) => Array.from({ length: other - one }, (_, k) => one + k));
  const middle = blanks.reduce((sum, k) => sum + k, 0) / blanks.length;
  const level = blanks.reduce((sum, k) => sum + values[k], 0) / blanks.length;
  const across = blanks.reduce((sum, k) => sum + (k - middle) ** 2, 0);
  const slope = blanks.reduce((sum, k) => sum + (k - middle) * values[k], 0) / (across || 1);
  const line = (/** @type {number} */ k) => level + slope * (k - middle);
  const cut = values.slice(low, high);
  const most = cut[extreme(cut, 0, cut.length, 1)];
  const [first, last] = [cut.indexOf(most), cut.lastIndexOf(most)];
  const flat = last - first + 1 >= Math.max(constant("FLAT"), 0.25 * spot.half) && cut.slice(first, last + 1).every((one) => one === most);
  const above = smoothed(cut.map((one, k) => one - line(low + k)), Math.floor(constant("SMOOTHING") * spot.half));
  const band = { start: start + step * low, step, values: above };
  const sums = momentsOf(band);
  const metrics = metricsOf(band, sums);
  return {
    apex: metrics.apex,
    height: metrics.height,
    ground: line(spot.apex),
    from: band.start,
    to: band.start + step * (above.length - 1),
    area: sums.area,
    state: flat ? "its top is cut off" : spot.cut ? "cut by a neighbour" : "",
    metrics,
  };
}

/** Every peak that stands out, or the highest of a window that is given, in the order of time.
 * @param {Points} signal @param {[number, number] | null} [within] s @returns {MeasuredPeak[]} */
export function peaksOf(signal, within = null) {
  const even = evened(signal);
  const spot = within && spotAt(even, ...within);
  return (within ? (spot ? [spot] : []) : spotsOf(even)).map((one) => readOff(even, one)).filter((one) => Number.isFinite(one.apex));
}
