// @ts-check
/** A form for one table of the scenario: each key with its meaning, what is usual, and what is wrong. */
import { display, meant, micro, quantity } from "../engine/units.js";
import { byId, element, put, say } from "../shown/dom.js";
import { perCentOf } from "../shown/numbers.js";
import { assumedOf, confirming } from "./assumed.js";
import { emptyingUntold } from "./untold.js";
import { programmeField } from "./gradients.js";
import { printed } from "./titles.js";
import { literal, parsed } from "./toml_text.js";
import { FIRST, labelOf, meaningOf } from "./wording.js";

/** ms without a key before a value is called wrong. */
export const PATIENCE = 700;
/** Kinds of lengths that are sold in inches. */
const INCHES = ["bore", "length"];
/** A text that can mean one thing only: 0.007", and C where a temperature is asked for. */
const CERTAIN = /write "([^"]+)" for (?:inches|degrees)/;

/** @typedef {{name: string, index: number, table: string}} Place */
/** @typedef {{node: HTMLElement, refresh: () => void}} Shown */

/** @param {string} name */
const article = (name = "") => `${/^[aeiou]/.test(name) ? "an" : "a"} ${name}`;

/** What is usual of a part by its kind and name. @param {any} facts @param {string} part @param {string} name */
export function usualOf(facts, part, name) {
  const lower = String(name).toLowerCase();
  return facts.usual.find(
    (/** @type {any} */ one) =>
      one.part === part && (!one.words.length || one.words.some((/** @type {string} */ word) => lower.includes(word))),
  );
}

/** The form of a table. @param {import("./model.js").Model} model @param {any} facts @param {Place} place
 * @param {string[]} [leftOut] keys that are shown elsewhere @returns {Shown} */
export function formOf(model, facts, place, leftOut = []) {
  const fields = facts.tables[place.table].fields;
  const hidden = new Set([...leftOut, "part", "shape"]);
  const keys = Object.keys(fields).filter((key) => !hidden.has(key));
  const changing = place.table === "solutes" && (model.tables.gradient || model.tables.injection.strong !== undefined);
  const cells = place.table === "detector" && model.tables.path.filter((/** @type {any} */ one) => one.part === "cell").length > 1;
  const first = [...(cells ? ["cell"] : []), .../** @type {any} */ (FIRST)[changing ? "solutes.changing" : place.table] ?? keys].filter((/** @type {string} */ key) => keys.includes(key));
  const name = keys.includes("name") ? ["name"] : [];
  const rest = keys.filter((key) => !first.includes(key) && !name.includes(key));
  const made = new Map([...name, ...first, ...rest].map((key) => [key, fieldOf(model, facts, place, key, fields[key])]));
  const node = element("div", { class: "form" }, [...name, ...first].map((key) => made.get(key)?.node));
  const given = model.table(place.name, place.index) ?? {};
  if (rest.length) {
    node.append(
      element(
        "details",
        { open: rest.some((key) => key in given) },
        element("summary", {}, `More settings (${rest.length})`),
        element("div", { class: "form" }, rest.map((key) => made.get(key)?.node)),
      ),
    );
  }
  return { node, refresh: () => made.forEach((one) => one.refresh()) };
}

/** @param {import("./model.js").Model} model @param {any} facts @param {Place} place @param {string} key @param {any} field @returns {Shown} */
function fieldOf(model, facts, place, key, field) {
  if (key === "eluent") return eluentField(model);
  return place.table === "gradient" && key === "programme" ? programmeField(model) : new Field(model, facts, place, key, ofThePath(model, place, key, field));
}

/** A field whose words are names of the path. @param {import("./model.js").Model} model @param {Place} place
 * @param {string} key @param {any} field */
function ofThePath(model, place, key, field) {
  if (place.table !== "detector" || key !== "cell") return field;
  const cells = model.tables.path.filter((/** @type {any} */ one) => one.part === "cell");
  return { ...field, kind: "words", words: cells.map((/** @type {any} */ one) => one.name), default: "the last" };
}

