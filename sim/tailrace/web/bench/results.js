// @ts-check
/** The answers in words and tables, with those from before beside them. */
import { constant } from "../engine/facts.js";
import { display, micro, plain } from "../engine/units.js";
import { byId, element, put, tableOf } from "../shown/dom.js";
import { injectedWords } from "./filled.js";
import { grantedBy } from "./titles.js";
import { ABSENT, BARS, MICROLITRES, MICROLITRES_SQUARED, NOT_RESOLVED, UNCHANGED, capital, countedText, gained, percent, signed, significant } from "../shown/numbers.js";

/** Metrics of a peak in the table, the leading one before them. */
const LEADING = ["peak_capacity", "plates_own_retention", "plates_half_height"];
const SHOWN = ["plates_half_height", "tailing_5", "asymmetry_10", "width_half", "apex", "variance_volume_extra_column"];

/** Share by which noise may change and not be told. */
const SAME_NOISE = 0.005;

/** What tells two numbers of plates apart. @type {Record<string, string>} */
const BESIDE = {
  plates_own_retention: " the delay elsewhere not counted",
  plates_half_height: " as data systems print them",
};

/** Resolution from which neighbours are apart, whatever their heights (common practice, no source). */
const WELL_APART = 2;

/** That the pair that is closest is apart already; empty where it is not. @param {any[]} pairs of an answer */
export function apartWords(pairs) {
  const known = pairs.filter((one) => Number.isFinite(one.resolution));
  if (!known.length || known.length < pairs.length) return "";
  const { first, second, resolution } = known.reduce((least, one) => (one.resolution < least.resolution ? one : least));
  const which = pairs.length > 1 ? `${first} and ${second}, the closest pair, are` : `${first} and ${second} are`;
  return resolution >= WELL_APART ? `${which} apart as it is: resolution ${significant(resolution)}, where 1.5 to 2 is enough (common practice, no source). To part them nothing has to be bought.` : "";
}

/** Which metric speaks of efficiency. @param {any} solute */
export function leadingOf(solute) {
  const { metrics } = solute;
  return LEADING.find((key) => Number.isFinite(metrics[key])) ?? "plates_half_height";
}

/** Decimals of plates and of peak capacity wherever they are shown. @param {string} key */
export const decimalsOf = (key) => (key === "peak_capacity" ? 1 : 0);

/** What is gained in what speaks of efficiency. @param {any} solute @param {number} more @param {number} [from] than what it has */
function gainText(solute, more, from = solute.metrics[leadingOf(solute)]) {
  return gained(from + more, from, decimalsOf(leadingOf(solute)));
}

/** What comes back if a part were ideal; nothing that is shown: less than that. @param {any} solute @param {number} value */
export function backText(solute, value) {
  const text = gainText(solute, value);
  return text === UNCHANGED ? `<${10 ** -decimalsOf(leadingOf(solute))}` : text;
}

/** What comes back. @param {any} solute */
export const backWords = (solute) => (leadingOf(solute) === "peak_capacity" ? "peak capacity" : "plates");

/** @param {any} facts @param {string} key @param {number} value */
export function metricText(facts, key, value) {
  const row = facts.metrics[key];
  if (!Number.isFinite(value)) return ABSENT;
  if (key.startsWith("plates") || key === "peak_capacity") return countedText(value, decimalsOf(key));
  if (key === "variance_volume_extra_column") return `${significant(value * MICROLITRES_SQUARED)} µL²`;
  if (row?.kind && facts.kinds[row.kind]) return micro(display(value, row.kind));
  return row?.unit && row.unit !== "1" ? `${significant(value, 4)} ${row.unit}` : significant(value, row?.digits ?? 3);
}

/** One sentence on the solute that is looked at, and what it rests on. @param {any} facts @param {any} solute @param {any} before @param {any} tables
 * @param {string[]} assumed values that nobody has given */
export function headline(facts, solute, before, tables, assumed) {
  const key = leadingOf(solute);
  const [now, own] = [solute.metrics[key], solute.metrics_column?.[key]];
  /** @type {(Node | string)[]} */
  const said =
    key === "peak_capacity"
      ? ["A ", element("strong", {}, `peak capacity of ${metricText(facts, key, now)}`), ` at ${solute.name} is recorded`]
      : [element("strong", {}, `${metricText(facts, key, now)} plates`), ` of ${solute.name} are recorded`];
  if (Number.isFinite(own)) said.push(`, ${percent(now / own)} % of the ${metricText(facts, key, own)} that the column alone would give`);
  said.push(".");
  const parts = solute.parts.filter((/** @type {any} */ one) => one.plates_back > 0 && one.kind !== "column");
  parts.sort((/** @type {any} */ a, /** @type {any} */ b) => b.plates_back - a.plates_back);
  if (parts.length) said.push(` Most would come back from ${parts[0].name}: ${backText(solute, parts[0].plates_back)} if it alone were ideal.`);
  const was = before?.metrics[key];
  if (Number.isFinite(was)) said.push(` Before: ${metricText(facts, key, was)} (${gainText(solute, now - was, was)}).`);
  put(byId("headline"), said);
  put(byId("granted"), grantedBy(tables, assumed));
}

