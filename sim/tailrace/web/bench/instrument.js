// @ts-check
/** The instrument as a list in the order of the flow: each part a row that opens into its form. */
import { micro } from "../engine/units.js";
import { byId, element, put, say } from "../shown/dom.js";
import { capital, MICROLITRES, MICROLITRES_SQUARED, significant } from "../shown/numbers.js";
import { addingPanel, usualPart } from "./adding.js";
import { assumedOf, assuming } from "./assumed.js";
import { emptyingUntold } from "./untold.js";
import { dragged } from "./dragging.js";
import { formOf, usualOf } from "./forms.js";
import { DWELL, isocratic, programmed } from "./gradients.js";
import { backText, backWords } from "./results.js";
import { injectedFrom, injectionOf } from "./injecting.js";
import { withKey, withTable, withoutItem } from "./toml_text.js";
import { sizesOf, titleOf } from "./titles.js";
import { CARE, KINDS_TOLD, SHAPES } from "./wording.js";

/** k of a solute of which none is given when a column is added. */
const ASSUMED_K = 2;
/** @typedef {{name: string, index: number}} Row */

export class Instrument {
  /** @param {import("./model.js").Model} model @param {any} facts
   * @param {{chosen: (row: Row | null) => void, alternative: (part: string) => void, alternatives: (part: string) => any[]}} tell */
  constructor(model, facts, tell) {
    this.model = model;
    this.facts = facts;
    this.tell = tell;
    /** @type {Row | null} */
    this.open = null;
    /** @type {{refresh: () => void}[]} */
    this.forms = [];
    this.shape = "";
    /** @type {number | null | undefined} where the next part goes, if not behind the one that is open; null: where it usually is */
    this.next = undefined;
    /** @type {{before: any, made: any} | null} tables when a gradient was made here, and then */
    this.run = null;
    this.node = byId("instrument");
    /** @type {any} */
    this.told = null;
    /** @type {{of: any, tables: any} | null} */
    this.shown = null;
    model.listeners.push((origin) => this.update(origin));
  }

  /** What decides which rows and forms there are. */
  signature() {
    const { path, solutes, injection, gradient } = this.model.tables;
    return JSON.stringify([path.map((/** @type {any} */ one) => one.part), solutes.length, injection.shape, Boolean(gradient), this.open]);
  }

  /** @param {string} [origin] */
  update(origin = "") {
    if (origin === "file") this.run = null;
    if (origin === "file" || origin === "undo") this.next = undefined;
    const length = this.open && this.model.tables[this.open.name]?.length;
    if (this.open && length !== undefined && this.open.index >= length) this.open = null;
    if (this.signature() !== this.shape || origin === "undo" || origin === "file") this.rebuild();
    else for (const one of this.forms) one.refresh();
  }

  rebuild() {
    const focused = document.activeElement?.id;
    this.forms = [];
    const { solutes, path, gradient } = this.model.tables;
    const rows = [
      this.row({ name: "method", index: 0 }),
      ...solutes.map((/** @type {any} */ _, /** @type {number} */ k) => this.row({ name: "solutes", index: k })),
      element(
        "li",
        {},
        element("button", { type: "button", class: "small", id: "add-solute", onclick: () => this.addSolute() }, "Add a solute"),
        gradient ? null : element("button", { type: "button", class: "small", id: "add-gradient", onclick: () => this.program(true) }, "Run a gradient"),
      ),
      this.pump(),
      this.row({ name: "injection", index: 0 }),
      ...(gradient ? [this.row({ name: "gradient", index: 0 })] : []),
      ...path.map((/** @type {any} */ _, /** @type {number} */ k) => this.row({ name: "path", index: k })),
      this.row({ name: "detector", index: 0 }),
      this.row({ name: "limits", index: 0 }),
    ];
    const from = 4 + solutes.length + (gradient ? 1 : 0);
    const listed = (/** @type {any[]} */ some, /** @type {Record<string, any>} */ attributes) => element("ol", attributes, some);
    this.node.replaceChildren(
      listed(rows.slice(0, from), { class: "rows", "aria-label": "Method, solutes, pump, injection" }),
      element("h3", {}, "The path, in the order of the flow"),
      listed(rows.slice(from, from + path.length), { class: "rows path", id: "path", "aria-label": "Parts of the path" }),
      addingPanel({ usual: this.facts.usual, path, place: this.place, open: Boolean(byId("adding")?.open) }, { add: (one, id) => this.add(one, id), placed: (place) => (this.next = place) }),
      element("h3", {}, "Behind the path"),
      listed(rows.slice(from + path.length), { class: "rows", "aria-label": "Detector and limits" }),
    );
    this.shape = this.signature();
    if (focused) byId(focused)?.focus({ preventScroll: true });
    this.summaries();
  }

