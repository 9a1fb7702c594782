// @ts-check
/** Curves over time, drawn by the plot library: on a screen, on paper, and as a file. */
import { uPlot } from "../vendor/uplot.js";
import { drawn, element, innerWidthOf, put, zoom } from "./dom.js";
import { readAt } from "./lines.js";
import { download } from "./saved.js";
import { local, phrase } from "./words.js";

/** Kinds of lines from the one at the back. */
const LINES = [
  { kind: "ghost", words: "before the last move", width: 2, dash: [] },
  { kind: "own", words: "the column alone", width: 1.5, dash: [9, 4], fill: "--own-fill" },
  { kind: "recorded", words: "recorded", width: 3, dash: [] },
  { kind: "gaussian", words: "Gaussian theory (textbook sum)", width: 2.5, dash: [2.5, 4] },
  { kind: "measured", words: "measured", width: 1.25, dash: [] },
  { kind: "pinned", words: "pinned", width: 2, dash: [10, 3, 2, 3] },
];
/** The same, as they are named one after the other. */
const IN_ORDER = ["recorded", "measured", "own", "gaussian", "pinned", "ghost"];
/** Of a screen's letters, how large those on paper are. */
const ON_PAPER = 0.75;
/** Dots to a pixel of a picture that is printed or saved. */
const DOTS = 3;
/** Of a dot, how far points lie apart at least: closer ones the library would move to whole dots. */
const SHARE = 0.4;
/** px: letters, and from one line of them to the next, where nothing is magnified. */
const LETTERS = 12.75;
const SPACED = 19;

/** @typedef {import("./lines.js").Line} Line */
/** What is drawn: lines, no two of a kind; limits and names of the axes, and a brief one where the other has no room; other names of lines than they have;
 * kinds for which there is room among the names while they are not drawn.
 * @typedef {{lines: Line[], from: number, to: number, low: number, top: number, log: boolean, across: string, up: string,
 *   brief?: string, words?: Record<string, string>, expected?: string[]}} Picture */
/** @typedef {{width: number, height: number}} Size */

export class Chart {
  /** @param {HTMLElement} place @param {HTMLElement | null} names of its lines
   * @param {(width: number) => number} heightOf @param {Size} sheet its size on paper */
  constructor(place, names, heightOf, sheet) {
    this.place = place;
    this.names = names;
    this.heightOf = heightOf;
    this.sheet = sheet;
    /** @type {any} */
    this.plot = null;
    /** @type {Picture | null} */
    this.picture = null;
    /** Size of letters, and names of axes, when it was made. */
    this.made = "";
    new ResizeObserver(() => this.fit()).observe(place);
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => this.renew());
    addEventListener("beforeprint", () => this.onPaper(true));
    addEventListener("afterprint", () => this.onPaper(false));
  }

  /** @returns {Size} */
  size() {
    const width = Math.max(260, innerWidthOf(this.place));
    return { width, height: Math.round(this.heightOf(width)) };
  }

  fit() {
    const { width, height } = this.size();
    if (this.plot && this.made !== this.making()) this.renew();
    else if (this.plot && (this.plot.width !== width || this.plot.height !== height)) this.plot.setSize({ width, height });
  }

  making() {
    return [zoom(), devicePixelRatio, this.picture?.across, this.picture && namedUp(this.picture, this.size().height, zoom()), this.picture?.log].join();
  }

  renew() {
    this.plot?.destroy();
    this.plot = null;
    if (this.picture) this.draw(this.picture);
  }

  /** @param {Picture} picture */
  draw(picture) {
    this.picture = picture;
    if (this.plot && this.made !== this.making()) {
      this.plot.destroy();
      this.plot = null;
    }
    this.made = this.making();
    const data = seriesOf(picture, devicePixelRatio * this.size().width);
    if (this.plot) this.plot.setData(data);
    else this.plot = plotOf(() => this.picture ?? picture, data, this.place, this.size(), zoom());
    if (this.names) put(this.names, namesOf(picture));
  }

  /** @param {boolean} paper */
  onPaper(paper) {
    document.documentElement.classList.toggle("paper", paper);
    if (!this.picture) return;
    this.plot?.destroy();
    this.plot = null;
    this.place.replaceChildren();
    if (!paper) {
      this.draw(this.picture);
      return;
    }
    const canvas = raster(this.picture, this.sheet, ON_PAPER);
    canvas.style.width = `${this.sheet.width}px`;
    this.place.append(canvas);
  }

  /** Hands it on as a file, below its title, some notes, and the names of its lines.
   * @param {string} name @param {string} title @param {string[]} notes */
  save(name, title, notes) {
    if (!this.picture) return;
    const size = this.size();
    const large = zoom();
    const curves = raster(this.picture, size, large);
    const whole = element("canvas");
    const pen = /** @type {CanvasRenderingContext2D} */ (whole.getContext("2d"));
    const { pieces, below } = wordsAbove(pen, size.width, large, title, notes, linesIn(this.picture));
    [whole.width, whole.height] = [DOTS * size.width, DOTS * (below + size.height)];
    pen.scale(DOTS, DOTS);
    pen.fillStyle = getComputedStyle(document.body).backgroundColor;
    pen.fillRect(0, 0, size.width, below + size.height);
    pen.fillStyle = colourOf("--ink");
    for (const { text, x, y, bold, one } of pieces) {
      if (one) sample(pen, one, x, y, large);
      pen.font = fontOf(large, bold);
      pen.fillText(text, x + (one ? 40 * large : 0), y);
    }
    pen.drawImage(curves, 0, below, size.width, size.height);
    whole.toBlob((/** @type {Blob | null} */ made) => made && download(`${name}.png`, made));
  }
}

