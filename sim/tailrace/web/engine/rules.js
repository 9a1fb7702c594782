// What ties the keys of a scenario together: as `scenario/rules.py` and each kind's `conflicts`.

import { isTable, particleWords, tablesOf } from "./reading.js";
import { Refusal, facts } from "./facts.js";
import { display, general, quantity } from "./units.js";

/** @typedef {import("./reading.js").Problem} Problem */
/** @typedef {import("./reading.js").Table} Table */

export const EITHER_OR = [
  ["time_constant", "rise_time"],
  ["interval", "rate"],
  ["averaged", "moving_average"],
  ["retention_factor", "retention_time"],
  ["porosity", "dead_time"],
];
export const LIQUIDS = ["water", "acetonitrile", "methanol"];
const DIFFUSION = ["diffusivity", "molar_volume", "formula"];
const RESERVED = ["injection", "detector", "method"];
const SIZES = { bore: "0.12 mm", length: "300 mm", volume: "4.5 uL" };
const OWN = "sample_retention_factor";
const WAYS = ["make_up", "split", "split_share"];
export const LOOP = ["loop_bore", "loop_length", "loop_volume"];
/** Relative; of a tube and its stretches together. */
const SAME_LENGTH = 1e-3;

/**
 * Every rule that a scenario breaks, as it is written.
 * @param {Table} scenario
 * @returns {Problem[]}
 */
export function brokenRules(scenario) {
  /** @type {Problem[]} */
  const found = [];
  names(scenario, found);
  tablesOf(scenario.path).forEach((part, index) => inner(part, ["path", index], found));
  if (isTable(scenario.detector)) inner(scenario.detector, ["detector"], found);
  eluent(isTable(scenario.method) ? scenario.method : {}, found);
  solutes(scenario, found);
  changing(scenario, found);
  cells(scenario, found);
  beside(scenario, found);
  return found;
}

/** @param {Table} scenario @param {Problem[]} found */
function names(scenario, found) {
  for (const key of ["path", "solutes", "columns", "changes"]) {
    /** @type {Map<string, number>} */
    const first = new Map();
    tablesOf(scenario[key]).forEach(({ name }, index) => {
      if (typeof name !== "string") return;
      const place = [key, index, "name"];
      if (first.has(name)) {
        found.push({
          place,
          sentence: `expected a name of its own, found "${name}" as in ${key}[${first.get(name)}]; rename one of them`,
        });
      } else if (key === "path" && RESERVED.includes(name)) {
        found.push({ place, sentence: `expected a name other than "${name}", which results use; rename it` });
      }
      if (!first.has(name)) first.set(name, index);
    });
  }
}

/** @param {Table} values @param {(string | number)[]} where @param {Problem[]} found */
function inner(values, where, found) {
  const has = (/** @type {string} */ key) => Object.hasOwn(values, key);
  const add = (/** @type {string} */ key, /** @type {string} */ sentence) =>
    found.push({ place: [...where, key], sentence });
  if (Object.hasOwn(CONFLICTS, String(values.part))) CONFLICTS[values.part](values, has, add);
  for (const [one, other] of EITHER_OR) {
    if (has(one) && values[one] !== false && has(other))
      add(other, `expected either ${one} or ${other}, found both; leave out one of them`);
  }
  const timed = has("interval") || has("rate");
  if (values.averaged === true && !timed)
    add(
      "averaged",
      'expected an interval to average over, found none; add interval = "50 ms" or rate = "20 Hz"',
    );
  if (has("sampling_phase") && !timed)
    add("sampling_phase", 'expected points at an interval, found none; add rate = "20 Hz"');
  for (const [key, other, example] of [
    ["noise", "noise_time_constant", "1 s"],
    ["noise_time_constant", "noise", "0.02 mAU"],
  ]) {
    if (has(key) && !has(other))
      add(
        key,
        `expected noise with the time constant at which it was stated, found only ${key}; add ${other} = "${example}"`,
      );
  }
}

/** @param {Table} one @param {string} capability */
function partIs(one, capability) {
  const { parts } = facts();
  return Object.hasOwn(parts, String(one.part)) && parts[one.part][capability];
}

/** m; NaN where it cannot be read, which is said there. @param {unknown} text */
function lengthOf(text) {
  try {
    return quantity(String(text), "length");
  } catch (problem) {
    if (problem instanceof Refusal) return NaN;
    throw problem;
  }
}

