// The page with sliders: what stands where, and what happens when something is moved.

import { useFacts } from "../engine/facts.js";
import { draw, endsOf, lineOf } from "./draw.js";
import { hashOf, lessonOf, stationOf } from "./lesson.js";
import { freeView, shownOn, typedOn } from "./free.js";
import { withNoise } from "./noise.js";
import { percent, significant } from "./numbers.js";
import { savePicture, saveTable } from "./save.js";
import { stopsView, unpacked } from "./stops.js";

/** @typedef {import("./draw.js").Line} Line */
/** @typedef {import("./draw.js").Ends} Ends */
/** @typedef {import("./views.js").View} View */
/** @typedef {number | string | null} Value of a slider: in SI, a word, or none: as the scenario has it */

const FINE = 1000;
const LATER = 120;
/** @param {string} name */
const byId = (name) => /** @type {any} */ (document.getElementById(name));
const told = JSON.parse(byId("data").textContent);
const here = told.stations ? stationOf(told.stations, location.hash) : 0;
if (told.stations) byId("station").replaceChildren(byId(`station-${here}`).content.cloneNode(true));
const data = told.stations ? told.stations[here] : told;
const free = data.mode === "free";
if (free) useFacts(JSON.parse(byId("facts").textContent));
const curves = free ? [] : unpacked(data);
/** @type {any[]} */
const axes = data.axes;
/** @type {HTMLInputElement[]} */
const sliders = axes.map((_, n) => byId(`slider-${n}`));

/** @type {Value[]} */
let values = axes.map((axis) => axis.start);
let along = 0;
/** @type {{values: Value[], view: View} | null} */
let pinned = null;
/** @type {View | null} */
let ghost = null;
/** @type {View} */
let current = viewAt(values);
let moving = false;
/** @type {Map<string, Ends>} */
const widest = new Map();
let pending = 0;

/** @param {Value[]} at @returns {View} */
function viewAt(at) {
  return free ? freeView(data, at) : stopsView(data, curves, /** @type {number[]} */ (at));
}

function solute() {
  return Number(byId("solute")?.value ?? 0);
}

/** @param {any} axis @param {Value} value @returns {string} */
function shown(axis, value) {
  return free ? shownOn(axis, value) : axis.labels[/** @type {number} */ (value)];
}

/** uL as µL, like the other texts of the page. @param {string} text */
function micro(text) {
  return text.replace(/(\d )u(?=[Lmg])/g, "$1µ");
}

/** Of a slider that is free: its place, 0 to FINE, as a value with four digits. @param {any} axis @param {number} place */
function valueOf(axis, place) {
  if (!free) return place;
  if (axis.words.length) return axis.words[place];
  const part = place / FINE;
  const value = axis.log
    ? axis.low * (axis.high / axis.low) ** part
    : axis.low + (axis.high - axis.low) * part;
  return Number(value.toPrecision(4));
}

/** @param {any} axis @param {Value} value */
function placeOf(axis, value) {
  if (!free) return Number(value);
  if (axis.words.length) return axis.words.indexOf(value);
  const number = value === null ? axis.low : Number(value);
  const part = axis.log
    ? Math.log(number / axis.low) / Math.log(axis.high / axis.low)
    : (number - axis.low) / (axis.high - axis.low);
  return Math.round(FINE * Math.min(Math.max(part, 0), 1));
}

/** Move to other values. @param {Value[]} to */
function move(to) {
  if (!moving) ghost = current;
  moving = true;
  values = to;
  current = viewAt(values);
  show();
}

function show() {
  const lane = Math.min(solute(), Math.max(current.lines.length - 1, 0));
  axes.forEach((axis, n) => {
    const text = shown(axis, values[n]);
    const told = byId(`value-${n}`);
    if (told !== document.activeElement || told.tagName === "OUTPUT") told.value = micro(text);
    sliders[n].value = String(placeOf(axis, values[n]));
    sliders[n].setAttribute("aria-valuetext", micro(text));
  });
  byId("picture-solute").textContent = data.solutes[lane];
  byId("said").textContent = current.refused || sentence(lane);
  byId("apart").textContent = current.apart;
  byId("delay").textContent = delayed(lane);
  pictures(lane);
  fill(lane);
  warn();
  clearTimeout(pending);
  pending = setTimeout(() => later(lane), LATER);
}

