// @ts-check
/** What a scenario does not say and the answers take one way of two: how a loop is emptied, how a cell or a chamber is mixed.
 * As the program's doubts: `parts/tube/loop`, `parts/cell`, `parts/chamber`. */
import { quantity } from "../engine/units.js";

/** Share of a loop that is filled, from which it counts as full. */
const FULL = 0.999;

/** Tanks of a chamber that is next to unmixed. */
const MANY_TANKS = 10;

/** A length that says of a cell that it is read along its axis; spreading does not depend on it. */
const ANY_LENGTH = "10 mm";

/** Whether nobody has said how a loop is emptied, and it makes a difference, since it is filled in part. @param {any} injection */
export function emptyingUntold(injection) {
  if (injection?.shape !== "loop" || injection.emptied !== undefined) return false;
  const { loop_bore: bore, loop_length: length, loop_volume: holds, volume } = injection;
  try {
    const whole = holds === undefined ? (Math.PI / 4) * quantity(bore, "bore") ** 2 * quantity(length, "length") : quantity(holds, "volume");
    return quantity(volume, "volume") < FULL * whole;
  } catch {
    return false;
  }
}

/** Whether nobody has said how a part is mixed. @param {any} part its table */
export function mixingUntold(part) {
  if (part.part === "chamber") return part.tanks === undefined;
  return part.part === "cell" && !["tanks", "length", "read"].some((key) => key in part);
}

/** Each the other way, in words, and what its table says then.
 * @param {any} tables @returns {{words: string, name: string, index: number, values: Record<string, any>}[]} */
export function otherWays({ path, injection, detector, changes = [] }) {
  const others = changes.map((/** @type {any} */ one) => one.set?.injection).filter(Boolean);
  const loop = [injection, ...others.map((/** @type {any} */ one) => ({ ...injection, ...one }))].some(emptyingUntold);
  const cells = path.flatMap((/** @type {any} */ one, /** @type {number} */ index) => (one.part === "cell" ? [index] : []));
  const named = path.findIndex((/** @type {any} */ one) => one.name === detector?.cell);
  const last = named >= 0 ? named : (cells.at(-1) ?? path.length);
  const mixed = path.flatMap((/** @type {any} */ one, /** @type {number} */ index) => {
    if (index > last || !mixingUntold(one)) return [];
    const cell = one.part === "cell";
    return [{ words: `${one.name} ${cell ? "not mixed (read along its axis)" : "as " + MANY_TANKS + " tanks"}`, name: "path", index, values: cell ? { length: ANY_LENGTH } : { tanks: MANY_TANKS } }];
  });
  return [...(loop ? [{ words: "the loop emptied forwards", name: "injection", index: 0, values: { emptied: "forwards" } }] : []), ...mixed];
}
