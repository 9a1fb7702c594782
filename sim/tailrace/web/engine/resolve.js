// A scenario as TOML parses it, to parts and streams in SI: as `scenario/build.py`.

import { columnOf, deadTime } from "./column.js";
import { densityOf, molarVolumeOf, viscosityOf, wilkeChang } from "./eluent.js";
import { Refusal, constant, facts } from "./facts.js";
import { manner } from "./manner.js";
import { can, cumulantsOf, isOf, kindOf, partOf } from "./parts.js";
import { underPressure } from "./pressure.js";
import { isTable, readTable } from "./reading.js";
import { LIQUIDS, brokenRules } from "./rules.js";
import { display, general } from "./units.js";

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
 * @property {number} thickest highest viscosity on the programme of a gradient over the eluent's; 1
 * @property {number[]} factors of the solutes, as they would be stated
 * @property {(number | undefined)[]} porosities by place on the path, of columns with a dead time
 */

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
  const found = { problems, names: [], lanes: [], pressureLimit: NaN, thickest: 1, factors: [], porosities: [] };
  if (problems.length) return found;
  try {
    found.porosities = withPorosity(read, files);
    const parts = partsOf(read, files, memo);
    found.names = read.solutes.map((one) => one.name);
    const solutes = read.solutes.map((solute, lane) => withRetention(read, parts, solute, lane));
    found.factors = solutes.map((one) => one.retention_factor ?? 0);
    found.lanes = solutes.map((one) => laneOf(read, parts, one, memo));
    found.pressureLimit = read.limits.pressure ?? NaN;
    found.thickest = thickestOf(read);
    // a column that cannot be as it is given says so here
    for (const { part, stream } of found.lanes.flat()) {
      if (can(part, "separates")) cumulantsOf(part, stream);
    }
    found.lanes[0]?.forEach(({ part, stream }, at) => {
      const wrong = kindOf(part).refused?.(part, stream);
      if (wrong) throw new Refusal(wrong[1], ["path", at - 1, wrong[0]]);
    });
    if (read.gradient) found.lanes.forEach(leaves);
  } catch (problem) {
    if (!(problem instanceof Refusal)) throw problem;
    problems.push({ place: problem.place, sentence: problem.message });
  }
  return found;
}

/** Whether the gradient brings a solute off the column. @param {Passage[]} passages @param {number} lane */
function leaves(passages, lane) {
  const column = passages.find(({ part }) => part.migration);
  const factor = column && manner.elutionOf?.(column.part, column.stream).leaving;
  if (factor === undefined || factor <= constant("MOST_FACTOR")) return;
  throw new Refusal(
    `expected a solute that leaves the column, found k = ${general(factor, 2)} at the end of the programme; ` +
      "end it with more of the strong liquid, or correct kw and s",
    ["solutes", lane, "kw"],
  );
}

const MOST_ROUNDS = 60;

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
    return { ...others, retention_factor: resolved.factors[lane] };
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
 * @typedef {{method: Table, eluent: Table, solutes: Table[], injection: Table, path: Table[], detector: Table | null, limits: Table, gradient: Table | null}} Read
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
    gradient: scenario.gradient === undefined ? null : gradientOf(take, scenario.gradient, problems),
  };
}

/** @param {(name: string, written: any, place: (string | number)[]) => Table} take @param {any} written
 * @param {Problem[]} problems @returns {Table} */
