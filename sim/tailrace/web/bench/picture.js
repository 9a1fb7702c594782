// @ts-check
/** The chromatogram as recorded, over what the column would give, with the textbook's sum as a ghost. */
import { bendsOf, splineAt } from "../engine/curves.js";
import { withNoise } from "../engine/drawn.js";
import { uPlot } from "../vendor/uplot.js";
import { byId, drawn, element, put, innerWidthOf, windowHeight, zoom } from "./dom.js";
import { maximum, significant } from "./figures.js";

const VISIBLE = 0.002;
const MINUTES_FROM = 180;

/** Lines of the picture from the one at the back: name, colour and dash. */
const LINES = [
  { key: "own", words: "the column alone", colour: "--own", dash: [9, 4], width: 1.5, fill: "--own-fill" },
  { key: "textbook", words: "textbook sum of variances", colour: "--textbook", dash: [2, 4], width: 2 },
  { key: "before", words: "before", colour: "--before", dash: [10, 3, 2, 3], width: 2 },
  { key: "measured", words: "measured", colour: "--measured", dash: [], width: 1.25 },
  { key: "recorded", words: "recorded, simulated", colour: "--recorded", dash: [], width: 3 },
];

/** @typedef {{time: ArrayLike<number>, values: ArrayLike<number>}} Curve */
/** @typedef {{time: ArrayLike<number>, own: ArrayLike<number> | null, textbook: ArrayLike<number> | null,
 *   recorded: ArrayLike<number>, before: Curve | null, measured: Curve | null,
 *   from: number, to: number, title: string}} Picture */

/** Values of a curve at other times, in rising order; 0 or a gap outside it.
 * @param {ArrayLike<number>} times @param {ArrayLike<number>} known @param {ArrayLike<number>} values
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
    found[i] = values[k] + share * (values[k + 1] - values[k]);
  }
  return found;
}

/** What the picture shows of an answer: all solutes, or the peak of one.
 * @param {any} answer @param {number | null} lane @param {any} before another answer, or null
 * @param {Curve | null} measured @param {number} noise peak to peak, in the unit of the trace; 0: not drawn
 * @param {number} count points; more than one to a dot of the screen make steps @returns {Picture} */
export function pictureOf(answer, lane, before, measured, noise, count) {
  const { trace, solutes } = answer;
  const one = lane === null ? null : solutes[lane];
  const shown = one ? [one] : solutes;
  let [from, to] = [Infinity, -Infinity];
  for (const other of [...shown, ...(before ? (one ? before.solutes.filter((/** @type {any} */ b) => b.name === one.name) : before.solutes) : [])]) {
    const [low, high] = reach(other);
    [from, to] = [Math.min(from, low), Math.max(to, high)];
  }
  const room = 0.04 * (to - from);
  [from, to] = [Math.max(0, from - room), to + room];
  const time = Float64Array.from({ length: count }, (_, k) => from + ((to - from) * k) / (count - 1));
  const recorded = noise ? withNoise(trace.time, trace.recorded, noise, solutes[0].signal.relative_noise ** 2 / 4) : trace.recorded;
  return {
    time,
    own: trace.column_alone && sumOf(solutes, trace.weights, time, "column_alone"),
    textbook: sumOf(solutes, trace.weights, time, "gaussian"),
    recorded: readAt(time, trace.time, recorded, 0),
    before: before?.trace ? { time: before.trace.time, values: before.trace.recorded } : null,
    measured,
    from,
    to,
    title: one ? `The peak of ${one.name}` : "The chromatogram",
  };
}

/** From when to when a solute can be seen. @param {any} solute */
function reach({ time, recorded, column_alone: own }) {
  const most = Math.max(maximum(recorded), own ? maximum(own) : 0);
  let [first, last] = [0, time.length - 1];
  const seen = (/** @type {number} */ k) => recorded[k] > VISIBLE * most || (own && own[k] > VISIBLE * most);
  while (first < last && !seen(first)) first += 1;
  while (last > first && !seen(last)) last -= 1;
  return [time[first], time[last]];
}

/** A curve of all solutes together, at even times. @param {any[]} solutes @param {number[]} weights
 * @param {Float64Array} time @param {string} key */
