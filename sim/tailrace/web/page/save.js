// The picture and the numbers as files.

import { download } from "../bench/saved.js";
import { added } from "./draw.js";

const KEPT = [
  "fill",
  "fill-opacity",
  "stroke",
  "stroke-width",
  "stroke-dasharray",
  "stroke-linecap",
  "stroke-linejoin",
  "stroke-opacity",
  "font-size",
  "font-weight",
];

/** From one line of letters to the next above a saved picture. */
const LINE = 20;

/**
 * An SVG element as a file that looks like it does here, below its title, the names of its lines and notes.
 * @param {SVGSVGElement} svg @param {string} name @param {string[]} notes
 */
export function savePicture(svg, name, notes) {
  const copy = /** @type {SVGSVGElement} */ (svg.cloneNode(true));
  const { width, height } = svg.viewBox.baseVal;
  const drawn = svg.children.length;
  svg.after(copy);
  let [x, y] = [8, LINE];
  /** Text behind what is there, with a line of this kind before it; on the next line where it has no room. */
  const put = (/** @type {string} */ text, /** @type {Record<string, string | undefined>} */ style, kind = "") => {
    const letters = added(copy, "text", style, text);
    const wide = (kind ? 60 : 5) + /** @type {SVGTextElement} */ (letters).getComputedTextLength();
    if (x > 8 && x + wide > width) [x, y] = [8, y + LINE];
    if (kind) added(copy, "path", { class: kind, d: `M${x} ${y - 4}h34` });
    letters.setAttribute("x", String(x + (kind ? 40 : 0)));
    letters.setAttribute("y", String(y));
    x += wide;
  };
  const title = svg.closest("figure")?.querySelector("figcaption")?.textContent?.trim() ?? "";
  for (const text of [title, ...notes]) {
    /** @type {Record<string, string>} */
    const style = text === title ? { "font-weight": "bold" } : {};
    for (const piece of text.split(/(?<=;) /)) put(piece, style);
    [x, y] = [8, y + LINE];
  }
  for (const one of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll("#legend li"))) {
    const { kind } = one.dataset;
    if (svg.querySelector(`path.${kind}`)) put(one.textContent?.trim() ?? "", {}, kind);
  }
  const above = y + 8;
  for (const one of [...copy.children].slice(drawn))
    one.setAttribute("transform", `translate(0 ${-above})`);
  const size = { viewBox: `0 ${-above} ${width} ${height + above}`, width, height: height + above };
  for (const [key, value] of Object.entries(size)) copy.setAttribute(key, String(value));
  for (const element of copy.querySelectorAll("*")) {
    const style = getComputedStyle(element);
    for (const key of KEPT) element.setAttribute(key, style.getPropertyValue(key));
  }
  copy.remove();
  copy.setAttribute("xmlns", "http://www.w3.org/2000/svg");
  copy.setAttribute("font-family", "DejaVu Sans, Verdana, sans-serif");
  copy.style.background = getComputedStyle(document.body).backgroundColor;
  download(`${name}.svg`, new XMLSerializer().serializeToString(copy), "image/svg+xml");
}

/**
 * Lines as a table with one time axis each.
 * @param {{label: string, unit: string, times: ArrayLike<number>, heights: ArrayLike<number>}[]} lines
 * @param {string} name
 */
export function saveTable(lines, name) {
  const quoted = (/** @type {string} */ text) => `"${text.replaceAll('"', '""')}"`;
  const heads = lines.flatMap(({ label, unit }) => [quoted(`${label}: time, s`), quoted(`${label}, ${unit}`)]);
  const rows = [heads.join(",")];
  const most = Math.max(...lines.map((one) => one.times.length));
  for (let n = 0; n < most; n += 1) {
    rows.push(
      lines
        .map(({ times, heights }) =>
          n < times.length ? `${times[n].toPrecision(8)},${heights[n].toPrecision(6)}` : ",",
        )
        .join(","),
    );
  }
  download(`${name}.csv`, `${rows.join("\n")}\n`, "text/csv");
}