function gradientOf(take, written, problems) {
  const made = take("gradient", written, ["gradient"]);
  const rows = isTable(written) && Array.isArray(written.programme) ? written.programme : [];
  if (rows.length < 2) {
    problems.push({ place: ["gradient", "programme"], sentence: "expected at least two rows of time and composition, found fewer; add rows" });
  }
  const programme = rows.map((/** @type {any} */ one, /** @type {number} */ index) => take("gradient.programme", one, ["gradient", "programme", index]));
  programme.slice(1).forEach((/** @type {Table} */ one, /** @type {number} */ index) => {
    if (!(one.time < programme[index].time)) return;
    const [above, found] = [programme[index].time, one.time].map((time) => display(time, "programme time"));
    problems.push({
      place: ["gradient", "programme", index + 1, "time"],
      sentence: `expected a time of ${above} or later, as in the row above, found ${found}; put the rows in order`,
    });
  });
  return { ...made, programme };
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
  let [before, first] = [0, NaN];
  for (const { part: given, temperature } of parts) {
    let part = given;
    let held = streams.get(temperature);
    if (held?.of[0] !== read.method || held?.of[1] !== read.eluent) {
      held = { of: [read.method, read.eluent], stream: streamOf(read, solute, temperature) };
      streams.set(temperature, held);
    }
    let { stream } = held;
    if (isOf(part, "separates")) {
      stream = inColumn(read, solute, part, temperature, stream);
      if (Number.isNaN(first)) first = before;
      const migration = migrationOf(read, solute, stream.ratio ?? 1, before, before - first);
      if (migration) part = { ...part, migration };
    }
    if (isOf(part, "carries_flow")) before += part.volume;
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

/**
 * What a column must know of a liquid that changes; null where it is the eluent throughout.
 * @param {Read} read @param {Table} solute @param {number} ratio what temperature multiplies retention by
 * @param {number} before m^3 that lie before the column @param {number} between those from the first column on
 * @returns {import("./gradient.js").Migration | null}
 */
function migrationOf({ gradient, injection, method, eluent }, solute, ratio, before, between) {
  const { s, sample_retention_factor: own } = solute;
  const kw = solute.kw ?? (solute.retention_factor ?? 0) * 10 ** (s * (method.stated_strong ?? 1 - (eluent.water ?? 0)));
  const factor = injection.strong === undefined ? own : kw / 10 ** (s * injection.strong);
  if (!gradient && factor === undefined) return null;
  const rows = gradient?.programme ?? [];
  return {
    programme: gradient && {
      weak: kw * ratio,
      strength: s,
      times: rows.map((/** @type {Table} */ one) => one.time),
      fractions: rows.map((/** @type {Table} */ one) => one.strong),
    },
    dwell: (gradient?.dwell_volume ?? 0) + between,
    sample:
      factor === undefined
        ? null
        : { factor: factor * ratio, volume: injection.volume ?? 0, washout: injection.washout_volume ?? 0, delay: before },
  };
}

/** @param {Read} read @returns {Record<string, number>} */
function compositionOf(read) {
  return Object.fromEntries(LIQUIDS.map((name) => [name, read.eluent[name]]).filter((one) => one[1] > 0));
}

/** As `most_viscous` of the program's `scenario/build.py`. @param {Read} read */
function thickestOf({ method, eluent, gradient }) {
  const strong = LIQUIDS.filter((name) => name !== "water" && eluent[name] > 0);
  if (!gradient || (method.viscosity ?? eluent.viscosity) !== undefined || strong.length !== 1) return 1;
  const shares = gradient.programme.map((/** @type {Table} */ one) => one.strong);
  const [low, high, steps] = [Math.min(...shares), Math.max(...shares), constant("PROGRAMME_STEPS")];
  const of = (/** @type {number} */ share) => viscosityOf({ water: 1 - share, [strong[0]]: share }, method.temperature);
  const found = Array.from({ length: steps + 1 }, (_, k) => of(low + ((high - low) * k) / steps));
  return Math.max(...found) / of(eluent[strong[0]]);
}

/** With the eluent of which the file states retention and diffusivities. @param {Read} read @returns {Read} */
function asStated(read) {
  const { stated_strong: strong, ...method } = read.method;
  const { water = 0 } = read.eluent;
  if (strong === undefined || !(water > 0 && water < 1) || Math.abs(1 - water - strong) <= 1e-12) return read;
  const others = LIQUIDS.filter((name) => name !== "water" && name in read.eluent);
  /** @type {Table} */
  const eluent = { ...read.eluent, water: 1 - strong };
  for (const name of others) eluent[name] *= strong / (1 - water);
  return { ...read, method, eluent };
}

/** Retention factor in this eluent over that where it was stated. @param {Read} read @param {Table} solute */
function strengthRatio({ method, eluent }, { s }) {
  if (method.stated_strong === undefined || s === undefined || !LIQUIDS.some((name) => eluent[name] > 0)) return 1;
  return 10 ** (-s * (1 - (eluent.water ?? 0) - method.stated_strong));
}

/** @param {Read} read @param {Table} solute @param {number} temperature @returns {Stream} */
function streamOf(read, solute, temperature) {
  const composition = compositionOf(read);
  const { temperature: own, stated_temperature: stated = own } = read.method;
  const given = read.method.viscosity ?? read.eluent.viscosity;
  const known = correlated(composition, own, given);
  /** Viscosity of a composition by temperature. @param {Record<string, number>} of */
  const viscosities = (of) => {
    const carried = (/** @type {number} */ value, /** @type {number} */ from, /** @type {number} */ to) =>
      from === to || !known ? value : (value * viscosityOf(of, to)) / viscosityOf(of, from);
    const base = given === undefined ? viscosityOf(of, own) : carried(given, stated, own);
    return (/** @type {number} */ to) => carried(base, own, to);
  };
  const thickness = viscosities(composition);
  const before = asStated(read);
  const thicknessBefore = before === read ? thickness : viscosities(compositionOf(before));
  // D eta / T is constant
  const moved = (/** @type {number} */ value, /** @type {number} */ from, /** @type {number} */ to, behind = thickness) =>
    (from === to && behind === thickness) || !known ? value : (value * to * behind(from)) / (from * thickness(to));
  let { diffusivity } = solute;
  if (diffusivity === undefined) {
    const volume =
      solute.formula === undefined ? solute.molar_volume : molarVolumeOf(solute.formula, solute.rings ?? 0);
    diffusivity = wilkeChang(volume, composition, own, thickness(own));
  } else diffusivity = moved(diffusivity, stated, own, thicknessBefore);
  return {
    flow: read.method.flow,
    diffusivity: moved(diffusivity, own, temperature),
    viscosity: thickness(temperature),
    density: known ? densityOf(composition, temperature) : constant("WATER_DENSITY"),
    retention: (solute.retention_factor ?? 0) * strengthRatio(read, solute),
    amount: solute.amount ?? NaN,
    absorptivity: solute.absorptivity ?? NaN,
    share: 1,
  };
}

/**
 * What passes a column whose retention and plates were found at another temperature.
 * @param {Read} read @param {Table} solute @param {Part} column @param {number} temperature @param {Stream} stream
 * @returns {Stream}
 */
function inColumn(read, solute, column, temperature, stream) {
  const { method } = read;
  const stated = column.stated_temperature ?? column.temperature ?? method.stated_temperature ?? method.temperature;
  const before = asStated(read);
  if (stated === temperature && before === read) return stream;
  // van 't Hoff: ln k goes with 1 / T
  const slope = (solute.retention_enthalpy ?? 0) / constant("GAS_CONSTANT") + (solute.retention_change ?? 0) * stated ** 2;
  const ratio = Math.exp(-slope * (1 / temperature - 1 / stated));
  return {
    ...stream,
    retention: stream.retention * ratio,
    ratio,
    platesDiffusivity: streamOf(before, solute, stated).diffusivity,
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
  const { ratio = 1 } = passages.find(({ part }) => can(part, "separates"))?.stream ?? {};
  let factor = (solute.retention_time - unretained) / dead / ratio;
  // the solvent of the sample changes the time, too
  for (let round = 0; round < MOST_ROUNDS && factor >= 0; round += 1) {
    const lane = laneOf(read, parts, { ...solute, retention_factor: factor });
    const { metAt } = manner;
    if (!metAt || !lane.some(({ part }) => part.migration)) break;
    const mean = lane.reduce((all, { part, stream }) => all + cumulantsOf(part.migration ? metAt(part, all, stream) : part, stream).mean, 0);
    const late = solute.retention_time - mean;
    if (Math.abs(late) <= 1e-9 * solute.retention_time) break;
    factor = Math.max(factor + late / dead / ratio, 0);
  }
  if (factor >= 0 && factor <= constant("MOST_FACTOR")) return { ...solute, retention_factor: factor };
  throw new Refusal(
    `expected a time from ${display(unretained, "duration")}, when an unretained solute is recorded on this path, ` +
      `found ${display(solute.retention_time, "duration")}; correct it, or the porosity of the column`,
    ["solutes", lane, "retention_time"],
  );
}
