// A scenario after some of its changes: as `scenario/changed.py`. What stays as it is, is shared.

import { facts } from "./facts.js";
import { isTable, tablesOf } from "./reading.js";
import { EITHER_OR } from "./rules.js";
import { quantity } from "./units.js";

/** @typedef {import("./reading.js").Table} Table */
/** @typedef {{name: unknown, part: Table | null}} Slot what was here at first, and what is there now */

const TWO_OF = ["volume", "length", "bore"];
const OF_THE_START = ["columns", "changes", "uncertain", "correlated", "accept", "reading", "drift", "retest", "measured", "page"];
const OTHERS = ["injection", "detector", "method"];

/**
 * @param {Table} scenario
 * @param {string[]} names of changes, with all that they need
 * @returns {Table} it has no changes of its own
 */
export function changedBy(scenario, names) {
  /** @type {Table} */
  const made = Object.fromEntries(Object.entries(scenario).filter(([key]) => !OF_THE_START.includes(key)));
  const changes = tablesOf(scenario.changes);
  const slots = tablesOf(scenario.path).map((part) => ({ name: part.name, part }));
  for (const name of withNeeds(changes, names)) {
    const change = changes.find((one) => one.name === name);
    if (change && names.includes(name)) make(change, slots, made);
  }
  made.path = slots.filter((slot) => slot.part !== null).map((slot) => slot.part);
  return stating(scenario, dosed(scenario, made));
}

/** Of the same sample: amounts go with the injected volume. @param {Table} before @param {Table} after @returns {Table} */
function dosed(before, after) {
  const share = injectedShare(before.injection, after.injection);
  if (!(share > 0) || share === 1) return after;
  const amount = (/** @type {string} */ one) => `${Number((quantity(one, "amount") * share).toPrecision(12))} mol`;
  return { ...after, solutes: tablesOf(after.solutes).map((one) => ("amount" in one ? merged(one, once({ amount: amount(one.amount) })) : one)) };
}

/** How much is injected after a change, over what was; NaN where either has no volume. @param {Table} before @param {Table} after */
export function injectedShare(before, after) {
  try {
    return quantity(after.volume, "volume") / quantity(before.volume, "volume");
  } catch {
    return NaN;
  }
}

/** Keys of the method with those that say where what is stated holds. */
const STATED = { temperature: "stated_temperature", flow: "stated_flow" };

/**
 * A scenario after a change, which says where it stands what was stated before it: retention,
 * diffusivities, a given viscosity and plates hold at temperature and flow of the file.
 * @param {Table} before @param {Table} after
 * @returns {Table}
 */
export function stating(before, after) {
  const usual = { temperature: facts().tables.method.fields.temperature.default };
  /** @type {[Table, Table]} */
  const [was, now] = [{ ...usual, ...before.method }, { ...usual, ...after.method }];
  const missing = Object.entries(STATED).filter(([key, stated]) => !(stated in now) && key in was && was[key] !== now[key]);
  const kept = Object.fromEntries(missing.map(([key, stated]) => [stated, was[key]]));
  /** @type {Table} */
  const made = missing.length ? { ...after, method: merged(after.method, once(kept)) } : { ...after };
  const separates = (/** @type {Table} */ one) => Boolean(facts().parts[one.part]?.separates);
  const beds = tablesOf(before.path).filter(separates);
  made.path = tablesOf(after.path).map((part) => {
    if (!separates(part) || STATED.temperature in part) return part;
    // a column of another name stands in for the only one
    const one = tablesOf(before.path).find(({ name }) => name === part.name) ?? (beds.length === 1 ? beds[0] : part);
    if (part.temperature === one.temperature) return part;
    return merged(part, once({ [STATED.temperature]: one.temperature ?? was[STATED.temperature] ?? was.temperature }));
  });
  return made;
}

/** @type {Map<string, Table>} */
const tablesKept = new Map();

/** The same table for the same values. @param {Table} values */
function once(values) {
  const key = JSON.stringify(values);
  const found = tablesKept.get(key) ?? values;
  tablesKept.set(key, found);
  return found;
}

/**
 * Changes and all that they need, in an order in which they can be made.
 * @param {Table[]} changes
 * @param {string[]} names
 * @returns {string[]}
 */
