// A scenario as TOML parses it, to parts and streams in SI: as `scenario/build.py`.

import { columnOf, deadTime } from "./column.js";
import { densityOf, molarVolumeOf, viscosityOf, wilkeChang } from "./eluent.js";
import { Refusal, constant, facts } from "./facts.js";
import { can, cumulantsOf, kindOf, partOf } from "./parts.js";
import { underPressure } from "./pressure.js";
import { isTable, readTable } from "./reading.js";
import { LIQUIDS, brokenRules } from "./rules.js";
import { display } from "./units.js";

/** @typedef {import("./reading.js").Problem} Problem */
/** @typedef {import("./reading.js").Table} Table */
/** @typedef {import("./parts.js").Part} Part */
/** @typedef {import("./eluent.js").Stream} Stream */
/** @typedef {{part: Part, stream: Stream}} Passage */

/**
 * A scenario in SI.
 * @typedef {object} Resolved
 * @property {Problem[]} problems where there are any, nothing else holds
 * @property {string[]} names of the solutes
 * @property {Passage[][]} lanes by solute: injector, the path in order, detector
 * @property {number} pressureLimit Pa; NaN: none
 * @property {(number | undefined)[]} porosities by place on the path, of columns with a dead time
 */

const MOST_FACTOR = 1e4;

/**
 * What was made of tables already, by the tables themselves: for many scenarios that share them.
 * @typedef {{read: WeakMap<object, Table>, parts: WeakMap<object, Part>, streams: WeakMap<object, Map<number, {of: Table[], stream: Stream}>>}} Memo
 */

/** @returns {Memo} */
export function newMemo() {
  return { read: new WeakMap(), parts: new WeakMap(), streams: new WeakMap() };
}

/**
 * @param {Table} scenario
 * @param {Files} [files]
 * @param {Memo} [memo] its tables must not change meanwhile
 * @returns {Resolved}
 */
export function resolve(scenario, files = {}, memo = newMemo()) {
  /** @type {Problem[]} */
  const problems = [];
  const read = readAll(scenario, problems, memo);
  problems.push(
    ...brokenRules(scenario).filter(
      (one) => !problems.some((other) => other.place.join("\0") === one.place.join("\0")),
    ),
  );
  /** @type {Resolved} */
  const found = { problems, names: [], lanes: [], pressureLimit: NaN, porosities: [] };
  if (problems.length) return found;
  try {
    found.porosities = withPorosity(read, files);
    const parts = partsOf(read, files, memo);
    found.names = read.solutes.map((one) => one.name);
    found.lanes = read.solutes.map((solute, lane) =>
      laneOf(read, parts, withRetention(read, parts, solute, lane), memo),
    );
    found.pressureLimit = read.limits.pressure ?? NaN;
    // a column that cannot be as it is given says so here
    for (const { part, stream } of scenario.gradient ? [] : found.lanes.flat()) {
      if (can(part, "separates")) cumulantsOf(part, stream);
    }
  } catch (problem) {
    if (!(problem instanceof Refusal)) throw problem;
    problems.push({ place: problem.place, sentence: problem.message });
  }
  return found;
}

/** @typedef {Record<string, import("./injected.js").Curve>} Files injected curves by the names that scenarios use */

/**
 * The scenario with a porosity for a dead time and a retention factor for each retention time, which
 * go with all that is done to the instrument later.
 * @param {Table} scenario
 * @param {Files} [files]
 * @returns {Table} the same where there is no such time, or it is none
 */
export function settled(scenario, files) {
  const has = (/** @type {any} */ rows, /** @type {string} */ key) =>
    rows?.some?.((/** @type {any} */ one) => isTable(one) && key in one);
  if (!has(scenario.solutes, "retention_time") && !has(scenario.path, "dead_time")) return scenario;
  const resolved = resolve(scenario, files);
  if (resolved.problems.length) return scenario;
  const solutes = scenario.solutes.map((/** @type {Table} */ one, /** @type {number} */ lane) => {
    if (!("retention_time" in one)) return one;
    const { retention_time: _, ...others } = one;
    return { ...others, retention_factor: resolved.lanes[lane][0].stream.retention };
  });
  const path = scenario.path.map((/** @type {Table} */ one, /** @type {number} */ at) => {
    if (!("dead_time" in one)) return one;
    const { dead_time: _, ...others } = one;
    return { ...others, porosity: resolved.porosities[at] };
  });
  return { ...scenario, solutes, path };
}

/**
 * Tables in SI.
 * @typedef {{method: Table, eluent: Table, solutes: Table[], injection: Table, path: Table[], detector: Table | null, limits: Table}} Read
 */