/** What the metrics are, for those who ask. @param {any} facts */
export function meanings(facts) {
  const rows = [...new Set([...LEADING, ...SHOWN])].map((key) => facts.metrics[key]);
  byId("meanings").append(...rows.flatMap(({ label, meaning }) => [element("dt", {}, capital(label)), element("dd", {}, meaning)]));
}

/** @param {any} facts @param {any} answer @param {number} lane
 * @param {{before: any, measured: any, minutes: boolean}} beside answer from before, what was measured, and the unit of times */
export function showPeak(facts, answer, lane, { before, measured, minutes }) {
  const solute = answer.solutes[lane];
  const was = before?.solutes.find((/** @type {any} */ one) => one.name === solute.name);
  const keys = [...new Set([leadingOf(solute), ...SHOWN])].filter((key) => Number.isFinite(solute.metrics[key]));
  const text = (/** @type {string} */ key, /** @type {number} */ value) =>
    key === "apex" && minutes && Number.isFinite(value) ? `${significant(value / 60, 4)} min` : metricText(facts, key, value);
  const column = Number.isFinite(solute.metrics_column?.apex);
  const heads = ["", ...(column ? ["column alone"] : []), ...(was ? ["before"] : []), "recorded", ...(was ? ["change"] : []), ...(measured ? ["measured"] : [])];
  const rows = keys.map((key) => {
    const value = solute.metrics[key];
    const label = element("span", {}, capital(facts.metrics[key].label), element("span", { class: "small block" }, BESIDE[key] ?? ""));
    /** @type {any[]} */
    const cells = column ? [text(key, solute.metrics_column[key])] : [];
    if (was) cells.push(text(key, was.metrics[key]));
    cells.push(element("strong", {}, text(key, value)));
    if (was) cells.push(change(value, was.metrics[key]));
    if (measured) cells.push(measured.measured && Number.isNaN(measured.metrics[key]) ? NOT_RESOLVED : text(key, measured.metrics[key]));
    return [label, ...cells];
  });
  put(byId("peak"), tableOf(`The peak of ${solute.name}`, heads, rows));
}

/** Height of a peak over that before, for the same sample. @param {any} now @param {any} was of the same solute */
function signalText(now, was) {
  const of = (/** @type {any} */ one) => one.signal.concentration_recorded * (one.signal.light_path || 1) * (one.signal.amount || one.parts[0].volume || 1);
  const injected = now.parts[0].volume / was.parts[0].volume;
  const less = Math.abs(injected - 1) > 1e-6 ? `: ${injectedWords(injected)}` : "";
  return `${significant(of(now) / of(was))} times that before${less}`;
}

/** @param {number} now @param {number} was */
function change(now, was) {
  const share = now / was - 1;
  return Number.isFinite(share) ? `${signed(100 * share, 2)} %` : ABSENT;
}

/** @param {any} answer @param {any} before @param {any} limit of the whole path, Pa, or null @param {number} lane */
export function showWhole(answer, before, limit, lane) {
  const rows = answer.pairs.map((/** @type {any} */ pair) => {
    const was = before?.pairs.find((/** @type {any} */ one) => one.first === pair.first && one.second === pair.second);
    return [`${pair.first} – ${pair.second}`, ...(before ? [significant(was?.resolution)] : []), element("strong", {}, significant(pair.resolution)), percent(pair.valley)];
  });
  const heads = ["Neighbours", ...(before ? ["before"] : []), "resolution", "valley, %"];
  put(byId("pairs"), rows.length ? tableOf("Resolution", heads, rows) : "");
  const facts = [];
  const { total, highest } = answer.pressure;
  const along = highest > total ? ", at its highest along the programme" : "";
  if (Number.isFinite(total)) {
    const was = before ? ` (before: ${significant(before.pressure.highest * BARS)} bar)` : "";
    const start = along && `${along}; in the eluent ${significant(total * BARS)} bar`;
    facts.push(["Pressure", `${significant(highest * BARS)} bar ${about()}${limit ? (" of " + (plain(limit * BARS)) + " bar allowed") : ""}${start}${was}`]);
  }
  const cells = answer.solutes[lane].parts.filter((/** @type {any} */ one) => one.kind === "cell");
  for (const { name } of Number.isFinite(total) ? cells : []) {
    const { highest: inlet, limit: most } = answer.pressure.parts.find((/** @type {any} */ one) => one.name === name);
    const limited = Number.isFinite(most);
    const of = limited ? ` against its limit of ${plain(most * BARS)} bar` : "";
    const bears = limited ? `; at most ${plain(most * BARS)} bar allowed` : "; no limit is given, and cells bear often no more than some tens of bar (common practice, no source): see its manual";
    const told = inlet > 0 ? `${barText(inlet)} bar ${about()}${bears}${along}` : `no waste line is drawn behind it, so the pressure in it was not checked${of}: add what lies behind the cell`;
    facts.push([`At ${name}`, told]);
  }
  const told = answer.solutes[lane];
  const was = before?.solutes.find((/** @type {any} */ one) => one.name === told.name);
  if (was) facts.push([`Signal of ${told.name}`, signalText(told, was)]);
  const louder = was ? told.signal.relative_noise / was.signal.relative_noise : NaN;
  if (Math.abs(louder - 1) > SAME_NOISE) facts.push(["Noise", `${significant(louder)} times that before, where it is white: a ${louder > 1 ? "faster response passes more" : "slower response passes less"} of it`]);
  if (Number.isFinite(answer.signal_to_noise)) facts.push(["Signal-to-noise", `${significant(answer.signal_to_noise)}${before ? (" (before: " + significant(before.signal_to_noise) + ")") : ""}`]);
  put(byId("whole"), ...facts.flatMap(([name, text]) => [element("dt", {}, name), element("dd", {}, text)]));
}

