"use strict";
// Shows what the solver computed; computes nothing itself but the dotted Gaussian.
const data = JSON.parse(document.getElementById("data").textContent);
const byId = (name) => document.getElementById(name);
const sliders = data.axes.map((_, index) => byId(`slider-${index}`));
const MARGIN = { left: 56, right: 12, top: 8, bottom: 46 };
const FRAME = 6;
const curves = unpacked();
let along = 0;

/** Curves as {times, heights, height, from, to}; null where there is none. */
function unpacked() {
  const text = atob(data.knots);
  const bytes = new Uint8Array(text.length);
  for (let k = 0; k < text.length; k += 1) bytes[k] = text.charCodeAt(k);
  const view = new DataView(bytes.buffer);
  const found = [];
  let at = 0;
  for (let f = 0; f < data.frames.length; f += FRAME) {
    const [count, start, step, height, from, to] = data.frames.slice(f, f + FRAME);
    const times = new Float64Array(count);
    const heights = new Float64Array(count);
    let place = 0;
    for (let k = 0; k < count; k += 1, at += 4) {
      place += view.getUint16(at, true);
      times[k] = start + step * place;
      heights[k] = (view.getUint16(at + 2, true) / 65535) * height;
    }
    found.push(count ? { times, heights, height, from, to } : null);
  }
  return found;
}

function solute() {
  const choice = byId("solute");
  return choice ? Number(choice.value) : 0;
}

/** The number of a position, the last slider changing fastest. */
function position(places) {
  return places.reduce((sum, place, axis) => sum * data.axes[axis].labels.length + place, 0);
}

function curve(at, lane, own) {
  return curves[2 * (at * data.solutes.length + lane) + own];
}

/** All that is drawn of one solute at one position. */
function lines(at, lane) {
  const told = data.cases[at].solutes;
  if (!told) return [];
  const [recorded, own, gaussian] = [curve(at, lane, 0), curve(at, lane, 1), told[lane].gaussian];
  const found = [];
  if (own) found.push({ ...own, kind: "own" });
  if (recorded) found.push({ ...recorded, kind: "recorded" });
  if (gaussian) found.push({ ...normal(...gaussian), kind: "gaussian" });
  return found;
}

function normal(mean, variance) {
  const width = Math.sqrt(variance);
  const height = 1 / Math.sqrt(2 * Math.PI * variance);
  const times = Array.from({ length: 161 }, (_, k) => mean + (k / 16 - 5) * width);
  const heights = times.map((time) => height * Math.exp(-((time - mean) ** 2) / (2 * variance)));
  return { times, heights, height, from: mean - 3.3 * width, to: mean + 3.3 * width };
}

/** What the view of some solutes spans; the anchor is where theory has the first of their means. */
function extent(at, lanes) {
  const shown = lanes.flatMap((lane) => lines(at, lane));
  if (!shown.length) return null;
  const from = Math.min(...shown.map((line) => line.from));
  const gaussian = data.cases[at].solutes[lanes[0]].gaussian;
  return {
    from,
    to: Math.max(...shown.map((line) => line.to)),
    top: Math.max(...shown.map((line) => line.height)),
    anchor: gaussian ? gaussian[0] : from,
  };
}

const scales = new Map();
/** How far all positions reach before and behind their anchors, and how high. */
function scale(lanes) {
  const key = lanes.join();
  if (!scales.has(key)) {
    const reach = { before: 0, behind: 0, top: 0 };
    for (let at = 0; at < data.cases.length; at += 1) {
      const one = extent(at, lanes);
      if (one) {
        reach.before = Math.max(reach.before, one.anchor - one.from);
        reach.behind = Math.max(reach.behind, one.to - one.anchor);
        reach.top = Math.max(reach.top, one.top);
      }
    }
    scales.set(key, reach);
  }
  return scales.get(key);
}

