// @ts-check
/** Curves over time: what they span, and their heights between their points. */

/** Heights as they are without the noise that is drawn: calm. */
/** @typedef {{kind: string, times: ArrayLike<number>, heights: ArrayLike<number | null>, height: number, calm?: ArrayLike<number>}} Line */
/** @typedef {{from: number, to: number, top: number, bottom: number}} Ends */
/** Of the axis upward: by how much it is stretched, and whether it is logarithmic. */
/** @typedef {{stretch: number, log: boolean}} Zoom */

/** Of the height, at which the view of a curve begins and ends. */
const VISIBLE = 0.005;
/** Of the span, how much base line is shown on each side of noisy peaks, and of any. */
const BLANK = 0.25;
const ROOM = 0.03;
/** Powers of ten that a logarithmic axis shows. */
const DECADES = 4;
/** @type {Zoom} */
const AS_IT_IS = { stretch: 1, log: false };

/** @param {ArrayLike<number>} values */
export function maximum(values) {
  let most = -Infinity;
  for (let k = 0; k < values.length; k += 1) if (values[k] > most) most = values[k];
  return most;
}

/** A curve with its height. @param {string} kind @param {ArrayLike<number>} times @param {ArrayLike<number>} heights @returns {Line} */
export function lineOf(kind, times, heights) {
  return { kind, times, heights, height: Math.max(0, maximum(heights)) };
}

/** What lines span together, as far as a view shows them. @param {Line[]} lines @param {Zoom} [zoom] @returns {Ends} */
export function endsOf(lines, { stretch, log } = AS_IT_IS) {
  if (!lines.length) return { from: 0, to: 1, top: 1, bottom: 0 };
  const share = log ? 10 ** -DECADES : VISIBLE / stretch;
  const ends = { from: Infinity, to: -Infinity, top: 0, bottom: 0 };
  for (const { times, heights, height, calm } of lines) {
    const seen = /** @type {ArrayLike<number>} */ (calm ?? heights);
    let [first, last] = [0, seen.length - 1];
    while (first < last && !(seen[first] >= share * height)) first += 1;
    while (last > first && !(seen[last] >= share * height)) last -= 1;
    const blank = calm ? BLANK * (times[last] - times[first]) : 0;
    ends.from = Math.min(ends.from, Math.max(times[first] - blank, times[0]));
    ends.to = Math.max(ends.to, Math.min(times[last] + blank, times[times.length - 1]));
    ends.top = Math.max(ends.top, height);
  }
  return ends;
}

/** Ends with some room around them, as axes have them. @param {Ends} ends @param {Zoom} [zoom] */
export function framed({ from, to, top, bottom }, { stretch, log } = AS_IT_IS) {
  const room = ROOM * (to - from);
  const highest = log ? 1.5 * top : (1.05 * top) / stretch;
  return { from: from - room, to: to + room, top: highest, low: log ? highest / 10 ** DECADES : (1.05 * bottom) / stretch, log };
}

/** Values of a curve at other times, in rising order; 0 or a gap outside it.
 * @param {ArrayLike<number>} times @param {ArrayLike<number>} known @param {ArrayLike<number | null>} values
 * @param {number | null} outside */
export function readAt(times, known, values, outside) {
  const found = new Array(times.length);
  const last = known.length - 1;
  let k = 0;
  for (let i = 0; i < times.length; i += 1) {
    const t = times[i];
    if (last < 1 || t < known[0] || t > known[last]) {
      found[i] = outside;
      continue;
    }
    while (k < last - 1 && known[k + 1] < t) k += 1;
    const share = (t - known[k]) / (known[k + 1] - known[k]);
    const [one, other] = [values[k] ?? 0, values[k + 1] ?? 0];
    found[i] = one + share * (other - one);
  }
  return found;
}
