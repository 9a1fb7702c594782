// What a picture spans: it stays while the curves fill half of it, that they can be compared.

import { endsOf, maximum } from "../shown/lines.js";

/** @typedef {import("../shown/lines.js").Ends} Ends */

/** Of the span and of the height, below which a picture is fitted anew. */
const LEAST = 0.5;
/** @type {Map<string, Ends>} */
const scales = new Map();

/** Forget all scales: the next pictures are fitted to what they show. */
export function fitted() {
  scales.clear();
}

/**
 * Ends for a picture of lines under a name.
 * @param {string} key
 * @param {import("../shown/lines.js").Line[]} lines
 * @param {boolean} hold whether the picture grows, but never shrinks
 * @param {import("../shown/lines.js").Zoom} [zoom]
 * @returns {Ends}
 */
export function scaleOf(key, lines, hold, zoom) {
  const ends = endsOf(lines, zoom);
  const before = scales.get(key);
  if (!lines.length) return before ?? ends;
  const both = {
    from: Math.min(before?.from ?? ends.from, ends.from),
    to: Math.max(before?.to ?? ends.to, ends.to),
    top: Math.max(before?.top ?? 0, ends.top),
    bottom: 0,
  };
  const filled = ends.to - ends.from >= LEAST * (both.to - both.from) && ends.top >= LEAST * both.top;
  const chosen = hold || filled ? both : ends;
  scales.set(key, chosen);
  return chosen;
}

/** @param {import("../shown/lines.js").Line[]} lines */
export function lowest(lines) {
  return Math.min(0, ...lines.map(({ heights }) => -maximum(Array.from(heights, (one) => -(one ?? 0)))));
}

/** A trace with nothing before and behind it, as far as a picture goes.
 * @param {{ times: ArrayLike<number>, heights: ArrayLike<number> }} trace even in time @param {{ from: number, to: number }} ends */
export function lengthened({ times, heights }, { from, to }) {
  const step = times[1] - times[0];
  const before = Math.max(0, Math.ceil((times[0] - from) / step)) || 0;
  const behind = Math.max(0, Math.ceil((to - times[times.length - 1]) / step)) || 0;
  const length = before + times.length + behind;
  const longer = new Float64Array(length);
  longer.set(Array.from(heights, (one) => one ?? 0), before);
  return { times: Float64Array.from(longer, (_, n) => times[0] + (n - before) * step), heights: longer };
}