/** @param {Table} scenario @param {Problem[]} problems @param {Memo} memo @returns {Read} */
function readAll(scenario, problems, memo) {
  const { tables } = facts();
  const take = (
    /** @type {string} */ name,
    /** @type {any} */ written,
    /** @type {(string | number)[]} */ place,
  ) => {
    const before = isTable(written) ? memo.read.get(written) : undefined;
    if (before) return before;
    const wrong = problems.length;
    const made = readTable(name, written, place, problems);
    if (isTable(written) && problems.length === wrong) memo.read.set(written, made);
    return made;
  };
  const list = (/** @type {string} */ key) => {
    if (Array.isArray(scenario[key]) && scenario[key].length) return scenario[key];
    problems.push({ place: [key], sentence: `expected at least one [[${key}]], found none; add one` });
    return [];
  };
  const method = take("method", scenario.method ?? {}, ["method"]);
  const shape = scenario.injection?.shape;
  const known = `injection.${shape}` in tables;
  if (!known)
    problems.push({
      place: ["injection", "shape"],
      sentence: `expected shape ${Object.keys(tables)
        .filter((one) => one.startsWith("injection."))
        .map((one) => one.slice(10))
        .join(" or ")}, found ${JSON.stringify(shape) ?? "none"}`,
    });
  const path = list("path").map((/** @type {any} */ one, /** @type {number} */ index) => {
    if (isTable(one) && `path.${one.part}` in tables) return take(`path.${one.part}`, one, ["path", index]);
    problems.push({
      place: ["path", index, "part"],
      sentence: `expected part ${Object.keys(tables)
        .filter((name) => name.startsWith("path."))
        .map((name) => name.slice(5))
        .join(" or ")}, found ${JSON.stringify(one?.part) ?? "none"}`,
    });
    return {};
  });
  return {
    method,
    eluent: take("method.eluent", scenario.method?.eluent ?? {}, ["method", "eluent"]),
    solutes: list("solutes").map((/** @type {any} */ one, /** @type {number} */ index) =>
      take("solutes", one, ["solutes", index]),
    ),
    injection: known ? take(`injection.${shape}`, scenario.injection, ["injection"]) : {},
    path,
    detector: scenario.detector === undefined ? null : take("detector", scenario.detector, ["detector"]),
    limits: take("limits", scenario.limits ?? {}, ["limits"]),
  };
}

/**
 * The parts with their temperatures: injector, the path, the detector.
 * @param {Read} read
 * @param {Files} files
 * @param {Memo} memo
 * @returns {{part: Part, temperature: number}[]}
 */
function partsOf(read, files, memo) {
  const { temperature } = read.method;
  const made = (/** @type {string} */ kind, /** @type {Table} */ given) => {
    let part = memo.parts.get(given);
    if (part?.method !== read.method) {
      const curve = given.shape === "signal" && Object.hasOwn(files, given.file) ? { curve: files[given.file] } : {};
      part = { ...partOf(kind, { ...given, ...curve }, read.method), method: read.method };
      memo.parts.set(given, part);
    }
    return part;
  };
  const injector = made(read.injection.shape === "loop" ? "loop" : "injector", read.injection);
  const found = [{ part: injector, temperature }];
  for (const one of read.path) {
    const part = made(one.part, one);
    if (one.inlet === "carried over")
      found[found.length - 1].part = { ...found[found.length - 1].part, handsOn: true };
    found.push({ part, temperature: one.temperature ?? temperature });
  }
  if (read.detector) found.push({ part: made("detector", read.detector), temperature });
  return upToCell(found, read.detector?.cell);
}

/**
 * @param {{part: Part, temperature: number}[]} parts
 * @param {string | undefined} name of the cell that records
 */
function upToCell(parts, name) {
  const cells = parts.map((_, at) => at).filter((at) => can(parts[at].part, "observes"));
  const last = cells.find((at) => parts[at].part.name === name) ?? cells.at(-1) ?? parts.length;
  return parts.map((one, at) =>
    at > last && can(one.part, "carries_flow") ? { ...one, part: { ...one.part, behind: true } } : one,
  );
}

/**
 * What one solute meets, part by part.
 * @param {Read} read
 * @param {{part: Part, temperature: number}[]} parts
 * @param {Table} solute in SI, with its retention factor
 * @param {Memo} [memo]
 * @returns {Passage[]}
 */
function laneOf(read, parts, solute, memo = newMemo()) {
  let streams = memo.streams.get(solute);
  if (!streams) memo.streams.set(solute, (streams = new Map()));
  /** @type {(Passage & {temperature: number})[]} */
  const found = [];
  /** @type {Stream | null} */
  let arrives = null;
  for (const { part, temperature } of parts) {
    let held = streams.get(temperature);
    if (held?.of[0] !== read.method || held?.of[1] !== read.eluent) {
      held = { of: [read.method, read.eluent], stream: streamOf(read, solute, temperature) };
      streams.set(temperature, held);
    }
    let { stream } = held;
    if (arrives) stream = { ...stream, flow: arrives.flow, share: arrives.share };
    found.push({ part, stream, temperature });
    const { passesOn } = kindOf(part);
    if (passesOn) arrives = passesOn(part, stream);
  }
  if (!read.method.pressure_dependence) return found;
  const composition = compositionOf(read);
  if (correlated(composition, read.method.temperature, read.method.viscosity ?? read.eluent.viscosity))
    return underPressure(found, composition);
  throw new Refusal(
    "expected an eluent whose viscosity under pressure is known, found none; give water, methanol or acetonitrile, " +
      "or leave the key out",
    ["method", "pressure_dependence"],
  );
}