/** One key of a table: its label, its input, and what is said below it. */
class Field {
  /** @param {import("./model.js").Model} model @param {any} facts @param {Place} place @param {string} key @param {any} field */
  constructor(model, facts, place, key, field) {
    this.model = model;
    this.facts = facts;
    this.place = place;
    this.key = key;
    this.field = field;
    this.timer = 0;
    /** @type {string | undefined} the value beside which what is typed was refused, as JSON */
    this.refused = undefined;
    const id = `field-${place.name}-${place.index}-${key}`;
    this.input = inputOf(id, field, this.usual()?.range.shown[1]);
    this.hint = element("p", { class: "hint", id: `${id}-hint` });
    this.wrong = element("p", { class: "wrong", id: `${id}-wrong`, role: "alert" });
    this.input.setAttribute("aria-describedby", `${id}-hint ${id}-wrong`);
    this.input.addEventListener(field.kind === "boolean" || field.kind === "words" ? "change" : "input", () => this.accept());
    this.input.addEventListener("blur", () => this.left());
    const label = element("label", { for: id }, labelOf(place.table, key), field.needed ? element("span", { class: "needed" }, " needed") : null);
    this.guessed = element("p", { class: "assumed", hidden: true }, "Assumed: nobody has given it. Type yours, or ", element("button", { type: "button", class: "small", id: `${id}-confirm`, "aria-label": `It is so: ${labelOf(place.table, key)}`, onclick: () => this.confirm() }, "It is so"));
    this.node = element("div", { class: "field" }, label, this.input, this.guessed, this.wrong, this.hint);
    this.refresh();
  }

  get value() {
    return (this.model.table(this.place.name, this.place.index) ?? {})[this.key];
  }

  /** The value that was assumed is that of the instrument. */
  confirm() {
    const { model, place, key } = this;
    if (this.untold()) model.set(place.name, place.index, key, this.field.default);
    else model.apply("", confirming(place.name, place.index, key), `${place.name} ${place.index}`);
    this.input.focus();
  }

  /** Whether nobody has said which way it is, and the usual one is taken. */
  untold() {
    return this.place.name === "injection" && this.key === "emptied" && emptyingUntold(this.model.tables.injection);
  }

  /** What is usual of this key of a part, and of what. */
  usual() {
    const part = this.place.name === "path" ? this.model.table("path", this.place.index) : null;
    const usual = part && usualOf(this.facts, part.part, part.name);
    return usual && Object.hasOwn(usual.ranges, this.key) ? { name: usual.name, range: usual.ranges[this.key] } : null;
  }

  hinted() {
    const { field, value, place, key } = this;
    const untold = this.untold();
    this.guessed.hidden = !untold && (value === undefined || !assumedOf(this.model.text, place.name, place.index).includes(key));
    const usual = this.usual();
    const parts = [meaningOf(this.place.table, this.key, field.meaning)];
    if (usual) parts.push(micro(`Usual: ${usual.range.shown[0]} to ${usual.range.shown[2]}.`));
    this.hint.replaceChildren(parts.filter(Boolean).join(" "));
    let size = typeof value === "number" ? value : NaN;
    if (value === undefined && this.place.table === "path.tube") {
      const third = thirdOf(this.model.table("path", this.place.index), this.key);
      if (Number.isFinite(third)) {
        size = third;
        this.hint.prepend(element("strong", {}, micro(`= ${display(third, field.kind)}, from the other two. `)));
      }
    }
    if (typeof value === "string" && this.facts.kinds[field.kind] && value !== field.endless) {
      size = sizeOf(value, field.kind);
      const shown = Number.isFinite(size) ? display(size, field.kind) : value;
      const unit = value.replace(/^[^A-Za-zµμ°%Å]*/, "").trim();
      if (!this.facts.kinds[field.kind].units.some((/** @type {any} */ one) => one[0] === unit) || this.input.value.trim() !== value) this.hint.prepend(element("strong", {}, printed(`= ${shown}. `)));
    }
    const [low, high] = usual?.range.limits ?? [-Infinity, Infinity];
    const out = size < low * (1 - 1e-6) || size > high * (1 + 1e-6);
    this.hint.classList.toggle("unusual", out);
    if (out) this.hint.prepend(element("strong", {}, `Unusual for ${article(usual?.name)}: check the value and its unit. `));
  }