export function sumOf(solutes, weights, time, key) {
  const sum = new Float64Array(time.length);
  const step = time[1] - time[0];
  solutes.forEach((one, lane) => {
    if (!one[key]) return;
    const weight = weights[lane];
    const first = Math.max(0, Math.ceil((one.time[0] - time[0]) / step));
    const last = Math.min(sum.length - 1, Math.floor((one.time[one.time.length - 1] - time[0]) / step));
    if (last < first) return;
    // its own samples may be as far apart as the recorded points: a curve is drawn through them
    const bends = bendsOf(one[key]);
    const [start, apart] = [one.time[0], one.time[1] - one.time[0]];
    for (let k = first; k <= last; k += 1) sum[k] += weight * splineAt(one[key], bends, (time[k] - start) / apart);
  });
  return sum;
}

/** Rows of tables and halves of steps that a sheet of paper holds; how small its letters may become. */
const SHEET_ROWS = 24;
const MOST_SMALL = 0.72;

export class Chromatogram {
  constructor() {
    this.place = byId("chart");
    /** @type {any} */
    this.plot = null;
    /** @type {Picture | null} */
    this.picture = null;
    this.paper = false;
    this.inMinutes = false;
    /** Whether times are in minutes however short they are. */
    this.minutes = false;
    this.alone = true;
    /** Size of letters when it was made. */
    this.letters = 1;
    /** @type {{from: number, to: number, top: number, low: number} | null} */
    this.limits = null;
    new ResizeObserver(() => this.fit()).observe(this.place);
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => this.renew());
    addEventListener("beforeprint", () => this.onPaper(true));
    addEventListener("afterprint", () => this.onPaper(false));
  }

  /** @param {boolean} paper */
  onPaper(paper) {
    this.paper = paper;
    const { classList, style } = document.documentElement;
    classList.toggle("paper", paper);
    // a long path with many changes is written smaller, so that it stays one sheet
    const rows = document.querySelectorAll("#parts tbody tr, #pairs tbody tr, #staircase rect, #measured:not([hidden]) :is(h3, p, caption, thead, :checked)").length;
    style.setProperty("--smaller", String(Math.max(MOST_SMALL, Math.min(1, (SHEET_ROWS / rows) ** 0.4))));
    this.renew();
  }

  size() {
    const width = this.paper ? 690 : Math.max(260, innerWidthOf(this.place));
    const tall = Math.min(0.46 * width, 0.42 * windowHeight());
    return { width, height: this.paper ? 160 : Math.round(Math.max(190, Math.min(tall, 900))) };
  }

  fit() {
    const { width, height } = this.size();
    if (this.plot && !this.paper && this.letters !== zoom()) this.renew();
    else if (this.plot && (this.plot.width !== width || this.plot.height !== height)) this.plot.setSize({ width, height });
  }

  /** The picture as PNG, on its ground. @param {(picture: Blob) => void} then */
  saved(then) {
    const canvas = this.plot?.root.querySelector("canvas");
    if (!canvas) return;
    const whole = document.createElement("canvas");
    [whole.width, whole.height] = [canvas.width, canvas.height];
    const pen = /** @type {CanvasRenderingContext2D} */ (whole.getContext("2d"));
    pen.fillStyle = getComputedStyle(document.body).backgroundColor;
    pen.fillRect(0, 0, whole.width, whole.height);
    pen.drawImage(canvas, 0, 0);
    whole.toBlob((made) => made && then(made));
  }

  renew() {
    this.plot?.destroy();
    this.plot = null;
    if (this.picture) this.draw(this.picture);
  }

  /** @param {Picture} picture */
  draw(picture) {
    const inMinutes = this.minutes || picture.to > MINUTES_FROM;
    if (this.plot && (this.inMinutes !== inMinutes || this.alone !== Boolean(picture.own))) {
      this.plot.destroy();
      this.plot = null;
    }
    this.inMinutes = inMinutes;
    this.alone = Boolean(picture.own);
    byId("delayed").hidden = !picture.own;
    this.picture = picture;
    const { data, from, to, top, low } = dataOf(picture, inMinutes ? 60 : 1);
    this.limits = { from, to, top, low };
    if (this.plot) this.plot.setData(data);
    else this.plot = this.made(data);
    put(byId("chart-title"), picture.title);
    legend(LINES.filter((one, k) => data[k + 1].some((/** @type {any} */ value) => value !== null)));
  }

  /** @param {any} data */
  made(data) {
    const style = getComputedStyle(document.documentElement);
    const colour = (/** @type {string} */ name) => style.getPropertyValue(name).trim();
    this.letters = zoom();
    const large = this.paper ? 1 : this.letters;
    const font = `${this.paper ? 9 : Math.round(parseFloat(style.fontSize) * 0.85)}px ${colour("--face")}`;
    const axis = { stroke: colour("--ink"), font, labelFont: font, grid: { stroke: colour("--faint"), width: 1 }, ticks: { stroke: colour("--rule"), width: 1 } };
    return new /** @type {any} */ (uPlot)(
      {
        ...this.size(),
        pxAlign: 0,
        legend: { show: false },
        cursor: { y: false, points: { show: false }, drag: { x: true, y: false, setScale: true } },
        scales: {
          x: { time: false, range: (/** @type {any} */ _, /** @type {number} */ low, /** @type {number} */ high) => (this.whole(low, high) ? [this.limits?.from, this.limits?.to] : [low, high]) },
          y: { range: () => [this.limits?.low ?? 0, this.limits?.top ?? 100] },
        },
        axes: [
          { ...axis, label: this.inMinutes ? "time, min" : "time, s", labelSize: 24 * large, size: 34 * large, space: 60 * large },
          { ...axis, label: this.size().height < 260 ? "height, %" : this.alone ? "height, % of the column's highest" : "height, % of the highest", labelSize: 22 * large, size: 46 * large, space: 32 * large },
        ],
        series: [
          {},
          ...LINES.map((one) => ({
            label: one.words,
            stroke: colour(one.colour),
            width: one.width * (this.paper ? 0.7 : large),
            dash: one.dash.length ? one.dash : undefined,
            fill: one.fill ? colour(one.fill) : undefined,
            points: { show: false },
          })),
        ],
      },
      data,
      this.place,
    );
  }

  /** Whether a range is that of all data, and not one that was dragged. @param {number} low @param {number} high */
  whole(low, high) {
    const times = this.plot?.data?.[0];
    return !times || (low === times[0] && high === times[times.length - 1]);
  }
}

