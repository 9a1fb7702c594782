// @ts-check
/** The path drawn to scale: as wide as each part's volume, or as the time that the solute spends in it. */
import { byId, drawn, put, innerWidthOf, zoom } from "../shown/dom.js";
import { MICROLITRES, money, significant } from "../shown/numbers.js";

const HEIGHT = new Map(Object.entries({ tube: 14, fitting: 22, chamber: 30, column: 46, cell: 36, tee: 22 }));
const TALL = 128;
const MIDDLE = 68;
const LEAST = 2;
/** Share of the drawing that a part takes which is too large for its scale. */
const BROKEN = 0.2;
const CROWDED = 19;
/** Of the drawing on paper: its letters are then as large as the others. */
export const ON_SHEET = 920;

/** @typedef {{name: string, kind: string, size: number, cost: number, behind: boolean, index: number}} Block */

/** @param {any} tables of the scenario @param {any} told solute of the answer @param {"volume" | "time"} by
 * @param {number} chosen index of the part that is open @param {number} [wide] on paper */
export function drawRibbon(tables, told, by, chosen, wide) {
  const svg = byId("ribbon");
  const width = wide ?? Math.max(300, (innerWidthOf(svg) || 600) / zoom());
  svg.setAttribute("viewBox", `0 0 ${width} ${wide ? TALL - 8 : TALL}`);
  const blocks = blocksOf(tables, told, by);
  const total = blocks.reduce((sum, one) => sum + one.size, 0);
  const large = blocks.filter((one) => one.size > 0.45 * total && blocks.length > 1);
  const rest = total - large.reduce((sum, one) => sum + one.size, 0);
  const [from, to] = [52, width - 16];
  const scale = ((to - from) * (1 - BROKEN * large.length) - LEAST * blocks.length) / (rest || 1);
  const { plates_back: entry } = told?.parts.find((/** @type {any} */ one) => one.name === "injection") ?? {};
  const most = Math.max(...blocks.map((one) => one.cost), entry || 0, 1e-9);
  let x = from;
  const placed = blocks.map((one) => {
    const broken = large.includes(one);
    const wide = broken ? BROKEN * (to - from) : LEAST + Math.max(0, one.size * scale);
    const at = { ...one, x, wide, broken };
    x += wide;
    return at;
  });
  const marks = spread(placed.map((one) => one.x + one.wide / 2), CROWDED, from, to);
  put(
    svg,
    drawn("path", { class: "flow", d: `M24 ${MIDDLE}H${to + 6}m-6 -5l8 5l-8 5` }),
    drawn("g", { class: "part", "data-row": "method" }, drawn("title", {}, "pump: what lies before the injector broadens no peak"), drawn("circle", { class: "block pump", cx: 13, cy: MIDDLE, r: 11 }), drawn("path", { class: "block pump", d: `M8 ${MIDDLE - 7}v14l12 -7z` }), drawn("text", { x: 0, y: MIDDLE + 27 }, "pump")),
    drawn("g", { class: "part", "data-row": "injection" }, drawn("title", {}, "injection"), drawn("path", { class: `block cost-${levelOf(entry, most)}`, d: `M${from - 15} ${MIDDLE - 24}h14l-7 20z` })),
    ...placed.map((one) => partShape(one, most, chosen)),
    ...placed.flatMap((one, k) => [
      drawn("path", { class: "leader", d: `M${one.x + one.wide / 2} ${MIDDLE - halfOf(one)}V30L${marks[k]} 20` }),
      drawn("text", { x: marks[k], y: 14, class: one.index === chosen ? "mark chosen" : "mark", "text-anchor": "middle" }, one.index + 1),
    ]),
    ...(told ? scaleOf(from, to, scale, rest, by, large.length > 0) : [drawn("text", { x: from, y: TALL - 12 }, "not to scale")]),
  );
  svg.setAttribute("aria-label", wordsOf(blocks, by, Boolean(told)));
}