/** Against which limits changes are held, in one sentence. @param {any} answer @param {any} limit of the whole path, Pa, or null */
export function heldWords({ pressure, solutes }, limit) {
  const cells = solutes[0].parts.filter((/** @type {any} */ one) => one.kind === "cell").map((/** @type {any} */ { name }) => pressure.parts.find((/** @type {any} */ one) => one.name === name));
  const known = cells.filter((/** @type {any} */ one) => one?.highest > 0 && one.limit > 0);
  const names = (/** @type {any[]} */ some) => some.map((one) => one.name).join(", ");
  const held = [...(limit ? [`${plain(limit * BARS)} bar for the whole path`] : []), ...known.map((/** @type {any} */ one) => `${plain(one.limit * BARS)} bar in ${one.name}`)];
  const open = cells.filter((/** @type {any} */ one) => one && !(one.highest > 0));
  const unlimited = cells.filter((/** @type {any} */ one) => one?.highest > 0 && !(one.limit > 0));
  return [
    held.length ? `Pressure is held to ${held.join(" and ")}. ` : "No pressure is held against a limit. ",
    limit ? "" : "None is given for the whole path. ",
    open.length ? `In ${names(open)} it was not checked: no waste line is drawn behind. ` : "",
    unlimited.length ? `None is given for ${names(unlimited)}. ` : "",
  ].join("");
}

/** Part by part: what it is, holds, takes and adds, and what would come back. @param {any} answer @param {number} lane
 * @param {(name: string) => string} sizes of a part, as they are typed */
export function showParts(answer, lane, sizes) {
  const solute = answer.solutes[lane];
  const most = Math.max(...solute.parts.map((/** @type {any} */ one) => (one.plates_back > 0 && one.kind !== "column" ? one.plates_back : 0)), 1e-9);
  const rows = solute.parts.map((/** @type {any} */ part) => {
    const drop = answer.pressure.parts.find((/** @type {any} */ one) => one.name === part.name);
    const back = part.kind === "column" ? NaN : part.plates_back;
    const gauge = element("span", { class: "gauge", "aria-hidden": "true" }, element("span", {}));
    gauge.firstChild.style.width = `${Math.max(0, (100 * (back || 0)) / most)}%`;
    return [
      part.behind ? `${part.name} (behind)` : part.name,
      element("span", { class: "paper-only" }, sizes(part.name)),
      significant(part.volume > 0 ? part.volume * MICROLITRES : NaN),
      significant(part.residence || part.mean),
      significant(part.variance_volume * MICROLITRES_SQUARED),
      backText(solute, back),
      gauge,
      drop && drop.drop > 0 ? barText(drop.drop) : ABSENT,
    ];
  });
  const heads = ["Part", element("span", { class: "paper-only" }, "sizes"), "volume, µL", "time, s", "adds, µL²", `${backWords(solute)} back if ideal`, "", `pressure${answer.pressure.highest > answer.pressure.total ? " in the eluent" : ""}, bar ${about()}`];
  const focused = element("p", { class: "hint" }, "The gradient focuses what parts before the column add: how little of it is left, what comes back if ideal says.");
  const times = element("p", { class: "hint" }, "Time: by how much a part delays the middle of the band, from the start of the injection; they add up. The top of a peak that tails comes before its middle.");
  const alone = element("p", { class: "hint screen-only" }, "What comes back is told of each part alone: it adds up neither to what is lost nor to what several give together. Variances add up; but plates are read at half height, where a tail counts for less, so their sum tells fewer.");
  put(byId("parts"), tableOf(`What each part adds to the peak of ${solute.name}`, heads, rows, { class: "parts" }), times, leadingOf(solute) === "peak_capacity" ? focused : alone);
}

/** How well a pressure is known, as `run` says it. */
const about = () => `± ${Math.round(100 * constant("ESTIMATED"))} %`;

/** @param {number} pressure Pa */
function barText(pressure) {
  const bars = pressure * BARS;
  return bars < 0.01 ? "<0.01" : significant(bars, bars < 1 ? 2 : 3);
}

/** @param {string[]} warnings */
export function showWarnings(warnings) {
  const place = byId("warnings");
  place.hidden = !warnings.length;
  put(place, warnings.map((text) => element("li", {}, text)));
}
