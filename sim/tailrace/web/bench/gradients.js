// @ts-check
/** A gradient in the scenario: how it comes and goes, and its programme as rows to be typed. */
import { facts } from "../engine/facts.js";
import { settled } from "../engine/resolve.js";
import { quantity } from "../engine/units.js";
import { element } from "../shown/dom.js";
import { perCentOf } from "../shown/numbers.js";
import { withItem, withKey, withTable, withoutItem } from "./toml_text.js";

/** Decades by which k falls from water to the strong liquid; usual of small molecules (common practice, no source). */
const SLOPE = 4.5;
/** Of a gradient that is made here; assumed. */
export const DWELL = "400 uL";
const KEPT = ["retention_factor", "retention_time", "kw", "s"];

/** Share of the strong liquid in the eluent. @param {any} tables */
function organicOf(tables) {
  const { acetonitrile = 0, methanol = 0 } = tables.method.eluent ?? {};
  return acetonitrile + methanol;
}

/** Edits that give each solute other retention. @param {any} tables @param {(solute: any) => any} of
 * @returns {import("./model.js").Edit[]} */
function retained(tables, of) {
  return tables.solutes.map((/** @type {any} */ solute, /** @type {number} */ index) => {
    const rest = Object.fromEntries(Object.entries(solute).filter(([key]) => !KEPT.includes(key)));
    /** @type {import("./model.js").Edit} */
    const edit = (text, now) => withTable(text, now, "solutes", index, { ...rest, ...of(solute) });
    return edit;
  });
}

/** From an isocratic method to a gradient around it. @param {any} tables @returns {import("./model.js").Edit[]} */
export function programmed(tables) {
  const organic = organicOf(tables);
  const known = settled(tables).solutes;
  if (known.some((/** @type {any} */ one) => typeof one.retention_factor !== "number")) throw new Error("expected a retention of every solute to begin with, found a solute without; give it first");
  const edits = retained({ solutes: known }, ({ retention_factor: k }) => ({ kw: Number((Math.max(k, 0.01) * 10 ** (SLOPE * organic)).toPrecision(4)), s: SLOPE }));
  const [low, high] = [Math.max(0.05, organic - 0.4), Math.min(0.95, organic + 0.4)].map((one) => Number(one.toFixed(2)));
  const gradient = { programme: [{ time: "0 min", strong: low }, { time: "5 min", strong: high }], dwell_volume: DWELL };
  return [...edits, (text, now) => withTable(text, now, "gradient", 0, gradient)];
}

/** Without the gradient, each solute with its retention as it was typed before, or else with the k that it has in the eluent.
 * @param {any} tables @param {any} [before] tables when the gradient was made @param {any} [made] and then
 * @returns {import("./model.js").Edit[]} */
export function isocratic(tables, before, made) {
  const organic = organicOf(tables);
  const typed = (/** @type {any} */ { name, kw, s }) => {
    if (!before || organicOf(before) !== organic) return null;
    const at = made.solutes.findIndex((/** @type {any} */ one) => one.name === name && one.kw === kw && one.s === s);
    return at < 0 ? null : Object.fromEntries(Object.entries(before.solutes[at]).filter(([key]) => KEPT.includes(key)));
  };
  const k = (/** @type {any} */ solute) => typed(solute) ?? { retention_factor: Number((solute.kw / 10 ** (solute.s * organic)).toPrecision(4)) };
  return [...retained(tables, k), (text, now) => withoutItem(text, now, "gradient", 0)];
}

/** @param {string} text @param {string} kind what is wrong with it; empty: nothing */
function refusalOf(text, kind) {
  try {
    quantity(text, kind);
    return "";
  } catch (problem) {
    return /** @type {Error} */ (problem).message;
  }
}

/** The programme as rows of time and per cent. @param {import("./model.js").Model} model
 * @returns {import("./forms.js").Shown} */
export function programmeField(model) {
  const list = element("ol", { class: "programme" });
  const wrong = element("p", { class: "wrong", role: "alert", id: "programme-wrong" });
  const rows = () => (Array.isArray(model.tables.gradient?.programme) ? model.tables.gradient.programme : []);
  const write = (/** @type {any[]} */ next) => model.set("gradient", 0, "programme", next, "gradient 0");
  const changed = (/** @type {number} */ index, /** @type {any} */ more) => write(rows().map((/** @type {any} */ one, /** @type {number} */ k) => (k === index ? { ...one, ...more } : one)));
  const input = (/** @type {string} */ id, /** @type {string} */ label, /** @type {(text: string) => void} */ act) => {
    const made = element("input", { id, type: "text", class: "brief", "aria-label": label, autocomplete: "off", "aria-describedby": "programme-wrong", oninput: () => act(made.value.trim()) });
    made.addEventListener("blur", () => model.settle());
    return made;
  };
  const told = (/** @type {string} */ problem) => {
    wrong.textContent = problem;
    // what is half typed does not count
    if (problem) model.takeBack("gradient 0 programme", "gradient 0");
    return !problem;
  };
  const row = (/** @type {number} */ k) => {
    const share = (/** @type {string} */ text) => {
      const value = perCentOf(text);
      const fine = text !== "" && value >= 0 && value <= 100;
      if (told(fine ? "" : "expected a share of the strong solvent from 0 to 100 %")) changed(k, { strong: Number((value / 100).toPrecision(8)) });
    };
    const time = (/** @type {string} */ text) => {
      if (told(refusalOf(text, facts().tables["gradient.programme"].fields.time.kind))) changed(k, { time: text });
    };
    const off = element("button", { type: "button", class: "small", "aria-label": `Take out row ${k + 1}`, onclick: () => write(rows().filter((/** @type {any} */ _, /** @type {number} */ n) => n !== k)) }, "Take out");
    return element("li", {}, input(`programme-${k}-time`, `Time of row ${k + 1}`, time), " ", input(`programme-${k}-share`, `Strong solvent of row ${k + 1}, per cent`, share), " % ", off);
  };
  const refresh = () => {
    const now = rows();
    if (list.children.length !== now.length) list.replaceChildren(...now.map((/** @type {any} */ _, /** @type {number} */ k) => row(k)));
    now.forEach((/** @type {any} */ one, /** @type {number} */ k) => {
      const [time, share, off] = list.children[k].querySelectorAll("input, button");
      if (document.activeElement !== time) time.value = String(one?.time ?? "");
      if (document.activeElement !== share) share.value = String(Number((100 * one?.strong).toPrecision(6)));
      off.disabled = now.length < 3;
    });
  };
  const more = element("button", { type: "button", class: "small", onclick: () => write([...rows(), { ...rows().at(-1) }]) }, "Add a row");
  refresh();
  const node = element("fieldset", { class: "field eluent" }, element("legend", {}, "Programme: time, strong solvent"), list, wrong, element("p", {}, more), element("p", { class: "hint" }, "As at the mixer, from the start of the injection; straight between rows, the last one stays. Strong: acetonitrile or methanol, per cent by volume."));
  return { node, refresh };
}
