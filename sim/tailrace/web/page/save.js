// The picture and the numbers as files.

/**
 * @param {string} name @param {string} text @param {string} type
 */
function handed(name, text, type) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([text], { type }));
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 1000);
}

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
];

/**
 * An SVG element as a file that looks like it does here.
 * @param {SVGSVGElement} svg @param {string} name
 */
export function savePicture(svg, name) {
  const copy = /** @type {SVGSVGElement} */ (svg.cloneNode(true));
  const [there, here] = [svg.querySelectorAll("*"), copy.querySelectorAll("*")];
  there.forEach((element, n) => {
    const style = getComputedStyle(element);
    for (const key of KEPT) here[n].setAttribute(key, style.getPropertyValue(key));
  });
  copy.setAttribute("xmlns", "http://www.w3.org/2000/svg");
  copy.setAttribute("font-family", "DejaVu Sans, Verdana, sans-serif");
  const ground = getComputedStyle(document.body).backgroundColor;
  copy.setAttribute("style", `background:${ground}`);
  handed(`${name}.svg`, new XMLSerializer().serializeToString(copy), "image/svg+xml");
}

/**
 * Lines as a table with one time axis each.
 * @param {{label: string, times: ArrayLike<number>, heights: ArrayLike<number>}[]} lines
 * @param {string} unit of the heights
 * @param {string} name
 */
export function saveTable(lines, unit, name) {
  const quoted = (/** @type {string} */ text) => `"${text.replaceAll('"', '""')}"`;
  const heads = lines.flatMap(({ label }) => [quoted(`${label}: time, s`), quoted(`${label}, ${unit}`)]);
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
  handed(`${name}.csv`, `${rows.join("\n")}\n`, "text/csv");
}
