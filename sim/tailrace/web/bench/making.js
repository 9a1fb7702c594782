// @ts-check
/** The edits that lead from a scenario to what a change makes of it. */
import { changedBy } from "../engine/changes.js";
import { Model } from "./model.js";
import { same, withItem, withKey, withTable, withoutItem } from "./toml_text.js";

const SET_TABLES = ["method", "injection", "detector", "limits"];

/** @param {any} now @param {any} next the scenario after a change @returns {import("./model.js").Edit[]} */
function editsTo(now, next) {
  /** @type {import("./model.js").Edit[]} */
  const edits = [];
  for (const name of SET_TABLES) edits.push(...keyEdits(name, 0, now[name] ?? {}, next[name] ?? {}));
  const kept = new Set(next.path.map((/** @type {any} */ one) => one.name));
  const names = now.path.map((/** @type {any} */ one) => one.name);
  for (let k = names.length - 1; k >= 0; k -= 1) {
    if (kept.has(names[k])) continue;
    names.splice(k, 1);
    edits.push((text, tables) => withoutItem(text, tables, "path", k));
  }
  next.path.forEach((/** @type {any} */ part, /** @type {number} */ k) => {
    const was = now.path.find((/** @type {any} */ one) => one.name === part.name);
    if (names[k] !== part.name) {
      names.splice(k, 0, part.name);
      edits.push((text, tables) => withItem(text, tables, "path", k, part));
    } else if (was.part !== part.part) edits.push((text, tables) => withTable(text, tables, "path", k, part));
    else edits.push(...keyEdits("path", k, was, part));
  });
  return edits;
}

/** @param {string} name @param {number} index @param {any} was @param {any} part
 * @returns {import("./model.js").Edit[]} */
function keyEdits(name, index, was, part) {
  return [...new Set([...Object.keys(was), ...Object.keys(part)])]
    .filter((key) => !same(was[key], part[key]))
    .map((key) => (text, tables) => withKey(text, tables, name, index, key, part[key]));
}

/** The scenario with a change in it that is no change any more. @param {Model} model @param {string} name */
export function withMade(model, name) {
  const next = changedBy(model.tables, [name]);
  const made = new Model(model.text, model.fileName);
  const kept = new Set(next.path.map((/** @type {any} */ one) => one.name));
  for (let k = made.tables.path.length - 1; k >= 0; k -= 1) if (!kept.has(made.tables.path[k].name)) made.remove("path", k);
  made.all("", editsTo(made.tables, next));
  const at = (made.tables.changes ?? []).findIndex((/** @type {any} */ one) => one.name === name);
  if (at >= 0) made.remove("changes", at);
  return made;
}