/** The address of this position. @param {number} version */
function addressOf(version) {
  const positions = axes.map((axis, n) => /** @type {[string, string]} */ ([axis.name, shown(axis, values[n])]));
  return hashOf(data.lesson, version, positions);
}

/** What may come a little after the picture. @param {number} lane */
function later(lane) {
  fillAlong(lane);
  const fragment = addressOf(data.version);
  const start = axes.every((axis, n) => values[n] === axis.start);
  if (location.hash !== fragment && !(start && !location.hash)) location.replace(fragment);
}

/** @param {number} lane */
function delayed(lane) {
  const delay = current.delays[lane];
  if (!(delay > 0) || !current.lines[lane]?.some((one) => one.kind === "own")) return "";
  return `The column's own peak is drawn ${significant(delay)} s later than the column alone gives it: the mean time in all other parts.`;
}

/** Lines of a view as those of another state. @param {View | null} view @param {number} lane @param {string} kind @returns {Line[]} */
function as(view, lane, kind) {
  return (view?.lines[lane] ?? []).filter((one) => one.kind === "recorded").map((one) => ({ ...one, kind }));
}

/** Ends that hold for all that was seen under a name, where the scale is to stay. @param {string} key @param {Line[]} lines */
function keptEnds(key, lines) {
  const ends = endsOf(lines);
  if (!lines.length || !byId("hold").checked) return ends;
  const before = widest.get(key) ?? ends;
  const both = {
    from: Math.min(before.from, ends.from),
    to: Math.max(before.to, ends.to),
    top: Math.max(before.top, ends.top),
    bottom: Math.min(before.bottom, ends.bottom),
  };
  widest.set(key, both);
  return both;
}

/** @param {number} lane */
function pictures(lane) {
  const before = byId("ghosts").checked ? as(ghost, lane, "ghost") : [];
  const lines = [...before, ...as(pinned?.view ?? null, lane, "pinned"), ...(current.lines[lane] ?? [])];
  draw(byId("picture"), lines, keptEnds(`solute-${lane}`, lines), {
    aspect: 0.5,
    down: "Share of amount, 1/s",
  });
  const all = traceLines();
  const ends = keptEnds(`trace-${byId("noisy").checked}-${byId("noise").value}`, all);
  const unit = current.trace?.unit === "AU" ? "Absorbance, AU" : "Height, a.u.";
  draw(byId("trace"), all, { ...ends, bottom: lowest(all) }, { aspect: 0.28, down: unit });
}

/** @param {Line[]} lines */
function lowest(lines) {
  let found = 0;
  for (const { heights } of lines)
    for (let n = 0; n < heights.length; n += 1) found = Math.min(found, heights[n]);
  return found;
}

/** The chromatogram that is recorded, with noise where it is wanted, over what was pinned. @returns {Line[]} */
function traceLines() {
  const found = [];
  if (pinned?.view.trace) found.push(lineOf("pinned", pinned.view.trace.times, pinned.view.trace.heights));
  if (!current.trace) return found;
  const { times, heights, own, noise, bandwidth } = current.trace;
  if (own) found.push(own);
  const line = lineOf("recorded", times, heights);
  if (byId("noisy").checked) {
    const share = Number(byId("noise").value) / 100;
    const size = Number.isFinite(noise)
      ? noise
      : share * firstHeight() * Math.sqrt((bandwidth || firstBandwidth()) / firstBandwidth());
    line.heights = withNoise(times, heights, size, bandwidth);
  }
  return [...found, line];
}

/** @type {View | null} */
let atStart = null;
function starting() {
  atStart ??= viewAt(axes.map((axis) => axis.start));
  return atStart.trace;
}
function firstHeight() {
  const trace = starting();
  return trace ? lineOf("", trace.times, trace.heights).height : 0;
}
function firstBandwidth() {
  return starting()?.bandwidth || 1;
}

/** @param {string | undefined} figure */
function brief(figure) {
  const number = parseFloat(figure ?? "");
  return Number.isFinite(number) ? String(Number(number.toPrecision(3))) : "-";
}

