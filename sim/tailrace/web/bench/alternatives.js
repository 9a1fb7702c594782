// @ts-check
/** What could be changed, what it costs, and the best order of it. */
import { facts } from "../engine/facts.js";
import { byId, element, put, say } from "../shown/dom.js";
import { micro, quantity } from "../engine/units.js";
import { assumedOf } from "./assumed.js";
import { filling, injects } from "./filled.js";
import { money } from "../shown/numbers.js";
import { PATIENCE, formOf, gapless, understood } from "./forms.js";
import { SURE_SOON, aimedOf, aloneText, drawStaircase, sharesOf } from "./staircase.js";
import { literal, parsed } from "./toml_text.js";
import { labelOf } from "./wording.js";

/** Of what a change sets first, where a part has it. */
const FIRST_SIZES = ["loop_volume", "loop_bore", "washout_volume"];
const SETTINGS = ["method", "injection", "detector", "limits"];

export class Alternatives {
  /** @param {import("./model.js").Model} model @param {any} facts @param {() => void} ticked */
  constructor(model, facts, ticked) {
    this.model = model;
    this.facts = facts;
    this.ticked = ticked;
    /** @type {Set<string>} */
    this.chosen = new Set();
    this.shape = "";
    /** Which limits of pressure are held. */
    this.held = "";
    /** @type {{refresh: () => void}[]} */
    this.forms = [];
    /** @type {any} */
    this.order = null;
    /** @type {{name: string, sentence: string}[]} changes that cannot be computed, and why */
    this.leftOut = [];
    /** @type {string[]} what costs plates, the costliest first */
    this.costly = [];
    /** @type {Set<string>} changes whose injected volume follows their loop */
    this.filled = new Set();
    this.node = byId("changes");
    model.listeners.push((origin) => this.update(origin));
  }

  get changes() {
    return this.model.tables.changes ?? [];
  }

  /** Names of those that are ticked. */
  names() {
    return this.changes.map((/** @type {any} */ one) => one.name).filter((/** @type {string} */ name) => this.chosen.has(name));
  }

  /** A tick for each change that concerns a part, for the form of that part. @param {string} part */
  of(part) {
    const concerns = (/** @type {any} */ one) =>
      ["set", "replace"].some((key) => one[key] && Object.hasOwn(one[key], part)) || (Array.isArray(one.remove) && one.remove.includes(part));
    return this.changes.flatMap((/** @type {any} */ one, /** @type {number} */ index) => {
      if (!concerns(one)) return [];
      const told = this.order?.changes?.find((/** @type {any} */ other) => other.name === one.name);
      const gain = told ? `, alone ${aloneText(this.order, told.alone)}` : "";
      const tick = element("input", { type: "checkbox", id: `other-${index}`, onchange: () => byId(`tick-${index}`).click() });
      tick.checked = this.chosen.has(one.name);
      return [element("p", {}, tick, " ", element("label", { for: `other-${index}` }, `${one.name}: costs ${money(one.cost ?? 0)}${gain}`))];
    });
  }

  /** @param {string} [origin] */
  update(origin = "") {
    const shape = JSON.stringify([this.changes.map((/** @type {any} */ one) => [shapeOf(one.set), shapeOf(one.remove)]), this.model.tables.path.map((/** @type {any} */ one) => one.name)]);
    if (shape !== this.shape || origin === "undo" || origin === "file" || origin === "changes") this.rebuild(shape);
    else for (const one of this.forms) one.refresh();
    this.summaries();
  }

  /** @param {string} shape */
  rebuild(shape) {
    const opened = new Set([...this.node.querySelectorAll("details[open][data-change]")].map((one) => one.getAttribute("data-change")));
    const { id: focused, selectionEnd: caret } = /** @type {any} */ (document.activeElement ?? {});
    this.forms = [];
    this.shape = shape;
    const items = this.changes.map((/** @type {any} */ one, /** @type {number} */ index) => this.item(one, index, opened.has(one.name)));
    this.node.replaceChildren(
      ...items,
      element("p", {}, element("button", { type: "button", id: "add-change", onclick: () => this.add() }, "Add a change")),
    );
    const again = focused ? byId(focused) : null;
    again?.focus({ preventScroll: true });
    if (typeof caret === "number") again?.setSelectionRange?.(caret, caret);
  }