  /** People look for it: why it has no sizes, and where the two that it has are given. */
  pump() {
    const to = (/** @type {string} */ name, /** @type {string} */ words) => element("button", { type: "button", class: "small", id: `pump-${name}`, onclick: () => this.choose({ name, index: 0 }, `row-${name}-0`) }, words);
    const delay = this.model.tables.gradient ? [" It delays the gradient by the dwell volume. ", to("gradient", "Dwell volume")] : [];
    return element("li", { class: "pump" }, element("strong", {}, "Pump"), "What lies before the injector broadens no peak: of the pump only the flow rate counts. ", to("method", "Flow rate"), ...delay);
  }

  /** @param {Row} row */
  row(row) {
    const { name, index } = row;
    const open = this.open?.name === name && this.open.index === index;
    const id = `row-${name}-${index}`;
    const button = element(
      "button",
      { type: "button", class: "open", id, "aria-expanded": String(open), "aria-controls": `${id}-form`, onclick: () => this.click(open ? null : row, id) },
      element("span", { class: "number" }),
      element("span", { class: "name" }),
      element("span", { class: "sizes" }),
      element("span", { class: "cost" }),
    );
    if (name === "path" || name === "solutes") {
      button.setAttribute("aria-keyshortcuts", "Alt+ArrowUp Alt+ArrowDown");
      button.addEventListener("keydown", (/** @type {KeyboardEvent} */ event) => this.moved(event, name, index));
    }
    const handle =
      name === "path"
        ? element("span", { class: "handle", "aria-hidden": "true", title: "Drag to another place", onpointerdown: (/** @type {PointerEvent} */ event) => dragged(event, byId("path"), index, (to) => this.shift(name, index, to)) }, "⠿")
        : null;
    const item = element("li", { class: open ? "opened" : "", "data-row": `${name} ${index}` }, element("div", { class: "head" }, handle, button), open ? this.form(row, `${id}-form`) : null);
    return item;
  }

  /** @param {Row} row @param {string} id */
  form(row, id) {
    const { name, index } = row;
    const table = this.tableName(row);
    const known = Object.hasOwn(this.facts.tables, table);
    const shown = known
      ? formOf(this.model, this.facts, { ...row, table })
      : { node: element("p", { class: "wrong" }, "expected a kind that there is, found another; take it out, or mend the file"), refresh: () => {} };
    this.forms.push(shown);
    const part = name === "path" ? this.model.table(name, index) : null;
    const usual = part && usualOf(this.facts, part.part, part.name);
    const care = part && (part.heater ? CARE.get("heater") : CARE.get(part.part));
    const remark = usual?.remark && !/=|guess|^or |^any /.test(usual.remark) ? ` ${capital(usual.name)}: ${usual.remark}.` : "";
    const washed = usual?.name === "needle seat" ? " Its washout, a mixed volume that the sample leaves slowly, is given under Injection: a plug with a tail." : "";
    const about = part ? (KINDS_TOLD.get(part.part) ?? "") + remark + washed : "";
    const guess = usual?.remark?.includes("guess") ? element("p", { class: "about" }, `${capital(usual.name)}: ${usual.remark}.`) : null;
    if (guess) {
      const refresh = () => guess.toggleAttribute("hidden", !assumedOf(this.model.text, name, index).includes("bore"));
      this.forms.push({ refresh });
      refresh();
    }
    return element(
      "div",
      { id, class: "opened-form", role: "group", "aria-label": "Its form" },
      about ? element("p", { class: "about" }, about) : null,
      guess,
      name === "injection" ? this.shapes() : null,
      shown.node,
      part ? element("div", { class: "others", "data-index": index }) : null,
      care ? element("p", { class: "care" }, element("strong", {}, "Care: "), care, " The manual and the rules of your place come first.") : null,
      name === "path" || name === "solutes" ? this.tools(row) : null,
      name === "gradient" ? element("p", { class: "tools" }, element("button", { type: "button", onclick: () => this.program(false) }, "Remove the gradient")) : null,
    );
  }

