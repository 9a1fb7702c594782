// Curves as SVG: axes with round numbers, lines by kind.

import { drawn } from "../bench/dom.js";

/** Heights as they are without the noise that is drawn: calm. */
/** @typedef {{kind: string, times: ArrayLike<number>, heights: ArrayLike<number>, height: number, calm?: ArrayLike<number>}} Line */
/** @typedef {{from: number, to: number, top: number, bottom: number}} Ends */
/** Of the axis upward: by how much it is stretched, and whether it is logarithmic. */
/** @typedef {{stretch: number, log: boolean}} Zoom */

const MARGIN = { left: 62, right: 12, top: 8, bottom: 46 };
/** Of the height, at which the view of a curve begins and ends. */
const VISIBLE = 0.005;
/** Of the span, how much base line is shown on each side of noisy peaks. */
const BLANK = 0.25;
/** Powers of ten that a logarithmic axis shows. */
const DECADES = 4;
/** @type {Zoom} */
const WHOLE = { stretch: 1, log: false };

/**
 * A curve with its height.
 * @param {string} kind
 * @param {ArrayLike<number>} times
 * @param {ArrayLike<number>} heights
 * @returns {Line}
 */
export function lineOf(kind, times, heights) {
  let height = 0;
  for (let n = 0; n < heights.length; n += 1) if (heights[n] > height) height = heights[n];
  return { kind, times, heights, height };
}

/**
 * What lines span together, as far as a view shows them.
 * @param {Line[]} lines
 * @param {Zoom} [zoom]
 * @returns {Ends}
 */