  /** @param {string} sentence @param {string[]} [better] texts that can be taken instead */
  complain(sentence, better = []) {
    clearTimeout(this.timer);
    const { value } = this;
    const counts = value === undefined ? "it is not given" : `${literal(value).replaceAll('"', "")} counts`;
    const told = sentence && String(value ?? "") !== this.input.value.trim();
    this.wrong.replaceChildren(sentence, told ? `. Until then ${counts}.` : "");
    // what was refused stays to be seen until it is mended, or the value becomes another
    this.refused = sentence ? JSON.stringify(value ?? null) : undefined;
    if (sentence) this.input.setAttribute("aria-invalid", "true");
    else this.input.removeAttribute("aria-invalid");
    for (const one of better) {
      const take = () => {
        this.input.value = one;
        this.accept();
        this.input.focus();
      };
      this.wrong.append(" ", element("button", { type: "button", class: "small", onclick: take }, `Use ${one}`));
    }
  }

  /** What the input says, or what is wrong with it. */
  read() {
    const read = readInput(this.input, this.field, this.key);
    const taken = this.key === "name" && read.problem === undefined && this.another(read.value);
    return taken ? { problem: "expected a name that no other has, found one that is taken" } : read;
  }

  accept() {
    const { place, key, model } = this;
    const read = this.read();
    const origin = `${place.name} ${place.index}`;
    clearTimeout(this.timer);
    if (read.problem !== undefined) {
      // nor does its beginning count: 11 of 11,000
      model.takeBack(`${origin} ${key}`, origin);
      // not while the hand is still typing
      this.timer = window.setTimeout(() => this.complain(read.problem ?? "", read.better), PATIENCE);
      return;
    }
    this.complain("");
    if (key !== "name") {
      gaveWay(place.table, key, model.set(place.name, place.index, key, read.value, origin));
      if (place.name === "injection" && key === "volume" && model.tables.solutes.some((/** @type {any} */ one) => one.amount !== undefined)) say(SAME_SAMPLE);
    }
    else model.rename(place.name, place.index, read.value, origin);
    this.hinted();
  }

  /** Whether another table of the list has this name. @param {string} name */
  another(name) {
    const { place, model } = this;
    return model.tables[place.name].some((/** @type {any} */ one, /** @type {number} */ k) => k !== place.index && one.name === name);
  }

  left() {
    this.model.settle();
    const read = this.read();
    if (read.problem !== undefined) this.complain(read.problem, read.better);
    else if (typeof read.value === "string") shownIn(this.input, this.field, read.value);
  }

  refresh() {
    if (document.activeElement !== this.input && this.refused !== JSON.stringify(this.value ?? null)) {
      shownIn(this.input, this.field, this.value);
      const read = this.read();
      this.complain(this.value === undefined && !this.field.needed ? "" : (read.problem ?? ""), read.better);
    }
    this.hinted();
  }
}

/** Said where amounts go with the injected volume. */
const SAME_SAMPLE = "The sample is taken as the same: the amounts of the solutes go with the injected volume. Undo brings them back.";

/** Says what was emptied since another value stands in its place. @param {string} table @param {string} key @param {string[]} gone */
function gaveWay(table, key, gone) {
  if (!gone.length) return;
  const words = gone.map((one) => `“${labelOf(table, one)}”`).join(" and ");
  const why = table === "path.tube" && gone[0] !== "bends" && gone[0] !== "bend_radius" ? "Of bore, length and volume two are given, and decide the third" : `“${labelOf(table, key)}” stands in its place`;
  say(`${words} ${gone.length > 1 ? "are" : "is"} emptied. ${why}. Undo brings it back.`);
}

/** In SI, NaN where it cannot be read. @param {string} text @param {string} kind */
export function sizeOf(text, kind) {
  try {
    return quantity(text, kind);
  } catch {
    return NaN;
  }
}

