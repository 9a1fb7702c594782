// The page with sliders: what stands where, and what happens when something is moved.

import { withNoise } from "../engine/drawn.js";
import { useFacts } from "../engine/facts.js";
import { inflated } from "../engine/packed.js";
import { micro } from "../engine/units.js";
import { Chart } from "../shown/chart.js";
import { byId, element, tableRow } from "../shown/dom.js";
import { framed, lineOf, maximum } from "../shown/lines.js";
import { percent, significant } from "../shown/numbers.js";
import { saveColumns } from "../shown/saved.js";
import { comma, local, phrase, useWords } from "../shown/words.js";
import { addressed, keepUnder, keptUnder, placeIn, takenOnce, takenUp, tokens, withKept } from "./address.js";
import { lessonOf, stationOf } from "./lesson.js";
import { freeView, typedOn } from "./free.js";
import { placeOf, readable, shown, valueFrom, valueOf } from "./places.js";
import { fitted, lengthened, lowest, scaleOf } from "./scale.js";
import { stopsView, unpacked } from "./stops.js";

/** @typedef {import("../shown/lines.js").Line} Line */
/** @typedef {import("./views.js").View} View */
/** @typedef {import("./places.js").Value} Value */
/** A position, perhaps of another version of the lesson's instrument; data: of its station. */
/** @typedef {{values: Value[], data: any, view: View}} Seen */

const LATER = 120;
const told = JSON.parse(byId("data").textContent);
const here = told.stations ? stationOf(told.stations, location.hash) : 0;
if (told.stations) byId("station").replaceChildren(byId(`station-${here}`).content.cloneNode(true));
for (const one of document.querySelectorAll("[data-like]")) {
  const { like, shared } = /** @type {HTMLElement} */ (one).dataset;
  one.replaceWith(byId(like ?? "").content.querySelector(`[data-shared="${shared}"]`).cloneNode(true));
}
const data = told.stations ? told.stations[here] : told;
const free = data.mode === "free";
if (byId("words")) useWords(JSON.parse(byId("words").textContent));
document.body.setAttribute("aria-busy", "true");
if (byId("facts")) {
  if (!("DecompressionStream" in window)) byId("said").textContent = phrase("This page asks for a browser of June 2023 or later.");
  useFacts(await inflated(byId("facts")));
}
const curves = free ? [] : unpacked(data);
/** @type {any[]} */
const axes = data.axes;
/** @type {HTMLInputElement[]} */
const sliders = axes.map((_, n) => byId(`slider-${n}`));

/** @type {Value[]} */
let values = axes.map((axis) => axis.start);
/** Of the instrument before this one. */
const left = data.lesson === undefined ? null : takenOnce(`before ${data.lesson}`);
takenOnce(`place ${data.lesson}`); // the address has it
/** The slider that was moved last. */
let along = axes[left?.along] ? left.along : 0;
/** What the page computes is called, beside what was measured. */
const READ = data.measured ? phrase("simulated") : phrase("recorded");
const TIME = data.time;
const tall = (/** @type {number} */ height) => Math.max(190, Math.min(height, 460));
const peak = new Chart(byId("picture"), byId("legend"), (width) => tall((width > 600 ? 0.62 : 0.6) * width), { width: 396, height: 200 });
const chromatogram = new Chart(byId("trace"), null, (width) => tall(0.28 * width), { width: 700, height: 130 });
const PIN = `pin ${data.lesson}`;
/** @type {Seen | null} */
let pinned = data.lesson === undefined ? null : seenAt(keptUnder(PIN));
/** @type {Seen | null} */
let ghost = data.measured ? null : seenAt(left); // of another measurement, at another flow, it says nothing
/** @type {View} */
let current = viewAt(values);
let moving = false;
let pending = 0;
let noiseShare = 0.02;
/** How far noise has gone below the base line; the scale that is kept holds it. */
let deepest = 0;
/** How many positions were compared with the solver, and the greatest difference. */
let compared = 0;
let worst = 0;

