// @ts-check
/** How sure an answer and the best order are, as far as a page can find out: with other plates of the column, and with what is
 * assumed at the ends of what is usual of it, or the other way. */
import { answer } from "../engine/answer.js";
import { changedBy } from "../engine/changes.js";
import { facts } from "../engine/facts.js";
import { ordering } from "../engine/order.js";
import { settled } from "../engine/resolve.js";
import { display, micro } from "../engine/units.js";
import { countedText, outward } from "../shown/numbers.js";
import { paidOf } from "./staircase.js";
import { assumedIn } from "./assumed.js";
import { sizeOf, usualOf } from "./forms.js";
import { decimalsOf, leadingOf, metricText } from "./results.js";
import { titleOf } from "./titles.js";
import { otherWays } from "./untold.js";

/** Share by which the plates of a column are other ones: our own choice. */
const OTHERWISE = 0.1;

/** How often a value that cannot be computed with is brought nearer to the assumed one. */
const NEARER = 3;

/** Steps of another order that are named. */
const STEPS_TOLD = 6;

/** @typedef {{words: string, tables: any, column: boolean, way?: boolean, nearer?: () => Variant}} Variant way: it is not a size */
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

/** Plates that a bed of the path has alone. @param {any} tables whose solutes have k @param {any} bed @param {number} lane */
function bedPlates({ method, gradient, injection, solutes }, bed, lane) {
  const found = answer({ method, injection, solutes, ...(gradient ? { gradient } : {}), path: [bed] }, { platesBack: false, trace: false });
  return found.solutes[lane]?.metrics_column.plates_half_height;
}

/** With the plates of all columns lower, and higher; none where they are not known. @param {Asked} asked @returns {Variant[]} */
function columns({ tables, told, lane, options }) {
  const beds = tables.path.flatMap((/** @type {any} */ one, /** @type {number} */ index) => (one.part === "column" ? [{ index, plates: one.plates }] : []));
  if (beds.length === 1) beds[0].plates ??= told.metrics_column?.plates_half_height;
  else if (beds.some((/** @type {any} */ one) => one.plates === undefined)) {
    const known = settled(tables, options.files);
    for (const one of beds) one.plates ??= bedPlates(known, known.path[one.index], lane);
  }
  const known = beds.filter((/** @type {any} */ one) => Number.isFinite(one.plates));
  if (!known.length) return [];
  return [-1, 1].map((way) => ({
    words: `${columnsWords(tables)} ${100 * OTHERWISE} % ${way < 0 ? "lower" : "higher"}`,
    tables: known.reduce((/** @type {any} */ made, /** @type {any} */ one) => withValues(made, "path", one.index, { plates: Math.round(one.plates * (1 + way * OTHERWISE)) }), tables),
    column: true,
  }));
}

/** @param {any} tables */
const columnsWords = ({ path }) => `plates of ${path.filter((/** @type {any} */ one) => one.part === "column").length > 1 ? "all columns" : "the column"}`;

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
      /** @param {any} end @param {number} left @returns {Variant} */
      const at = (end, left) => ({
        words: `${key.replaceAll("_", " ")} ${micro(String(end))} (${titleOf(name, table)})`,
        tables: withValues(tables, name, Number(index), { [key]: range.kind === "number" ? Number(end) : end }),
        column: false,
        ...(left && range.kind !== "number" ? { nearer: () => at(display(Math.sqrt(sizeOf(end, range.kind) * sizeOf(table[key], range.kind)), range.kind, 2), left - 1) } : {}),
      });
      return [at(least, NEARER), at(high, NEARER)];
    });
  });
}

/** Each that is assumed one way, the other way. @param {any} tables @returns {Variant[]} */
const ways = (tables) => otherWays(tables).map(({ words, name, index, values }) => ({ words, tables: withValues(tables, name, index, values), column: false, way: true }));

/** What is otherwise outside the column. @param {Variant[]} variants @param {string} ends */
function outsideWords(variants, ends) {
  const some = variants.filter((one) => !one.column);
  const sizes = some.some((one) => !one.way) ? [`each size that is assumed outside the column at ${ends} of what is usual`] : [];
  return [...sizes, ...some.filter((one) => one.way).map((one) => one.words)].join(", or with ");
}

/** Two ends that hold the value that is shown, in digits that tell them apart; empty: they are that value.
 * @param {string} key @param {string} now as it is shown @param {number[]} values */
function rangeOf(key, now, values) {
  const all = [Number(now), ...values.map((one) => Number(countedText(one, decimalsOf(key))))];
  const [low, high] = [Math.min(...all), Math.max(...all)];
  if (low === high) return "";
  return outward(low, high, decimalsOf(key));
}