  /** @param {Row} row */
  tableName({ name, index }) {
    if (name === "path") return `path.${this.model.table(name, index).part}`;
    return name === "injection" ? `injection.${this.model.tables.injection.shape}` : name;
  }

  /** Buttons of an opened row. @param {Row} row */
  tools(row) {
    const { name, index } = row;
    const { [name]: list, injection } = this.model.tables;
    const last = list.length - 1;
    const loop = name === "path" && last > 0 && injection.shape !== "loop" && usualOf(this.facts, list[index].part, list[index].name)?.name === "loop";
    const tool = (/** @type {string} */ text, /** @type {() => void} */ act, /** @type {boolean} */ off = false) =>
      element("button", { type: "button", onclick: act, disabled: off, id: `tool-${text.replaceAll(" ", "-")}-${name}-${index}` }, text);
    return element(
      "p",
      { class: "tools" },
      tool("Earlier", () => this.shift(name, index, index - 1), index === 0),
      tool("Later", () => this.shift(name, index, index + 1), index === last),
      tool("Duplicate", () => this.duplicate(row)),
      tool("Remove", () => this.remove(row), last === 0),
      loop ? tool("It holds the sample: inject from it", () => this.inject(row)) : null,
      name === "path" ? tool("Add a part behind it", () => this.offer()) : null,
      name === "path" ? tool("Add an alternative", () => this.tell.alternative(this.model.table(name, index).name)) : null,
    );
  }

  /** The list of what can be added. */
  offer() {
    byId("adding").open = true;
    byId("adding").scrollIntoView({ block: "nearest" });
    byId("adding").querySelector(".choices button").focus();
  }

  /** With a gradient, or without one. @param {boolean} wanted */
  program(wanted) {
    const { model, run } = this;
    const before = model.tables;
    this.open = { name: wanted ? "gradient" : "method", index: 0 };
    this.shape = "";
    try {
      const solutes = before.solutes.map((/** @type {any} */ _, /** @type {number} */ k) => assuming("solutes", k, ["kw", "s"]));
      model.all("", wanted ? [...programmed(before), ...solutes, assuming("gradient", 0, ["programme", "dwell_volume"])] : isocratic(before, run?.before, run?.made));
      if (wanted) this.run = { before, made: model.tables };
      seen(`row-${this.open.name}-0`);
      say(
        wanted
          ? `A gradient is added. Its programme, a dwell volume of ${DWELL} and S of the solutes are assumed; each solute keeps its k in the eluent as it is. Put in your own.`
          : "The gradient is taken out; each solute has its retention as it was typed, or else its k in the eluent. Undo brings it back.",
      );
    } catch (problem) {
      this.open = null;
      say(/** @type {Error} */ (problem).message);
    }
  }

  /** What is to be seen before the answers are believed: what this page put into the scenario, and what may count twice. */
  assumptions() {
    const { path, injection } = this.model.tables;
    const loops = injection.shape === "loop" ? path.filter((/** @type {any} */ one) => usualOf(this.facts, one.part, one.name)?.name === "loop").map((/** @type {any} */ one) => one.name) : [];
    const twice = loops.map((/** @type {string} */ name) => `${name}: the sample is injected from a loop, which stands under Injection, and the path has a loop, too; if it is the same loop, it counts twice: remove it from the path`);
    return [...twice, ...this.guesses()];
  }

  /** What of a gradient was made here. */
  guesses() {
    return assumedOf(this.model.text, "gradient", 0).includes("dwell_volume")
      ? [`Gradient, dwell volume: ${DWELL} is assumed, as are the programme and S of the solutes, since the gradient was made here; put in what was measured of the instrument, on which all times depend`]
      : [];
  }

  shapes() {
    const now = this.model.tables.injection.shape;
    const select = element(
      "select",
      { id: "shape", onchange: () => this.reshape(select.value) },
      Object.entries(SHAPES).map(([key, words]) => element("option", { value: key, selected: key === now }, words)),
    );
    return element("div", { class: "field" }, element("label", { for: "shape" }, "How it is injected"), select);
  }

