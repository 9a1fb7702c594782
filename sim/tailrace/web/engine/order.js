// Which changes are worth making, and in which order: as `studies/improving/`, all combinations.

import { changedBy, heatersOf, withNeeds } from "./changes.js";
import { resolutionOf } from "./chromatogram.js";
import { notComputed, withoutBends } from "./answer.js";
import { pressureOf } from "./pressure.js";
import { facts } from "./facts.js";
import { tablesOf } from "./reading.js";
import { newMemo, resolve, settled } from "./resolve.js";
import { Workbench } from "./workbench.js";
import { quantity } from "./units.js";

/** @typedef {import("./reading.js").Table} Table */
/** @typedef {import("./resolve.js").Passage} Passage */

/**
 * Aims, as the program names them: the metric, and 1 where more is better.
 * @type {Record<string, [string, number]>}
 */
const AIMS = {
  plates: ["plates_own_retention", 1],
  resolution: ["half_height", 1],
  tailing: ["tailing_5", -1],
  signal: ["relative_signal_to_noise", 1],
  variance: ["variance_volume_extra_column", -1],
};
const MOST_CHANGES = 12;
const ERROR = 2e-6;

/**
 * @typedef {object} Question
 * @property {import("./resolve.js").Files} [files]
 * @property {string} [aim] plates, resolution, tailing, signal or variance; plates, without a column variance
 * @property {number} [pressure] most, Pa; that of the scenario if it is left out
 * @property {number} [budget] most
 * @property {number} [effort] most, s
 * @property {boolean} [straight] bent tubes that are not known are taken as straight
 * @property {number} [patience] ms that the combinations may take; without end if it is left out
 * @property {string} [order] gain, money or effort
 */

/** @typedef {{change: string, value: number, gain: number, of: string, pressure: number, cost: number, effort: number, total_cost: number, total_effort: number}} Step */
/** @typedef {{name: string, alone: number, share: number, in_best: boolean, cost: number, effort: number}} Change */

/**
 * @typedef {object} Order
 * @property {string | null} refused
 * @property {import("./reading.js").Problem | null} problem why it is refused, where it is one of the scenario
 * @property {string[]} broken changes with which there is this problem
 * @property {string} metric of the aim
 * @property {number} start its value as the instrument stands
 * @property {number} ceiling what the column alone gives; NaN: none
 * @property {Step[]} steps in the best order, to the best combination
 * @property {Step[]} by_money the same steps in the order that is best for what each costs; empty: nothing costs anything
 * @property {Change[]} changes
 * @property {number} combinations computed
 * @property {string[]} straight bent tubes that are taken as straight with any of the combinations
 * @property {number} milliseconds
 */

/**
 * @param {Table} scenario
 * @param {Table[]} [changes] those of the scenario if they are left out
 * @param {Question} [question]
 * @returns {Order}
 */
export function bestOrder(scenario, changes, question = {}) {
  const work = ordering(scenario, changes, question);
  for (;;) {
    const { done, value } = work.next();
    if (done) return value;
  }
}

/**
 * The same in pieces: a combination each, so that a page is alive between them.
 * @param {Table} scenario
 * @param {Table[]} [changes]
 * @param {Question} [question]
 * @returns {Generator<void, Order, void>}
 */
export function* ordering(scenario, changes, question = {}) {
  const began = performanceNow();
  const fixed = settled({ ...scenario, changes: changes ?? tablesOf(scenario.changes) }, question.files);
  const column = tablesOf(fixed.path).some((part) => part.part === "column");
  const [aimed, sign] = AIMS[question.aim ?? (column ? "plates" : "variance")];
  const metric = (scenario.gradient && facts().metrics[aimed]?.in_gradient) || aimed;
  /** @type {Order} */
  const made = {
    refused: null,
    problem: null,
    broken: [],
    metric,
    start: NaN,
    ceiling: NaN,
    steps: [],
    by_money: [],
    changes: [],
    combinations: 0,
    straight: [],
    milliseconds: 0,
  };
  if (fixed.changes.length > MOST_CHANGES) {
    made.refused = `expected at most ${MOST_CHANGES} changes, found ${fixed.changes.length}; the program weighs more: tailrace improve`;
    return made;
  }
  const weighed = new Weighed(fixed, metric, sign, question);
  yield* weighed.compute();
  made.refused = weighed.refused;
  made.problem = weighed.problem;
  made.broken = weighed.broken;
  if (made.refused === null) {
    weighed.tell(made, question.order ?? "gain");
  }
  made.milliseconds = performanceNow() - began;
  return made;
}