/** @param {Value[]} at @returns {View} */
function viewAt(at) {
  return free ? freeView(data, at) : stopsView(data, curves, /** @type {number[]} */ (at));
}

/** A position that was kept, of whichever version. @param {{version: number, values: Value[]} | null} place @returns {Seen | null} */
function seenAt(place) {
  const other = (told.stations ?? [told]).find(
    (/** @type {any} */ one) => place && one.lesson === data.lesson && one.version === place.version,
  );
  try {
    if (!place || other?.axes.length !== place.values.length) return null;
    const { values } = place;
    const view =
      other.mode === "free"
        ? freeView(other, values)
        : stopsView(other, unpacked(other), /** @type {number[]} */ (values));
    return { values, data: other, view };
  } catch {
    return null; // of an address that was not made here
  }
}

/** The lane of the solute that is shown, where it is another's. @param {Seen | null} seen @param {number} lane */
function laneIn(seen, lane) {
  return seen ? seen.data.solutes.indexOf(data.solutes[lane]) : -1;
}

function solute() {
  return Number(byId("solute")?.value ?? 0);
}

/** Move to other values. @param {Value[]} to */
function move(to) {
  if (!moving) ghost = { values, data, view: current };
  moving = true;
  axes.forEach((_, n) => mark(n, ""));
  values = to;
  current = viewAt(values);
  show();
}

function show() {
  const lane = laneShown();
  axes.forEach((axis, n) => {
    const text = readable(axis, values[n]);
    const told = byId(`value-${n}`);
    const wrong = told.ariaInvalid === "true";
    if (!wrong && (told !== document.activeElement || told.tagName === "OUTPUT")) told.value = text;
    sliders[n].value = String(placeOf(axis, values[n]));
    sliders[n].setAttribute("aria-valuetext", text);
  });
  byId("picture-solute").textContent = data.solutes[lane];
  byId("said").textContent = current.refused || sentence(lane);
  byId("apart").textContent = local(current.apart);
  pictures(lane);
  fill(lane);
  warn();
  clearTimeout(pending);
  pending = setTimeout(() => later(lane), LATER);
}

/** This position as addresses say it; of another instrument its own start. @param {number} version */
function placed(version) {
  const there = told.stations?.find((/** @type {any} */ one) => one.lesson === data.lesson && one.version === version);
  const positions = axes.map((axis, n) => /** @type {[string, string]} */ ([axis.name, shown(axis, values[n])]));
  return placeIn(data.lesson, version, there && there.instrument !== data.instrument ? [] : positions);
}

/** The address of this position, with what is kept. @param {number} version */
function addressOf(version) {
  return withKept(`#${placed(version)}`);
}

/** What may come a little after the picture. @param {number} lane */
function later(lane) {
  fillAlong(lane);
  const start = axes.every((axis, n) => values[n] === axis.start);
  if (location.hash || !start) addressed(addressOf(data.version));
}

/** The recorded line of another position, as one of another kind. @param {Seen | null} seen @param {number} lane @param {string} kind @returns {Line[]} */
function as(seen, lane, kind) {
  const lines = seen?.view.lines[laneIn(seen, lane)] ?? [];
  return lines.filter((one) => one.kind === "recorded").map((one) => ({ ...one, kind }));
}

/** Whether two positions are one: then one line is drawn. @param {Seen | null} one @param {Seen | null} other */
function same(one, other) {
  return one?.data === other?.data && String(one?.values) === String(other?.values);
}