  /** @param {string} shape */
  reshape(shape) {
    const { tables, text: before } = this.model;
    const made = injectionOf(this.facts, shape, tables.injection);
    const typed = Object.keys(tables.injection).filter((key) => !assumedOf(before, "injection", 0).includes(key));
    const assumed = Object.keys(made).filter((key) => key !== "shape" && !typed.includes(key));
    this.model.all("", [(text, now) => withTable(text, now, "injection", 0, made), assuming("injection", 0, assumed)]);
    if (shape === "loop") say(`A loop of ${micro(made.loop_volume ?? made.volume)} and ${made.loop_bore} is assumed: correct it, or confirm it.`);
  }

  /** A part of the path holds the sample: it becomes the injection. @param {Row} row */
  inject({ index }) {
    const { model } = this;
    const part = model.tables.path[index];
    const made = injectedFrom(part, model.tables.injection);
    this.open = { name: "injection", index: 0 };
    this.shape = "";
    const assumed = [...assumedOf(model.text, "path", index).map((key) => `loop_${key}`), ...assumedOf(model.text, "injection", 0).filter((key) => !key.startsWith("loop_"))];
    model.all("", [(text, tables) => withTable(text, tables, "injection", 0, made), assuming("injection", 0, assumed), ...model.removal("path", index).edits]);
    seen("row-injection-0");
    say(`${part.name} is no longer on the path: the sample is injected from it, ${micro(String(made.volume))} of what it holds.`);
  }

  /** A row is opened or closed by hand: it stays where it is on the screen. @param {Row | null} row @param {string} id */
  click(row, id) {
    this.steady(id, () => this.choose(row));
    seen(id, false);
  }

  /** @param {Row | null} row @param {string} [focus] */
  choose(row, focus) {
    this.open = row;
    this.next = undefined;
    this.rebuild();
    this.tell.chosen(row);
    if (focus) seen(focus);
  }

  /** @param {KeyboardEvent} event @param {string} name @param {number} index */
  moved(event, name, index) {
    if (!event.altKey || (event.key !== "ArrowUp" && event.key !== "ArrowDown")) return;
    event.preventDefault();
    this.shift(name, index, index + (event.key === "ArrowUp" ? -1 : 1), `row-${name}`);
  }

  /** @param {string} name @param {number} from @param {number} to @param {string} [focus] */
  shift(name, from, to, focus) {
    const { model } = this;
    const moved = model.tables[name][from].name;
    if (to < 0 || to >= model.tables[name].length) return;
    this.next = undefined;
    if (this.open?.name === name) {
      const at = this.open.index;
      if (at === from) this.open = { name, index: to };
      else if (from < at && at <= to) this.open = { name, index: at - 1 };
      else if (to <= at && at < from) this.open = { name, index: at + 1 };
    }
    this.shape = "";
    model.move(name, from, to);
    byId(`${focus ?? ("row-" + name)}-${to}`)?.focus({ preventScroll: true });
    say(`${moved} is now ${to + 1} of ${model.tables[name].length}.`);
  }

  /** @param {Row} row */
  duplicate({ name, index }) {
    this.next = undefined;
    this.open = { name, index: index + 1 };
    this.shape = "";
    this.model.duplicate(name, index);
    byId(`row-${name}-${index + 1}`)?.focus();
    say(`${this.model.tables[name][index + 1].name} is added.`);
  }

  /** @param {Row} row */
  remove({ name, index }) {
    this.next = undefined;
    const gone = this.model.tables[name][index].name;
    this.open = null;
    this.shape = "";
    const touched = this.model.remove(name, index);
    const left = this.model.tables[name].length;
    byId(`row-${name}-${Math.min(index, left - 1)}`)?.focus();
    const also = touched.length ? ` So is it in ${[...new Set(touched)].join(", ")}.` : "";
    say(`${gone} is taken out.${also} Undo brings it back.`);
  }

  /** Where the next part goes; null: where it usually is. */
  get place() {
    const follows = this.open?.name === "path" ? this.open.index + 1 : null;
    return this.next === undefined ? follows : this.next;
  }

