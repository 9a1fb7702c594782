// @ts-check
/**
 * The scenario on the page: the text of its file, what it says, and what was before and after.
 * All edits go through here; each is one step to undo, but those of one field typed in a row.
 */
import { parsed, same, withItem, withKey, withMoved, withTable, withoutItem } from "./toml_text.js";
import { EITHER_OR } from "../engine/rules.js";
import { assumedOf, assuming, stillAssumed } from "./assumed.js";
import { setApart } from "./clashes.js";
import { dosesOf } from "./dose.js";
import { SPEAKING, emptied, followed } from "./references.js";

/** @typedef {import("./toml_text.js").Edited} Edited */
/** @typedef {(text: string, tables: any) => Edited} Edit */
/** @typedef {{text: string, label: string, fileName: string}} Step */

/** Tables of which the page tells; all others it keeps. */
const COMPUTED = ["method", "solutes", "injection", "gradient", "path", "detector", "limits", "changes"];
/** Lists of tables that the page edits. */
const LISTS = ["path", "solutes", "changes"];
const MOST_BYTES = 1e6;
const MOST_STEPS = 300;
/** Keys of which a table holds one at a time. */
const ONE_OF = [
  ...EITHER_OR,
  ["diffusivity", "molar_volume", "formula"],
  ["make_up", "split", "split_share"],
  ["bend_radius", "bends"],
];

/** What a text says as a scenario; throws an Error with one sentence. @param {string} text */
export function scenarioOf(text) {
  if (text.length > MOST_BYTES) {
    throw new Error("expected a scenario file of less than 1 MB, found a larger one; it is left alone");
  }
  let tables;
  try {
    tables = parsed(text);
  } catch (problem) {
    const { line, message } = /** @type {any} */ (problem);
    const first = String(message).split("\n")[0].replace(/^Invalid TOML document: /, "");
    throw new Error(`expected a scenario file (TOML), found a text that cannot be read${line ? (", line " + line) : ""}: ${first}`);
  }
  const table = (/** @type {any} */ one) => one !== null && typeof one === "object" && !Array.isArray(one) && !(one instanceof Date);
  for (const name of LISTS) {
    const list = tables[name];
    if (list === undefined && name === "changes") continue;
    if (!Array.isArray(list) || !list.every(table)) {
      throw new Error(`expected tables under [[${name}]], found ${list === undefined ? "none" : "something else"}; is it a scenario file?`);
    }
    if (list.length > 1000) throw new Error(`expected up to 1000 tables under [[${name}]], found ${list.length}`);
    if (list.some((one) => typeof one.name !== "string")) {
      throw new Error(`expected a name of every table under [[${name}]], found one without; add name = "…"`);
    }
  }
  for (const name of ["method", "injection", "detector", "limits"]) {
    if (tables[name] === undefined && (name === "detector" || name === "limits")) continue;
    if (!table(tables[name])) throw new Error(`expected a table [${name}], found none; is it a scenario file?`);
  }
  return tables;
}

export class Model {
  /** @param {string} text @param {string} fileName */
  constructor(text, fileName) {
    /** @type {((origin: string) => void)[]} */
    this.listeners = [];
    this.text = text;
    /** @type {any} */
    this.tables = scenarioOf(text);
    this.fileName = fileName;
    /** @type {Step[]} */
    this.past = [];
    /** @type {Step[]} */
    this.future = [];
    this.saved = text;
    this.lastLabel = "";
    this.commentsLost = false;
  }

  /** Another file; undo brings back the one before. @param {string} text @param {string} fileName */
  reset(text, fileName) {
    const tables = scenarioOf(text);
    if (text !== this.text) this.past.push(this.#now(""));
    this.text = text;
    this.tables = tables;
    this.fileName = fileName;
    this.future = [];
    this.saved = text;
    this.lastLabel = "";
    this.commentsLost = false;
  }

  /** @param {string} label @returns {Step} */
  #now(label) {
    return { text: this.text, label, fileName: this.fileName };
  }

  get dirty() {
    return this.text !== this.saved;
  }

  /** What is to be known of the file, in words. */
  state() {
    const kept = Object.keys(this.tables).filter((name) => !COMPUTED.includes(name) && typeof this.tables[name] === "object");
    const told = [this.dirty ? "not saved" : "", this.commentsLost ? "its remarks could not be kept" : "", kept.length ? `it also holds what only the program uses: ${kept.join(", ")}` : ""];
    return told.filter(Boolean).join("; ");
  }

