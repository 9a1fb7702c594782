// @ts-check
/** What one sheet of paper has room for: the fuller it is, the lower the picture, and of many measured peaks one is told. */

/** Measured peaks of which all are printed. */
const PEAKS_PRINTED = 6;
/** px of the picture. */
const ACROSS = 705;
const LEAST_TALL = 70;
const MOST_TALL = 260;
/** px that a row of a table takes, and a line of text, with so many letters. */
const ROW_TALL = 12;
const LINE_TALL = 11.5;
const LINE_LONG = 125;
/** px that are there for the picture where the sheet holds nothing else that varies. */
const ON_SHEET_FREE = 595;
/** px that are won where all stands closer together. */
const CLOSER = 50;
/** Tables that may be long, and texts. */
const LONG_TABLES = ["ticked", "parts", "steps"];
const LONG_TEXTS = ["basis", "ticked > p", "grounds", "warnings", "measured > .left-out", "order-sure"];

/** @param {string} of */
const rowsPrinted = (of) => document.querySelectorAll(`#${of}:not([hidden]) tbody tr`).length;

/** @param {string} of */
function linesPrinted(of) {
  return [...document.querySelectorAll(`#${of}:not([hidden])`)].reduce((sum, one) => sum + Math.ceil((one.textContent ?? "").length / LINE_LONG), 0);
}

/** px that are left for the picture. @param {boolean} full all is closer together
 * @param {number} peaks measured ones that are told in a table */
function leftFor(full, peaks) {
  const beside = Math.max(rowsPrinted("peak"), 2 * rowsPrinted("pairs") + linesPrinted("whole"));
  const rows = LONG_TABLES.reduce((sum, one) => sum + rowsPrinted(one), beside + (peaks ? peaks + 2 : 0));
  return ON_SHEET_FREE + (full ? CLOSER : 0) - ROW_TALL * rows - LINE_TALL * LONG_TEXTS.reduce((sum, one) => sum + linesPrinted(one), 0);
}

/** Size of the picture on paper; it follows what else is printed. */
export function onSheet() {
  const size = { width: ACROSS, height: LEAST_TALL };
  addEventListener("beforeprint", () => {
    const peaks = rowsPrinted("measured");
    const full = leftFor(false, peaks) < LEAST_TALL;
    const few = full || peaks > PEAKS_PRINTED;
    document.documentElement.classList.toggle("full", full);
    document.documentElement.classList.toggle("few", few);
    size.height = Math.round(Math.max(LEAST_TALL, Math.min(MOST_TALL, leftFor(full, few ? 0 : peaks))));
  });
  return size;
}