  /** A part of usual sizes; the list stays, so that another can follow. @param {any} usual @param {string} from id of its button */
  add(usual, from) {
    const { place } = this;
    const at = place ?? this.usualPlace(usual);
    const made = usualPart(usual, this.model.tables.path);
    this.open = { name: "path", index: at };
    this.next = place === null ? null : at + 1;
    this.shape = "";
    const retained = this.facts.parts[usual.part].separates ? this.unretained() : [];
    const kept = retained.flatMap((k) => [(/** @type {string} */ text, /** @type {any} */ tables) => withKey(text, tables, "solutes", k, "retention_factor", ASSUMED_K), assuming("solutes", k, ["retention_factor"])]);
    this.steady(from, () => this.model.insert("path", at, made, kept, Object.keys(made).filter((key) => !["name", "part", "heater"].includes(key))));
    const assumed = retained.length ? ` k = ${ASSUMED_K} is assumed of ${retained.map((k) => this.model.tables.solutes[k].name).join(", ")}: correct it, too.` : "";
    const cells = this.model.tables.path.filter((/** @type {any} */ one) => one.part === "cell");
    const second = usual.part === "cell" && cells.length > 1 ? " Say under Detector in which cell the signal is recorded." : "";
    const { shape } = this.model.tables.injection;
    const filled = usual.name !== "loop" ? "" : shape === "loop" ? " The sample is injected from a loop already: if this is the same, remove it." : " If it holds the sample, say so below its sizes: then it is the injection, and no part of the path.";
    say(`${this.model.tables.path[at].name} is added, ${at + 1} of ${this.model.tables.path.length}, with typical sizes: correct or confirm them.${assumed}${second}${filled}`);
  }

  /** What is done moves rows; what has this id stays where it is on the screen. @param {string} id @param {() => void} act */
  steady(id, act) {
    const top = byId(id).getBoundingClientRect().top;
    act();
    scrollBy(0, byId(id).getBoundingClientRect().top - top);
  }

  /** Solutes that say nothing of their retention, and need to beside a column. */
  unretained() {
    const { solutes, gradient } = this.model.tables;
    return gradient ? [] : [...solutes.keys()].filter((k) => !("retention_factor" in solutes[k] || "retention_time" in solutes[k]));
  }

  /** Another solute, a little later than the last. */
  addSolute() {
    const { solutes } = this.model.tables;
    const at = solutes.length;
    const made = { ...solutes[at - 1], name: "solute" };
    for (const key of ["retention_factor", "retention_time", "kw"]) {
      const [, size, unit] = /^([0-9.]+)(.*)$/.exec(String(made[key])) ?? [];
      if (!size) continue;
      const later = Number((1.2 * Number(size)).toPrecision(3));
      made[key] = typeof made[key] === "number" ? later : `${later}${unit}`;
    }
    this.open = { name: "solutes", index: at };
    this.shape = "";
    this.model.insert("solutes", at, made, [], Object.keys(made).filter((key) => key !== "name"));
    seen(`row-solutes-${at}`);
    say(`${this.model.tables.solutes[at].name} is added, like the last one but later: correct it.`);
  }

  /** Where a part usually goes. @param {any} usual */
  usualPlace({ name, part }) {
    const { path } = this.model.tables;
    if (name === "needle seat") return 0;
    if (part === "cell" || name === "restrictor" || name === "waste line") return path.length;
    const firstOf = (/** @type {string} */ kind) => path.findIndex((/** @type {any} */ one) => one.part === kind);
    const [column, cell] = [firstOf("column"), firstOf("cell")];
    const end = cell < 0 ? path.length : cell;
    // a second capillary leads away from the column
    const leads = path.slice(0, column + 1).some((/** @type {any} */ one) => usualOf(this.facts, one.part, one.name)?.name === "capillary");
    const second = leads && !path.slice(column, end).some((/** @type {any} */ one) => one.part === "tube");
    const at = part === "tee" || (name === "capillary" && second) ? end : column;
    return at < 0 ? path.length : at;
  }

  /** What came of it, for the rows. @param {any} told solute of the answer, or null @param {any} [shown] tables with what is ticked */
  answered(told, shown = null) {
    this.told = told;
    this.shown = shown && { of: this.model.tables, tables: shown };
    this.summaries();
  }

