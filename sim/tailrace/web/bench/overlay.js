// @ts-check
/** The measured signal on the page: where it lies in the picture, and how it is read. */
import { peaksOf } from "../engine/peaks.js";
import { byId, element, say, tableOf } from "../shown/dom.js";
import { maximum, readAt } from "../shown/lines.js";
import { NOT_RESOLVED, counted, significant } from "../shown/numbers.js";
import { highest, signalRead } from "./measured.js";

/** What was measured, with its file's name, time shift and choices. */
export class Overlay {
  /** @param {() => number | undefined} apex s, of the peak that is looked at @param {{changed: () => void, laid: () => any}} tell
   *   laid: the answer over which it is laid, or null */
  constructor(apex, tell) {
    this.apex = apex;
    this.tell = tell;
    /** @type {any} */
    this.measured = null;
  }

  /** @param {any} answer over which it is drawn */
  curve(answer) {
    return this.measured && chartedSignal(this.measured, answer, this.apex());
  }

  /** Which measured peak stands beside that of the solute that is looked at; empty: none is measured. */
  beside() {
    const { peaks = [], peak, chosen = -1 } = this.measured ?? {};
    if (!peak) return "";
    const which = peaks.length > 1 ? `measured peak ${peaks.indexOf(peak) + 1} of ${peaks.length}, at ${significant(peak.apex, 4)} s` : `the measured peak at ${significant(peak.apex, 4)} s`;
    const why = peaks.length > 1 ? `${chosen < 0 ? ", the highest" : ", which is ticked"}; another can be ticked in the table of measured peaks` : "";
    return `Beside it stands ${which}${why}.`;
  }

  /** Reads a file. @param {string} name @param {string} text @param {any} [asked] */
  read(name, text, asked = {}) {
    let signal = signalRead(text, asked);
    const apex = this.apex();
    if (!signal.stated && apex !== undefined) {
      // minutes where the simulated peaks lie nearer to them
      const far = (/** @type {number} */ size) => Math.abs(Math.log((size * highest(signal)) / apex));
      if (far(60) < far(1)) signal = { ...signalRead(text, { ...asked, unit: "min" }), stated: false };
    }
    this.measured = { name, text, asked, signal, aligned: false, chosen: -1 };
    this.again();
    say(`${name}: ${signal.time.length} points ${laidWords(this.measured, this.tell.laid())}.${signal.stated ? "" : (" The file names no unit of time: " + signal.unit + " is taken.")}`);
  }

  /** Reads the peaks of the measured signal again, and shows its panel. */
  again() {
    const { measured } = this;
    if (measured) {
      const { signal, from, to } = measured;
      const last = signal.time[signal.time.length - 1];
      measured.peaks = peaksOf(signal, from === undefined && to === undefined ? null : [from ?? signal.time[0], to ?? last]);
      const tallest = measured.peaks.reduce((/** @type {any} */ most, /** @type {any} */ one) => (most && most.height >= one.height ? most : one), null);
      measured.peak = measured.peaks[measured.chosen] ?? tallest;
    }
    measuredPanel(measured, {
      again: (asked) => this.tried(() => this.read(measured.name, measured.text, { ...measured.asked, ...asked })),
      moved: () => this.tried(() => this.again()),
      gone: () => {
        this.measured = null;
        this.again();
      },
    });
    this.tell.changed();
  }

  /** @param {() => void} act */
  tried(act) {
    try {
      act();
    } catch (problem) {
      say(/** @type {Error} */ (problem).message);
    }
  }
}

/** The measured curve as high as the recorded one, above its ground; or with its apex on that of a solute, and as high as it is there.
 * @param {any} measured @param {any} answer @param {number} [apex] s, of the solute that is looked at */
export function chartedSignal(measured, answer, apex = NaN) {
  const { signal, peak, aligned } = measured;
  if (!peak) return null;
  const { trace } = answer;
  const laid = aligned && Number.isFinite(apex);
  const shift = laid ? apex - peak.apex : 0;
  const scale = (laid ? Number(readAt(Float64Array.of(apex), trace.time, trace.recorded, 0)[0]) : maximum(trace.recorded)) / peak.height;
  const ground = peak.ground;
  return {
    time: signal.time.map((/** @type {number} */ t) => t + shift),
    values: signal.values.map((/** @type {number} */ one) => (one - ground) * scale),
  };
}

/** Where the measured curve is seen. @param {any} measured @param {any} answer or null */
function laidWords({ peak }, answer) {
  const time = answer?.trace.time;
  if (!peak || !time || (peak.apex >= time[0] && peak.apex <= time[time.length - 1])) return "are laid over the picture";
  return `are read; their highest peak, at ${significant(peak.apex, 4)} s, lies outside the time that is drawn: tick “put its apex on the recorded one” below the picture`;
}

/** What can be chosen of it. @param {any} measured or null
 * @param {{again: (asked: any) => void, moved: () => void, gone: () => void}} tell */
