// @ts-check
/** What a table of the scenario is called, and its sizes in one line. */
import { facts } from "../engine/facts.js";
import { micro } from "../engine/units.js";
import { emptyingUntold, mixingUntold } from "./untold.js";
import { KIND_WORDS } from "./wording.js";

/** Solutes of which all are told on a printed sheet; of more only the one that is looked at. */
const MOST_NAMED = 3;

/** A size as it is printed. @param {string} text */
export const printed = (text) => micro(text).replace(/\bdeg([CF])\b/, "°$1").replace("Pa*s", "Pa·s");

/** @param {string} name @param {any} table */
export function titleOf(name, table) {
  if (name === "path") return table.name;
  if (name === "solutes") return `Solute: ${table.name}`;
  return { method: "Method", injection: "Injection", gradient: "Gradient", detector: "Detector", limits: "Limits" }[name] ?? name;
}

/** How a tube is bent; empty if it is straight. @param {any} table @param {any} tables */
function bentWords(table, tables) {
  if (table.part !== "tube") return "";
  const radii = Array.isArray(table.bends) ? table.bends.map((/** @type {any} */ one) => one?.radius) : [table.bend_radius ?? tables.method?.bend_radius ?? "straight"];
  if (radii.every((/** @type {unknown} */ one) => one === "straight")) return "";
  return radii.length > 1 ? "several bends" : `bend radius ${micro(String(radii[0])).replace(" ", "\u00a0")}`;
}

/** Values of which all are named as assumed in one line. */
const MOST_ASSUMED = 4;

/** What the answers take for granted, in one line. @param {any} tables @param {string[]} [assumed] values that nobody has given */
export function grantedBy({ path, method, injection }, assumed = []) {
  const tubes = path.filter((/** @type {any} */ one) => one.part === "tube");
  const straight = tubes.filter((/** @type {any} */ one) => !bentWords(one, { method }));
  const columns = path.filter((/** @type {any} */ one) => one.part === "column");
  const guessed = columns.filter((/** @type {any} */ one) => one.plates === undefined);
  const which = straight.length === tubes.length ? (tubes.length > 1 ? "all tubes lie" : "the tube lies") : `${straight.length} of ${tubes.length} tubes lie`;
  const more = assumed.length > MOST_ASSUMED ? ` and ${assumed.length - MOST_ASSUMED + 1} more, marked in their rows` : "";
  const typical = assumed.length ? [`usual values that nobody has given: ${(more ? assumed.slice(0, MOST_ASSUMED - 1) : assumed).join(", ")}${more}`] : [];
  const said = straight.length ? [...typical, `${which} straight (where one is bent, type its bend radius beside bore and length)`] : typical;
  if (guessed.length) said.push(`plates of ${guessed.map((/** @type {any} */ one) => one.name).join(", ")} as a good bed has them, since none are given`);
  else if (columns.length) said.push("plates of the column are those that are given");
  const mixed = path.filter((/** @type {any} */ one) => one.part === "cell" && mixingUntold(one)).map((/** @type {any} */ one) => one.name);
  if (mixed.length) said.push(`${mixed.join(", ")} as one stirred volume, which adds its volume squared (a cell that does not mix adds a twelfth of that: type its length)`);
  if (emptyingUntold(injection)) said.push("the loop as emptied backwards, since nobody has said how it is (what was filled in last leaves first, and the rest of the loop is not passed)");
  return said.length ? `Taken for granted: ${said.join("; ")}.` : "";
}

/** The sizes of a table in one line, as they are typed. @param {string} name @param {any} table @param {any} tables */
export function sizesOf(name, table, tables) {
  const text = (/** @type {any} */ one) => (typeof one === "string" || typeof one === "number" ? printed(String(one)) : "");
  const some = (/** @type {string[]} */ keys, /** @type {string} */ joint) => keys.map((key) => text(table[key])).filter(Boolean).join(joint);
  if (name === "path") {
    const sizes = some(["gap_bore", "gap_length", "bore", "length", "volume", "particle_diameter"], " × ");
    const packed = table.part === "column" ? text(table.particle ?? facts().tables["path.column"].fields.particle.default) : "";
    const mixed = typeof table.tanks === "number" && table.tanks > 1 ? `mixed as ${table.tanks} tanks` : "";
    return [KIND_WORDS.get(table.part), sizes, packed, mixed, bentWords(table, tables), some(["make_up", "split", "split_share"], ", ")].filter(Boolean).join(", ");
  }
  if (name === "method") {
    const eluent = Object.entries(table.eluent ?? {}).filter(([, share]) => typeof share === "number");
    const liquids = eluent.map(([liquid, share]) => `${Number((100 * /** @type {number} */ (share)).toPrecision(4))} % ${liquid}`);
    const given = table.viscosity ?? table.eluent?.viscosity;
    return [some(["flow", "temperature"], ", "), ...liquids, given === undefined ? "" : `viscosity ${text(given)}`, tables.gradient ? "gradient" : ""].filter(Boolean).join(", ");
  }
  if (name === "solutes" && table.kw !== undefined) return [`kw ${text(table.kw)}`, `S ${text(table.s)}`, some(["diffusivity", "molar_volume", "formula"], ", ")].join(", ");
  if (name === "solutes") return [table.retention_factor === undefined ? "" : `k ${text(table.retention_factor)}`, some(["retention_time", "diffusivity", "molar_volume", "formula"], ", ")].filter(Boolean).join(", ");
  if (name === "injection") {
    const loop = [["loop_bore", "bore"], ["loop_length", "length"], ["loop_volume", "holds"]].filter(([key]) => table.shape === "loop" && table[key] !== undefined).map(([key, words]) => `${words} ${text(table[key])}`);
    return [`${table.shape === "loop" ? "sample loop" : text(table.shape)} ${some(["volume", "sigma"], ", ")}`, ...loop, table.washout_volume ? `washed out of ${text(table.washout_volume)}` : ""].filter(Boolean).join(", ");
  }
  if (name === "gradient") {
    const rows = Array.isArray(table.programme) ? table.programme : [];
    return [...rows.map((/** @type {any} */ one) => `${text(one?.time)} ${Number((100 * one?.strong).toPrecision(4))} %`), table.dwell_volume ? `dwell ${text(table.dwell_volume)}` : ""].filter(Boolean).join(", ");
  }
  if (name === "detector") {
    const filter = [["time_constant", "time constant"], ["rise_time", "rise time"]].filter(([key]) => table[key] !== undefined).map(([key, words]) => `${words} ${text(table[key])}`);
    return [...filter, some(["rate", "interval"], ", ")].filter(Boolean).join(", ") || "ideal";
  }
  return table.pressure ? `pressure ${text(table.pressure)}` : "none given";
}

/** What the answers rest on, in one line. @param {any} tables @param {number} lane of the solute that is looked at */
export function basisOf(tables, lane) {
  const rows = ["gradient", "limits"].filter((name) => tables[name]).map((name) => `${name}: ${sizesOf(name, tables[name], tables)}`);
  const solutes = tables.solutes.length > MOST_NAMED ? [tables.solutes[lane]] : tables.solutes;
  const retained = solutes.map((/** @type {any} */ one) => `${one.name}: ${sizesOf("solutes", one, tables)}`);
  return [sizesOf("method", tables.method, tables), ...rows, ...retained].join("; ");
}
