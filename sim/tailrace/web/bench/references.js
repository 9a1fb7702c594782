// @ts-check
/** Tables of a scenario that speak of parts, solutes and changes by their names. */

/** Lists whose rows do. */
export const SPEAKING = ["changes", "uncertain", "measured", "accept", "correlated"];

/** A row of another table where a name has become another, or is gone; undefined: nothing is left.
 * @param {any} row @param {string} list @param {string} old @param {string | undefined} now */
export function followed(row, list, old, now) {
  const next = structuredClone(row);
  const named = (/** @type {any[]} */ names) => names.map((one) => (one === old ? now : one)).filter((one) => one !== undefined);
  const keyed = (/** @type {any} */ map) =>
    Object.fromEntries(Object.entries(map).map(([key, one]) => [key === old ? now : key, one]).filter(([key]) => key !== undefined));
  if (list === "changes") {
    for (const key of ["needs", "excludes", "changes"]) if (Array.isArray(next[key])) next[key] = named(next[key]);
    return next;
  }
  if (list === "solutes") {
    if (next.solute === old) {
      if (now === undefined) return undefined;
      next.solute = now;
    }
    if (Array.isArray(next.pair) && next.pair.includes(old)) {
      if (now === undefined) return undefined;
      next.pair = named(next.pair);
    }
  }
  for (const key of ["set", "replace"]) if (next[key] && typeof next[key] === "object") next[key] = keyed(next[key]);
  for (const key of ["remove", "without"]) if (Array.isArray(next[key]) && list === "path") next[key] = named(next[key]);
  if (Array.isArray(next.insert) && list === "path") {
    next.insert = next.insert.map((/** @type {any} */ one) => {
      for (const side of ["after", "before"]) if (one[side] === old && now !== undefined) one[side] = now;
      return one;
    });
    if (now === undefined) next.insert = next.insert.filter((/** @type {any} */ one) => one.after !== old && one.before !== old);
  }
  if (typeof next.field === "string" && next.field.startsWith(`${old}.`)) {
    if (now === undefined) return undefined;
    next.field = now + next.field.slice(old.length);
  }
  if (Array.isArray(next.fields) && next.fields.some((/** @type {string} */ one) => String(one).startsWith(`${old}.`))) {
    if (now === undefined) return undefined;
    next.fields = next.fields.map((/** @type {string} */ one) => (one.startsWith(`${old}.`) ? now + one.slice(old.length) : one));
  }
  for (const key of ["set", "replace", "remove", "insert", "without", "needs", "excludes"]) {
    const one = next[key];
    if (one && typeof one === "object" && !Object.keys(one).length && Object.keys(row[key]).length) delete next[key];
  }
  return next;
}

/** Whether a change does nothing any more. @param {string} table @param {any} row */
export function emptied(table, row) {
  return table === "changes" && !["set", "remove", "replace", "insert"].some((key) => row[key] && Object.keys(row[key]).length);
}

