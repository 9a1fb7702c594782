// What the detector sees: height of the peak, noise, and one over the other; as `journey/signal.py`.

import { constant } from "./facts.js";
import { can, isOf, noiseBandwidth } from "./parts.js";
import { general } from "./units.js";

/** @typedef {import("./resolve.js").Passage} Passage */

/**
 * By the names of the program's signals, SI; NaN where something that is needed is not given.
 * @param {Passage[]} passages
 * @param {Record<string, number>} recorded metrics
 * @param {Record<string, number>} alone metrics of the columns' own peak
 * @returns {Record<string, number>}
 */
export function signalsOf(passages, recorded, alone) {
  const cell = passages.findLast(({ part }) => can(part, "observes"));
  const last = passages[passages.length - 1];
  const { stream } = cell ?? last;
  const thin = stream.share / stream.flow;
  const own = (alone.height ?? NaN) / passages[0].stream.flow;
  const bandwidth = isOf(last.part, "records") ? noiseBandwidth(last.part) : NaN;
  const stated = 1 / (4 * (last.part.noise_time_constant ?? NaN));
  const concentration = recorded.height * thin;
  const path = cell?.part.light_path ?? NaN;
  const absorbance = concentration * stream.amount * stream.absorptivity * path;
  const noise = (last.part.noise ?? NaN) * Math.sqrt(bandwidth / stated);
  const relative = Math.sqrt(4 * constant("NOISE_REFERENCE") * bandwidth);
  return {
    concentration_recorded: concentration,
    relative_signal: concentration / own,
    relative_noise: relative,
    relative_signal_to_noise: concentration / own / relative,
    noise,
    light_path: path,
    amount: stream.amount,
    absorptivity: stream.absorptivity,
    absorbance,
    signal_to_noise: (2 * absorbance) / noise,
  };
}

/**
 * One sentence for each peak that may be too high for the detector.
 * @param {{name: string, signal: Record<string, number>}[]} solutes
 * @returns {string[]}
 */
export function tooDark(solutes) {
  const most = constant("MOST_ABSORBANCE");
  return solutes
    .filter((one) => one.signal.absorbance > most)
    .map(
      (one) =>
        `${one.name}: the peak reaches ${general(one.signal.absorbance, 2)} AU; above about ${general(most, 6)} AU a detector ` +
        "may no longer answer in proportion: inject less or take a shorter light path",
    );
}
