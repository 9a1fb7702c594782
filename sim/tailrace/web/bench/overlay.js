// @ts-check
/** The measured signal on the page: where it lies in the picture, and how it is read. */
import { maximum } from "./picture.js";
import { byId, element } from "./dom.js";
import { significant } from "./figures.js";

/** The measured curve as high as the recorded one, above its ground, moved as asked.
 * @param {any} measured @param {any} answer */
export function chartedSignal(measured, answer) {
  const { signal, peak, aligned } = measured;
  if (!peak) return null;
  const { trace } = answer;
  let apex = 0;
  for (let k = 1; k < trace.recorded.length; k += 1) if (trace.recorded[k] > trace.recorded[apex]) apex = k;
  const shift = aligned ? trace.time[apex] - peak.apex : 0;
  const scale = maximum(trace.recorded) / peak.height;
  const ground = peak.ground;
  return {
    time: signal.time.map((/** @type {number} */ t) => t + shift),
    values: signal.values.map((/** @type {number} */ one) => (one - ground) * scale),
  };
}

/** What can be chosen of it. @param {any} measured or null
 * @param {{again: (asked: any) => void, moved: () => void, gone: () => void}} tell */
export function measuredPanel(measured, tell) {
  const place = byId("measured");
  place.hidden = !measured;
  if (!measured) {
    place.replaceChildren();
    return;
  }
  const { signal, peak, name } = measured;
  const unit = choice("time in", ["s", "min"], signal.unit, (value) => tell.again({ unit: value }));
  const columns = signal.columns.slice(1).map((/** @type {string} */ head, /** @type {number} */ k) => `${k + 2}: ${head}`);
  const column = columns.length > 1 ? choice("signal", columns, columns[(measured.asked.column ?? 1) - 1], (value) => tell.again({ column: parseInt(value, 10) - 1 })) : null;
  const times = [signal.time[0], signal.time[signal.time.length - 1]];
  const window = ["from", "to"].map((word, k) => {
    const input = element("input", { type: "text", inputmode: "decimal", class: "brief", value: significant(measured[word] ?? times[k], 5) });
    input.addEventListener("change", () => {
      const value = Number(input.value);
      measured[word] = Number.isFinite(value) ? value : times[k];
      tell.moved();
    });
    return element("label", {}, `${k ? "to" : "peak between"} `, input, " s");
  });
  const aligned = element("input", { type: "checkbox", id: "aligned", checked: measured.aligned });
  aligned.addEventListener("change", () => {
    measured.aligned = aligned.checked;
    tell.moved();
  });
  place.replaceChildren(
    element("h3", {}, `Measured: ${name}`),
    element("p", {}, `${signal.time.length} points, ${significant(times[0], 4)} to ${significant(times[1], 4)} s. `, peak ? `Highest peak at ${significant(peak.apex, 5)} s.` : "No peak stands out there."),
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
      "Drawn as high as the highest recorded peak. The metrics are those of the highest peak above a straight line between its feet; a shift of time changes no width. For uncertainties, more peaks and other baselines: ",
      element("code", {}, "tailrace measure"),
      " and ",
      element("code", {}, "tailrace compare"),
      ".",
    ),
  );
}

/** @param {string} words @param {string[]} values @param {string} now @param {(value: string) => void} act */
function choice(words, values, now, act) {
  const select = element("select", {}, values.map((one) => element("option", { value: one, selected: one === now }, one)));
  select.addEventListener("change", () => act(select.value));
  return element("label", {}, `${words} `, select);
}
