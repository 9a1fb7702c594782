// @ts-check
/** What a page hands to the browser to keep. */
import { element } from "./dom.js";
import { rowsOfText } from "./rows.js";

/** ms until the browser may forget what it was handed. */
const HELD_FOR = 10000;

/** Offers a text, or a picture, as a file. @param {string} name @param {string | Blob} content @param {string} [type] of a text */
export function download(name, content, type = "text/plain") {
  const address = URL.createObjectURL(typeof content === "string" ? new Blob([content], { type }) : content);
  const link = element("a", { href: address, download: name });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(address), HELD_FOR);
}

/** Offers columns, not all as long, as a file that spreadsheets read; returns how many lines there are, of how many points each.
 * @param {string} name @param {[string, ArrayLike<number>][]} columns heads and numbers */
export function saveColumns(name, columns) {
  const { text, count, every } = rowsOfText(columns);
  download(`${name}.csv`, text, "text/csv");
  return { count, every };
}