/** @type {Record<string, (values: Table, has: (key: string) => boolean, add: (key: string, sentence: string) => void) => void>} */
const CONFLICTS = {
  tube(values, has, add) {
    const given = Object.keys(SIZES).filter(has);
    if (given.length === 3)
      add("volume", "expected two of bore, length and volume, found all; leave out one");
    ["bore", "length"]
      .filter((key) => !has(key))
      .slice(0, Math.max(2 - given.length, 0))
      .forEach((key) =>
        add(key, `expected the key ${key}, found none; add ${key} = "${SIZES[/** @type {"bore"} */ (key)]}"`),
      );
    if (has("bends") && has("bend_radius"))
      add("bend_radius", "expected either bend_radius or bends, found both; leave out one of them");
    if (Array.isArray(values.bends) && !values.bends.length) add("bends", "expected at least one entry, found an empty list");
    for (const one of tablesOf(values.bends)) {
      for (const key of ["length", "radius"]) if (one[key] === undefined) add("bends", `expected the key ${key}, found none; add ${key}`);
    }
    const [whole, ...stretches] = [values, ...tablesOf(values.bends)].map((one) => lengthOf(one.length));
    const together = stretches.reduce((sum, one) => sum + one, 0);
    if (stretches.length && Math.abs(together - whole) > SAME_LENGTH * whole)
      add("bends", `expected stretches that make up the length of ${display(whole, "length")}, found ${display(together, "length")} together; mend the lengths`);
  },
  cell(values, has, add) {
    if (values.read === "mean" && (values.tanks ?? 1) % 1) {
      add(
        "tanks",
        `expected a whole number with read = "mean", found ${general(values.tanks, 6)}; round it or write read = "outlet"`,
      );
    }
    for (const key of ["tanks", "read"]) {
      if (has("length") && has(key)) add(key, `expected length or ${key}, found both; leave out one`);
    }
    if (has("volume") === has("bore")) {
      add(
        "volume",
        `expected volume = "2.4 uL", or bore and length, found ${has("volume") ? "both" : "none"}; give one`,
      );
    } else if (has("bore") && !has("length")) {
      add("length", 'expected the key length beside bore, found none; add length = "10 mm"');
    }
  },
  tee(values, has, add) {
    const given = WAYS.filter(has);
    if (given.length === 1) return;
    add(
      given.at(-1) ?? "part",
      `expected one of ${WAYS.join(", ")}, found ${given.join(" and ") || "none"}; write what joins or leaves here, each at a tee of its own`,
    );
  },
  column(values, has, add) {
    const particle =
      facts().numbers.SYNONYMS[particleWords(values.particle)] ??
      values.particle ??
      "fully porous";
    const kinetics = values.kinetics ?? "equilibrium";
    if (has("core_ratio") && particle === "fully porous") {
      add(
        "core_ratio",
        'expected particle = "core-shell" beside core_ratio, found fully porous particles; write particle = "core-shell" or leave out core_ratio',
      );
    }
    for (const key of ["plates_flow", "plates_include_head"]) {
      if (has(key) && !has("plates"))
        add(key, `expected plates, of which ${key} speaks, found none; add plates = 18000`);
    }
    if (has("mass_transfer_rate") && kinetics === "equilibrium")
      add(
        "mass_transfer_rate",
        'expected kinetics = "lumped" beside it, found none; add kinetics = "lumped"',
      );
    for (const [key, example] of [
      ["slow_share", "0.02"],
      ["slow_rate", '"0.5 s^-1"'],
    ]) {
      if (has(key) && kinetics !== "two-site")
        add(key, 'expected kinetics = "two-site" beside it, found another; write it');
      if (!has(key) && kinetics === "two-site")
        add("kinetics", `expected ${key} with two sites, found none; add ${key} = ${example}`);
    }
    for (const key of ["capacity", "column_tailing"]) {
      if (has(key) && kinetics !== "equilibrium")
        add(
          key,
          `expected ${key} with a column in equilibrium, found slow exchange too; leave out ${key} or kinetics = "${kinetics}"`,
        );
    }
    if (has("capacity") && has("column_tailing"))
      add(
        "column_tailing",
        "expected a linear column, of which alone its own tailing is known, found capacity too; leave out one of them",
      );
    porosities(values, particle, add);
  },
};