  /** @param {any} change @param {number} index @param {boolean} open */
  item(change, index, open) {
    const shown = formOf(this.model, this.facts, { name: "changes", index, table: "changes" }, ["set", "remove"]);
    this.forms.push(shown);
    const tick = element("input", {
      type: "checkbox",
      id: `tick-${index}`,
      checked: this.chosen.has(change.name),
      onchange: () => {
        const { name } = this.changes[index];
        if (tick.checked) this.chosen.add(name);
        else this.chosen.delete(name);
        this.ticked();
      },
    });
    return element(
      "div",
      { class: "change", "data-index": index },
      element("span", { class: "tick" }, tick, element("label", { for: `tick-${index}`, class: "title" }, change.name)),
      element("span", { class: "price" }),
      element("span", { class: "gain" }),
      element(
        "details",
        { open, "data-change": change.name },
        element("summary", {}, "Edit"),
        this.does(change, index),
        shown.node,
        element("p", { class: "tools" },
          element("button", { type: "button", onclick: () => this.make(index) }, "Put it into the instrument"),
          element("button", { type: "button", onclick: () => this.drop(index) }, "Remove the change"),
        ),
      ),
    );
  }

  /** What a change sets and takes out. @param {any} change @param {number} index */
  does(change, index) {
    const rows = [];
    for (const [target, values] of Object.entries(change.set ?? {})) {
      for (const [key, value] of Object.entries(values ?? {})) rows.push(this.setRow(index, target, key, value));
    }
    for (const name of Array.isArray(change.remove) ? change.remove : []) {
      rows.push(element("li", {}, `Takes out ${name} `, this.small("Leave this out", () => this.edit(index, "remove", change.remove.filter((/** @type {string} */ one) => one !== name)))));
    }
    const { path } = this.model.tables;
    const out = element(
      "select",
      { id: `take-out-${index}`, onchange: () => out.value && this.takeOut(index, out.value) },
      element("option", { value: "" }, "take out a part…"),
      path.map((/** @type {any} */ one) => element("option", { value: one.name }, one.name)),
    );
    return element(
      "div",
      { class: "does" },
      element("p", { class: "hint" }, "What it does:"),
      element("ul", {}, rows),
      element("p", { class: "tools" }, this.small("Set another value", () => this.another(index)), element("label", { for: `take-out-${index}`, class: "unseen" }, "Take out a part"), out),
    );
  }

  /** @param {string} text @param {() => void} act */
  small(text, act) {
    return element("button", { type: "button", class: "small", onclick: act }, text);
  }

  /** @param {number} index @param {string} target @param {string} key @param {any} value */
  setRow(index, target, key, value) {
    const { path } = this.model.tables;
    const id = changeLineOf(index, target, key);
    const fields = this.fieldsOf(target);
    const targets = [...path.map((/** @type {any} */ one) => one.name), ...SETTINGS];
    if (!targets.includes(target)) targets.push(target);
    const where = select(`${id}-where`, "Where", targets, target, (next) => this.turned(index, [target, key], next));
    const keys = Object.keys(fields).filter((one) => !["name", "part", "shape"].includes(one));
    if (!keys.includes(key)) keys.push(key);
    const which = select(`${id}-key`, "Which value", keys, key, (next) => this.turned(index, [target, key], target, next), (one) => labelOf(this.tableOf(target), one));
    const input = element("input", { id: `${id}-value`, type: "text", "aria-label": `New value of ${target}: ${labelOf(this.tableOf(target), key)}`, "aria-describedby": `${id}-wrong`, autocomplete: "off", spellcheck: "false" });
    const wrong = element("p", { class: "wrong", id: `${id}-wrong`, role: "alert" });
    let timer = 0;
    const refresh = () => {
      const now = this.changes[index]?.set?.[target]?.[key] ?? value;
      if (document.activeElement !== input) input.value = typeof now === "string" ? now : literal(now);
      const told = valueProblemOf(now, key, fields[key]?.kind);
      clearTimeout(timer);
      // not while the hand is still typing
      if (told && document.activeElement === input) timer = window.setTimeout(() => put(wrong, told), PATIENCE);
      else put(wrong, told);
    };
    input.addEventListener("input", () => this.reset(index, target, key, target, key, valueOf(input.value, fields[key])));
    input.addEventListener("blur", () => {
      this.model.settle();
      refresh();
    });
    refresh();
    this.forms.push({ refresh });
    return element("li", { class: "set" }, where, which, input, this.small("Leave this out", () => this.reset(index, target, key, "", "", undefined)), wrong);
  }

  /** @param {string} target */
  tableOf(target) {
    const part = this.model.tables.path.find((/** @type {any} */ one) => one.name === target);
    if (part) return `path.${part.part}`;
    return target === "injection" ? `injection.${this.model.tables.injection.shape}` : target;
  }