  /** @param {string} origin who made the change; its own form is not made anew */
  tell(origin) {
    for (const one of this.listeners) one(origin);
  }

  /** One step. Steps of one `label` in a row (a field that is typed in) are one.
   * @param {string} label @param {Edit} edit @param {string} [origin] */
  apply(label, edit, origin = "") {
    const before = this.text;
    const edited = edit(before, this.tables);
    const made = edited.rewritten ? stillAssumed(before, this.tables, edited) : edited;
    if (made.text === before) return;
    if (label !== this.lastLabel || !label) {
      this.past.push(this.#now(label));
      if (this.past.length > MOST_STEPS) this.past.shift();
    }
    this.future = [];
    this.lastLabel = label;
    this.commentsLost ||= made.rewritten && /^\s*#/m.test(before);
    this.text = made.text;
    this.tables = made.tables;
    this.tell(origin);
  }

  /** Several edits as one step. @param {string} label @param {Edit[]} edits @param {string} [origin] */
  all(label, edits, origin = "") {
    this.apply(label, oneBehindAnother(edits), origin);
  }

  /** The next edit is a step of its own. */
  settle() {
    this.lastLabel = "";
  }

  /** As it was before what is being typed under this label. @param {string} label @param {string} [origin] */
  takeBack(label, origin = "") {
    const step = label === this.lastLabel ? this.past.pop() : undefined;
    if (!step) return;
    this.text = step.text;
    this.tables = parsed(step.text);
    this.lastLabel = "";
    this.tell(origin);
  }

  undo() {
    this.#step(this.past, this.future);
  }

  redo() {
    this.#step(this.future, this.past);
  }

  /** @param {Step[]} from @param {Step[]} to */
  #step(from, to) {
    const step = from.pop();
    if (!step) return;
    to.push(this.#now(step.label));
    this.text = step.text;
    this.fileName = step.fileName;
    this.tables = parsed(step.text);
    this.lastLabel = "";
    this.tell("undo");
  }

  /** A key of a table; undefined takes it out, and so do its alternatives go; amounts go with the injected volume. Returns those that went.
   * @param {string} name @param {number} index @param {string} key @param {any} value @param {string} [origin] */
  set(name, index, key, value, origin = "") {
    const label = `${name} ${index} ${key}`;
    /** @type {Edit[]} */
    const edits = [(text, tables) => withKey(text, tables, name, index, key, value)];
    const gone = value === undefined ? [] : this.#instead(name, index, key);
    for (const other of gone) edits.push((text, tables) => withKey(text, tables, name, index, other, undefined));
    if (name === "injection" && key === "volume") edits.push(...dosesOf(this.#before(label), value));
    const whole = oneBehindAnother(edits);
    this.apply(label, name === "changes" ? setApart(whole) : whole, origin);
    return gone;
  }

  /** Several keys of a change, as one step. @param {number} index @param {Record<string, any>} values undefined: the key is taken out */
  change(index, values) {
    const edits = Object.entries(values).map(([key, value]) => /** @type {Edit} */ ((text, tables) => withKey(text, tables, "changes", index, key, value)));
    this.apply("", setApart(oneBehindAnother(edits)), "changes");
  }

  /** Tables as they were before what is being typed under this label. @param {string} label */
  #before(label) {
    const step = label === this.lastLabel ? this.past.at(-1) : undefined;
    return step ? parsed(step.text) : this.tables;
  }

  /** Keys that give way where this one is given. @param {string} name @param {number} index @param {string} key */
  #instead(name, index, key) {
    const table = this.table(name, index) ?? {};
    const others = ONE_OF.filter((group) => group.includes(key)).flat().filter((one) => one !== key && one in table);
    if (name === "path" && table.part === "tube" && ["bore", "length", "volume"].includes(key)) {
      const rest = ["volume", "length", "bore"].filter((one) => one !== key && one in table);
      if (rest.length === 2) others.push(key === "volume" ? "length" : rest[0]);
    }
    if (name === "path" && table.part === "cell") {
      const apart = { length: ["tanks", "read"], tanks: ["length", "bore"], read: ["length", "bore"], volume: ["bore"], bore: ["volume"] };
      others.push(...(/** @type {any} */ (apart)[key] ?? []).filter((/** @type {string} */ one) => one in table));
    }
    return others;
  }

  /** @param {string} name @param {number} index @returns {any} */
  table(name, index) {
    const found = name ? this.tables[name] : this.tables;
    return Array.isArray(found) ? found[index] : found;
  }

  /** A whole table for another. @param {string} name @param {number} index @param {any} table */
  replace(name, index, table) {
    this.apply("", (text, tables) => withTable(text, tables, name, index, table));
  }

  /** @param {string} list @param {number} index @param {any} item @param {Edit[]} [also] what goes with it
   * @param {string[]} [assumed] keys of which nobody has given the value
   * @returns {number} where it is */
  insert(list, index, item, also = [], assumed = []) {
    const edit = (/** @type {string} */ text, /** @type {any} */ tables) => withItem(text, tables, list, index, { ...item, name: this.freeName(list, item.name) });
    this.all("", [list === "changes" ? setApart(edit) : edit, assuming(list, index, assumed), ...also]);
    return index;
  }

  /** @param {string} list @param {number} index */
  duplicate(list, index) {
    this.insert(list, index + 1, this.tables[list][index], [], assumedOf(this.text, list, index));
  }

  /** @param {string} list @param {number} from @param {number} to */
  move(list, from, to) {
    if (to < 0 || to >= this.tables[list].length || to === from) return false;
    this.apply("", (text, tables) => withMoved(text, tables, list, from, to));
    return true;
  }

  /** Takes a table out, and its name where others speak of it. Returns what spoke of it.
   * @param {string} list @param {number} index */
  remove(list, index) {
    const { edits, touched } = this.removal(list, index);
    this.all("", edits);
    return touched;
  }

  /** What takes a table out. @param {string} list @param {number} index */
  removal(list, index) {
    /** @type {Edit[]} */
    const edits = [];
    const touched = this.#follow(list, index, undefined, edits);
    edits.push((text, tables) => withoutItem(text, tables, list, index));
    return { edits, touched };
  }

  /** Another name, wherever the file speaks of it.
   * @param {string} list @param {number} index @param {string} name @param {string} [origin]
   * @param {string} [label] of what is typed, of which it is part */
  rename(list, index, name, origin = "", label = `${list} ${index} name`) {
    /** @type {Edit[]} */
    const edits = [];
    const old = this.tables[list][index].name;
    const alone = this.tables[list].filter((/** @type {any} */ one) => one.name === old).length === 1;
    if (alone) this.#follow(list, index, name, edits);
    edits.push((text, tables) => withKey(text, tables, list, index, "name", name));
    this.all(label, edits, origin);
  }

  /** Adds the edits that other tables need where one is renamed, or is gone (undefined).
   * @param {string} list @param {number} index @param {string | undefined} now @param {Edit[]} edits */
  #follow(list, index, now, edits) {
    const old = this.tables[list][index].name;
    const touched = [];
    for (const table of SPEAKING) {
      const rows = Array.isArray(this.tables[table]) ? this.tables[table] : [];
      for (let k = rows.length - 1; k >= 0; k -= 1) {
        const next = followed(rows[k], list, old, now);
        if ((table === list && k === index) || same(next, rows[k])) continue;
        touched.push(String(rows[k].name ?? rows[k].field ?? table));
        if (next === undefined || emptied(table, next)) {
          edits.push((text, tables) => withoutItem(text, tables, table, k));
          continue;
        }
        for (const key of Object.keys(rows[k])) {
          if (!same(next[key], rows[k][key])) edits.push((text, tables) => withKey(text, tables, table, k, key, next[key]));
        }
      }
    }
    if (list === "path" && this.tables.detector?.cell === old) {
      edits.push((text, tables) => withKey(text, tables, "detector", 0, "cell", now));
    }
    return touched;
  }

  /** A name that no other of the list has. @param {string} list @param {string} wanted */
  freeName(list, wanted) {
    const taken = new Set((this.tables[list] ?? []).map((/** @type {any} */ one) => one.name));
    const stem = wanted.replace(/ \d+$/, "");
    let name = wanted;
    for (let k = 2; taken.has(name); k += 1) name = `${stem} ${k}`;
    return name;
  }
}

/** Edits as one. @param {Edit[]} edits @returns {Edit} */
function oneBehindAnother(edits) {
  return (text, tables) =>
    edits.reduce(
      (last, edit) => {
        const next = edit(last.text, last.tables);
        return { ...next, rewritten: next.rewritten || last.rewritten };
      },
      /** @type {Edited} */ ({ text, tables, rewritten: false }),
    );
}