function performanceNow() {
  return globalThis.performance?.now() ?? Date.now();
}

/** @typedef {{value: number, of: string, pressure: number, sound: boolean, cost: number, effort: number}} Row */

/** All combinations of a scenario's changes, as bits of a number. */
class Weighed {
  /**
   * @param {Table} scenario @param {string} metric @param {number} sign @param {Question} question
   */
  constructor(scenario, metric, sign, question) {
    this.scenario = scenario;
    this.metric = metric;
    this.sign = sign;
    this.question = question;
    this.until = performanceNow() + (question.patience ?? Infinity);
    /** @type {Table[]} */
    this.changes = scenario.changes;
    this.needs = this.changes.map((one) => this.bits(withNeeds(this.changes, [one.name])));
    /** @type {Map<number, Row>} */
    this.rows = new Map();
    /** @type {string | null} */
    this.refused = null;
    /** @type {import("./reading.js").Problem | null} */
    this.problem = null;
    /** @type {string[]} */
    this.broken = [];
    this.ceiling = NaN;
    /** @type {Set<string>} */
    this.straight = new Set();
    this.memo = newMemo();
    this.bench = new Workbench();
  }

  /** @param {string[]} names */
  bits(names) {
    return this.changes.reduce((sum, one, bit) => sum + (names.includes(one.name) ? 2 ** bit : 0), 0);
  }

  /** @param {number} combination */
  taken(combination) {
    return this.changes.filter((_, bit) => (combination >> bit) & 1).map((one) => one.name);
  }

  /** @param {number} combination */
  allowed(combination) {
    const taken = this.taken(combination);
    if (this.needs.some((needed, bit) => (combination >> bit) & 1 && needed & ~combination)) return false;
    const apart = this.changes.some(
      (one) =>
        taken.includes(one.name) &&
        (one.excludes ?? []).some((/** @type {string} */ other) => taken.includes(other)),
    );
    if (apart) return false;
    const heated = this.scenario.method?.needs_temperature_control === true;
    return !(heated && taken.length && heatersOf(changedBy(this.scenario, taken)) < heatersOf(this.scenario));
  }

  /** @returns {Generator<void, void, void>} */
  *compute() {
    for (let one = 0; one < 2 ** this.changes.length; one += 1) {
      if (!this.allowed(one)) continue;
      if (performanceNow() > this.until) {
        this.refused = "the combinations take long to compute here; the program weighs them: tailrace improve";
        return;
      }
      const document = changedBy(this.scenario, this.taken(one));
      const { lanes: drawn, names, problems, pressureLimit, thickest } = resolve(document, this.question.files, this.memo);
      const { bent, unbentLanes } = this.question.straight ? withoutBends(drawn) : { bent: [], unbentLanes: drawn };
      const lanes = unbentLanes;
      for (const name of bent) this.straight.add(name);
      const refused = problems.length
        ? `${problems[0].place.join(".")}: ${problems[0].sentence}`
        : notComputed(document, lanes);
      if (refused !== null) {
        this.problem = problems[0] ?? null;
        this.broken = this.taken(one);
        this.refused = one ? `with ${this.taken(one).join(", ")}: ${refused}` : refused;
        return;
      }
      this.rows.set(one, this.rowOf(one, lanes, names, pressureLimit, thickest));
      yield;
    }
    if (Number.isNaN(this.rows.get(0)?.value))
      this.refused = "expected a start with such a metric, found none; choose another aim";
  }

  /**
   * @param {number} one @param {Passage[][]} lanes @param {string[]} names @param {number} limit Pa
   * @param {number} thickest highest viscosity on the programme over the eluent's
   * @returns {Row}
   */
  rowOf(one, lanes, names, limit, thickest) {
    const { value, of, ceiling } = this.worst(
      lanes.map((passages) => this.bench.peakOf(passages)),
      names,
    );
    if (one === 0) this.ceiling = ceiling;
    const pressure = pressureOf(lanes[0], thickest);
    const chosen = this.changes.filter((_, bit) => (one >> bit) & 1);
    const cost = chosen.reduce((sum, change) => sum + (change.cost ?? 0), 0);
    const effort = chosen.reduce((sum, change) => sum + effortOf(change), 0);
    const most = this.question.pressure ?? limit;
    const broken =
      pressure.highest > most ||
      pressure.parts.some((part) => part.highest > part.limit) ||
      cost > (this.question.budget ?? Infinity) ||
      effort > (this.question.effort ?? Infinity);
    return { value, of, pressure: pressure.highest, sound: !broken, cost, effort };
  }