  /** @param {string} target */
  fieldsOf(target) {
    const table = this.tableOf(target);
    return Object.hasOwn(this.facts.tables, table) ? this.facts.tables[table].fields : {};
  }

  /** What is most often changed of it, if the scenario gives it. @param {string} target */
  keyOf(target) {
    const first = firstKey(this.fieldsOf(target));
    const table = this.model.tables.path.find((/** @type {any} */ one) => one.name === target) ?? this.model.tables[target] ?? {};
    return first in table ? first : this.sizeOf(target) ?? first;
  }

  /** What the scenario has now, to begin with. @param {string} target @param {string} key */
  nowOf(target, key) {
    const { tables } = this.model;
    const table = tables.path.find((/** @type {any} */ one) => one.name === target) ?? tables[target] ?? {};
    const field = this.fieldsOf(target)[key];
    return table[key] ?? field?.default ?? field?.examples?.[0] ?? "";
  }

  /** @param {number} index @param {string} key @param {any} value */
  edit(index, key, value) {
    const empty = value === undefined || !Object.keys(value).length;
    this.model.settle();
    this.model.set("changes", index, key, empty ? undefined : value, "changes");
  }

  /** A part is taken out by the change, which then sets nothing of it. @param {number} index @param {string} name of the part */
  takeOut(index, name) {
    const { set = {}, remove = [] } = this.changes[index];
    const { [name]: gone, ...rest } = set;
    this.model.change(index, { set: Object.keys(rest).length ? rest : undefined, remove: [...new Set([...remove, name])] });
    byId(`take-out-${index}`)?.focus();
    const what = gone ? Object.entries(gone).map(([key, value]) => `${labelOf(this.tableOf(name), key).toLowerCase()} ${value}`).join(", ") : "";
    say(`The change takes out ${name}${what && (": what it set of it (" + what + ") is left out")}. Undo brings it back.`);
  }

  /** One value of `set` in the place of another. @param {number} index @param {string} target @param {string} key
   * @param {string} nextTarget @param {string} nextKey @param {any} value */
  reset(index, target, key, nextTarget, nextKey, value) {
    const { name } = this.changes[index];
    const set = structuredClone(this.changes[index].set ?? {});
    if (target !== nextTarget || key !== nextKey) {
      delete set[target][key];
      if (!Object.keys(set[target]).length) delete set[target];
    }
    if (nextTarget) set[nextTarget] = { ...set[nextTarget], [nextKey]: nextTarget === target ? value : this.nowOf(nextTarget, nextKey) };
    if (nextKey === "volume") this.filled.delete(name);
    this.fill(name, set);
    this.model.set("changes", index, "set", Object.keys(set).length ? set : undefined, "change");
    this.called(index, target, nextTarget);
  }

  /** What is injected follows a loop that holds less. @param {string} name of the change @param {any} set */
  fill(name, set) {
    const { injection } = this.model.tables;
    const fresh = set.injection;
    if (!fresh || ("volume" in fresh && !this.filled.has(name))) return;
    const volume = filling(injection, fresh);
    if (volume === null) {
      if (this.filled.delete(name)) delete fresh.volume;
      if (!Object.keys(fresh).length) delete set.injection;
      return;
    }
    if (fresh.volume !== volume) say(`The loop then holds less than the ${micro(injection.volume)} that are injected: the change injects ${micro(volume)}, too.`);
    fresh.volume = volume;
    this.filled.add(name);
  }

  /** @param {string} target of a change */
  spokenOf(target) {
    if (target !== "injection") return target;
    return this.model.tables.injection.shape === "loop" ? "sample loop" : "injected volume";
  }

  /** The name of a change follows what it is of, until it is edited. @param {number} index @param {string} was @param {string} now */
  called(index, was, now) {
    const { name, set } = this.changes[index];
    if (!now || was === now || Object.keys(set ?? {}).length > 1 || !new RegExp(`^other ${this.spokenOf(was).replace(/\W/g, "\\$&")}( \\d+)?$`).test(name)) return;
    const fresh = this.model.freeName("changes", `other ${this.spokenOf(now)}`);
    if (this.chosen.delete(name)) this.chosen.add(fresh);
    this.node.querySelectorAll(".change")[index]?.querySelector("details")?.setAttribute("data-change", fresh);
    const label = `changes ${index} set`;
    // one step with it, though its field was left when its row was made anew
    this.model.lastLabel = label;
    this.model.rename("changes", index, fresh, "change", label);
  }