/** @param {any} tables @param {any} told @param {string} by @returns {Block[]} */
function blocksOf(tables, told, by) {
  return tables.path.map((/** @type {any} */ part, /** @type {number} */ index) => {
    const one = told?.parts.find((/** @type {any} */ other) => other.name === part.name);
    const size = by === "volume" ? (one?.volume ?? 1e-9) * MICROLITRES : (one?.residence ?? 1);
    return { name: part.name, kind: part.part, size: Number.isFinite(size) ? size : 0, cost: part.part !== "column" && one?.plates_back > 0 ? one.plates_back : 0, behind: Boolean(one?.behind), index };
  });
}

/** Of the five colours of what a part costs. @param {number | undefined} cost @param {number} most */
function levelOf(cost, most) {
  return Math.round(4 * Math.sqrt(Math.max(0, cost || 0) / most));
}

/** @param {{kind: string}} one */
function halfOf(one) {
  return (HEIGHT.get(one.kind) ?? 20) / 2;
}

/** @param {any} one @param {number} most @param {number} chosen */
function partShape(one, most, chosen) {
  const half = halfOf(one);
  const level = one.kind === "column" ? "own" : `cost-${levelOf(one.cost, most)}`;
  const shape = drawn("rect", { x: one.x, y: MIDDLE - half, width: one.wide, height: 2 * half, rx: one.kind === "tube" ? 0 : 3, class: `block ${level}` });
  const group = drawn("g", { class: `part${one.index === chosen ? " chosen" : ""}${one.behind ? " behind" : ""}`, "data-index": one.index }, drawn("title", {}, one.name), shape);
  if (one.broken) {
    const middle = one.x + one.wide / 2;
    group.append(drawn("path", { class: "break", d: `M${middle - 7} ${MIDDLE + half + 4}l6 ${-half}l-6 -8l6 ${-half}M${middle + 3} ${MIDDLE + half + 4}l6 ${-half}l-6 -8l6 ${-half}` }));
  }
  const letters = one.name.length * 7.2 + 8;
  if (letters < one.wide && half >= 14) group.append(drawn("text", { x: one.x + (one.broken ? one.wide / 4 : one.wide / 2), y: MIDDLE + 4, "text-anchor": "middle", class: `inside in-${level}` }, letters < one.wide / (one.broken ? 2 : 1) ? one.name : ""));
  return group;
}

/** Places near those that are wished, so far from each other. @param {number[]} wished @param {number} apart
 * @param {number} from @param {number} to */
function spread(wished, apart, from, to) {
  const places = [...wished];
  const step = Math.min(apart, (to - from) / Math.max(1, places.length - 1));
  for (let k = 0; k < places.length; k += 1) places[k] = Math.max(places[k], k ? places[k - 1] + step : from);
  for (let k = places.length - 1; k >= 0; k -= 1) places[k] = Math.min(places[k], k < places.length - 1 ? places[k + 1] - step : to);
  return places;
}

/** A bar that says how much is how wide. @param {number} from @param {number} to @param {number} scale
 * @param {number} rest @param {string} by @param {boolean} broken */
function scaleOf(from, to, scale, rest, by, broken) {
  const third = rest / 3;
  const power = 10 ** Math.floor(Math.log10(third));
  const length = power * ([5, 2, 1].find((one) => one * power <= third) ?? 1);
  const unit = by === "volume" ? "µL" : "s";
  const wide = length * scale;
  if (!(wide > 0 && wide < to - from)) return [];
  return [
    drawn("path", { class: "rule", d: `M${from} ${TALL - 22}v8h${wide}v-8` }),
    drawn("text", { x: from + wide + 8, y: TALL - 12 }, `${money(length)} ${unit}${broken ? (to - from > 640 ? "; what is drawn broken is longer than this scale" : "; broken: longer") : ""}`),
  ];
}

/** @param {Block[]} blocks @param {string} by @param {boolean} known */
function wordsOf(blocks, by, known) {
  if (!known) return `The path, not to scale, behind pump and injection: ${blocks.map((one) => ("" + (one.index + 1) + " " + one.name)).join("; ")}`;
  const unit = by === "volume" ? "microlitres" : "seconds";
  return `The path to scale, behind pump and injection: ${blocks.map((one) => ("" + (one.index + 1) + " " + one.name + ", " + significant(one.size) + " " + unit)).join("; ")}`;
}
