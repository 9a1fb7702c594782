// Many instruments of few parts: the factor of each part is computed once for all of them.

import { ofColumns, peakOf, summed } from "./answer.js";
import { factorOf, highestOf, productOf, reachOf, signalIn } from "./band.js";
import { evenly } from "./curves.js";
import { constant } from "./facts.js";
import { hasMigration } from "./manner.js";
import { metricsOf } from "./metrics.js";
import { can, cumulantsOf, isOf } from "./parts.js";
import { signalsOf } from "./signals.js";

/** @typedef {import("./resolve.js").Passage} Passage */
/** @typedef {import("./responses.js").Cumulants} Cumulants */
/** @typedef {import("./band.js").Spectrum} Spectrum */
/** @typedef {{metrics: Record<string, number>, alone: Record<string, number>}} Read */
/** @typedef {{said: Cumulants, factor: Spectrum}} Known of one part in one stream */

const STRETCH = 2;
/** Of the height, that may stand at the window's ends or in higher frequencies. */
const SLIGHT = 1e-6;

/** @param {import("./eluent.js").Stream} stream what parts ask of it */
const keyOf = ({ flow, diffusivity, viscosity, density, retention, platesDiffusivity }) =>
  [flow, diffusivity, viscosity, density, retention, platesDiffusivity].join(" ");

/** The frequencies that all instruments with one solute and flow share. */
class Grid {
  /** @param {Passage[]} passages of the first of them */
  constructor(passages) {
    const said = passages.map(({ part, stream }) => cumulantsOf(part, stream));
    const deviation = Math.sqrt(summed(said).variance);
    const columns = passages.filter(({ part }) => can(part, "separates"));
    const narrowest = columns.length ? columns : passages;
    const least = Math.sqrt(summed(narrowest.map(({ part, stream }) => cumulantsOf(part, stream))).variance);
    const highest = Math.max(highestOf(passages, deviation), highestOf(narrowest, least));
    const [before, after] = reachOf(said, 1);
    this.length = STRETCH * (before + after);
    const spacing = (2 * Math.PI) / this.length;
    this.size = Math.min(Math.ceil(highest / spacing) + 1, constant("MOST_FREQUENCIES"));
    this.omega = evenly(0, spacing, this.size);
    this.samples = 2 ** Math.ceil(Math.log2(8 * this.size));
    /** @type {WeakMap<import("./parts.js").Part, Map<string, Known>>} */
    this.known = new WeakMap();
  }

  /** @param {Passage} passage @returns {Known} */
  of({ part, stream }) {
    let streams = this.known.get(part);
    if (!streams) this.known.set(part, (streams = new Map()));
    const key = keyOf(stream);
    let found = streams.get(key);
    if (!found)
      streams.set(
        key,
        (found = { said: cumulantsOf(part, stream), factor: factorOf({ part, stream }, this.omega) }),
      );
    return found;
  }
}

/** Peaks of many instruments; those that its grids do not hold are computed each by itself. */
export class Workbench {
  constructor() {
    /** @type {Map<string, Grid>} */
    this.grids = new Map();
    /** @type {Map<string, Record<string, number>>} */
    this.own = new Map();
  }

  /**
   * @param {Passage[]} passages
   * @returns {Read}
   */
  peakOf(passages) {
    const { part, stream } = passages[passages.length - 1];
    const key = [passages[0].stream.flow, passages[0].stream.diffusivity, stream.retention].join(" ");
    const migrating = hasMigration(passages);
    let grid = this.grids.get(key);
    if (!grid && !migrating) this.grids.set(key, (grid = new Grid(passages)));
    const found = grid && this.held(passages, grid);
    const sparse = found && isOf(part, "records") && part.interval > Math.sqrt(found.sums.variance) / 10;
    if (!grid || !found?.band || sparse) {
      const slow = peakOf(passages, false);
      return {
        metrics: { ...slow.metrics, ...signalsOf(passages, slow.metrics, slow.alone) },
        alone: slow.alone,
      };
    }
    const alone = this.alone(passages, grid, key);
    const outside = passages.reduce(
      (sum, one) => sum + (can(one.part, "separates") ? 0 : grid.of(one).said.variance),
      0,
    );
    const setting = {
      extraColumn: outside,
      flow: passages[0].stream.flow,
      ...(alone.apex === undefined ? {} : { ownTime: alone.apex, ...ofColumns(passages, found.sums.mean) }),
    };
    const metrics = metricsOf(found.band, found.sums, setting);
    return { metrics: { ...metrics, ...signalsOf(passages, metrics, alone) }, alone };
  }

  /**
   * The band on the grid; null where it does not fit.
   * @param {Passage[]} passages @param {Grid} grid
   */
  held(passages, grid) {
    const known = passages.map((one) => grid.of(one));
    const said = known.map((one) => one.said);
    const sums = summed(said);
    const deviation = Math.sqrt(sums.variance);
    const [before, after] = reachOf(said, 1);
    const whole = productOf(
      known.map((one) => one.factor),
      grid.size,
    );
    const last = grid.size - 1;
    const left = Math.hypot(whole.re[last], whole.im[last]) * grid.omega[last] * deviation;
    if (before + after > grid.length || left > SLIGHT) return { band: null, sums };
    const window = {
      start: sums.mean - before,
      step: grid.length / grid.samples,
      samples: grid.samples,
      every: 1,
    };
    return { band: signalIn(whole, { window, omega: grid.omega }), sums };
  }

  /**
   * Metrics of the columns' own peak; each set of columns once.
   * @param {Passage[]} passages @param {Grid} grid @param {string} key
   */
  alone(passages, grid, key) {
    const columns = passages.filter(({ part }) => can(part, "separates"));
    if (!columns.length) return {};
    const name = `${key} ${columns.map(({ part, stream }) => `${JSON.stringify(part)} ${keyOf(stream)}`).join(" ")}`;
    let found = this.own.get(name);
    if (!found) {
      const { band, sums } = this.held(columns, grid);
      found = band ? metricsOf(band, sums) : peakOf(passages, false).alone;
      found.plates_own_retention = found.plates_half_height;
      this.own.set(name, found);
    }
    return found;
  }
}