/** What to do where a joint is to have no gap; empty: something else is wrong. @param {string} text @param {string} key */
export function gapless(text, key) {
  return key === "gap_length" && /^0*[.,]?0*($|\s*[a-zA-Zµμ"])/.test(text) && text.includes("0") ? "a joint without a gap: take the part out, or type the gap of a tube that is cut square and seated, 0.02 mm" : "";
}

/** A quantity as the file has it: 0.007" is 0.007 in, and 35 C of a temperature 35 degC.
 * @param {string} text @param {string} kind */
export function understood(text, kind) {
  try {
    quantity(text, kind);
  } catch (problem) {
    const sure = CERTAIN.exec(/** @type {Error} */ (problem).message)?.[1] ?? "";
    if (Number.isFinite(sizeOf(sure, kind))) return sure;
  }
  return text;
}

/** Bore, length or volume of a tube from the two others, SI; NaN where they are not given.
 * @param {any} tube its table @param {string} key */
function thirdOf(tube, key) {
  const [bore, length, volume] = ["bore", "length", "volume"].map((one) => (typeof tube?.[one] === "string" ? sizeOf(tube[one], one) : NaN));
  const area = (Math.PI / 4) * bore ** 2;
  return { bore: Math.sqrt(volume / length / (Math.PI / 4)), length: volume / area, volume: area * length }[key] ?? NaN;
}

/** @param {string} id @param {any} field @param {string} [typical] @returns {any} */
function inputOf(id, field, typical) {
  if (field.kind === "boolean") return element("input", { id, type: "checkbox" });
  if (field.kind === "words") {
    const options = field.words.map((/** @type {string} */ word) => element("option", { value: word }, word));
    const none = field.needed ? [] : [element("option", { value: "" }, field.default ? `${field.default} (default)` : "–")];
    return element("select", { id }, none, options);
  }
  const example = namesIn(field) ? field.examples[0].join(BETWEEN_NAMES) : field.kind === "table" ? "" : (field.default ?? typical ?? field.examples?.[0]);
  return element("input", {
    id,
    type: "text",
    autocomplete: "off",
    spellcheck: "false",
    maxlength: field.kind === "table" ? 5000 : 500,
    inputmode: field.kind === "number" ? "decimal" : undefined,
    placeholder: example === undefined || example === "" ? "" : `${field.default === undefined ? "such as " : "without it "}${example}`,
  });
}

const BETWEEN_NAMES = "; ";

/** Whether a list of names is typed. @param {any} field */
const namesIn = ({ kind, examples }) => kind === "table" && typeof examples?.[0]?.[0] === "string";

/** @param {any} input @param {any} field @param {any} value */
function shownIn(input, field, value) {
  if (field.kind === "boolean") input.checked = value ?? field.default ?? false;
  else if (value === undefined) input.value = "";
  else if (namesIn(field) && Array.isArray(value) && !value.some((one) => String(one).includes(";"))) input.value = value.join(BETWEEN_NAMES);
  else input.value = field.kind === "table" || typeof value === "object" ? literal(value) : String(value);
}

/** What an input says: a value (undefined: left out), or what is wrong with it.
 * @param {any} input @param {any} field @param {string} key @returns {{value?: any, problem?: string, better?: string[]}} */
function readInput(input, field, key) {
  if (field.kind === "boolean") return { value: input.checked === (field.default ?? false) ? undefined : input.checked };
  const text = input.value.trim();
  if (!text) {
    return field.needed ? { problem: `expected ${labelWord(key)}, found nothing${example(field)}` } : { value: undefined };
  }
  if (field.kind === "words") return { value: text };
  if (field.kind === "text") return key === "name" && text.length > 80 ? { problem: "expected up to 80 letters" } : { value: text };
  if (field.kind === "number") {
    const value = Number(text);
    if (!Number.isFinite(value)) {
      const share = text.endsWith("%") ? perCentOf(text) / 100 : NaN;
      const better = share >= 0 && field.high <= 1 ? [String(Number(share.toPrecision(8)))] : meant(text).filter((one) => Number.isFinite(Number(one)));
      return { problem: `expected a number, found "${text.slice(0, 40)}"`, better };
    }
    const { low = -Infinity, high = Infinity } = field;
    if (value < low || value > high) return { problem: `expected a number from ${low} to ${high}, found ${value}` };
    return { value };
  }
  if (namesIn(field) && !text.startsWith("[")) return { value: text.split(";").map((/** @type {string} */ one) => one.trim()).filter(Boolean) };
  if (field.kind === "table") {
    try {
      return { value: parsed(`x = ${text}`).x };
    } catch {
      return { problem: `expected what a scenario file holds here${example(field)}` };
    }
  }
  if (text === field.endless) return { value: text };
  try {
    quantity(text, field.kind);
    return { value: text };
  } catch (problem) {
    const message = gapless(text, key) || /** @type {Error} */ (problem).message;
    const sure = understood(text, field.kind);
    if (sure !== text) return { value: sure };
    const better = meant(text).filter((one) => Number.isFinite(sizeOf(one, field.kind)));
    if (better.length) return { problem: message, better };
    const told = /write "([^"]+)"/.exec(message)?.[1];
    const inches = /^[0-9.]+$/.test(text) && INCHES.includes(field.kind) ? [`${text} in`] : [];
    return { problem: message, better: told ? [told, ...inches] : [] };
  }
}