/** Sentences on the answer and on the order; empty where there is nothing to say. It works in pieces.
 * @param {Asked} asked @param {(spread: string) => void} tell of the answer, which is known sooner
 * @returns {Generator<void, string, void>} */
export function* doubting(asked, tell) {
  const { tables, text, order } = asked;
  const variants = [...columns(asked), ...assumptions(tables, text), ...ways(tables)];
  tell(yield* otherAnswers(asked, variants));
  return order?.steps?.length ? yield* otherOrders(asked, variants) : "";
}

/** What is found with a variant, or with the nearest to it that can be computed; and a sentence where that is another.
 * @template T @param {Variant} variant @param {(variant: Variant) => Generator<void, T & {refused: string | null}, void>} find
 * @returns {Generator<void, {found: T, words: string, not: string}, void>} */
function* nearest(variant, find) {
  let one = variant;
  let found = yield* find(one);
  const why = (found.refused ?? "").split(/; the program|\.$/)[0];
  while (found.refused !== null && one.nearer) {
    one = one.nearer();
    found = yield* find(one);
  }
  const not = why && ` With ${variant.words} the page cannot compute it (${why}); ${found.refused === null ? "in its place stands " + one.words : "what it changes is not known"}.`;
  return { found, words: one.words, not };
}

/** @param {Asked} asked @param {Variant[]} variants @returns {Generator<void, string, void>} */
function* otherAnswers({ tables, names, lane, told, options }, variants) {
  const key = leadingOf(told);
  /** @type {{column: boolean, words: string, value: number}[]} */
  const found = [];
  let nots = "";
  for (const variant of variants) {
    const { found: other, words, not } = yield* nearest(variant, function* (one) {
      yield;
      return answer(names.length ? changedBy(settled(one.tables, options.files), names) : one.tables, { ...options, platesBack: false, trace: false });
    });
    nots += not;
    found.push({ words, column: variant.column, value: other.refused ? NaN : other.solutes[lane].metrics[key] });
  }
  const now = told.metrics[key];
  const said = [true, false].map((column) => {
    const some = found.filter((one) => one.column === column && Number.isFinite(one.value));
    if (!some.length) return "";
    const range = rangeOf(key, metricText(facts(), key, now), some.map((one) => one.value));
    const far = some.reduce((most, one) => (Math.abs(one.value - now) > Math.abs(most.value - now) ? one : most));
    const what = column ? `${columnsWords(tables)} ${100 * OTHERWISE} % lower or higher (our own choice)` : outsideWords(variants, "the ends");
    if (!range) return `stay the same to the digits shown with ${what}`;
    return `become ${range} with ${what}${column || some.length === 1 ? "" : ", farthest with " + far.words}`;
  });
  const both = said.filter(Boolean).join("; they ");
  return both && `The ${metricText(facts(), key, now)} ${both}.${nots}`;
}

/** Steps of another order: of many the first, if it is among these that it differs. @param {string[]} others @param {string[]} own */
function stepsWords(others, own) {
  const cut = others.length > STEPS_TOLD + 1 && others.slice(0, STEPS_TOLD).some((one, k) => one !== own[k]);
  return cut ? `${others.slice(0, STEPS_TOLD).join("; ")}; and ${others.length - STEPS_TOLD} more` : others.join("; ");
}

/** @param {Asked} asked @param {Variant[]} variants @returns {Generator<void, string, void>} */
function* otherOrders({ tables: own, order, changes, options, patience }, variants) {
  if (!variants.length) return "";
  if (order.milliseconds * variants.length > patience) return "Whether the order turns with what is not well known is not tried here: it takes long to compute.";
  const paid = paidOf(order);
  const which = paid ? "The order by money" : "This order";
  const steps = (/** @type {any} */ one) => (paid ? one.by_money : one.steps).map((/** @type {any} */ step) => step.change);
  const was = steps(order);
  const turned = [];
  let nots = "";
  for (const variant of variants) {
    const { found: other, words, not } = yield* nearest(variant, (one) => ordering(one.tables, changes, { files: options.files, straight: options.straight }));
    nots += not;
    const others = other.refused === null ? steps(other) : was;
    if (others.join("; ") !== was.join("; ")) turned.push(`with ${words}: ${stepsWords(others, was) || "none of them"}`);
  }
  const column = variants[0].column ? [`${columnsWords(own)} ${100 * OTHERWISE} % lower or higher`] : [];
  const tried = [...column, ...(variants.some((one) => !one.column) ? [outsideWords(variants, "both ends")] : [])];
  return (turned.length ? `${which} is not sure: it is another ${turned.join("; and ")}.` : `${which} stays as it is with ${tried.join(", and with ")}.`) + nots;
}