/** @param {number} lane */
function pictures(lane) {
  const hold = byId("hold").checked;
  const log = byId("zoom").value === "log";
  const zoom = { stretch: log ? 1 : Number(byId("zoom").value), log };
  const before = byId("ghosts").checked && !same(ghost, pinned) ? as(ghost, lane, "ghost") : [];
  // the pinned one on top: it may be the same
  const kept = [...(current.lines[lane] ?? []), ...as(pinned, lane, "pinned")];
  const lines = [...before, ...kept];
  const delay = current.delays[lane];
  const ends = scaleOf(`solute-${lane}-${byId("zoom").value}`, kept, hold, zoom);
  // of two instruments both peaks are seen whole
  if (ghost && ghost.data !== data) ends.top = Math.max(ends.top, ...before.map((one) => one.height));
  const own =
    delay > 0
      ? phrase("the column alone, delayed by {delay} s, the mean time in all else", { delay: local(significant(delay)) })
      : phrase("the column alone");
  const above = byId("zoom").value === "1" && before.some((one) => one.height > 1.05 * ends.top);
  const words = { recorded: READ, own, ...(above ? { ghost: phrase("before the last move, higher than the picture") } : {}) };
  peak.draw({ lines, ...framed(ends, zoom), across: TIME, up: phrase("Share of amount, 1/s"), words, expected: ["ghost"] });
  const whole = scaleOf(`trace-${byId("noisy").checked}-${noiseShare}`, traceLines(), hold);
  const all = traceLines(framed(whole));
  const up = unitOfTrace() === "AU" ? phrase("Absorbance, AU") : phrase("Height, a.u.");
  deepest = Math.min(lowest(all), hold ? deepest : 0);
  chromatogram.draw({ lines: all, ...framed({ ...whole, bottom: deepest }), across: TIME, up, words: { recorded: READ } });
}

function unitOfTrace() {
  return current.trace?.unit === "AU" ? "AU" : "a.u.";
}