  /** Sizes of a row as the file has them, which of them are assumed, and what ticked changes make of them.
   * @param {string} name @param {any} table @param {number} index */
  sizes(name, table, index) {
    const { tables } = this.model;
    const own = sizesOf(name, table, tables);
    const assumed = assumedOf(this.model.text, name, index).map((key) => key.replaceAll("_", " "));
    if (name === "injection" && emptyingUntold(table)) assumed.push("emptied backwards");
    const mark = assumed.length ? [element("span", { class: "guess" }, `; assumed: ${assumed.join(", ")}`)] : [];
    const shown = this.shown && this.shown.of === tables ? this.shown.tables : null;
    if (!shown || !["path", "injection", "detector", "method"].includes(name)) return [own, ...mark];
    const other = name === "path" ? shown.path.find((/** @type {any} */ one) => one.name === table.name) : shown[name];
    if (!other) return [own, ...mark, name === "path" ? "; not there with what is ticked" : ""];
    const now = sizesOf(name, other, shown);
    return [own, ...mark, now === own ? "" : `; with what is ticked: ${now}`];
  }

  /** Changes that concern the part whose form is open, to try them there. */
  others() {
    for (const place of this.node.querySelectorAll(".others")) {
      const part = this.model.tables.path[Number(place.getAttribute("data-index"))];
      const focused = document.activeElement?.id;
      const rows = part ? this.tell.alternatives(part.name) : [];
      place.replaceChildren(...(rows.length ? [element("p", { class: "about" }, "Alternatives"), ...rows] : []));
      if (focused) byId(focused)?.focus({ preventScroll: true });
    }
  }

  summaries() {
    this.others();
    const { tables } = this.model;
    const parts = this.told?.parts ?? [];
    const most = Math.max(...parts.filter((/** @type {any} */ one) => one.plates_back > 0).map((/** @type {any} */ one) => one.plates_back), 1e-9);
    for (const item of this.node.querySelectorAll("li[data-row]")) {
      const [name, index] = /** @type {string} */ (item.getAttribute("data-row")).split(" ");
      const table = this.model.table(name, Number(index)) ?? {};
      const [number, title, sizes, cost] = item.querySelectorAll(".open > span");
      put(number, name === "path" ? String(Number(index) + 1) : "");
      put(title, titleOf(name, table));
      put(sizes, this.sizes(name, table, Number(index)));
      const told = ["path", "injection", "detector"].includes(name) && parts.find((/** @type {any} */ one) => one.name === (name === "path" ? table.name : name));
      put(cost, told ? costOf(told, table.part, most, this.told) : "");
    }
  }
}

/** Focused, and in sight with its form; where answers stand above the rows the page follows only where it comes from `afar`.
 * @param {string} id @param {boolean} [afar] */
function seen(id, afar = true) {
  const row = byId(id);
  row?.focus({ preventScroll: true });
  if (afar || matchMedia("(min-width: 62rem)").matches) for (const one of [row?.closest("li"), row]) one?.scrollIntoView({ block: "nearest" });
}

/** What a part costs, in its row. @param {any} told @param {string} kind @param {number} most plates that come back from any
 * @param {any} solute of the answer */
function costOf(told, kind, most, solute) {
  if (told.behind) return "behind the recording: pressure only";
  const spread = told.variance_volume === null ? "" : `${significant(told.variance_volume * MICROLITRES_SQUARED)} µL²`;
  const back = told.plates_back;
  const columns = solute.parts.filter((/** @type {any} */ one) => one.kind === "column").length;
  if (kind === "column") return `${spread}, ${significant(told.volume * MICROLITRES)} µL${columns > 1 ? ("; plates are told of all " + columns + " columns together") : ""}`;
  if (!Number.isFinite(back)) return spread;
  const text = backText(solute, back);
  const words = text.startsWith("<") ? `less than ${text.slice(1)} ${text === "<1" ? "plate" : ("of " + backWords(solute))}` : `${text} ${text === "+1" ? "plate" : backWords(solute)}`;
  return [element("span", { class: "gauge", "aria-hidden": "true" }, bar(back / most)), `${spread}; ideal: ${words}`];
}

/** @param {number} share */
function bar(share) {
  const made = element("span", {});
  made.style.width = `${Math.max(0, Math.min(100, 100 * share))}%`;
  return made;
}
