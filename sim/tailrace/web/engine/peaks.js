// @ts-check
/** Every peak of a measured signal, where it stands and what is read off it: as `tailrace measure`
 * with a straight baseline. */
import { determinedOf } from "./determined.js";
import { evenRound, evened, thinned } from "./evening.js";
import { constant } from "./facts.js";
import { noiseIn, quickNoise } from "./noise.js";
import { groundOf, readAbove } from "./treatment.js";

/** @typedef {import("./evening.js").Even} Even */
/** @typedef {import("./evening.js").Stretch} Stretch */
/** @typedef {import("./noise.js").Noise} Noise */
/** @typedef {import("./treatment.js").Spot} Spot */
/** Times in s; metrics: NaN where one is not resolved; measured: false where none can be, of a top that is cut off or with points missing. */
/** @typedef {{apex: number, height: number, ground: number, from: number, to: number, state: string, measured: boolean, metrics: Record<string, number>}} MeasuredPeak */

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

/** Every peak that stands out, of a signal thinned where it is long. @param {Even} even
 * @param {Noise | null} known from a first look @returns {Spot[]} */
function spotsOf({ values }, known) {
  const every = Math.max(1, Math.ceil(values.length / constant("MOST_POINTS")));
  const thin = thinned(values, every);
  const noise = known ? known.deviation / Math.sqrt(every) : quickNoise(thin);
  const slow = known ? Math.hypot(known.deviation, known.wander) : noise;
  const [low, high] = [thin[extreme(thin, 0, thin.length, -1)], thin[extreme(thin, 0, thin.length, 1)]];
  const all = tops(averaged(thin, 2), Math.max((constant("OUT") * noise) / 2, 1e-9 * (high - low)));
  const tallest = Math.max(...all.map((one) => one.prominence));
  const out = all.filter((one) => one.prominence >= constant("LEAST_SHARE") * tallest);
  const kept = new Set([...out].sort((one, other) => other.prominence - one.prominence).slice(0, constant("MOST_PEAKS")));
  const found = out
    .filter((one) => kept.has(one) && one.half >= constant("FEWEST") / every)
    .map(({ top, half }) => ({ top: Math.min(top * every + (every >> 1), values.length - 1), half: half * every }));
  const windows = found.map(({ top, half }) => windowOfPeak(values, top, half, slow));
  const rims = found.slice(1).map(({ top }, k) => rimOf(values, [found[k].top, top], [windows[k], windows[k + 1]]));
  const cut = windows.map(([one, other], k) => /** @type {Stretch} */ ([Math.max(one, k ? rims[k - 1] : 0), Math.min(other, k < rims.length ? rims[k] + 1 : values.length)]));
  const touching = rims.map((_, k) => windows[k][1] > windows[k + 1][0]);
  const made = found.map(({ top, half }, k) => {
    let [first, last] = [k, k];
    while (first > 0 && touching[first - 1]) first -= 1;
    while (last < rims.length && touching[last]) last += 1;
    const length = cut[k][1] - cut[k][0];
    for (;;) {
      const before = blank(cut[first][0], first ? cut[first - 1][1] : 0, length, -1);
      const behind = blank(cut[last][1], last < rims.length ? cut[last + 1][0] : values.length, length, 1);
      const line = straightOf(values, before, behind);
      const above = rims.slice(first, last).map((rim) => meanOf(values, [Math.max(0, rim - 2), Math.min(values.length, rim + 3)]) - line(rim));
      const lowest = extreme(above, 0, above.length, -1);
      // a valley below the common baseline parts those on its sides
      if (above[lowest] < -constant("BELOW") * noise) [first, last] = k <= first + lowest ? [first, first + lowest] : [first + lowest + 1, last];
      else {
        const [front, tail] = [windows[k][0] < cut[k][0], windows[k][1] > cut[k][1]];
        return { apex: top, window: cut[k], before, behind, half, front, tail, cut: standsAtCut(values, straightOf(values, before, behind), top, [...(front ? [cut[k][0]] : []), ...(tail ? [cut[k][1] - 1] : [])], slow) };
      }
    }
  });
  return made.filter((one) => stands(values, one));
}

/** Where two neighbours part: between their windows, or where these reach each other at the lowest point, of several that are as
 * low the middle one. @param {Float64Array} values @param {Stretch} tops @param {[Stretch, Stretch]} windows */
function rimOf(values, [low, high], [[, end], [start]]) {
  if (end <= start) return (end + start) >> 1;
  const least = values[extreme(values, low, high + 1, -1)];
  const lowest = Array.from({ length: high + 1 - low }, (_, k) => low + k).filter((k) => values[k] === least);
  return lowest[lowest.length >> 1];
}

