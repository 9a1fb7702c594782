// @ts-check
/** What is ticked, for the sheet of paper: sizes before and after, cost and effort. */
import { element, tableOf } from "../shown/dom.js";
import { money } from "../shown/numbers.js";
import { sizesOf } from "./titles.js";

/** Names of what a change touches: parts, and tables of the scenario. @param {any} change */
function touched({ set = {}, replace = {}, remove = [], insert = [] }) {
  return [...new Set([...Object.keys(set), ...Object.keys(replace), ...remove, ...insert.map((/** @type {any} */ one) => one.name)])];
}

/** Sizes of a part or a table, as they are typed; empty: there is none. @param {any} tables @param {string} name */
function sizesIn(tables, name) {
  const part = tables.path.find((/** @type {any} */ one) => one.name === name);
  if (part) return sizesOf("path", part, tables);
  return name in tables && name !== "path" ? sizesOf(name, tables[name], tables) : "";
}

/** Name, before, after, cost and effort of each change that is ticked; what it touches besides stands in rows of its own.
 * @param {any} before tables as they are @param {any} after with all that is ticked @param {string[]} names of what is ticked
 * @returns {string[][]} */
export function tickedRows(before, after, names) {
  return names.flatMap((name) => {
    const change = before.changes.find((/** @type {any} */ one) => one.name === name);
    return touched(change).map((one, k) => {
      const other = change.replace?.[one]?.name ?? one;
      const now = sizesIn(after, other);
      return [
        k ? "" : name,
        one,
        sizesIn(before, one) || "not there",
        now ? `${other === one ? "" : ("" + other + ": ")}${now}` : "taken out",
        k ? "" : money(change.cost ?? 0),
        k ? "" : String(change.effort ?? "0 min"),
      ];
    });
  });
}

/** Rows of a table of what is ticked; of more the sheet tells in running text. */
const MOST_ROWS = 4;

/** @param {string[][]} rows */
export function tickedTable(rows) {
  if (rows.length > MOST_ROWS) return runningText(rows);
  const several = rows.filter(([name]) => name).length > 1;
  return rows.length ? tableOf("Changes in these numbers", ["Change", "of", "before", several ? "after, with all of them" : "after", "cost", "effort"], rows) : "";
}

/** The same where a table would be too tall for the sheet. @param {string[][]} rows */
function runningText(rows) {
  const told = rows.map(([name, of, before, after, cost, effort]) => `${name ? (name + " (costs " + cost + ", " + effort + "): ") : ""}${of} ${unlike(before, after)}`);
  return element("p", {}, element("strong", {}, "Changes in these numbers: "), `${told.join("; ")}.`);
}

/** Sizes before and after, without those that stay. @param {string} before @param {string} after */
function unlike(before, after) {
  const [was, now] = [before, after].map((one) => one.split(/, | × /));
  if (was.length !== now.length) return `${before} → ${after}`;
  const differ = was.flatMap((one, k) => (one === now[k] ? [] : [k]));
  return `${differ.map((k) => was[k]).join(", ")} → ${differ.map((k) => now[k]).join(", ")}`;
}