  /** What costs plates, the costliest first, and then the rest of the path but columns. */
  targets() {
    const parts = this.model.tables.path.map((/** @type {any} */ one) => one.name);
    const columns = this.model.tables.path.filter((/** @type {any} */ one) => one.part === "column").map((/** @type {any} */ one) => one.name);
    const known = this.costly.filter((one) => parts.includes(one) || ["injection", "detector"].includes(one));
    return [...new Set([...known, ...parts.filter((/** @type {string} */ one) => !columns.includes(one)), ...columns])];
  }

  /** The first size of it that a change can set and does not set yet. @param {string} target @param {any} [set] of the change */
  sizeOf(target, set = {}) {
    const { tables } = this.model;
    const table = tables.path.find((/** @type {any} */ one) => one.name === target) ?? tables[target] ?? {};
    const kept = (/** @type {string} */ key) => typeof table[key] === "string" && this.facts.kinds[this.fieldsOf(target)[key]?.kind] && !(set[target] && key in set[target]);
    return [...FIRST_SIZES, ...Object.keys(this.fieldsOf(target))].find(kept);
  }

  /** A line more: of the part of the last line, what the change does not set yet. @param {number} index */
  another(index) {
    const set = structuredClone(this.changes[index].set ?? {});
    const last = Object.keys(set).at(-1);
    for (const target of new Set([...(last ? [last] : []), ...this.targets()])) {
      const key = this.freeOf(index, target);
      if (!key) continue;
      set[target] = { ...set[target], [key]: this.nowOf(target, key) };
      this.edit(index, "set", set);
      byId(`${changeLineOf(index, target, key)}-value`)?.focus();
      return;
    }
    say("The change sets all that is given of these parts already.");
  }

  /** What of a part a change does not set yet; first what no other change sets, which would exclude it.
   * @param {number} index @param {string} target */
  freeOf(index, target) {
    const set = this.changes[index].set ?? {};
    const others = this.changes.filter((/** @type {any} */ _, /** @type {number} */ k) => k !== index).map((/** @type {any} */ one) => one.set?.[target] ?? {});
    const taken = Object.assign({}, ...others, set[target]);
    return this.sizeOf(target, { [target]: taken }) ?? this.sizeOf(target, set);
  }

  /** A line becomes one of another part, or of another of its values; what the change sets elsewhere stays.
   * @param {number} index @param {[string, string]} line its part and value @param {string} target @param {string} [key] */
  turned(index, [was, old], target, key) {
    const set = this.changes[index].set ?? {};
    const taken = (/** @type {string} */ one) => set[target] && one in set[target];
    const usual = this.keyOf(target);
    const next = key ?? (taken(usual) ? this.freeOf(index, target) : usual);
    if (next && !taken(next)) return this.reset(index, was, old, target, next, this.nowOf(target, next));
    const words = next ? labelOf(this.tableOf(target), next).toLowerCase() : "all that is given";
    const given = next ? " to " + literal(set[target][next]).replaceAll('"', "") : "";
    this.rebuild(this.shape);
    say(`This change sets ${words} of ${this.spokenOf(target)} already${given}: it stays so.`);
  }

  /** A change that sets the first size of a part, or of what costs most. @param {string} [part] */
  add(part) {
    const target = part ?? this.targets().find((one) => this.sizeOf(one)) ?? this.targets()[0];
    const key = this.sizeOf(target) ?? firstKey(this.fieldsOf(target));
    const at = this.changes.length;
    const made = { name: `other ${this.spokenOf(target)}`, cost: 0, effort: "30 min", set: { [target]: { [key]: this.nowOf(target, key) } } };
    this.model.insert("changes", at, made, [], ["cost", "effort"]);
    const details = this.node.querySelectorAll("details[data-change]")[at];
    details?.setAttribute("open", "");
    details?.scrollIntoView({ block: "nearest" });
    details?.querySelector("input")?.focus();
    say("A change is added; say what it sets, and what it costs.");
  }

  /** @param {number} index */
  drop(index) {
    const { name } = this.changes[index];
    this.chosen.delete(name);
    this.model.remove("changes", index);
    byId("add-change")?.focus();
    say(`The change ${name} is removed. Undo brings it back.`);
  }

  /** @param {number} index */
  make(index) {
    this.chosen.delete(this.changes[index].name);
    byId("changes").dispatchEvent(new CustomEvent("make", { detail: this.changes[index].name }));
  }

  /** What is shown of the order is that of before, until the next is known. */
  outdated() {
    for (const id of ["staircase", "by-money", "order-sure"]) byId(id).classList.add("old");
    if (byId("order-sure").textContent) put(byId("order-sure"), SURE_SOON);
  }