/** @param {Table} values @param {string} particle @param {(key: string, sentence: string) => void} add */
function porosities(values, particle, add) {
  const { CORE_RATIO, EXTERNAL_POROSITY } = facts().numbers;
  const [total, outside, core] = [
    values.porosity,
    values.external_porosity ?? EXTERNAL_POROSITY,
    values.core_ratio ?? CORE_RATIO[particle] ?? 0,
  ];
  if (![total, outside, core].every((one) => typeof one === "number" && one >= 0 && one < 1)) return;
  const most = outside + (1 - outside) * (1 - core ** 3);
  if (outside < total && total < most) return;
  add(
    "porosity",
    `expected a total porosity between ${general(outside, 6)} (outside the particles) and ${general(most, 3)} (their cores left out), found ${general(total, 6)}; correct porosity, external_porosity or core_ratio`,
  );
}

/** @param {Table} method @param {Problem[]} found */
function eluent(method, found) {
  const shares = isTable(method.eluent) ? method.eluent : {};
  const given = LIQUIDS.filter((name) => typeof shares[name] === "number");
  const thickness = "viscosity" in method || "viscosity" in shares;
  const place = ["method", "eluent"];
  if ("viscosity" in method && "viscosity" in shares)
    found.push({
      place: ["method", "viscosity"],
      sentence: "expected the viscosity once, found it in the eluent too; leave out one of them",
    });
  if (!given.length && !thickness)
    found.push({
      place,
      sentence:
        'expected a composition or a viscosity, found neither; add eluent = { water = 1.0 } or viscosity = "0.45 mPa*s"',
    });
  const total = given.reduce((sum, name) => sum + shares[name], 0);
  if (given.length && Math.abs(total - 1) > 1e-6)
    found.push({
      place,
      sentence: `expected volume fractions that add up to 1, found a sum of ${general(total, 7)}; correct the fractions`,
    });
}

/** @param {Table} scenario @param {Problem[]} found */
function solutes(scenario, found) {
  const column = tablesOf(scenario.path).some((one) => partIs(one, "separates"));
  const mixed = isTable(scenario.method?.eluent) && LIQUIDS.some((name) => name in scenario.method.eluent);
  tablesOf(scenario.solutes).forEach((solute, index) => {
    const where = ["solutes", index];
    const given = DIFFUSION.filter((key) => key in solute);
    if (given.length !== 1) {
      const instead = [
        'neither; add formula = "C8H10N4O2", or molar_volume = "250 cm^3/mol", which is about the molar mass in g/mol (a rule of thumb), or a measured diffusivity',
        "",
        "both; leave out one of them",
        "all three; leave out two of them",
      ][given.length];
      found.push({
        place: given.length ? [...where, given.at(-1) ?? ""] : where,
        sentence: `expected either ${DIFFUSION.join(" or ")}, found ${instead}`,
      });
    } else if (given[0] !== "diffusivity" && !mixed) {
      found.push({
        place: [...where, given[0]],
        sentence:
          "expected an eluent composition for the estimate, found none; add eluent to [method] or give diffusivity",
      });
    }
    if ("rings" in solute && !("formula" in solute))
      found.push({
        place: [...where, "rings"],
        sentence: "expected rings beside a formula, found no formula; leave out rings",
      });
    const retained = ["retention_factor", "retention_time"].filter((key) => key in solute);
    if (retained.length > 1)
      found.push({
        place: [...where, retained[1]],
        sentence: `expected either ${retained.join(" or ")}, found both; leave out one of them`,
      });
    if (column && !("gradient" in scenario) && !retained.length) {
      found.push({
        place: where,
        sentence:
          'expected the key retention_factor since the path has a column, found none; add retention_factor = 2.1 or retention_time = "3.2 min"',
      });
    }
    if (!column && retained.includes("retention_time")) {
      found.push({
        place: [...where, "retention_time"],
        sentence: "expected a column on the path, which retains, found none; leave it out",
      });
    }
  });
}