/** Whether the signal is above the baseline where a window is cut short, or ends with it. @param {Float64Array} values
 * @param {(k: number) => number} line @param {number} top @param {number[]} places @param {number} noise */
function standsAtCut(values, line, top, places, noise) {
  const least = Math.max(noise, constant("FEET")[1] * Math.exp(-constant("MOST_FOLDS")) * (values[top] - line(top)));
  return places.some((at) => at === 0 || at === values.length - 1 || meanOf(values, [Math.max(0, at - 2), Math.min(values.length, at + 3)]) - line(at) > least);
}

/** Whether there is a maximum within the window, above a line between its blank ends. @param {Float64Array} values @param {Spot} spot */
function stands(values, { apex, window: [low, high], before, behind }) {
  const line = straightOf(values, before, behind);
  const above = averaged(values.slice(low, high).map((one, k) => one - line(low + k)), 1);
  const at = apex - low;
  return 0 < at && at < above.length - 1 && above[at] > constant("STANDS") * Math.max(above[extreme(above, 0, above.length, 1)], 0);
}

/** The line through the means of two stretches. @param {Float64Array} values @param {Stretch} before @param {Stretch} behind */
function straightOf(values, before, behind) {
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
  return { apex: low + apex, window: [low, high], before, behind, half: above.filter((one) => one > above[apex] / 2).length, front: false, tail: false, cut: false };
}

/** What is read off a peak; what noise, window and baseline do not leave is none.
 * @param {Even} even @param {Spot} spot @param {Noise} noise @param {number} draws @param {number} seed @returns {MeasuredPeak} */
function readOff(even, spot, noise, draws, seed) {
  const [low, high] = spot.window;
  const cut = even.values.slice(low, high);
  const most = cut[extreme(cut, 0, cut.length, 1)];
  const [first, last] = [cut.indexOf(most), cut.lastIndexOf(most)];
  const clipped = last - first + 1 >= Math.max(constant("FLAT"), 0.25 * spot.half) && cut.slice(first, last + 1).every((one) => one === most);
  const { metrics, band } = readAbove(even, spot);
  const [from, to] = [band.start, band.start + even.step * (cut.length - 1)];
  const broken = even.gaps.some(([one, other]) => one < to && other > from);
  const told = clipped || broken ? new Set() : determinedOf(even, spot, noise, draws, seed);
  return {
    apex: metrics.apex,
    height: metrics.height,
    ground: groundOf(even.values, spot)(spot.apex),
    from,
    to,
    state: clipped ? "its top is cut off" : broken ? "points are missing" : spot.cut ? "cut by a neighbour or the end" : "",
    measured: !(clipped || broken),
    metrics: Object.fromEntries(Object.entries(metrics).map(([name, one]) => [name, told.has(name) ? one : NaN])),
  };
}

/** Blank stretches of the rest of a signal of which one window is read. @param {Even} even @param {Spot} spot @returns {Stretch[]} */
function freeOf(even, spot) {
  const ends = [...spot.window, ...spot.before, ...spot.behind];
  const [low, high] = [Math.min(...ends), Math.max(...ends)];
  const others = spotsOf(even, null).filter(({ window: [from, to] }) => to <= low || from >= high);
  const rest = blanksOf([spot, ...others], even.values.length).flatMap(([from, to]) => [
    /** @type {Stretch} */ ([from, Math.min(to, low)]),
    /** @type {Stretch} */ ([Math.max(from, high), to]),
  ]);
  return [...rest.filter(([from, to]) => to > from), spot.before, spot.behind];
}

/** Every peak that stands out, or the highest of a window that is given, in the order of time.
 * @param {import("./evening.js").Points} signal @param {[number, number] | null} [within] s @returns {MeasuredPeak[]} */
export function peaksOf(signal, within = null) {
  const even = evened(signal);
  const spot = within && spotAt(even, ...within);
  let spots = within ? (spot ? [spot] : []) : spotsOf(even, null);
  if (!spots.length) return [];
  const noise = noiseIn(even.values, spot ? freeOf(even, spot) : blanksOf(spots, even.values.length));
  if (!within) {
    const better = spotsOf(even, noise);
    if (better.length) spots = better;
  }
  const share = Math.floor(constant("DRAWS_IN_ALL") / spots.length);
  const draws = Math.min(Math.max(share, constant("FEWEST_DRAWS")), constant("DRAWS"));
  return spots.map((one, at) => readOff(even, one, noise, draws, at)).filter((one) => Number.isFinite(one.apex));
}