/** @param {string} name of a colour */
function colourOf(name) {
  return getComputedStyle(document.documentElement).getPropertyValue(name).trim();
}

/** @param {number} large @param {boolean} [bold] */
function fontOf(large, bold = false) {
  return `${bold ? "bold " : ""}${Math.round(LETTERS * large)}px ${getComputedStyle(document.body).fontFamily}`;
}

/** Kinds of lines that there are, with their names. @param {Picture} picture @param {string[]} [expected] */
function linesIn({ lines, words = {} }, expected = []) {
  return IN_ORDER.flatMap((kind) => {
    const one = LINES.find((other) => other.kind === kind);
    const there = lines.some((line) => line.kind === kind);
    return one && (there || expected.includes(kind)) ? [{ ...one, words: words[kind] ?? phrase(one.words), there }] : [];
  });
}

/** @param {Picture} picture */
function namesOf(picture) {
  return linesIn(picture, picture.expected).map(({ kind, words, width, dash, there }) =>
    element(
      "li",
      { "data-kind": kind, class: there ? undefined : "absent" },
      drawn("svg", { width: 38, height: 10, "aria-hidden": "true" }, drawn("path", { d: "M1 5H37", class: kind, "stroke-width": width, "stroke-dasharray": dash.join(" ") || undefined })),
      words,
    ),
  );
}

/** Where title, notes and names of a saved picture stand, and where they end.
 * @param {CanvasRenderingContext2D} pen @param {number} width @param {number} large
 * @param {string} title @param {string[]} notes @param {any[]} kinds */
function wordsAbove(pen, width, large, title, notes, kinds) {
  /** @type {{text: string, x: number, y: number, bold: boolean, one: any}[]} */
  const pieces = [];
  const edge = 8 * large;
  let [x, y] = [edge, SPACED * large];
  const next = () => {
    [x, y] = [edge, y + SPACED * large];
  };
  /** Behind what is there; on the next line where there is no room. */
  const add = (/** @type {string} */ text, bold = false, /** @type {any} */ one = null) => {
    pen.font = fontOf(large, bold);
    const wide = pen.measureText(text).width + (one ? 56 * large : 0);
    if (x > edge && x + wide > width) next();
    pieces.push({ text, x, y, bold, one });
    x += wide;
  };
  for (const text of [title, ...notes]) {
    for (const piece of text.split(/(?<= )/)) add(piece, text === title);
    next();
  }
  for (const one of kinds) add(one.words, false, one);
  return { pieces, below: y + 8 * large };
}

/** A piece of a line, before its name. @param {CanvasRenderingContext2D} pen @param {any} one @param {number} x @param {number} y @param {number} large */
function sample(pen, { kind, width, dash }, x, y, large) {
  pen.beginPath();
  pen.setLineDash(dash.map((/** @type {number} */ one) => one * large));
  pen.lineWidth = width * large;
  pen.strokeStyle = colourOf(`--${kind}`);
  pen.moveTo(x, y - 4 * large);
  pen.lineTo(x + 34 * large, y - 4 * large);
  pen.stroke();
}

/** As a canvas of its own, that shows each line as sharp as paper does. @param {Picture} picture @param {Size} size @param {number} large */
function raster(picture, { width, height }, large) {
  const share = DOTS / devicePixelRatio;
  const host = element("div");
  const plot = plotOf(() => picture, seriesOf(picture, DOTS * width), host, { width: width * share, height: height * share }, large * share);
  plot.batch(() => {}); // draws at once
  const canvas = host.querySelector("canvas");
  plot.destroy();
  return canvas;
}

/** Columns as the plot library wants them: times, then of each kind of line its heights.
 * @param {Picture} picture @param {number} dots across */
function seriesOf({ lines, from, to }, dots) {
  const axes = [...new Set(lines.map((one) => one.times))];
  const shared = axes.length === 1 && axes[0][0] === from && axes[0][axes[0].length - 1] === to;
  // where noise is drawn the library shows all of it
  const apart = lines.some((one) => one.calm) ? 0 : ((to - from) * SHARE) / dots;
  const times = shared ? axes[0] : timesWithin(axes, from, to, apart);
  const none = new Array(times.length).fill(null);
  return [
    times,
    ...LINES.map(({ kind }) => {
      const line = lines.find((one) => one.kind === kind);
      if (!line) return none;
      return line.times === times ? line.heights : readAt(times, line.times, line.heights, 0);
    }),
  ];
}