  /**
   * The solute or pair that is worst.
   * @param {{metrics: Record<string, number>, alone: Record<string, number>}[]} peaks
   * @param {string[]} names
   */
  worst(peaks, names) {
    const paired = this.metric === "half_height";
    const order = peaks
      .map((_, lane) => lane)
      .sort((one, other) => peaks[one].metrics.apex - peaks[other].metrics.apex);
    const apart = (/** @type {"metrics" | "alone"} */ key, /** @type {number} */ n) =>
      resolutionOf(
        [peaks[order[n]][key].apex, peaks[order[n + 1]][key].apex],
        [peaks[order[n]][key].width_half, peaks[order[n + 1]][key].width_half],
      );
    const read = paired
      ? order.slice(1).map((lane, n) => ({
          of: `${names[order[n]]}/${names[lane]}`,
          value: apart("metrics", n),
          ceiling: apart("alone", n),
        }))
      : peaks.map((peak, lane) => ({
          of: names[lane],
          value: peak.metrics[this.metric] ?? NaN,
          ceiling: peak.alone[this.metric] ?? NaN,
        }));
    const worse = (/** @type {number} */ value) => (Number.isNaN(value) ? -Infinity : this.sign * value);
    const lowest = read.reduce(
      (one, other) => (worse(other.value) < worse(one.value) ? other : one),
      read[0] ?? { of: "", value: NaN, ceiling: NaN },
    );
    const ceilings = read.map((one) => one.ceiling);
    return { ...lowest, ceiling: this.sign > 0 ? Math.min(...ceilings) : Math.max(...ceilings) };
  }

  /** Score of a combination; minus infinity where it has none. @param {number} one */
  score(one) {
    const value = this.rows.get(one)?.value ?? NaN;
    return Number.isNaN(value) ? -Infinity : this.sign * value;
  }

  /** @param {number} one @param {number} other whether they cannot be told apart */
  alike(one, other) {
    return (
      Math.abs(this.score(one) - this.score(other)) <=
      ERROR * (Math.abs(this.score(one)) + Math.abs(this.score(other)))
    );
  }

  /** The best within the limits; of those that cannot be told apart the cheapest; without what brings nothing. */
  best() {
    const within = [...this.rows.keys()].filter(
      (one) => this.rows.get(one)?.sound && this.score(one) > -Infinity,
    );
    if (!within.length) return 0;
    const top = within.reduce((one, other) => (this.score(other) > this.score(one) ? other : one));
    const price = (/** @type {number} */ one) => [
      this.rows.get(one)?.cost ?? 0,
      this.rows.get(one)?.effort ?? 0,
      bitCount(one),
      one,
    ];
    let found = within
      .filter((one) => this.score(one) >= this.score(top) || this.alike(one, top))
      .sort((one, other) => compare(price(one), price(other)))[0];
    for (;;) {
      const spare = bitsOf(found)
        .map((bit) => found & ~(1 << bit))
        .filter(
          (one) => within.includes(one) && (this.score(found) <= this.score(one) || this.alike(found, one)),
        );
      if (!spare.length) return found;
      found = spare.reduce((one, other) => (this.score(other) > this.score(one) ? other : one));
    }
  }

