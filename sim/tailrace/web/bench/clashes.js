// @ts-check
/** Changes that contradict each other, as `scenario/change_rules.py` has it: they are set apart. */
import { withNeeds } from "../engine/changes.js";
import { EITHER_OR } from "../engine/rules.js";
import { same, withKey } from "./toml_text.js";

/** The same edit, and then `excludes` for changes that cannot be made together and do not say so; those that could not before it, and
 * can now, exclude each other no longer.
 * @param {import("./model.js").Edit} edit @returns {import("./model.js").Edit} */
export function setApart(edit) {
  return (text, tables) => {
    let made = edit(text, tables);
    const changes = made.tables.changes ?? [];
    changes.forEach((/** @type {any} */ one, /** @type {number} */ index) => {
      const were = tables.changes ?? [];
      const parted = (/** @type {string} */ name) => {
        const k = changes.findIndex((/** @type {any} */ other) => other.name === name);
        return were.length === changes.length && k >= 0 && clash(were[index], were[k]) && !clash(one, changes[k]);
      };
      const kept = (one.excludes ?? []).filter((/** @type {string} */ name) => !parted(name));
      const apart = changes.slice(0, index).filter((/** @type {any} */ other) => clash(one, other) && !settledBetween(made.tables.changes, one, other));
      const excludes = [...kept, ...apart.map((/** @type {any} */ other) => other.name)];
      if (same(excludes, one.excludes ?? [])) return;
      const next = withKey(made.text, made.tables, "changes", index, "excludes", excludes.length ? excludes : undefined);
      made = { ...next, rewritten: next.rewritten || made.rewritten };
    });
    return made;
  };
}

/** Whether the file says what comes of both. @param {any[]} changes @param {any} one @param {any} other */
function settledBetween(changes, one, other) {
  const [first, second] = [one, other].map((change) => withNeeds(changes, [change.name]));
  if (first.includes(other.name) || second.includes(one.name)) return true;
  const excluded = (/** @type {string} */ a, /** @type {string} */ b) => changes.some((change) => change.name === a && (change.excludes ?? []).includes(b));
  return first.some((a) => second.some((b) => excluded(a, b) || excluded(b, a)));
}

/** Whether both do something to one part in two ways. @param {any} one @param {any} other */
function clash(one, other) {
  const [ours, theirs] = [done(one), done(other)];
  for (const [name, what] of ours) {
    if (!theirs.has(name)) continue;
    if (what !== "set" || theirs.get(name) !== "set") {
      if (!same(what, theirs.get(name))) return true;
      continue;
    }
    const mine = new Map(Object.entries(one.set[name]).map(([key, value]) => [family(key), [key, value]]));
    if (Object.entries(other.set[name]).some(([key, value]) => mine.has(family(key)) && !same(mine.get(family(key)), [key, value]))) return true;
  }
  const inserted = new Map((one.insert ?? []).map((/** @type {any} */ part) => [part.name, part]));
  return (other.insert ?? []).some((/** @type {any} */ part) => inserted.has(part.name) && !same(inserted.get(part.name), part));
}

/** By part what a change does to it. @param {any} change @returns {Map<string, any>} */
function done(change) {
  return new Map([
    ...Object.keys(change.set ?? {}).map((name) => /** @type {[string, any]} */ ([name, "set"])),
    ...Object.entries(change.replace ?? {}),
    ...(change.remove ?? []).map((/** @type {string} */ name) => /** @type {[string, any]} */ ([name, "removed"])),
  ]);
}

/** Keys of which one excludes the other count as one. @param {string} key */
function family(key) {
  return EITHER_OR.find((pair) => pair.includes(key))?.[0] ?? key;
}