/** @param {Read} read @returns {Record<string, number>} */
function compositionOf(read) {
  return Object.fromEntries(LIQUIDS.map((name) => [name, read.eluent[name]]).filter((one) => one[1] > 0));
}

/** @param {Read} read @param {Table} solute @param {number} temperature @returns {Stream} */
function streamOf(read, solute, temperature) {
  const composition = compositionOf(read);
  const own = read.method.temperature;
  const given = read.method.viscosity ?? read.eluent.viscosity;
  const base = given ?? viscosityOf(composition, own);
  const known = correlated(composition, own, given);
  const ratio =
    temperature !== own && known ? viscosityOf(composition, temperature) / viscosityOf(composition, own) : 1;
  const viscosity = base * ratio;
  let { diffusivity } = solute;
  if (diffusivity === undefined) {
    const volume =
      solute.formula === undefined ? solute.molar_volume : molarVolumeOf(solute.formula, solute.rings ?? 0);
    diffusivity = wilkeChang(volume, composition, own, base);
  }
  if (temperature !== own && known) diffusivity *= (temperature / own) * (base / viscosity);
  return {
    flow: read.method.flow,
    diffusivity,
    viscosity,
    density: known ? densityOf(composition, temperature) : constant("WATER_DENSITY"),
    retention: solute.retention_factor ?? 0,
    amount: solute.amount ?? NaN,
    absorptivity: solute.absorptivity ?? NaN,
    share: 1,
  };
}

/**
 * Whether the viscosity of the composition is known.
 * @param {Record<string, number>} composition @param {number} temperature @param {number | undefined} given
 */
function correlated(composition, temperature, given) {
  if (!Object.keys(composition).length) return false;
  if (given === undefined) return true;
  try {
    viscosityOf(composition, temperature);
    return true;
  } catch (problem) {
    if (problem instanceof Refusal) return false;
    throw problem;
  }
}

/**
 * Give columns with a dead time their porosity.
 * @param {Read} read its path is changed
 * @param {Files} files
 * @returns {(number | undefined)[]} by place on the path
 */
function withPorosity(read, files) {
  if (!read.path.some((one) => one.dead_time !== undefined)) return [];
  const parts = partsOf(read, files, newMemo());
  const passages = laneOf(read, parts, { ...read.solutes[0], retention_factor: 0 }).filter(({ part }) => !part.behind);
  const unretained = passages.reduce((all, { part, stream }) => all + cumulantsOf(part, stream).mean, 0);
  const found = read.path.map((one) => {
    if (one.dead_time === undefined) return undefined;
    const { part, stream } = passages.find(({ part }) => part.name === one.name) ?? passages[0];
    return part.total_porosity * (1 + (one.dead_time - unretained) / deadTime(part, stream));
  });
  read.path = read.path.map((one, at) => {
    if (found[at] === undefined) return one;
    const { core, external_porosity: low } = columnOf(one);
    const porosity = /** @type {number} */ (found[at]);
    const high = low + (1 - low) * (1 - core ** 3);
    if (low < porosity && porosity < high) return { ...one, porosity };
    throw new Refusal(
      `expected a time that leaves the bed a porosity between ${low.toPrecision(3)} and ${high.toPrecision(3)}, found ` +
        `${display(one.dead_time, "duration")}; correct it, or the sizes of the path`,
      ["path", at, "dead_time"],
    );
  });
  return found;
}

/**
 * The solute with a retention factor where it has a retention time.
 * @param {Read} read @param {{part: Part, temperature: number}[]} parts @param {Table} solute @param {number} lane
 * @returns {Table}
 */
function withRetention(read, parts, solute, lane) {
  if (solute.retention_time === undefined) return solute;
  const passages = laneOf(read, parts, { ...solute, retention_factor: 0 }).filter(({ part }) => !part.behind);
  const sum = (/** @type {(one: Passage) => number} */ of) => passages.reduce((all, one) => all + of(one), 0);
  const unretained = sum(({ part, stream }) => cumulantsOf(part, stream).mean);
  const dead = sum(({ part, stream }) => (can(part, "separates") ? deadTime(part, stream) : 0));
  const factor = (solute.retention_time - unretained) / dead;
  if (factor >= 0 && factor <= MOST_FACTOR) return { ...solute, retention_factor: factor };
  throw new Refusal(
    `expected a time from ${display(unretained, "duration")}, when an unretained solute is recorded on this path, ` +
      `found ${display(solute.retention_time, "duration")}; correct it, or the porosity of the column`,
    ["solutes", lane, "retention_time"],
  );
}