/** Columns as uPlot wants them, heights in per cent. @param {Picture} picture @param {number} unit s */
function dataOf(picture, unit) {
  const { time, own, textbook, recorded, before, measured } = picture;
  const full = maximum(own ?? recorded) || 1;
  const shares = (/** @type {ArrayLike<number> | null} */ values) => Array.from(time, (_, k) => (values ? (100 * values[k]) / full : null));
  const other = (/** @type {Curve | null} */ curve, /** @type {number | null} */ outside) =>
    curve ? readAt(time, curve.time, curve.values, outside).map((one) => (one === null ? null : (100 * one) / full)) : Array.from(time, () => null);
  const data = [Array.from(time, (t) => t / unit), shares(own), shares(textbook), other(before, 0), other(measured, null), shares(recorded)];
  let top = 0;
  for (const values of data.slice(1)) for (const one of values) if (one !== null && one > top) top = one;
  const low = Math.min(0, ...data[5].map((one) => one ?? 0));
  return { data, from: picture.from / unit, to: picture.to / unit, top: 1.05 * top || 100, low };
}

/** @param {typeof LINES} shown */
function legend(shown) {
  put(
    byId("legend"),
    shown.toReversed().map((one) =>
      element(
        "li",
        {},
        drawn("svg", { width: 38, height: 10, "aria-hidden": "true" }, drawn("path", { d: "M1 5H37", class: `line ${one.key}`, "stroke-dasharray": one.dash.join(" ") || undefined })),
        one.words,
      ),
    ),
  );
}

/** @param {any} answer */
export function chartWords(answer) {
  const peaks = answer.solutes.map((/** @type {any} */ one) => {
    const own = one.column_alone ? maximum(one.column_alone) : 0;
    const kept = own ? `, ${significant((100 * maximum(one.recorded)) / own, 2)} % as high as from the column alone` : "";
    return `${one.name} at ${significant(one.metrics.apex, 4)} s${kept}`;
  });
  return `Recorded peaks: ${peaks.join("; ")}`;
}
