// @ts-check
/** Solutes whose retention time is typed, beside an answer that is pinned. */
import { settled } from "../engine/resolve.js";
import { significant } from "../shown/numbers.js";

const SAME = 1e-3;

/** Retention factors by the names of solutes whose time is typed.
 * @param {any} tables @param {any} files @returns {Map<string, number>} */
export function fitted(tables, files) {
  const typed = tables.solutes.map((/** @type {any} */ one) => one.retention_time !== undefined);
  if (!typed.includes(true)) return new Map();
  const known = settled(tables, files).solutes;
  return new Map(tables.solutes.map((/** @type {any} */ { name }, /** @type {number} */ k) => [name, known[k].retention_factor]).filter((/** @type {any} */ _, /** @type {number} */ k) => typed[k]));
}

/** Says which solutes are others now than on the instrument that is pinned; empty: none.
 * @param {Map<string, number>} before @param {any} tables @param {any} files */
export function refitted(before, tables, files) {
  if (!before.size) return "";
  const told = [...fitted(tables, files)].flatMap(([name, k]) => {
    const was = before.get(name) ?? NaN;
    return Math.abs(k / was - 1) > SAME ? [`${name}: ${significant(was)} before, ${significant(k)} now`] : [];
  });
  return told.length
    ? `Retention times are typed, and k is found from them on each instrument anew, so that peaks stay where they are (k of ${told.join("; ")}). To compare the same solutes, give k in place of the time.`
    : "";
}