/** @param {number} lane */
function sentence(lane) {
  const figures = current.figures[lane];
  const noun = data.rows[0].split(" from ")[0];
  const [own, recorded, theory] = figures.slice(0, 3).map(brief);
  let text = `${data.solutes[lane]}: `;
  if (data.measured) {
    const apart = significant(current.measured);
    text = `The measured signal "${data.measured.name}" differs from the simulated one by ${apart} times its noise. ${text}`;
  }
  if (recorded === "-") text += `no ${noun} can be read off the recorded peak`;
  else if (own === "-") text += `${noun} ${recorded} recorded`;
  else text += `${noun} ${recorded} recorded of ${own} that the column gives (${figures[4]} %)`;
  if (theory !== "-") text += `; Gaussian theory says ${theory}`;
  const tailing = brief(figures[7]);
  text += tailing === "-" ? "." : `; tailing ${tailing}.`;
  return current.pressure === "-" ? text : `${text} Pressure ${current.pressure} bar.`;
}

/** @param {HTMLTableElement} table @param {(row: number) => string[]} cells */
function fillTable(table, cells) {
  table.querySelectorAll("tbody tr").forEach((row, r) => {
    row.querySelectorAll("td:not(.bar)").forEach((cell, c) => {
      cell.textContent = cells(r)[c] ?? "-";
    });
  });
}

/** @param {number} lane */
function fill(lane) {
  const [figures, before] = [current.figures[lane] ?? [], pinned?.view.figures[lane] ?? []];
  byId("figures").classList.toggle("with-pin", pinned !== null);
  byId("pin-key").hidden = pinned === null;
  fillTable(byId("figures"), (r) => [...figures.slice(3 * r, 3 * r + 3), before[3 * r + 1] ?? "-"]);
  fillTable(byId("parts"), (r) => current.parts[lane]?.[r] ?? []);
  byId("parts")
    .querySelectorAll("rect")
    .forEach((/** @type {Element} */ bar, /** @type {number} */ r) => {
      const share = current.shares[lane]?.[r] ?? 0;
      bar.setAttribute("width", String(100 * Math.min(1, Math.max(0, Number.isFinite(share) ? share : 0))));
    });
}

/** @param {string} head @param {string[]} cells */
function rowOf(head, cells) {
  const row = document.createElement("tr");
  const first = document.createElement("th");
  first.scope = "row";
  first.textContent = head;
  row.append(first);
  for (const text of cells) {
    const cell = document.createElement("td");
    cell.textContent = text;
    row.append(cell);
  }
  return row;
}

/** Figures at each stop of the slider that was moved last. @param {number} lane */
function fillAlong(lane) {
  const axis = axes[along];
  byId("along-name").textContent = axis.name;
  const stops = free ? axis.stops : axis.labels.map((/** @type {string} */ _, /** @type {number} */ n) => n);
  const rows = stops.map((/** @type {Value} */ stop) => {
    const figures = viewAt(values.map((one, n) => (n === along ? stop : one))).figures[lane] ?? [];
    const row = rowOf(
      micro(shown(axis, stop)),
      data.rows.map((/** @type {string} */ _, /** @type {number} */ r) => figures[3 * r + 1] ?? "-"),
    );
    if (stop === values[along]) {
      row.className = "here";
      row.setAttribute("aria-current", "true");
    }
    return row;
  });
  byId("along").tBodies[0].replaceChildren(...rows);
}

function warn() {
  const list = byId("warnings");
  list.hidden = !current.warnings.length;
  list.replaceChildren(
    ...current.warnings.map((text) => {
      const item = document.createElement("li");
      item.textContent = `Warning: ${text}`;
      return item;
    }),
  );
}

/** Set the page's own numbers beside those of the solver, one position at a time. */
function check(at = 0, worst = 0) {
  const { checks } = data;
  if (!free || at >= checks.length) {
    if (free) byId("worst").textContent = percent(worst);
    return;
  }
  const { at: position, solutes, text } = checks[at];
  const view = freeView(data, position);
  const cells = data.solutes.map((/** @type {string} */ _, /** @type {number} */ lane) => {
    const [marched] = solutes[lane].leading;
    const mine = view.numbers[lane]?.[data.leading];
    if (mine !== undefined) worst = Math.max(worst, Math.abs(mine / marched - 1));
    return `${significant(mine, 4)} (${solutes[lane].shown})`;
  });
  const row = rowOf("", cells);
  const button = document.createElement("button");
  button.type = "button";
  button.textContent = micro(text);
  button.addEventListener("click", () => {
    moving = false;
    move([...position]);
    moving = false;
  });
  row.cells[0].append(button);
  byId("checks").tBodies[0].append(row);
  setTimeout(() => check(at + 1, worst));
}

