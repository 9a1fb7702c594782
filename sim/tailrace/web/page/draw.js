// Curves as SVG: axes with round numbers, lines by kind.

/** @typedef {{kind: string, times: ArrayLike<number>, heights: ArrayLike<number>, height: number, from: number, to: number}} Line */
/** @typedef {{from: number, to: number, top: number, bottom: number}} Ends */

const MARGIN = { left: 62, right: 12, top: 8, bottom: 46 };
/** Of the height, at which the view of a curve begins and ends. */
const VISIBLE = 0.005;

/**
 * A curve with what a view of it spans.
 * @param {string} kind
 * @param {ArrayLike<number>} times
 * @param {ArrayLike<number>} heights
 * @returns {Line}
 */
export function lineOf(kind, times, heights) {
  let height = 0;
  for (let n = 0; n < heights.length; n += 1) if (heights[n] > height) height = heights[n];
  let [first, last] = [0, heights.length - 1];
  while (first < last && !(heights[first] >= VISIBLE * height)) first += 1;
  while (last > first && !(heights[last] >= VISIBLE * height)) last -= 1;
  return { kind, times, heights, height, from: times[first], to: times[last] };
}

/**
 * What lines span together.
 * @param {Line[]} lines
 * @returns {Ends}
 */
export function endsOf(lines) {
  if (!lines.length) return { from: 0, to: 1, top: 1, bottom: 0 };
  const [from, to] = [Math.min(...lines.map((one) => one.from)), Math.max(...lines.map((one) => one.to))];
  return { from, to, top: Math.max(...lines.map((one) => one.height)), bottom: 0 };
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
 * @param {Element} above @param {string} tag
 * @param {Record<string, string | number>} attributes @param {string} [text]
 */
function added(above, tag, attributes, text) {
  const element = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, String(value));
  if (text !== undefined) element.textContent = text;
  above.append(element);
  return element;
}

/**
 * Draw lines into an element.
 * @param {SVGSVGElement} svg
 * @param {Line[]} lines the last on top
 * @param {Ends} ends
 * @param {{aspect: number, down: string, across?: string}} look labels of the axes
 */
export function draw(svg, lines, ends, look) {
  const width = svg.clientWidth || 640;
  const height = Math.round(Math.max(190, Math.min(look.aspect * width, 460)));
  svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
  svg.replaceChildren();
  const [right, bottom] = [width - MARGIN.right, height - MARGIN.bottom];
  const room = 0.03 * (ends.to - ends.from);
  const [from, to, top, low] = [ends.from - room, ends.to + room, 1.05 * ends.top, 1.05 * ends.bottom];
  const across = (/** @type {number} */ time) =>
    MARGIN.left + ((time - from) / (to - from)) * (right - MARGIN.left);
  const up = (/** @type {number} */ value) => bottom - ((value - low) / (top - low)) * (bottom - MARGIN.top);
  const clip = added(added(svg, "defs", {}), "clipPath", { id: `${svg.id}-clip` });
  added(clip, "rect", { x: MARGIN.left, y: 0, width: right - MARGIN.left, height: bottom + 2 });
  for (const [time, label] of ticks(from, to, width < 500 ? 5 : 9)) {
    added(svg, "path", { class: "grid", d: `M${across(time)} ${MARGIN.top}V${bottom}` });
    added(svg, "text", { x: across(time), y: bottom + 17, "text-anchor": "middle" }, label);
  }
  for (const [value, label] of ticks(low, top, 5)) {
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
    look.across ?? "Time from the start of the injection, s",
  );
  const turned = `translate(13 ${(MARGIN.top + bottom) / 2}) rotate(-90)`;
  added(svg, "text", { transform: turned, "text-anchor": "middle" }, look.down);
}

/**
 * A line as a path; of many points in one column of pixels the lowest and the highest.
 * @param {Line} line
 * @param {(time: number) => number} across @param {(value: number) => number} up
 * @param {[number, number]} sides
 */
function pathOf({ times, heights }, across, up, [left, right]) {
  const dense = times.length > 1 && across(times[1]) - across(times[0]) < 0.5;
  const points = [`M${left} ${up(0)}`];
  let [column, low, high] = [NaN, 0, 0];
  const add = (/** @type {number} */ x, /** @type {number} */ y) =>
    points.push(`L${x.toFixed(2)} ${y.toFixed(2)}`);
  const close = () => {
    if (Number.isNaN(column)) return;
    add(column, low);
    if (high !== low) add(column, high);
  };
  for (let n = 0; n < times.length; n += 1) {
    const x = across(times[n]);
    if (x < left - 50 || x > right + 50) continue;
    const y = up(heights[n]);
    if (!dense) {
      add(x, y);
      continue;
    }
    const place = Math.round(x * 2) / 2;
    if (place === column) {
      low = Math.max(low, y);
      high = Math.min(high, y);
    } else {
      close();
      [column, low, high] = [place, y, y];
    }
  }
  close();
  return `${points.join("")}L${right} ${up(0)}`;
}