  /**
   * Bits of a combination in the order with the greatest area under the staircase: by dynamic
   * programming over subsets.
   * @param {number} best @param {string} order
   */
  ordered(best, order) {
    const members = bitsOf(best);
    const weight = members.map((bit) =>
      order === "money"
        ? (this.changes[bit].cost ?? 0)
        : order === "effort"
          ? effortOf(this.changes[bit])
          : 1,
    );
    const wide = (/** @type {number} */ subset) =>
      members.reduce((sum, bit, at) => sum + ((subset >> at) & 1 ? 1 << bit : 0), 0);
    const start = this.score(0);
    /** @type {Map<number, [number, number, number, number[]]>} constraints broken, minus both areas, bits */
    const ways = new Map([[0, [0, 0, 0, []]]]);
    for (let subset = 1; subset < 2 ** members.length; subset += 1) {
      const row = this.rows.get(wide(subset));
      if (!row || Number.isNaN(row.value)) continue;
      /** @type {[number, number, number, number[]] | null} */
      let least = null;
      for (let at = 0; at < members.length; at += 1) {
        const before = (subset >> at) & 1 ? ways.get(subset & ~(1 << at)) : undefined;
        if (!before) continue;
        const gain = this.score(wide(subset & ~(1 << at))) - start;
        /** @type {[number, number, number, number[]]} */
        const way = [
          before[0] + Number(!row.sound),
          before[1] - gain * weight[at],
          before[2] - gain,
          [...before[3], members[at]],
        ];
        if (
          !least ||
          compare(
            [...way.slice(0, 3), ...way[3]].map(Number),
            [...least.slice(0, 3), ...least[3]].map(Number),
          ) < 0
        )
          least = way;
      }
      if (least) ways.set(subset, least);
    }
    return ways.get(2 ** members.length - 1)?.[3] ?? null;
  }

  /** Shapley values, by bit. */
  shares() {
    const count = this.changes.length;
    const values = Array.from({ length: 2 ** count }, (_, one) => this.score(one));
    for (let bit = 0; bit < count; bit += 1) {
      for (let one = 0; one < values.length; one += 1)
        if ((one >> bit) & 1) values[one] = Math.max(values[one], values[one & ~(1 << bit)]);
    }
    const choose = (/** @type {number} */ n, /** @type {number} */ k) => {
      let found = 1;
      for (let at = 1; at <= k; at += 1) found = (found * (n - k + at)) / at;
      return found;
    };
    return this.changes.map((_, bit) =>
      values.reduce(
        (sum, value, one) =>
          (one >> bit) & 1
            ? sum
            : sum + (values[one | (1 << bit)] - value) / (count * choose(count - 1, bitCount(one))),
        0,
      ),
    );
  }

  /** @param {Order} made @param {string} order */
  tell(made, order) {
    const best = this.best();
    const bits = this.ordered(best, order);
    if (bits === null) {
      made.refused = "no order of the changes leads through combinations that are allowed";
      return;
    }
    const shares = this.shares();
    made.start = this.rows.get(0)?.value ?? NaN;
    made.ceiling = this.ceiling;
    made.combinations = this.rows.size;
    made.straight = [...this.straight];
    made.changes = this.changes.map((one, bit) => {
      const [with_, without] = [this.needs[bit], this.needs[bit] & ~(1 << bit)];
      return {
        name: one.name,
        alone: this.score(with_) - this.score(without),
        share: shares[bit],
        in_best: Boolean((best >> bit) & 1),
        cost: one.cost ?? 0,
        effort: effortOf(one),
      };
    });
    made.steps = this.steps(bits);
    if (made.steps.some((one) => one.cost > 0)) made.by_money = this.steps(this.ordered(best, "money") ?? []);
  }

  /** @param {number[]} bits of changes in the order in which they are made @returns {Step[]} */
  steps(bits) {
    let now = 0;
    return bits.map((bit) => {
      const before = now;
      now |= 1 << bit;
      const row = /** @type {Row} */ (this.rows.get(now));
      const { name, cost = 0 } = this.changes[bit];
      return {
        change: name,
        value: row.value,
        gain: this.score(now) - this.score(before),
        of: row.of,
        pressure: row.pressure,
        cost,
        effort: effortOf(this.changes[bit]),
        total_cost: row.cost,
        total_effort: row.effort,
      };
    });
  }
}

/** @param {Table} change @returns {number} s */
function effortOf(change) {
  return quantity(change.effort ?? "0 min", "effort");
}

/** @param {number} one */
const bitsOf = (one) =>
  Array.from({ length: 32 - Math.clz32(one) }, (_, bit) => bit).filter((bit) => (one >> bit) & 1);
/** @param {number} one */
const bitCount = (one) => bitsOf(one).length;

/** @param {number[]} one @param {number[]} other */
function compare(one, other) {
  const at = one.findIndex((value, n) => value !== other[n]);
  return at < 0 ? 0 : one[at] - other[at];
}
