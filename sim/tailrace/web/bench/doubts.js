// @ts-check
/** How sure an answer and the best order are, as far as a page can find out: with other plates of the column, and with what is
 * assumed at the ends of what is usual of it. */
import { answer } from "../engine/answer.js";
import { changedBy } from "../engine/changes.js";
import { facts } from "../engine/facts.js";
import { ordering } from "../engine/order.js";
import { settled } from "../engine/resolve.js";
import { micro } from "../engine/units.js";
import { significant } from "../shown/numbers.js";
import { paidOf } from "./alternatives.js";
import { assumedIn } from "./assumed.js";
import { sizeOf, usualOf } from "./forms.js";
import { leadingOf, metricText } from "./results.js";
import { titleOf } from "./titles.js";

/** Share by which the plates of a column are other ones: our own choice. */
const OTHERWISE = 0.1;

/** @typedef {{words: string, tables: any, column: boolean}} Variant */
/**
 * @typedef {object} Asked
 * @property {any} tables of the scenario
 * @property {string} text its file
 * @property {string[]} names of changes that are ticked
 * @property {number} lane of the solute that is looked at
 * @property {any} told of it
 * @property {any} order that was found, or null
 * @property {any[]} changes of which it was found
 * @property {{files: any, straight: boolean}} options
 * @property {number} patience ms that other orders may take
 */

/** @param {any} tables @param {string} name @param {number} index @param {Record<string, any>} values */
function withValues(tables, name, index, values) {
  const list = tables[name];
  const made = Array.isArray(list) ? list.map((one, k) => (k === index ? { ...one, ...values } : one)) : { ...list, ...values };
  return { ...tables, [name]: made };
}

/** With the plates of all columns lower, and higher; none where they are not known. @param {any} tables @param {any} told @returns {Variant[]} */
function columns(tables, told) {
  const beds = tables.path.flatMap((/** @type {any} */ one, /** @type {number} */ index) => (one.part === "column" ? [{ index, plates: one.plates }] : []));
  const own = told.metrics_column?.plates_half_height;
  if (beds.length === 1 && beds[0].plates === undefined) beds[0].plates = own;
  const known = beds.filter((/** @type {any} */ one) => Number.isFinite(one.plates));
  if (!known.length) return [];
  return [-1, 1].map((way) => ({
    words: `plates of the column ${100 * OTHERWISE} % ${way < 0 ? "lower" : "higher"}`,
    tables: known.reduce((/** @type {any} */ made, /** @type {any} */ one) => withValues(made, "path", one.index, { plates: Math.round(one.plates * (1 + way * OTHERWISE)) }), tables),
    column: true,
  }));
}

/** What is usual of a value. @param {string} name @param {any} table @param {string} key @returns {any} */
function usual(name, table, key) {
  const { usual: rows } = facts();
  const row = name === "path" ? usualOf(facts(), table.part, table.name) : name === "injection" && key.startsWith("loop_") ? rows.find((/** @type {any} */ one) => one.name === "loop") : null;
  return row?.ranges[name === "path" ? key : key.replace("loop_", "")];
}

/** With each assumed value at both ends of its usual range. @param {any} tables @param {string} text @returns {Variant[]} */
function assumptions(tables, text) {
  return [...assumedIn(text)].flatMap(([place, keys]) => {
    const [name, index] = place.split(" ");
    const table = Array.isArray(tables[name]) ? tables[name][Number(index)] : tables[name];
    // of a column its plates are others
    return (table.part === "column" ? [] : keys).flatMap((key) => {
      const range = usual(name, table, key);
      if (!range) return [];
      const [low, , high] = range.shown;
      // no loop holds less than is injected
      const least = key === "loop_volume" && sizeOf(String(table.volume), "volume") > sizeOf(low, "volume") ? table.volume : low;
      return [least, high].map((end) => ({
        words: `${key.replaceAll("_", " ")} ${micro(String(end))} (${titleOf(name, table)})`,
        tables: withValues(tables, name, Number(index), { [key]: range.kind === "number" ? Number(end) : end }),
        column: false,
      }));
    });
  });
}

/** Sentences on the answer and on the order; empty where there is nothing to say. It works in pieces.
 * @param {Asked} asked @param {(spread: string) => void} tell of the answer, which is known sooner
 * @returns {Generator<void, string, void>} */
export function* doubting(asked, tell) {
  const { tables, text, told, order } = asked;
  const variants = [...columns(tables, told), ...assumptions(tables, text)];
  tell(yield* otherAnswers(asked, variants));
  return order?.steps?.length ? yield* otherOrders(asked, variants) : "";
}

/** @param {Asked} asked @param {Variant[]} variants @returns {Generator<void, string, void>} */
function* otherAnswers({ names, lane, told, options }, variants) {
  const key = leadingOf(told);
  /** @type {{column: boolean, words: string, value: number}[]} */
  const found = [];
  for (const { tables, words, column } of variants) {
    const shown = names.length ? changedBy(settled(tables, options.files), names) : tables;
    const other = answer(shown, { ...options, platesBack: false, trace: false });
    found.push({ words, column, value: other.refused ? NaN : other.solutes[lane].metrics[key] });
    yield;
  }
  const now = told.metrics[key];
  const said = [true, false].map((column) => {
    const some = found.filter((one) => one.column === column && Number.isFinite(one.value));
    if (!some.length) return "";
    const values = [now, ...some.map((one) => one.value)];
    const ends = [Math.min(...values), Math.max(...values)].map((one) => significant(one, 3));
    const far = some.reduce((most, one) => (Math.abs(one.value - now) > Math.abs(most.value - now) ? one : most));
    const what = column ? `plates of the column ${100 * OTHERWISE} % lower or higher` : "each size that is assumed outside the column at the ends of what is usual";
    return `${ends.join(" to ")} with ${what}${column ? "" : (", farthest with " + far.words)}`;
  });
  const [column, assumed] = said;
  const both = [column, assumed].filter(Boolean).join("; ");
  return both && `The ${metricText(facts(), key, now)} become ${both}.`;
}

/** @param {Asked} asked @param {Variant[]} variants @returns {Generator<void, string, void>} */
function* otherOrders({ order, changes, options, patience }, variants) {
  if (!variants.length) return "";
  if (order.milliseconds * variants.length > patience) return "Whether the order turns with what is not well known is not tried here: it takes long to compute.";
  const paid = paidOf(order);
  const which = paid ? "The order by money" : "This order";
  const steps = (/** @type {any} */ one) => (paid ? one.by_money : one.steps).map((/** @type {any} */ step) => step.change).join("; ");
  const turned = [];
  let left = 0;
  for (const { tables, words } of variants) {
    const other = yield* ordering(tables, changes, { files: options.files });
    if (other.refused !== null) left += 1;
    else if (steps(other) !== steps(order)) turned.push(`with ${words}: ${steps(other) || "none of them"}`);
  }
  const tried = variants.some((one) => !one.column) ? `${variants[0].column ? ("plates of the column " + (100 * OTHERWISE) + " % lower or higher, and with ") : ""}each size that is assumed outside the column at both ends of what is usual` : `plates of the column ${100 * OTHERWISE} % lower or higher`;
  const not = left ? ` ${left} of these ${variants.length} instruments the page cannot compute.` : "";
  return (turned.length ? `${which} is not sure: it is another ${turned.join("; and ")}.` : `${which} stays as it is with ${tried}.`) + not;
}