/** Positions from the address. */
function fromAddress() {
  const told = new Map(
    location.hash
      .slice(1)
      .split("&")
      .map((one) => /** @type {[string, string]} */ (one.split("=").map(decodeURIComponent))),
  );
  const found = axes.map((axis, n) =>
    told.has(axis.name) ? valueFrom(axis, told.get(axis.name) ?? "", values[n]) : values[n],
  );
  if (found.some((one, n) => one !== values[n])) {
    values = found;
    current = viewAt(values);
  }
}

/** A value from its text; the one before where it is none. @param {any} axis @param {string} typed @param {Value} before @returns {Value} */
function valueFrom(axis, typed, before) {
  const text = typed.replace("µ", "u");
  if (text === shown(axis, before)) return before;
  if (!free) return Math.max(axis.labels.indexOf(text), 0);
  if (axis.words.length) return axis.words.includes(text) ? text : before;
  const stop = axis.stops.find((/** @type {number} */ one) => shown(axis, one) === text);
  if (stop !== undefined) return stop;
  if (text === shown(axis, axis.start)) return axis.start;
  try {
    const value = typedOn(axis, text);
    return Number.isFinite(value) ? value : before;
  } catch {
    return before;
  }
}

function listen() {
  sliders.forEach((slider, n) => {
    slider.addEventListener("input", () => {
      along = n;
      move(values.map((one, other) => (other === n ? valueOf(axes[n], Number(slider.value)) : one)));
    });
    slider.addEventListener("change", () => {
      moving = false;
    });
    if (!free || axes[n].words.length) return;
    byId(`value-${n}`).addEventListener("change", () => typed(n));
  });
  for (const name of ["solute", "hold", "noisy", "noise", "ghosts"])
    byId(name)?.addEventListener("change", show);
  byId("hold").addEventListener("change", () => widest.clear());
  byId("back").addEventListener("click", () => {
    moving = false;
    move(axes.map((axis) => axis.start));
    moving = false;
  });
  byId("pin").addEventListener("click", () => {
    pinned = { values: [...values], view: current };
    byId("pinned").textContent =
      `Pinned: ${axes.map((axis, n) => `${axis.name} ${shown(axis, values[n])}`).join(", ")}`;
    byId("unpin").hidden = false;
    show();
  });
  byId("unpin").addEventListener("click", () => {
    pinned = null;
    byId("pinned").textContent = "";
    byId("unpin").hidden = true;
    show();
  });
  byId("save-picture").addEventListener("click", () => savePicture(byId("trace"), "chromatogram"));
  byId("save-peak").addEventListener("click", () => savePicture(byId("picture"), "peak"));
  byId("save-table").addEventListener("click", save);
  addEventListener("resize", show);
  addEventListener("hashchange", () => {
    if (told.stations && stationOf(told.stations, location.hash) !== here) {
      location.reload();
      return;
    }
    fromAddress();
    show();
  });
}

/** A value typed beside a slider. @param {number} n */
function typed(n) {
  const box = byId(`value-${n}`);
  try {
    const value = typedOn(axes[n], box.value);
    box.setCustomValidity(Number.isFinite(value) ? "" : "expected a number");
    along = n;
    moving = false;
    if (Number.isFinite(value)) move(values.map((one, other) => (other === n ? value : one)));
    moving = false;
  } catch (problem) {
    box.setCustomValidity(/** @type {Error} */ (problem).message);
  }
  box.reportValidity();
}

function save() {
  const trace = traceLines().map(({ kind, times, heights }) => ({ label: kind, times, heights }));
  const peaks = current.lines.flatMap((lines, lane) =>
    lines.map(({ kind, times, heights }) => ({ label: `${data.solutes[lane]}, ${kind}`, times, heights })),
  );
  saveTable([...trace.filter((one) => one.label !== "own"), ...peaks], "1/s", "chromatogram");
}

fromAddress();
listen();
if (data.lesson) lessonOf(data.lesson, data.version, addressOf, show);
show();
setTimeout(check);
