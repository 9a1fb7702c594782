// What a picture spans: it stays while the curves fill half of it, that they can be compared.

import { endsOf } from "../shown/lines.js";

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