  /** @param {any} order of `best_order`, or null while it is not known @param {{name: string, sentence: string}[]} [leftOut] */
  ordered(order, leftOut = []) {
    this.order = order;
    if (order?.steps) {
      order.held = this.held;
      const assumed = (/** @type {any} */ { change }) => assumedOf(this.model.text, "changes", this.changes.findIndex((/** @type {any} */ one) => one.name === change)).includes("cost");
      order.unpriced = order.steps.filter(assumed).map((/** @type {any} */ one) => one.change);
    }
    this.leftOut = leftOut;
    this.summaries();
    drawStaircase(order);
    if (leftOut.length && order) byId("order-note").prepend(`Without ${leftOut.map((one) => ("“" + one.name + "” (" + one.sentence + ")")).join("; ")}. `);
    const doses = (order?.steps ?? []).flatMap((/** @type {any} */ { change }) => {
      const words = injects(this.model.tables.injection, this.changes.find((/** @type {any} */ one) => one.name === change)?.set?.injection);
      return words ? `With “${change}” ${words}. ` : [];
    });
    if (doses.length) byId("order-note").prepend(...doses, `The order weighs ${aimedOf(order.metric)?.[0] ?? "variance"}, not the signal. `);
    if (this.model.tables.columns && order?.steps?.length) byId("order-note").prepend("Of the column on the path alone; tailrace improve weighs all columns of the file together. ");
  }

  summaries() {
    const shares = sharesOf(this.order);
    for (const item of this.node.querySelectorAll(".change")) {
      const index = Number(item.getAttribute("data-index"));
      const change = this.changes[index];
      if (!change) continue;
      const told = this.order?.changes?.find((/** @type {any} */ one) => one.name === change.name);
      const gain = told ? `alone ${aloneText(this.order, told.alone)}; its share of all together ${shares.get(change.name)}${told.in_best ? "" : "; not among the best"}` : "";
      put(item.querySelector(".title"), change.name);
      item.querySelector("details")?.setAttribute("data-change", change.name);
      const guess = assumedOf(this.model.text, "changes", index).length ? element("span", { class: "guess" }, " (assumed)") : "";
      put(item.querySelector(".price"), `costs ${money(change.cost ?? 0)}, ${change.effort ?? "0 min"}`, guess);
      const broken = this.leftOut.find((one) => one.name === change.name);
      const dose = injects(this.model.tables.injection, change.set?.injection);
      put(item.querySelector(".gain"), broken ? element("span", { class: "guess" }, `cannot be computed: ${broken.sentence}`) : [gain, dose].filter(Boolean).join("; "));
    }
  }
}

/** Beginning of the ids of a line of a change. @param {number} index @param {string} target @param {string} key */
const changeLineOf = (index, target, key) => `set-${index}-${target}-${key}`.replaceAll(/\s/g, "_");

/** What is wrong with a value of a change, for the line where it is typed. @param {any} value @param {string} key @param {string} [kind] */
function valueProblemOf(value, key, kind = "") {
  if (typeof value !== "string" || !facts().kinds[kind]) return "";
  try {
    quantity(value, kind);
    return "";
  } catch (problem) {
    return gapless(value, key) || /** @type {Error} */ (problem).message;
  }
}

/** Names and keys, without the values. @param {any} some */
function shapeOf(some) {
  if (Array.isArray(some)) return some;
  return some && typeof some === "object" ? Object.entries(some).map(([key, one]) => [key, one && typeof one === "object" ? Object.keys(one) : 0]) : 0;
}

/** @param {string} text @param {any} field */
function valueOf(text, field) {
  const trimmed = text.trim();
  if (field && !["number", "boolean", "table"].includes(field.kind)) return facts().kinds[field.kind] ? understood(trimmed, field.kind) : trimmed;
  try {
    return parsed(`x = ${trimmed}`).x;
  } catch {
    return trimmed;
  }
}

/** @param {Record<string, any>} fields */
function firstKey(fields) {
  return ["bore", "gap_length", "volume", "time_constant", "flow", "pressure"].find((key) => key in fields) ?? Object.keys(fields)[0];
}

/** @param {string} id @param {string} label @param {string[]} values @param {string} now
 * @param {(value: string) => void} act @param {(value: string) => string} [words] */
function select(id, label, values, now, act, words = (one) => one) {
  const made = element("select", { id, "aria-label": label, onchange: () => act(made.value) }, values.map((one) => element("option", { value: one, selected: one === now }, words(one))));
  return made;
}