/** Ends of the axes: of this position alone, or on the scale of all of them. */
function limits(at, lanes, hold) {
  let one = extent(at, lanes);
  if (!one) return { from: 0, to: 1, top: 1 };
  if (hold) {
    const { before, behind, top } = scale(lanes);
    one = { from: one.anchor - before, to: one.anchor + behind, top };
  }
  const room = 0.03 * (one.to - one.from);
  return { from: one.from - room, to: one.to + room, top: 1.05 * one.top };
}

/** Round numbers that divide a stretch into about so many pieces. */
function ticks(from, to, pieces) {
  const rough = (to - from) / pieces;
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = power * [1, 2, 5, 10].find((one) => one * power >= rough);
  const digits = Math.max(0, -Math.floor(Math.log10(step) + 1e-9));
  const found = [];
  for (let k = Math.ceil(from / step - 1e-9); k * step <= to + 1e-9 * step; k += 1) {
    found.push([k * step, (k * step).toFixed(digits)]);
  }
  return found;
}

function added(svg, tag, attributes, text) {
  const element = document.createElementNS(svg.namespaceURI, tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
  if (text !== undefined) element.textContent = text;
  svg.append(element);
  return element;
}

function draw(svg, shown, ends, aspect) {
  const width = svg.clientWidth || 640;
  const height = Math.round(Math.max(210, Math.min(aspect * width, 460)));
  svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
  svg.replaceChildren();
  const right = width - MARGIN.right;
  const bottom = height - MARGIN.bottom;
  const across = (time) =>
    MARGIN.left + ((time - ends.from) / (ends.to - ends.from)) * (right - MARGIN.left);
  const up = (value) => bottom - (value / ends.top) * (bottom - MARGIN.top);
  const clip = added(added(svg, "defs", {}), "clipPath", { id: `${svg.id}-clip` });
  added(clip, "rect", {
    x: MARGIN.left, y: 0, width: right - MARGIN.left, height: bottom + 2,
  });
  for (const [time, label] of ticks(ends.from, ends.to, width < 500 ? 5 : 9)) {
    added(svg, "path", { class: "grid", d: `M${across(time)} ${MARGIN.top}V${bottom}` });
    added(svg, "text", { x: across(time), y: bottom + 17, "text-anchor": "middle" }, label);
  }
  for (const [value, label] of ticks(0, ends.top, 5)) {
    added(svg, "path", { class: "grid", d: `M${MARGIN.left} ${up(value)}H${right}` });
    added(svg, "text", { x: MARGIN.left - 6, y: up(value) + 4, "text-anchor": "end" }, label);
  }
  added(svg, "path", { class: "axis", d: `M${MARGIN.left} ${MARGIN.top}V${bottom}H${right}` });
  for (const line of shown) {
    let d = `M${MARGIN.left} ${up(0)}`;
    for (let k = 0; k < line.times.length; k += 1) {
      d += `L${across(line.times[k]).toFixed(2)} ${up(line.heights[k]).toFixed(2)}`;
    }
    added(svg, "path", {
      class: line.kind, d: `${d}L${right} ${up(0)}`, "clip-path": `url(#${svg.id}-clip)`,
    });
  }
  const middle = (MARGIN.left + right) / 2;
  added(svg, "text", { x: middle, y: height - 8, "text-anchor": "middle" },
    "Time from the start of the injection, s");
  const turned = `translate(13 ${(MARGIN.top + bottom) / 2}) rotate(-90)`;
  added(svg, "text", { transform: turned, "text-anchor": "middle" }, "Share of amount, 1/s");
}

/** A figure without its error, in three digits: the tables have the rest. */
function brief(figure) {
  const number = parseFloat(figure);
  return Number.isFinite(number) ? String(Number(number.toPrecision(3))) : "-";
}

function sentence(at, lane) {
  const told = data.cases[at].solutes;
  if (!told) return "This position could not be computed.";
  const figures = told[lane].figures;
  const noun = data.rows[0].split(" from ")[0];
  const [own, recorded, theory] = figures.slice(0, 3).map(brief);
  let text = `${data.solutes[lane]}: `;
  if (recorded === "-") text += `no ${noun} can be read off the recorded peak`;
  else if (own === "-") text += `${noun} ${recorded} recorded`;
  else text += `${noun} ${recorded} recorded of ${own} that the column gives (${figures[4]} %)`;
  if (theory !== "-") text += `; Gaussian theory says ${theory}`;
  const tailing = brief(figures[7]);
  text += tailing === "-" ? "." : `; tailing ${tailing}.`;
  const pressure = data.cases[at].pressure;
  return pressure === "-" ? text : `${text} Pressure ${pressure} bar.`;
}

function fill(at, lane) {
  const told = data.cases[at].solutes;
  const figures = told ? told[lane].figures : [];
  const parts = told ? told[lane].parts : [];
  byId("figures").querySelectorAll("tbody tr").forEach((row, r) => {
    row.querySelectorAll("td").forEach((cell, c) => {
      cell.textContent = figures[3 * r + c] ?? "-";
    });
  });
  byId("parts").querySelectorAll("tbody tr").forEach((row, r) => {
    row.querySelectorAll("td:not(.bar)").forEach((cell, c) => {
      cell.textContent = parts[3 * r + c] ?? "-";
    });
    const share = Math.min(100, Math.max(0, parseFloat(parts[3 * r + 2]) || 0));
    row.querySelector("rect").setAttribute("width", share);
  });
}

/** Figures at each stop of the slider that was moved last. */
function fillAlong(places, lane) {
  byId("along-name").textContent = data.axes[along].name;
  const rows = data.axes[along].labels.map((label, stop) => {
    const at = position(places.map((place, axis) => (axis === along ? stop : place)));
    const figures = data.cases[at].solutes?.[lane].figures ?? [];
    const row = document.createElement("tr");
    const head = document.createElement("th");
    head.scope = "row";
    head.textContent = label;
    row.append(head);
    data.rows.forEach((_, r) => {
      const cell = document.createElement("td");
      cell.textContent = figures[3 * r + 1] ?? "-";
      row.append(cell);
    });
    if (stop === places[along]) {
      row.className = "here";
      row.setAttribute("aria-current", "true");
    }
    return row;
  });
  byId("along").tBodies[0].replaceChildren(...rows);
}

function warn(at) {
  const list = byId("warnings");
  list.hidden = !data.cases[at].warnings.length;
  list.replaceChildren(...data.cases[at].warnings.map((number) => {
    const item = document.createElement("li");
    item.textContent = `Warning: ${data.warnings[number]}`;
    return item;
  }));
}

function pictures(at, lane) {
  const hold = byId("hold").checked;
  draw(byId("picture"), lines(at, lane), limits(at, [lane], hold), 0.55);
  const trace = byId("trace");
  if (trace) {
    const all = data.solutes.map((_, index) => index);
    draw(trace, all.flatMap((index) => lines(at, index)), limits(at, all, hold), 0.26);
  }
}

function show() {
  const places = sliders.map((slider) => Number(slider.value));
  const [at, lane] = [position(places), solute()];
  places.forEach((place, axis) => {
    const label = data.axes[axis].labels[place];
    byId(`value-${axis}`).textContent = label;
    sliders[axis].setAttribute("aria-valuetext", label);
  });
  byId("picture-solute").textContent = data.solutes[lane];
  byId("said").textContent = sentence(at, lane);
  byId("apart").textContent = data.cases[at].apart ?? "";
  pictures(at, lane);
  fill(at, lane);
  fillAlong(places, lane);
  warn(at);
}

sliders.forEach((slider, index) => slider.addEventListener("input", () => {
  along = index;
  show();
}));
for (const name of ["solute", "hold"]) byId(name)?.addEventListener("change", show);
byId("back").addEventListener("click", () => {
  sliders.forEach((slider, axis) => { slider.value = data.axes[axis].start; });
  show();
});
addEventListener("resize", show);
show();