/** What is recorded, with noise, if wanted, all over the picture, over what was pinned. @param {{ from: number, to: number }} [whole] */
function traceLines(whole) {
  const found = [];
  if (current.trace?.own) found.push(current.trace.own);
  if (pinned?.view.trace) found.push(lineOf("pinned", pinned.view.trace.times, pinned.view.trace.heights));
  if (!current.trace) return found;
  const { noise, bandwidth } = current.trace;
  const noisy = byId("noisy").checked;
  const { times, heights } = whole && noisy ? lengthened(current.trace, whole) : current.trace;
  const line = lineOf("recorded", times, heights);
  if (noisy) {
    const size = Number.isFinite(noise)
      ? noise
      : noiseShare * firstHeight() * Math.sqrt((bandwidth || firstBandwidth()) / firstBandwidth());
    line.calm = heights;
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
  return trace ? maximum(trace.heights) : 0;
}
function firstBandwidth() {
  return starting()?.bandwidth || 1;
}

/** @param {string | undefined} figure */
function brief(figure) {
  return Number.isFinite(parseFloat(figure ?? "")) ? local(figure ?? "") : "-";
}

/** @param {number} lane */
function sentence(lane) {
  const figures = current.figures[lane];
  const what = data.noun;
  const [own, recorded, theory] = figures.slice(0, 3).map(brief);
  let text = `${data.solutes[lane]}: `;
  if (data.measured) {
    const told = { name: data.measured.name, apart: local(significant(current.measured)) };
    text = `${phrase('The measured signal "{name}" differs from the simulated one by {apart} times its noise.', told)} ${text}`;
  }
  const numbers = { what, recorded, read: READ, own, kept: local(figures[4]) };
  if (recorded === "-") text += phrase("no {what} can be read off this peak", { what });
  else if (own === "-") text += phrase("{what} {recorded} {read}", numbers);
  else text += phrase("{what} {recorded} {read} of {own} that the column gives ({kept} %)", numbers);
  if (theory !== "-") text += phrase("; Gaussian theory says {theory}", { theory });
  const tailing = brief(figures[7]);
  text += tailing === "-" ? "." : phrase("; tailing {tailing}.", { tailing });
  const { pressure } = current;
  if (pressure !== "-") text += ` ${phrase("Pressure {pressure} bar {about}.", { pressure: local(pressure), about: data.about })}`;
  // no line ends within a number and its unit
  return text.replace(/ (?=[±%])|(?<=[±\d]) (?=bar|\d)/g, "\u00a0");
}

/** @param {HTMLTableElement} table @param {(row: number) => string[]} cells */
function fillTable(table, cells) {
  table.querySelectorAll("tbody tr").forEach((row, r) => {
    row.querySelectorAll("td:not(.bar)").forEach((cell, c) => {
      cell.replaceChildren(...numberCell(cells(r)[c] ?? "-"));
    });
  });
}

/** What was recorded at the pinned position, row by row of this table. @param {number} lane @returns {(string | undefined)[]} */
function pinnedFigures(lane) {
  if (!pinned) return [];
  const { rows } = pinned.data;
  const figures = pinned.view.figures[laneIn(pinned, lane)] ?? [];
  return data.rows.map((/** @type {string} */ row) => figures[3 * rows.indexOf(row) + 1]);
}

/** Which position is pinned, in words. */
function tellPin() {
  byId("unpin").hidden = pinned === null;
  byId("pinned").textContent = "";
  if (!pinned) return;
  const where = inWords(pinned);
  byId("pinned").textContent =
    data.solutes.length > 1 ? phrase("Pinned (of each solute its own peak): {where}", { where }) : phrase("Pinned: {where}", { where });
}

/** @param {{values: Value[], data: any}} position */
function inWords({ values: at, data: other }) {
  const version = document.querySelector(`[data-version="${other.version}"]`)?.textContent;
  const places = other.axes.map((/** @type {any} */ axis, /** @type {number} */ n) => `${axis.name} ${readable(axis, at[n])}`);
  return [...(version ? [version] : []), ...places].join("; ");
}

/** @param {Chart} picture @param {string} name of the file */
function savePictureOf(picture, name) {
  const kept = byId("pinned").textContent;
  const title = picture.place.closest("figure")?.querySelector("figcaption")?.textContent ?? "";
  picture.save(name, title.trim(), [inWords({ values, data }), ...(kept ? [kept] : [])]);
}

/** @param {Seen | null} seen */
function pin(seen) {
  pinned = seen;
  if (data.lesson !== undefined) keepUnder(PIN, seen && { version: data.version, values: seen.values });
  tellPin();
  show();
}

/** @param {number} lane */
function fill(lane) {
  const [figures, before] = [current.figures[lane] ?? [], pinnedFigures(lane)];
  byId("figures").classList.toggle("with-pin", pinned !== null);
  fillTable(byId("figures"), (r) => [...figures.slice(3 * r, 3 * r + 3), before[r] ?? "-"]);
  fillTable(byId("parts"), (r) => current.parts[lane]?.[r] ?? []);
  byId("parts")
    .querySelectorAll("rect")
    .forEach((/** @type {Element} */ bar, /** @type {number} */ r) => {
      const share = current.shares[lane]?.[r] ?? 0;
      bar.setAttribute("width", String(100 * Math.min(1, Math.max(0, Number.isFinite(share) ? share : 0))));
    });
}

/** A number, and behind it its error, which a narrow screen puts below. @param {string} text */
function numberCell(text) {
  const [value, error] = local(text).split(" ± ");
  return error ? [value, element("span", {}, ` ± ${error}`)] : [value];
}

/** Figures at each stop of the slider that was moved last. @param {number} lane */
function fillAlong(lane) {
  const axis = axes[along];
  byId("along-name").textContent = axis.name;
  const stops = free ? axis.stops : axis.labels.map((/** @type {string} */ _, /** @type {number} */ n) => n);
  const rows = stops.map((/** @type {Value} */ stop) => {
    const view = viewAt(values.map((one, n) => (n === along ? stop : one)));
    const figures = data.rows.map((/** @type {string} */ _, /** @type {number} */ r) => view.figures[lane]?.[3 * r + 1] ?? "-");
    const cells = data.measured ? [significant(view.measured), ...figures] : figures;
    const row = tableRow([readable(axis, stop), ...cells.map(numberCell)]);
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
  list.replaceChildren(...current.warnings.map((text) => element("li", {}, phrase("Warning: {text}", { text }))));
}

/** Set the page's own numbers beside those of the solver, one position at a time. */
function check() {
  if (!free) return;
  if (compared >= data.checks.length) {
    byId("worst").textContent = local(percent(worst));
    return;
  }
  const { at: position, solutes, text } = data.checks[compared];
  const view = freeView(data, position);
  const cells = data.solutes.map((/** @type {string} */ _, /** @type {number} */ lane) => {
    const [marched] = solutes[lane].leading;
    const mine = view.numbers[lane]?.[data.leading];
    if (mine !== undefined) worst = Math.max(worst, Math.abs(mine / marched - 1));
    return `${view.refused ? phrase("not on this page") : significant(mine, 5)} (${solutes[lane].shown})`;
  });
  const go = () => {
    moving = false;
    move([...position]);
    moving = false;
  };
  const row = tableRow([element("button", { type: "button", onclick: go }, local(micro(text))), ...cells.map(numberCell)]);
  byId("checks").tBodies[0].append(row);
  compared += 1;
  setTimeout(check);
}

/** What would come a little later has to be there when the page is printed. */
function atOnce() {
  clearTimeout(pending);
  later(laneShown());
  while (free && compared < data.checks.length) check();
  check();
}

/** The lane of the solute that is shown. */
function laneShown() {
  return Math.min(solute(), Math.max(current.lines.length - 1, 0));
}

/** Positions from the address. */
function fromAddress() {
  const told = tokens(location.hash);
  const found = axes.map((axis, n) =>
    told.has(axis.name) ? valueFrom(axis, told.get(axis.name) ?? "", values[n]) : values[n],
  );
  if (found.some((one, n) => one !== values[n])) {
    values = found;
    current = viewAt(values);
  }
}

function listen() {
  sliders.forEach((slider, n) => {
    slider.addEventListener("input", () => {
      along = n;
      move(values.map((one, other) => (other === n ? valueOf(axes[n], Number(slider.value)) : one)));
      byId(`value-${n}`).value = readable(axes[n], values[n]); // also while it still has the focus
    });
    slider.addEventListener("change", () => {
      moving = false;
    });
    if (!free || axes[n].words.length) return;
    byId(`value-${n}`).addEventListener("change", () => typed(n));
  });
  byId("hold").addEventListener("change", fitted);
  byId("noise").addEventListener("change", () => {
    if (byId("noise").reportValidity()) noiseShare = Number(byId("noise").value) / 100;
  });
  for (const name of ["solute", "hold", "zoom", "noisy", "noise", "ghosts"])
    byId(name)?.addEventListener("change", show);
  byId("back").addEventListener("click", () => {
    moving = false;
    if (!byId("hold").checked) fitted();
    move(axes.map((axis) => axis.start));
    moving = false;
  });
  byId("pin").addEventListener("click", () => pin({ values: [...values], data, view: current }));
  byId("unpin").addEventListener("click", () => pin(null));
  byId("save-picture").addEventListener("click", () => savePictureOf(chromatogram, "chromatogram"));
  byId("save-peak").addEventListener("click", () => savePictureOf(peak, "peak"));
  byId("save-table").addEventListener("click", save);
  addEventListener("beforeprint", atOnce);
  addEventListener("hashchange", () => {
    const there = told.stations ? stationOf(told.stations, location.hash) : here;
    if (there !== here && told.stations[there].lesson === data.lesson) keepUnder(`before ${data.lesson}`, { version: data.version, values, along, scrolled: scrollY });
    if (there !== here && told.stations[there].lesson !== data.lesson) leave();
    if (takenUp(location.hash) || there !== here) {
      location.reload();
      return;
    }
    fromAddress();
    show();
  });
}

/** Where the sliders stand, for the way back to this lesson. */
function leave() {
  const start = !data.version && axes.every((axis, n) => values[n] === axis.start);
  keepUnder(`place ${data.lesson}`, start ? null : placed(data.version));
}

/** A value typed beside a slider. @param {number} n */
function typed(n) {
  const box = byId(`value-${n}`);
  try {
    const value = typedOn(axes[n], comma() ? box.value.replace(",", ".") : box.value);
    const there = values.map((one, other) => (other === n ? value : one));
    const { refused } = viewAt(there);
    if (refused && !current.refused) throw new Error(refused.replace(/^\w+(\.\w+)+: |\.$/g, ""));
    along = n;
    moving = false;
    move(there);
    moving = false;
    box.value = readable(axes[n], value);
  } catch (problem) {
    mark(n, /** @type {Error} */ (problem).message);
  }
}

/** Say what is wrong with a box until it is mended. @param {number} n @param {string} wrong empty: nothing */
function mark(n, wrong) {
  const [box, note] = [byId(`value-${n}`), byId(`wrong-${n}`)];
  if (!note || (note.hidden && !wrong)) return;
  box.setCustomValidity(wrong);
  box.ariaInvalid = String(wrong !== "");
  note.hidden = !wrong;
  note.textContent = wrong
    ? `${wrong[0].toUpperCase()}${wrong.slice(1)}. ${phrase("The curves are still those of {value}.", { value: readable(axes[n], values[n]) })}`
    : "";
}

function save() {
  /** @type {Record<string, string>} */
  const names = { recorded: READ, own: phrase("column alone"), gaussian: phrase("Gaussian theory") };
  const named = (/** @type {string} */ kind) => names[kind] ?? kind;
  const unit = unitOfTrace();
  const columns = (/** @type {Line} */ { times, heights }, /** @type {string} */ label, /** @type {string} */ unit) => [[phrase("{label}: time, s", { label }), times], [`${label}, ${unit}`, heights]];
  const trace = traceLines().filter(({ kind }) => kind !== "own").flatMap((line) => columns(line, named(line.kind), unit));
  const peaks = current.lines.flatMap((lines, lane) => lines.flatMap((line) => columns(line, `${data.solutes[lane]}, ${named(line.kind)}`, "1/s")));
  saveColumns("chromatogram", /** @type {[string, ArrayLike<number>][]} */ ([...trace, ...peaks]));
}

fromAddress();
addressed(location.hash);
listen();
tellPin();
const sizes = new ResizeObserver((all) => {
  for (const { target } of all) {
    const wide = /** @type {HTMLElement} */ (target.closest(".wide"));
    // its border takes room only while it is there
    wide.classList.toggle("more", wide.scrollWidth > wide.offsetWidth + 1);
  }
});
for (const one of document.querySelectorAll(".wide, .wide table")) sizes.observe(one);
// beside a long table the sliders stay in view; where they are higher than the screen, their lower end
const handled = /** @type {HTMLElement} */ (document.querySelector(".handled"));
const stay = () => {
  handled.style.top = `${Math.min(0, innerHeight - handled.offsetHeight)}px`;
};
new ResizeObserver(stay).observe(handled);
addEventListener("resize", stay);
if (data.lesson) lessonOf(data.lesson, data.version, addressOf, show);
show();
document.body.removeAttribute("aria-busy");
if (left) {
  // another instrument of the same lesson: the page stands where it stood
  history.scrollRestoration = "manual";
  const pressed = /** @type {HTMLElement | null} */ (document.querySelector(`[data-version="${data.version}"]`));
  pressed?.focus({ preventScroll: true });
  requestAnimationFrame(() => requestAnimationFrame(() => scrollTo(0, left.scrolled)));
}
setTimeout(check);