function measuredPanel(measured, tell) {
  const place = byId("measured");
  place.hidden = !measured;
  if (!measured) {
    place.replaceChildren();
    return;
  }
  const { signal, peak, name } = measured;
  const unit = choice("time in", [...new Set(["s", "min", signal.unit])], signal.unit, (value) => tell.again({ unit: value }));
  const columns = signal.columns.map((/** @type {any} */ one) => `${one.at + 1}: ${one.head}`);
  const column = columns.length > 1 ? choice("signal", columns, columns.find((/** @type {string} */ one) => parseInt(one, 10) === signal.column + 1), (value) => tell.again({ column: parseInt(value, 10) - 1 })) : null;
  const times = [signal.time[0], signal.time[signal.time.length - 1]];
  const window = ["from", "to"].map((word, k) => {
    const input = element("input", { type: "text", inputmode: "decimal", class: "brief", value: significant(measured[word] ?? times[k], 5) });
    input.addEventListener("change", () => {
      const value = Number(input.value);
      measured[word] = Number.isFinite(value) ? value : times[k];
      measured.chosen = -1;
      tell.moved();
    });
    return element("label", {}, `${k ? "to" : "only the highest peak from"} `, input, " s");
  });
  const aligned = element("input", { type: "checkbox", id: "aligned", checked: measured.aligned });
  aligned.addEventListener("change", () => {
    measured.aligned = aligned.checked;
    tell.moved();
  });
  const table = peak && peakTable(measured, tell.moved);
  const hidden = table?.textContent.includes(NOT_RESOLVED)
    ? " Not resolved: noise changes it by more than half (a time: by half the peak's width) in more than one draw of twenty, or another window or baseline does. (Of a peak with 80 points above half its height or more the draws are of means of neighbours: at the very margin the program may judge otherwise.)"
    : "";
  place.replaceChildren(
    element("h3", {}, `Measured: ${name}`), " ",
    element("p", {}, `${signal.time.length} points, ${significant(times[0], 4)} to ${significant(times[1], 4)} s. `, peak ? `Peaks: ${measured.peaks.length}.` : "No peak stands out there."), " ",
    table,
    table && element("p", { class: "paper-only left-out" }, tickedPeak(table)),
    element(
      "p",
      { class: "line" },
      unit,
      column,
      window,
      element("label", { for: "aligned" }, aligned, " put its apex on the recorded one"),
      element("button", { type: "button", onclick: tell.gone }, "Take it away"),
    ),
    element(
      "p",
      { class: "hint" },
      "Drawn as high as the highest recorded peak; with its apex on the recorded one, that of the solute that is shown, as high as the signal there. A peak counts that stands out of the noise by ten times its standard deviation and by one hundredth of the highest. Each is read above a straight line between blank stretches on both sides, by the definitions of the program; a shift of time changes no width.",
      hidden,
      " For uncertainties and other baselines: ",
      element("code", {}, "tailrace measure"),
      " and ",
      element("code", {}, "tailrace compare"),
      ".",
    ),
  );
}

/** Every peak, and which of them stands beside the recorded one. @param {any} measured @param {() => void} moved */
function peakTable(measured, moved) {
  const whole = measured.peaks.reduce((/** @type {number} */ sum, /** @type {any} */ one) => sum + (one.metrics.area || 0), 0);
  const rows = measured.peaks.map((/** @type {any} */ one, /** @type {number} */ k) => {
    const pick = element("input", { type: "radio", name: "measured-peak", id: `measured-${k}`, checked: one === measured.peak });
    pick.addEventListener("change", () => {
      measured.chosen = k;
      moved();
      byId(`measured-${k}`)?.focus();
    });
    const read = (/** @type {string} */ name, /** @type {number} */ digits, size = 1, unit = "") => {
      const value = one.metrics[name];
      return Number.isFinite(value) ? `${significant(size * value, digits)}${unit}` : one.measured ? NOT_RESOLVED : significant(value);
    };
    return [
      element("label", { for: `measured-${k}` }, pick, ` ${k + 1}`),
      read("apex", 5),
      read("height", 4),
      read("area", 3, 100 / whole, " %"),
      read("width_half", 4),
      Number.isFinite(one.metrics.plates_half_height) ? counted(one.metrics.plates_half_height) : read("plates_half_height", 4),
      read("tailing_5", 3),
      read("asymmetry_10", 3),
      one.state,
    ];
  });
  return tableOf("Peaks of the measured signal; the one that is ticked stands beside the recorded one", ["Peak", "apex, s", "height", "area", "width at half height, s", "plates at half height", "tailing", "asymmetry", ""], rows);
}

/** The one peak that a full sheet tells of, in a sentence. @param {HTMLElement} table of all */
function tickedPeak(table) {
  const heads = [...table.querySelectorAll("thead th")].map((one) => (one.textContent ?? "").split(", "));
  const rows = [...table.querySelectorAll("tbody tr")];
  const [, ...cells] = rows.find((one) => one.querySelector("input[checked]"))?.children ?? [];
  const told = cells.map((one, k) => [heads[k + 1][0], one.textContent, heads[k + 1][1]].filter(Boolean).join(" "));
  return `Of ${rows.length} peaks only the one that is ticked is printed: ${told.filter(Boolean).join(", ")}. The page shows all.`;
}

/** @param {string} words @param {string[]} values @param {string} now @param {(value: string) => void} act */
function choice(words, values, now, act) {
  const select = element("select", {}, values.map((one) => element("option", { value: one, selected: one === now }, one)));
  select.addEventListener("change", () => act(select.value));
  return element("label", {}, `${words} `, select);
}