/** A liquid that changes: a gradient, a sample in a solvent of its own. @param {Table} scenario @param {Problem[]} found */
function changing(scenario, found) {
  const gradient = "gradient" in scenario;
  const injection = isTable(scenario.injection) ? scenario.injection : {};
  const strong = "strong" in injection;
  const given = tablesOf(scenario.solutes);
  const by = strong ? "strong in [injection]" : given.some((one) => OWN in one) ? OWN : "";
  const add = (/** @type {(string | number)[]} */ place, /** @type {string} */ sentence) => found.push({ place, sentence });
  const none = (/** @type {string[]} */ keys, /** @type {string} */ expected) =>
    given.forEach((solute, index) => {
      for (const key of keys) if (key in solute) add(["solutes", index, key], `expected ${expected.replace("{0}", key)}; leave out ${key}`);
    });
  const needed = (/** @type {string} */ because, mixed = false) =>
    given.forEach((solute, index) => {
      for (const [key, example] of [["kw", 2000], ["s", 4.5]]) {
        const follows = mixed && key === "kw" && ["retention_factor", "retention_time"].some((one) => one in solute);
        if (!(key in solute) && !follows) add(["solutes", index], `expected the key ${key} since ${because}, found none; add ${key} = ${example}`);
      }
    });
  const path = tablesOf(scenario.path);
  const column = path.some((one) => partIs(one, "separates"));
  if (!column && (gradient || by)) add([gradient ? "gradient" : by === OWN ? "solutes" : "injection"], `expected a column on the path beside ${gradient ? "a gradient" : by}, found none; leave it out or add a column`);
  if (gradient) {
    none(["retention_factor", "retention_time"], "kw and s with a gradient, found {0}");
    needed("there is a gradient");
  } else if (!strong) none(["kw"], "a [gradient] or strong in [injection] to read {0}, found none");
  else needed(`there is ${by}`, isTable(scenario.method) && ("stated_strong" in scenario.method || LIQUIDS.some((one) => one in (scenario.method.eluent ?? {}))));
  if (strong) none([OWN], `it or ${by}, found both`);
  else if (gradient) none([OWN], "strong in [injection] in its place, found {0}");
  if (by === OWN && !("volume" in injection && injection.shape !== "signal")) add(["injection", "shape"], `expected shape plug, washout or loop beside ${OWN}, found ${injection.shape}; write another shape`);
  if (!gradient && !by) return;
  path.forEach((one, index) => {
    for (const key of ["capacity", "kinetics", "column_tailing"]) {
      if (!partIs(one, "separates") || !(key in one) || one[key] === "equilibrium") continue;
      const what = gradient ? "[gradient]" : by;
      add(["path", index, key], `expected a linear column in equilibrium with ${what}, found ${key}; leave out ${key} or ${what}`);
    }
  });
}

/** @param {Table} scenario @param {Problem[]} found */
function cells(scenario, found) {
  const name = scenario.detector?.cell;
  const known = tablesOf(scenario.path)
    .filter((one) => partIs(one, "observes"))
    .map((one) => one.name);
  if (typeof name === "string" && !known.includes(name)) {
    found.push({
      place: ["detector", "cell"],
      sentence: `expected a cell on the path, found "${name}"; known are ${known.join(", ") || "none"}`,
    });
  }
  const path = tablesOf(scenario.path);
  const last = path.findLastIndex((one) => partIs(one, "separates"));
  path.forEach((one, index) => {
    if (one.part === "tee" && index < last) {
      found.push({
        place: ["path", index, "part"],
        sentence:
          "expected flow to join or leave behind the last column, found it before one; put it behind, or give [method] the flow that goes through the column",
      });
    }
    if (one.inlet === "carried over" && !(index && path[index - 1].part === "tube")) {
      found.push({
        place: ["path", index, "inlet"],
        sentence:
          'expected a tube right before it, whose profile is carried over, found none; set inlet = "mixed", or put a tube there',
      });
    }
  });
}

/** What the injection needs of itself, and a column of the solutes. @param {Table} scenario @param {Problem[]} found */
function beside(scenario, found) {
  const injection = isTable(scenario.injection) ? scenario.injection : {};
  const given = LOOP.filter((key) => key in injection);
  if (injection.shape === "loop" && (given.length === 3 || (!given.includes("loop_bore") && given.length < 2)))
    found.push({
      place: ["injection", ...given.slice(-1)],
      sentence: `expected loop_bore, or two of loop_bore, loop_length and loop_volume, found ${given.join(" and ") || "none"}; add loop_bore = "0.25 mm"`,
    });
  tablesOf(scenario.path).forEach((one, index) => {
    if (partIs(one, "separates") && "capacity" in one && tablesOf(scenario.solutes).some((solute) => !("amount" in solute)))
      found.push({
        place: ["path", index, "capacity"],
        sentence: 'expected an amount of every solute beside it, found a solute without; add amount = "2 nmol" to [[solutes]]',
      });
  });
}
