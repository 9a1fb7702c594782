// @ts-check
/** Elements made from texts and never from markup. */

/** @typedef {Node | string | number | null | undefined | false} Child */

/** An element with attributes, listeners (`onclick: f`) and children; texts stay texts.
 * @param {string} tag @param {Record<string, any>} [attributes] @param {...(Child | Child[])} children
 * @returns {any} */
export function element(tag, attributes = {}, ...children) {
  return filled(document.createElement(tag), attributes, children);
}

/** The same in a drawing. @param {string} tag @param {Record<string, any>} [attributes]
 * @param {...(Child | Child[])} children @returns {any} */
export function drawn(tag, attributes = {}, ...children) {
  return filled(document.createElementNS("http://www.w3.org/2000/svg", tag), attributes, children);
}

/** @param {Element} made @param {Record<string, any>} attributes @param {(Child | Child[])[]} children */
function filled(made, attributes, children) {
  for (const [name, value] of Object.entries(attributes)) {
    if (value === undefined || value === null || value === false) continue;
    if (typeof value === "function") made.addEventListener(name.slice(2), value);
    else made.setAttribute(name, value === true ? "" : String(value));
  }
  for (const child of children.flat()) {
    if (child instanceof Node) made.append(child);
    else if (child !== null && child !== undefined && child !== false) made.append(String(child));
  }
  return made;
}

/** Children without listeners in place of those that there are. What is as it was stays: a browser
 * then lays out and paints less. @param {Element} place @param {...(Child | Child[])} children */
export function put(place, ...children) {
  const made = filled(/** @type {Element} */ (place.cloneNode(false)), {}, children);
  inPlace(place, made);
}

/** @param {Element} place @param {Element} made */
function inPlace(place, made) {
  const fresh = [...made.childNodes];
  fresh.forEach((one, k) => {
    const old = place.childNodes[k];
    if (!old) place.append(one);
    else if (old.isEqualNode(one)) return;
    else if (old.nodeName !== one.nodeName) old.replaceWith(one);
    else if (old instanceof Text) old.data = /** @type {Text} */ (one).data;
    else become(/** @type {any} */ (old), /** @type {any} */ (one));
  });
  while (place.childNodes.length > fresh.length) place.lastChild?.remove();
}

/** @param {HTMLElement} old @param {HTMLElement} made */
function become(old, made) {
  for (const { name, value } of made.attributes) {
    if (name !== "style" && old.getAttribute(name) !== value) old.setAttribute(name, value);
  }
  for (const { name } of [...old.attributes]) if (!made.hasAttribute(name)) old.removeAttribute(name);
  // the page's policy allows styles of single elements from scripts only
  if (old.style.cssText !== made.style.cssText) old.style.cssText = made.style.cssText;
  inPlace(old, made);
}

/** Lengths that were asked for: to ask again would have the browser lay out the page at once.
 * @type {Map<any, number>} */
const lengths = new Map();
const watcher = new ResizeObserver((seen) => {
  for (const one of seen) lengths.delete(one.target);
});
addEventListener("resize", () => lengths.clear());

/** @param {any} of @param {() => number} ask */
function remembered(of, ask) {
  if (!lengths.has(of)) lengths.set(of, ask());
  return /** @type {number} */ (lengths.get(of));
}

/** Inner width, CSS pixels. @param {Element} node */
export function innerWidthOf(node) {
  watcher.observe(node);
  return remembered(node, () => node.clientWidth);
}

/** Height of the window, CSS pixels. */
export function windowHeight() {
  return remembered("window", () => innerHeight);
}

/** How much larger letters are than on a small screen: drawings grow alike. */
export function zoom() {
  return remembered("zoom", () => parseFloat(getComputedStyle(document.documentElement).fontSize) / 15);
}

/** What has this id. @param {string} id @returns {any} */
export function byId(id) {
  return document.getElementById(id);
}

/** A row of a table; its first cell is its heading. @param {(Child | Child[])[]} cells @returns {any} */
export function tableRow(cells) {
  return element("tr", {}, cells.map((cell, k) => element(k ? "td" : "th", k ? {} : { scope: "row" }, cell)));
}

/** A table with a caption; the first cell of a row is its heading. Numbers come as text.
 * @param {string} caption @param {Child[]} heads @param {Child[][]} rows @param {Record<string, any>} [attributes] */
export function tableOf(caption, heads, rows, attributes = {}) {
  const head = element("tr", {}, heads.map((one) => element("th", { scope: "col" }, one)));
  const table = element(
    "table",
    attributes,
    element("caption", {}, caption),
    element("thead", {}, head),
    element("tbody", {}, rows.map(tableRow)),
  );
  return element("div", { class: "wide", role: "region", tabindex: 0, "aria-label": caption }, table);
}

const SHOWN_FOR = 7000;
let silence = 0;

/** Said by a screen reader, and shown for a while, or until something else is. @param {string} text @param {boolean} [stays] */
export function say(text, stays = false) {
  const place = byId("said");
  place.textContent = "";
  place.textContent = text;
  clearTimeout(silence);
  if (stays) return;
  silence = window.setTimeout(() => {
    place.textContent = "";
  }, SHOWN_FOR);
}