/** All times that are seen, in rising order and so far apart; outside of its times a line lies on the ground.
 * @param {ArrayLike<number>[]} axes @param {number} from @param {number} to @param {number} apart */
function timesWithin(axes, from, to, apart) {
  const all = [];
  for (const times of axes) {
    const [first, last] = [times[0], times[times.length - 1]];
    const beside = 1e-9 * (last - first);
    all.push(first - beside, last + beside);
    for (let k = 0; k < times.length; k += 1) all.push(times[k]);
  }
  const found = [from];
  for (const time of Float64Array.from(all).sort()) if (time > found[found.length - 1] + apart && time < to) found.push(time);
  return [...found, to];
}

/** What stands at the ticks of an axis. @param {number[]} splits @param {number} step between them */
function ticked(splits, step) {
  let digits = 0;
  while (digits < 12 && Math.abs(step * 10 ** digits - Math.round(step * 10 ** digits)) > 1e-6 * step * 10 ** digits) digits += 1;
  return splits.map((one) => local(one.toFixed(digits)));
}

/** @param {number[]} splits powers of ten */
function decades(splits) {
  return splits.map((one) => (one < 1e-4 || one > 1e3 ? one.toExponential(0).replace("e+", "e") : local(String(Number(one.toPrecision(1))))));
}

/** Powers of ten between two heights. @param {any} _ @param {number} _axis @param {number} low @param {number} high */
function tens(_, _axis, low, high) {
  const first = Math.ceil(Math.log10(low));
  return Array.from({ length: Math.floor(Math.log10(high)) - first + 1 }, (_, k) => 10 ** (first + k));
}

/** The name of the axis upward for which there is room. @param {Picture} picture @param {number} height @param {number} large */
function namedUp({ up, brief }, height, large) {
  return brief && 0.62 * LETTERS * large * up.length > height ? brief : up;
}

/** @param {() => Picture} shown @param {any} data @param {HTMLElement} place @param {Size} size @param {number} large */
function plotOf(shown, data, place, size, large) {
  const font = fontOf(large);
  const ink = colourOf("--ink");
  const thin = { width: large };
  const { log, across } = shown();
  const up = namedUp(shown(), size.height, large);
  const axis = {
    stroke: ink,
    font,
    labelFont: font,
    labelSize: 20 * large,
    gap: 5 * large,
    grid: { ...thin, stroke: colourOf("--faint") },
    ticks: { ...thin, stroke: colourOf("--rule"), size: 5 * large },
    border: { ...thin, stroke: colourOf("--rule"), show: true },
  };
  const linear = (/** @type {any} */ _, /** @type {number[]} */ splits, /** @type {number} */ _axis, /** @type {number} */ _space, /** @type {number} */ step) => ticked(splits, step);
  const wide = (/** @type {any} */ _, /** @type {string[] | null} */ values) => (12 + 0.6 * LETTERS * Math.max(3, ...(values ?? []).map((one) => one.length))) * large;
  return new /** @type {any} */ (uPlot)(
    {
      ...size,
      pxAlign: 0,
      padding: [8 * large, null, 0, 0],
      legend: { show: false },
      cursor: { y: false, points: { show: false }, drag: { x: true, y: false, setScale: true } },
      scales: {
        x: {
          time: false,
          range: (/** @type {any} */ plot, /** @type {number} */ low, /** @type {number} */ high) => {
            const times = plot.data?.[0];
            const { from, to } = shown();
            // of all data, and not one that was dragged
            return !times || (low === times[0] && high === times[times.length - 1]) ? [from, to] : [low, high];
          },
        },
        y: { distr: log ? 3 : 1, range: () => [shown().low, shown().top] },
      },
      axes: [
        { ...axis, label: across, size: 29 * large, space: (/** @type {any} */ plot) => (plot.width < 500 * large ? 45 : 70) * large, values: linear },
        { ...axis, label: up, size: wide, space: (/** @type {any} */ plot) => (plot.height < 260 * large ? 26 : 40) * large, ...(log ? { splits: tens, values: (/** @type {any} */ _, /** @type {number[]} */ splits) => decades(splits) } : { values: linear }) },
      ],
      series: [
        {},
        ...LINES.map(({ kind, width, dash, fill }) => ({
          stroke: colourOf(`--${kind}`),
          width: width * large,
          dash: dash.length ? dash.map((one) => one * large * devicePixelRatio) : undefined,
          fill: fill ? colourOf(fill) : undefined,
          points: { show: false },
        })),
      ],
    },
    data,
    place,
  );
}