/** @param {string} key */
function labelWord(key) {
  return `a value of ${key.replaceAll("_", " ")}`;
}

/** @param {any} field */
function example(field) {
  const one = field.examples?.[0];
  return one === undefined ? "" : `; such as ${literal(one)}`;
}

const ORGANIC = ["acetonitrile", "methanol"];

/** Shares by volume in per cent; water is what is left. @param {import("./model.js").Model} model @returns {Shown} */
function eluentField(model) {
  const inputs = new Map();
  const wrong = element("p", { class: "wrong", role: "alert", id: "eluent-wrong" });
  const water = element("output", { id: "eluent-water" });
  const eluent = () => model.table("method", 0)?.eluent ?? {};
  const share = (/** @type {any} */ value) => (typeof value === "number" ? Number((100 * value).toPrecision(8)) : 0);
  const accept = () => {
    const shares = ORGANIC.map((name) => perCentOf(inputs.get(name).value) || 0);
    const left = 100 - shares.reduce((sum, one) => sum + one, 0);
    const fine = shares.every((one) => one >= 0) && left >= -1e-9;
    wrong.textContent = fine ? "" : "expected shares from 0 to 100 that make up no more than 100 together";
    if (!fine) return model.takeBack("method 0 eluent", "method 0");
    const made = Object.fromEntries(
      [["water", left], ...ORGANIC.map((name, k) => [name, shares[k]])]
        .filter(([, one]) => Number(one) > 0)
        .map(([name, one]) => [name, Number((Number(one) / 100).toPrecision(8))]),
    );
    const { viscosity } = eluent();
    model.set("method", 0, "eluent", viscosity === undefined ? made : { ...made, viscosity }, "method 0");
    water.textContent = `${Number(left.toPrecision(6))} %`;
  };
  const given = element("p", { class: "hint unusual", id: "eluent-given" });
  const thin = () => {
    const { viscosity: _, ...mixed } = eluent();
    model.set("method", 0, "eluent", mixed, "");
    byId("row-method-0")?.focus();
  };
  const rows = ORGANIC.map((name) => {
    const input = element("input", { id: `eluent-${name}`, type: "text", inputmode: "decimal", autocomplete: "off", "aria-describedby": "eluent-wrong", oninput: accept });
    input.addEventListener("blur", () => model.settle());
    inputs.set(name, input);
    return element("span", { class: "share" }, element("label", { for: `eluent-${name}` }, `${name}, %`), input);
  });
  const refresh = () => {
    const now = eluent();
    for (const [name, input] of inputs) if (document.activeElement !== input) input.value = now[name] === undefined ? "" : String(share(now[name]));
    const mixed = ["water", ...ORGANIC].some((name) => name in now);
    water.textContent = mixed ? `${share(now.water)} %` : "–";
    if (!mixed) put(given, now.viscosity === undefined ? "" : `The viscosity is given: ${now.viscosity}.`);
    else given.replaceChildren(...(now.viscosity === undefined ? [] : [`A viscosity of ${now.viscosity} is given, and counts in place of the mixture's. `, element("button", { type: "button", class: "small", onclick: thin }, "Take it out")]));
  };
  refresh();
  const node = element(
    "fieldset",
    { class: "field eluent" },
    element("legend", {}, "Eluent, per cent by volume"),
    rows,
    element("span", { class: "share" }, element("label", { for: "eluent-water" }, "water, the rest"), water),
    wrong,
    given,
    element("p", { class: "hint" }, "Volumes before mixing. For another liquid leave these empty and give the viscosity. In a gradient: the mixture of which viscosity, diffusivities and pressure are taken."),
  );
  return { node, refresh };
}