export function withNeeds(changes, names) {
  /** @type {string[]} */
  const ordered = [];
  const seen = new Set();
  const visit = (/** @type {string} */ name) => {
    const change = changes.find((one) => one.name === name);
    if (!change || seen.has(name)) return;
    seen.add(name);
    for (const need of change.needs ?? []) visit(need);
    ordered.push(name);
  };
  for (const { name } of changes) if (names.includes(name)) visit(name);
  return ordered;
}

/**
 * @param {Table} change
 * @param {Slot[]} slots
 * @param {Table} made
 */
function make(change, slots, made) {
  for (const [name, fresh] of Object.entries(change.set ?? {})) {
    const slot = slotOf(slots, name);
    if (OTHERS.includes(name)) made[name] = merged(made[name] ?? {}, fresh);
    else if (slot?.part) slot.part = merged(slot.part, fresh);
  }
  for (const [name, fresh] of Object.entries(change.replace ?? {})) {
    const slot = slotOf(slots, name);
    if (slot?.part && isTable(fresh)) slot.part = { name, ...fresh };
  }
  for (const name of change.remove ?? []) {
    const slot = slotOf(slots, name);
    if (slot) slot.part = null;
  }
  for (const fresh of tablesOf(change.insert)) insert(fresh, slots);
}

/** @param {Table} fresh @param {Slot[]} slots */
function insert(fresh, slots) {
  const { after, before, ...part } = fresh;
  const anchor = slotOf(slots, after ?? before);
  const same = JSON.stringify(part);
  if (!anchor || slots.some((slot) => JSON.stringify(slot.part) === same)) return;
  slots.splice(slots.indexOf(anchor) + (after === undefined ? 0 : 1), 0, { name: part.name, part });
}

/** @param {Slot[]} slots @param {unknown} name @returns {Slot | undefined} */
function slotOf(slots, name) {
  return slots.find((slot) => slot.part?.name === name) ?? slots.find((slot) => slot.name === name);
}

/** @type {WeakMap<Table, WeakMap<Table, Table>>} */
const mergers = new WeakMap();

/**
 * A table with new values over its own; a new key takes the place of one that it excludes.
 * The same two tables give the same one.
 * @param {Table} values
 * @param {Table} fresh
 * @returns {Table}
 */
export function merged(values, fresh) {
  let known = mergers.get(values);
  if (!known) mergers.set(values, (known = new WeakMap()));
  const before = known.get(fresh);
  if (before) return before;
  const dropped = EITHER_OR.flatMap((pair) =>
    pair.some((key) => key in fresh) ? pair.filter((key) => !(key in fresh)) : [],
  );
  let made = {
    ...Object.fromEntries(Object.entries(values).filter(([key]) => !dropped.includes(key))),
    ...fresh,
  };
  if (TWO_OF.every((key) => key in made)) {
    const [oldest] = TWO_OF.filter((key) => !(key in fresh));
    made = Object.fromEntries(Object.entries(made).filter(([key]) => key !== oldest));
  }
  known.set(fresh, made);
  return made;
}

/** @param {Table} scenario how many parts of its path heat what passes */
export function heatersOf(scenario) {
  return tablesOf(scenario.path).filter((part) => part.heater === true).length;
}

/**
 * A sentence for each value of a part that lies outside what is usual of such parts.
 * @param {string} kind
 * @param {Record<string, any>} part in SI
 * @param {(value: number, kind: string) => string} shown
 * @returns {{key: string, sentence: string}[]}
 */
export function unusualOf(kind, part, shown) {
  const name = String(part.name ?? "").toLowerCase();
  const row = facts().usual.find(
    (/** @type {any} */ one) =>
      one.part === kind &&
      (!one.words.length || one.words.some((/** @type {string} */ word) => name.includes(word))),
  );
  return Object.entries(row?.ranges ?? {}).flatMap(([key, range]) => {
    const [low, high] = range.limits;
    const value = part[key];
    if (
      typeof value !== "number" ||
      Number.isNaN(value) ||
      (low * (1 - 1e-6) <= value && value <= high * (1 + 1e-6))
    )
      return [];
    const [least, , most] = range.shown;
    return [
      {
        key,
        sentence:
          `${part.name}: ${key} ${shown(value, range.kind)} lies outside what is usual of a ${row.name}, ` +
          `${least} to ${most} (common practice, no source); check the value and its unit`,
      },
    ];
  });
}
