// What the reader of the numbers must know, in sentences.

import { constant } from "./facts.js";
import { isOf, kindOf } from "./parts.js";
import { pressureWarnings } from "./pressure.js";
import { tooDark } from "./signals.js";

/** @param {string[]} bent tubes taken as straight */
export function straightened(bent) {
  if (!bent.length) return [];
  const [what, own] = bent.length > 1 ? ["are taken as if they were straight", "them"] : ["is taken as if it were straight", "it"];
  return [
    `${bent.join(", ")} ${what}: bends mix the stream, so that the band from ${own} is narrower than here. The truth lies between ` +
      `these numbers and those with ${own} ideal; tailrace run computes it`,
  ];
}

/**
 * What the reader of the numbers must know, in the program's words.
 * @param {import("./resolve.js").Passage[][]} lanes
 * @param {import("./answer.js").Peak[]} peaks
 * @param {number} limit Pa
 * @param {import("./answer.js").Answer} made
 */
export function warningsOf(lanes, peaks, limit, made) {
  const path = lanes[0].map(({ part }) => part);
  const said = path.flatMap((part, at) => {
    const { cautions } = kindOf(part);
    return cautions && !part.behind
      ? cautions(
          part,
          lanes.map((one) => one[at].stream),
        )
      : [];
  });
  const last = path.findLastIndex((part) => isOf(part, "separates"));
  for (const part of path.slice(0, Math.max(last, 0)).filter((one) => isOf(one, "observes"))) {
    const column = path[last];
    const what = column.behind
      ? `nothing of what ${column.name} does is recorded`
      : "it broadens what enters the column";
    said.push(
      `${part.name}: a cell before ${column.name}, so ${what}; put it behind the column if that is where it stands`,
    );
  }
  said.push(...pressureWarnings(made.pressure, limit));
  const recorder = path[path.length - 1];
  if (isOf(recorder, "records") && recorder.interval > 0) {
    const points = Math.min(
      ...peaks.map(({ recorded: { values } }) => {
        let [most, count] = [0, 0];
        for (const one of values) if (one > most) most = one;
        for (const one of values) if (one > most / 2) count += 1;
        return count;
      }),
    );
    const least = constant("LEAST_POINTS");
    if (points < least) {
      said.push(
        `${recorder.name}: points above half the height of the narrowest peak: ${points}; ${least} or more are ` +
          "usual (common practice, no source), and with fewer the metrics depend on where the points happen to fall",
      );
    }
  }
  return [...said, ...tooDark(made.solutes)];
}