export function endsOf(lines, { stretch, log } = WHOLE) {
  if (!lines.length) return { from: 0, to: 1, top: 1, bottom: 0 };
  const share = log ? 10 ** -DECADES : VISIBLE / stretch;
  const ends = { from: Infinity, to: -Infinity, top: 0, bottom: 0 };
  for (const { times, heights, height, calm } of lines) {
    const seen = calm ?? heights;
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

/**
 * Round numbers that divide a stretch into about so many pieces, with their labels.
 * @param {number} from @param {number} to @param {number} pieces
 * @returns {[number, string][]}
 */
function ticks(from, to, pieces) {
  const rough = (to - from) / pieces;
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = power * ([1, 2, 5, 10].find((one) => one * power >= rough) ?? 10);
  const digits = Math.max(0, -Math.floor(Math.log10(step) + 1e-9));
  /** @type {[number, string][]} */
  const found = [];
  for (let k = Math.ceil(from / step - 1e-9); k * step <= to + 1e-9 * step; k += 1) {
    found.push([k * step, (k * step).toFixed(digits)]);
  }
  return found;
}

/**
 * Powers of ten between two logarithms, with their labels.
 * @param {number} low @param {number} top
 * @returns {[number, string][]}
 */
function decades(low, top) {
  /** @type {[number, string][]} */
  const found = [];
  for (let power = Math.ceil(low); power <= top; power += 1)
    found.push([10 ** power, power < -4 || power > 3 ? `1e${power}` : String(Number((10 ** power).toFixed(6)))]);
  return found;
}

/** A new element at the end of one. @param {Element} above @param {string} tag
 * @param {Record<string, string | number | undefined>} attributes @param {string} [text] */
export function added(above, tag, attributes, text) {
  const made = drawn(tag, attributes, text);
  above.append(made);
  return made;
}

/**
 * Draw lines into an element.
 * @param {SVGSVGElement} svg
 * @param {Line[]} lines the last on top
 * @param {Ends} ends
 * @param {{aspect: number, down: string, zoom?: Zoom}} look label of the axis upward, and how it is stretched
 */
export function draw(svg, lines, ends, look) {
  const width = svg.clientWidth || 640;
  const height = Math.round(Math.max(190, Math.min(look.aspect * width, 460)));
  svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
  svg.replaceChildren();
  const [right, bottom] = [width - MARGIN.right, height - MARGIN.bottom];
  const room = 0.03 * (ends.to - ends.from);
  const { stretch, log } = look.zoom ?? WHOLE;
  const [from, to] = [ends.from - room, ends.to + room];
  const top = log ? Math.log10(1.5 * ends.top) : (1.05 * ends.top) / stretch;
  const low = log ? top - DECADES : (1.05 * ends.bottom) / stretch;
  const across = (/** @type {number} */ time) =>
    MARGIN.left + ((time - from) / (to - from)) * (right - MARGIN.left);
  const placed = (/** @type {number} */ value) => bottom - ((value - low) / (top - low)) * (bottom - MARGIN.top);
  const floor = 10 ** low;
  const up = log ? (/** @type {number} */ value) => placed(Math.log10(Math.max(value, floor))) : placed;
  const clip = added(added(svg, "defs", {}), "clipPath", { id: `${svg.id}-clip` });
  added(clip, "rect", { x: MARGIN.left, y: MARGIN.top - 2, width: right - MARGIN.left, height: bottom - MARGIN.top + 4 });
  for (const [time, label] of ticks(from, to, width < 500 ? 7 : 9)) {
    added(svg, "path", { class: "grid", d: `M${across(time)} ${MARGIN.top}V${bottom}` });
    added(svg, "text", { x: across(time), y: bottom + 17, "text-anchor": "middle" }, label);
  }
  for (const [value, label] of log ? decades(low, top) : ticks(low, top, 5)) {
    added(svg, "path", { class: "grid", d: `M${MARGIN.left} ${up(value)}H${right}` });
    added(svg, "text", { x: MARGIN.left - 6, y: up(value) + 4, "text-anchor": "end" }, label);
  }
  added(svg, "path", { class: "axis", d: `M${MARGIN.left} ${MARGIN.top}V${bottom}H${right}` });
  for (const line of lines) {
    added(svg, "path", {
      class: line.kind,
      d: pathOf(line, across, up, [MARGIN.left, right]),
      "clip-path": `url(#${svg.id}-clip)`,
    });
  }
  const middle = (MARGIN.left + right) / 2;
  added(
    svg,
    "text",
    { x: middle, y: height - 8, "text-anchor": "middle" },
    "Time from the start of the injection, s",
  );
  const turned = `translate(13 ${(MARGIN.top + bottom) / 2}) rotate(-90)`;
  added(svg, "text", { transform: turned, "text-anchor": "middle" }, look.down);
}

/**
 * A line as a path; of many points in one column of pixels the first, lowest, highest and last, in
 * their order, so that it looks as if all were drawn.
 * @param {Line} line
 * @param {(time: number) => number} across @param {(value: number) => number} up
 * @param {[number, number]} sides
 */
function pathOf({ times, heights }, across, up, [left, right]) {
  const points = [`M${left} ${up(0)}`];
  /** To the base line below a sample: outside of all samples there is nothing. */
  const ground = (/** @type {number} */ n) => points.push(`L${across(times[n]).toFixed(2)} ${up(0)}`);
  const add = (/** @type {number} */ n) =>
    points.push(`L${across(times[n]).toFixed(2)} ${up(heights[n]).toFixed(2)}`);
  let [column, first, low, high, last] = [NaN, -1, -1, -1, -1];
  if (across(times[0]) > left) ground(0);
  const close = () => {
    if (first < 0) return;
    add(first);
    for (const n of low < high ? [low, high] : [high, low]) if (n !== first && n !== last) add(n);
    if (last !== first) add(last);
  };
  for (let n = 0; n < times.length; n += 1) {
    const x = across(times[n]);
    if (x < left - 50 || x > right + 50) continue;
    if (Math.floor(x) !== column) {
      close();
      column = Math.floor(x);
      first = low = high = n;
    }
    if (heights[n] < heights[low]) low = n;
    if (heights[n] > heights[high]) high = n;
    last = n;
  }
  close();
  if (across(times[times.length - 1]) < right) ground(times.length - 1);
  return `${points.join("")}L${right} ${up(0)}`;
}
