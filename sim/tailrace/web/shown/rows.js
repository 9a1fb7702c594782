// @ts-check
/** Columns of numbers as lines of a text. */

/** Lines that every spreadsheet takes, old ones too, with that of the heads. */
const MOST_LINES = 65536;

/** Columns, not all as long, as text between commas; of more lines than a spreadsheet takes every so-manieth.
 * @param {[string, ArrayLike<number>][]} columns heads and numbers */
export function rowsOfText(columns) {
  const heads = columns.map(([head]) => (/[",]/.test(head) ? `"${head.replaceAll('"', '""')}"` : head));
  const longest = Math.max(...columns.map(([, values]) => values.length));
  const every = Math.max(1, Math.ceil(longest / (MOST_LINES - 1)));
  const count = Math.ceil(longest / every);
  const rows = Array.from({ length: count }, (_, k) => columns.map(([, values]) => (k * every < values.length ? Number(values[k * every].toPrecision(8)) : "")));
  return { text: `${[heads, ...rows].map((row) => row.join(",")).join("\n")}\n`, count, every };
}
