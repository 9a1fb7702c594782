// @ts-check
/** The best order of changes as it is told: by money, and step by step. */
import { byId, drawn, element, put, innerWidthOf, tableOf, zoom } from "../shown/dom.js";
import { constant } from "../engine/facts.js";
import { display } from "../engine/units.js";
import { MICROLITRES_SQUARED, countedText, gained, money, significant } from "../shown/numbers.js";

/** Of an aim: its unit, what it is called, decimals. @type {Record<string, [string, string, number]>} */
const AIMED = { plates_own_retention: ["plates", "Plates", 0], peak_capacity: ["peak capacity", "Peak capacity", 1] };
/** Decimals and digits of variances, µL². @type {[number, number]} */
const SPREAD = [3, 3];
export const aimedOf = (/** @type {string} */ metric) => AIMED[metric];

/** @param {string} metric @param {number} value */
function valueText(metric, value) {
  const aimed = aimedOf(metric);
  return aimed ? countedText(value, aimed[2]) : countedText(value * MICROLITRES_SQUARED, ...SPREAD);
}

/** From one value to another, as they are shown. @param {string} metric @param {number} now @param {number} was */
function stepText(metric, now, was) {
  const aimed = aimedOf(metric);
  return aimed ? gained(now, was, aimed[2]) : gained(now * MICROLITRES_SQUARED, was * MICROLITRES_SQUARED, ...SPREAD);
}

/** What a change brings alone. @param {any} order @param {number} alone */
export function aloneText({ metric, start }, alone) {
  return `${stepText(metric, start + alone, start)} ${aimedOf(metric)?.[0] ?? "µL²"}`;
}

/** Shares of changes in what all of them bring together, by their names: they add up to it as it is shown. @param {any} order */
export function sharesOf(order) {
  let reached = order?.start ?? 0;
  return new Map((order?.changes ?? []).map((/** @type {any} */ { name, share }) => {
    const was = reached;
    reached += share;
    return [name, `${stepText(order.metric, reached, was)} ${aimedOf(order.metric)?.[0] ?? "µL²"}`];
  }));
}

/** Whether the order that is shown is that by money: all costs are known. @param {any} order */
export const paidOf = (order) => Boolean(order?.by_money?.length && !order.unpriced.length);

/** What to do first for the money, and what for the aim alone, side by side; a sentence where costs are not known. @param {any} order */
function byMoney({ metric, start, steps, by_money: paid, unpriced }) {
  if (!paid.length) return ["No costs are given: by money nothing comes first."];
  if (unpriced.length) return [`By money the changes are ranked once it is typed what each costs; that of ${unpriced.join(", ")} is assumed.`];
  const unit = aimedOf(metric)?.[0] ?? "µL² less";
  const worth = paid.map((/** @type {any} */ one) => ((aimedOf(metric) ? 1 : MICROLITRES_SQUARED) * one.gain) / one.cost);
  const bought = paid.map((/** @type {any} */ { change, cost }, /** @type {number} */ k) => change + ": " + (cost > 0 ? `${significant(worth[k], 2)} ${unit} for each 1 of cost` : "costs nothing"));
  const done = steps.map((/** @type {any} */ { change, value }, /** @type {number} */ k) => `${change}: ${stepText(metric, value, k ? steps[k - 1].value : start)}`);
  const list = (/** @type {string} */ head, /** @type {string[]} */ rows) => element("div", {}, element("strong", {}, head, ": "), element("ul", {}, rows.map((one, k) => element("li", {}, `${k + 1}. ${one}`))));
  const alike = steps.every((/** @type {any} */ one, /** @type {number} */ k) => one.change === paid[k].change);
  const why = alike
    ? "Both orders are the same here."
    : "They differ because the first counts what is gained for all that is spent on the way, the second what is gained over all its steps, and costs do not count.";
  const falls = worth.every((/** @type {number} */ one, /** @type {number} */ k) => !k || one <= worth[k - 1] * 1.005);
  const rank = falls ? "" : " What a line brings for its cost need not fall from line to line: a change may bring more after another than before it.";
  return [
    element("div", { class: "sides" }, list("To buy first for the money", bought), list(`To do first for ${aimedOf(metric) ? "most " + unit : "least variance"}, whatever it costs`, done)),
    element("p", {}, why + rank),
  ];
}

/** The same steps for paper, where the letters of bars would be too small. @param {string} metric @param {any[]} rows */
function stepsTable(metric, rows) {
  const cells = rows.slice(1).map((one, k) => [
    `${k + 1}. ${one.change}`,
    valueText(metric, one.value),
    stepText(metric, one.value, rows[k].value),
    money(one.cost),
    money(one.total_cost),
    display(one.effort, "effort"),
    display(one.total_effort, "effort"),
  ]);
  return tableOf("Step by step", [`as it is: ${valueText(metric, rows[0].value)}`, aimedOf(metric)?.[0] ?? "variance, µL²", "change", "cost", "so far", "effort", "so far"], cells);
}

/** That all together bring so little that the program calls it not worth it; else empty. @param {any} order */
function smallWords({ metric, start, steps }) {
  const share = Math.abs(steps[steps.length - 1].value / start - 1);
  const least = constant("LEAST_WORTH");
  const what = aimedOf(metric)?.[0] ?? "the variance";
  return share < least ? `Hardly worth it: all changes together bring ${significant(100 * share, 2)} % of ${what}, less than ${significant(100 * least, 1)} % (our own choice).` : "";
}

/** Which tubes the order takes as straight. @param {any} order */
function straightWords({ straight }) {
  return straight?.length ? `The changes and their order are computed as if ${straight.join(", ")} were straight.` : "";
}

/** While it is computed how sure the order is. */
export const SURE_SOON = "How sure the order is: being computed …";

/** Bars from what there is to what all changes give. @param {any} order */
export function drawStaircase(order) {
  const svg = byId("staircase");
  svg.replaceChildren();
  svg.classList.remove("old");
  put(byId("order-sure"), order?.steps?.length ? SURE_SOON : "");
  const first = order?.steps?.length ? [order.apart, smallWords(order), straightWords(order)].filter(Boolean) : [];
  put(byId("by-money"), order?.steps?.length ? [...first.map((one) => element("p", {}, one)), ...byMoney(order)] : "");
  const paid = paidOf(order);
  byId("by-money").classList.remove("old");
  const note = byId("order-note");
  svg.toggleAttribute("hidden", !order?.steps?.length);
  byId("order").hidden = !order;
  if (!order?.steps?.length) {
    const none = order && order.refused === null ? `None of the changes improves it within the limits. ${order.held}` : "";
    note.replaceChildren(order?.refused ?? none, ...(order?.act ? [order.act] : []));
    return;
  }
  const rows = [{ change: "as it is", value: order.start, cost: 0, gain: 0, total_cost: 0 }, ...(paid ? order.by_money : order.steps)];
  const width = Math.max(280, (innerWidthOf(svg) || 500) / zoom());
  const [tall, top] = [36, 3];
  svg.setAttribute("viewBox", `0 0 ${width} ${rows.length * tall + top}`);
  const longest = Math.max(...rows.map((one) => one.value));
  const long = width - 120;
  rows.forEach((one, k) => {
    const y = top + k * tall;
    const now = (long * one.value) / longest;
    const was = k ? (long * rows[k - 1].value) / longest : now;
    const price = k ? `; cost ${money(one.cost)}, so far ${money(one.total_cost)}; effort ${display(one.effort, "effort")}, so far ${display(one.total_effort, "effort")}` : "";
    svg.append(
      drawn("text", { x: 0, y: y + 11 }, `${k ? ("" + k + ". ") : ""}${one.change}${price}`),
      drawn("rect", { x: 0, y: y + 16, width: Math.max(1, Math.min(was, now)), height: 13, class: "step" }),
      drawn("rect", { x: Math.min(was, now), y: y + 16, width: Math.abs(now - was), height: 13, class: now >= was ? "gained" : "lost" }),
      drawn("text", { x: Math.max(now, was) + 6, y: y + 27 }, `${valueText(order.metric, one.value)}${k ? (" (" + (stepText(order.metric, one.value, rows[k - 1].value)) + ")") : ""}`),
    );
  });
  put(byId("steps"), stepsTable(order.metric, rows));
  const what = aimedOf(order.metric)?.[1] ?? "Extra-column variance, µL²,";
  const most = aimedOf(order.metric) ? "most " + aimedOf(order.metric)[0] : "least variance";
  put(byId("order-title"), "The best order of changes: " + most + (paid ? " for the money soonest" : " soonest; what they cost is not weighed"));
  svg.setAttribute("aria-label", `${what} in the best order of changes: ${rows.map((one) => one.change + ", " + valueText(order.metric, one.value)).join("; ")}`);
  note.replaceChildren(
    `${what} of ${rows[rows.length - 1].of}, which fares worst of all solutes at the end, in the order that has gained most over all ${paid ? "that is spent on the way" : "steps of the way"}; ${order.combinations} combinations are computed. ${order.metric === "peak_capacity" ? "Pressures are the highest along the programme. " : ""}${order.held}By other aims, and with typical tolerances of makers where the file states none: `,
    element("code", {}, "tailrace improve"),
    ".",
  );
}
