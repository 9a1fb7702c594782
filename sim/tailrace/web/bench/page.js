// @ts-check
/** The bench: the scenario in the middle, the instrument on one side and the answers on the other. */
import { answer } from "../engine/answer.js";
import {} from "../engine/bent.js";
import { changedBy, withNeeds } from "../engine/changes.js";
import { Refusal, useFacts } from "../engine/facts.js";
import { bringMigration } from "../engine/migration.js";
import { ordering } from "../engine/order.js";
import { inflated } from "../engine/packed.js";
import { settled } from "../engine/resolve.js";
import { quantity } from "../engine/units.js";
import { Alternatives } from "./alternatives.js";
import { assumedOf, assumedWords } from "./assumed.js";
import { beginnings, folded, untouched } from "./beginning.js";
import { chartOf, chartWords, pictureOf, saveCurves } from "./picture.js";
import { byId, element, put, say } from "../shown/dom.js";
import { significant } from "../shown/numbers.js";
import { download } from "../shown/saved.js";
import { dropped, fileName, fragmentOf, fromFragment, handing, keys, textOf } from "./files.js";
import { sealed, trust } from "./foot.js";
import { doubting } from "./doubts.js";
import { Instrument } from "./instrument.js";
import { withMade } from "./making.js";
import { Model } from "./model.js";
import { Overlay } from "./overlay.js";
import { injects } from "./filled.js";
import { fitted, refitted } from "./pinned.js";
import { tickedRows, tickedTable } from "./ticked.js";
import { apartWords, headline, heldWords, meanings, showParts, showPeak, showWarnings, showWhole } from "./results.js";
import { pulseRead } from "./pulse.js";
import { Pieces, attempted } from "./pieces.js";
import { placed, refuse } from "./refusal.js";
import { ON_SHEET, drawRibbon } from "./ribbon.js";
import { basisOf, sizesOf } from "./titles.js";
import { withKey } from "./toml_text.js";
import { emptyingUntold } from "./untold.js";
import { CAUTIONS } from "./wording.js";

bringMigration();

const ADDRESS_AFTER = 500;
const ORDER_AFTER = 250;
/** ms without a change before a screen reader is told the answer. */
const HEARD_AFTER = 1200;
/** ms that all combinations of changes may take without being asked for. */
const PATIENT_FOR = 15000;
/** ms that a sheet waits for what is still computed. */
const PRINT_WAITS = 10000;

class Bench {
  /** @param {any} given of the engine @param {any} start what the page opens with */
  constructor(given, start) {
    this.facts = given;
    useFacts(given);
    this.examples = start.examples;
    this.model = new Model(start.text, fileName(start.name));
    this.begun = start.text;
    /** Whether the file has a name of its own, and not that of an example. */
    this.named = this.byName(this.model.fileName, start.text);
    this.chart = chartOf(byId("chart"), byId("legend"));
    this.instrument = new Instrument(this.model, this.facts, {
      chosen: (row) => this.chosen(row),
      alternative: (part) => this.alternatives.add(part),
      alternatives: (part) => this.alternatives.of(part),
    });
    this.alternatives = new Alternatives(this.model, this.facts, () => this.soon());
    /** @type {any} */
    this.answer = null;
    /** @type {any} */
    this.pinned = null;
    this.overlay = new Overlay(() => this.answer?.solutes[this.lane].metrics.apex, { changed: () => this.soon(), laid: () => this.answer });
    /** @type {Record<string, import("../engine/injected.js").Curve>} injected curves by the names of their files */
    this.files = {};
    /** Whether bent tubes are taken as straight, on request. */
    this.straight = false;
    /** Whether an answer to this file has been shown. */
    this.kept = false;
    this.lane = 0;
    this.waiting = false;
    this.timers = { address: 0, heard: 0, details: 0 };
    this.pieces = new Pieces();
    /** @type {(() => void) | null} what stands behind the picture, not yet drawn */
    this.rest = null;
    this.model.listeners.push(() => this.soon());
    this.wired();
    folded();
    meanings(this.facts);
    byId("cautions").append(...CAUTIONS.map(([head, text]) => element("li", {}, element("strong", {}, head), " ", text)));
    trust(this.facts.version, start.tables, start.licences);
    sealed(this.model.text);
  }

  async start() {
    try {
      const found = await fromFragment(location.hash);
      if (found) {
        this.model.reset(found.text, found.name);
        this.named = this.byName(found.name);
      }
    } catch (problem) {
      say(/** @type {Error} */ (problem).message);
    }
    this.fresh();
  }

  /** Whether a file is none of the examples. @param {string} name @param {string} [text] */
  byName(name, text) {
    return !this.examples.some((/** @type {any} */ one) => one.name === name && (text === undefined || one.text === text));
  }

  /** A file was opened: everything anew. */
  fresh() {
    this.pin(null);
    this.straight = false;
    this.kept = false;
    this.lane = 0;
    this.instrument.open = null;
    scrollTo(0, 0);
    this.alternatives.chosen.clear();
    this.model.tell("file");
    this.compute();
  }

  /** Once, before the next picture. */
  soon() {
    clearTimeout(this.timers.address);
    this.timers.address = window.setTimeout(() => this.address(), ADDRESS_AFTER);
    if (this.waiting) return;
    this.waiting = true;
    requestAnimationFrame(() => this.compute());
  }

  compute() {
    this.waiting = false;
    const { files, straight } = this;
    const { tables } = this.model;
    const names = this.alternatives.names();
    let before = this.pinned;
    try {
      const shown = names.length ? changedBy(settled(tables, files), names) : tables;
      this.shown = shown;
      const found = answer(shown, { files, straight, platesBack: this.lane });
      if (names.length && !before) before = answer(tables, { files, straight, platesBack: false });
      if (before?.refused) before = null;
      this.answer = found.refused ? null : found;
      const problem = found.problems[0] && placed(found.problems[0], shown);
      this.kept ||= !found.refused;
      if (problem) refuse(problem.sentence, this.kept, problem.place);
      else refuse(found.refused ?? "", this.kept, undefined, found.bent.length && !straight ? () => this.straighten() : null);
      this.before = before;
      this.limit = tables.limits?.pressure ? quantity(tables.limits.pressure, "pressure") : null;
    } catch (problem) {
      this.answer = null;
      refuse(problem instanceof Refusal ? problem.message : `The page stumbled over this scenario (${/** @type {Error} */ (problem).message}); save it, and let tailrace check say what is wrong.`, this.kept);
    }
    this.show();
    this.alternatives.outdated();
    byId("spread").classList.add("old");
    this.pieces.later(() => this.order(), ORDER_AFTER);
  }

  /** Bent tubes as if they were straight, from now on. */
  straighten() {
    this.straight = true;
    this.compute();
    byId("answers").focus();
  }

  show() {
    const { model, answer: found } = this;
    byId("title").value = document.activeElement === byId("title") ? byId("title").value : (model.tables.title ?? "");
    byId("undo").disabled = !model.past.length;
    byId("redo").disabled = !model.future.length;
    if (document.activeElement !== byId("file-name")) byId("file-name").value = model.fileName;
    put(byId("file-state"), model.state());
    untouched(this.examples, model.text, this.alternatives.names().length > 0);
    attempted(() => {
      const others = this.pinned && found ? refitted(this.pinned.factors, model.tables, this.files) : "";
      byId("refitted").hidden = !others;
      put(byId("refitted"), others);
    });
    this.ticked();
    this.solutes();
    const told = found?.solutes[this.lane] ?? null;
    clearTimeout(this.timers.details);
    this.rest = null;
    if (!found || !told) {
      this.ribbon(null);
      if (this.kept) return this.instrument.summaries();
      this.instrument.answered(null);
      showWarnings([]);
      put(byId("solving"), "");
      return;
    }
    const was = this.before?.solutes.find((/** @type {any} */ one) => one.name === told.name);
    headline(this.facts, told, was, this.shown, assumedWords(model.text, model.tables, this.shown));
    showWarnings([...found.warnings, ...this.instrument.assumptions()]);
    const measured = this.overlay.curve(found);
    byId("noisy").hidden = !(found.trace.noise > 0);
    const noise = byId("noise").checked && found.trace.noise > 0 ? found.trace.noise : 0;
    // as the chromatograms that were typed in
    const minutes = /\d ?min"/.test(JSON.stringify([this.shown.solutes, this.shown.gradient]));
    const lane = byId("view").value === "one" ? this.lane : null;
    const picture = pictureOf(found, { lane, before: this.before, measured, noise, minutes }, this.chart.size());
    this.chart.draw(picture);
    put(byId("chart-title"), picture.title);
    byId("delayed").hidden = !found.trace.column_alone;
    // behind the picture, which is what has to follow the hand, and behind what waits when it is painted
    this.rest = () => this.details(found, told, picture.minutes);
    this.timers.details = window.setTimeout(() => {
      this.timers.details = window.setTimeout(() => this.rest?.());
    });
  }

  /** Tables, path and rows of an answer whose picture is drawn. @param {any} found @param {any} told of the solute that is looked at
   * @param {boolean} minutes unit of times */
  details(found, told, minutes) {
    this.rest = null;
    this.instrument.answered(told, this.shown);
    this.alternatives.held = heldWords(found, this.limit);
    this.alternatives.costly = told.parts.filter((/** @type {any} */ one) => one.plates_back > 0 && one.kind !== "column").sort((/** @type {any} */ a, /** @type {any} */ b) => b.plates_back - a.plates_back).map((/** @type {any} */ one) => one.name);
    this.ribbon(told);
    put(byId("ticked"), tickedTable(tickedRows(this.model.tables, this.shown, this.alternatives.names())));
    put(byId("basis"), `${new Date().toLocaleDateString("sv")}, ${this.model.fileName}: ${basisOf(this.shown, this.lane)}`);
    byId("chart").setAttribute("aria-label", chartWords(found));
    showPeak(this.facts, found, this.lane, { before: this.before, measured: this.overlay.measured?.peak, minutes });
    showWhole(found, this.before, this.limit, this.lane);
    showParts(found, this.lane, (name) => this.sizes(name));
    clearTimeout(this.timers.heard);
    this.timers.heard = window.setTimeout(() => {
      byId("heard").textContent = byId("headline").textContent;
    }, HEARD_AFTER);
    put(byId("solving"), `, in ${significant(found.milliseconds, 2)} ms`);
  }

  /** Says with which changes the answers are. */
  ticked() {
    const names = this.alternatives.names();
    byId("with").hidden = !names.length;
    const dose = injects(this.model.tables.injection, this.shown?.injection);
    put(byId("with"), `Shown with: ${names.join("; ")}${dose && (". " + dose)}`);
  }

  /** Of a part, the injection or the detector, as they are typed. @param {string} name */
  sizes(name) {
    const tables = this.shown;
    const part = tables.path.find((/** @type {any} */ one) => one.name === name);
    const { text, tables: own } = this.model;
    const keys = part ? assumedOf(text, "path", own.path.findIndex((/** @type {any} */ one) => one.name === name)) : assumedOf(text, name, 0);
    const words = keys.map((key) => key.replaceAll("_", " "));
    if (name === "injection" && emptyingUntold(own.injection)) words.push("emptied backwards");
    const assumed = words.length ? `; assumed: ${words.join(", ")}` : "";
    return (part ? sizesOf("path", part, tables) : sizesOf(name, tables[name] ?? {}, tables)) + assumed;
  }

  /** @param {any} told @param {number} [wide] on paper */
  ribbon(told, wide) {
    const open = this.instrument.open;
    drawRibbon(this.shown ?? this.model.tables, told, byId("by").value, open?.name === "path" ? open.index : -1, wide);
  }

  solutes() {
    const names = (this.answer?.solutes ?? this.model.tables.solutes).map((/** @type {any} */ one) => one.name);
    if (this.lane >= names.length) this.lane = 0;
    const select = byId("lane");
    if (JSON.stringify([...select.options].map((one) => one.text)) !== JSON.stringify(names)) {
      select.replaceChildren(...names.map((/** @type {string} */ name, /** @type {number} */ k) => element("option", { value: k }, name)));
    }
    select.value = String(this.lane);
  }

  /** @param {{name: string, index: number} | null} row */
  chosen(row) {
    if (row?.name !== "solutes" || !this.answer?.solutes[row.index] || this.lane === row.index) return this.show();
    this.lane = row.index;
    this.compute();
    say(`The answers are now those of ${this.answer?.solutes[row.index]?.name ?? "this solute"}. ${this.overlay.beside()}`.trim());
  }

  /** Weighs all combinations of changes, between pictures. @param {boolean} [asked]
   * @param {{name: string, sentence: string}[]} [leftOut] changes that cannot be computed */
  order(asked = false, leftOut = []) {
    const { changes = [] } = this.model.tables;
    if (!this.answer && this.kept && changes.length) {
      put(byId("order-sure"), "");
      return;
    }
    const out = (/** @type {any} */ one) => withNeeds(changes, [one.name]).some((name) => leftOut.some((other) => other.name === name));
    const tried = changes.filter((/** @type {any} */ one) => !out(one));
    if (!tried.length || !this.answer) {
      this.alternatives.ordered(leftOut.length ? { refused: "" } : null, leftOut);
      this.pieces.later(() => this.doubts());
      return;
    }
    this.pieces.later(null);
    if (asked) this.alternatives.ordered({ refused: "The combinations are computed." });
    const work = ordering(this.model.tables, tried, { files: this.files, straight: this.straight, ...(asked ? {} : { patience: PATIENT_FOR }) });
    this.pieces.begin(work, (order) => this.weighed(order, { asked, leftOut, changes: tried }), (refused) => this.alternatives.ordered({ refused }));
  }

  /** A sheet holds what belongs to it: what is still missing is computed first, or it says that it is not. */
  completed() {
    if (this.waiting) this.compute();
    this.rest?.();
    if (this.pieces.completed(PRINT_WAITS)) return;
    if (byId("order-sure").textContent) put(byId("order-sure"), "How sure the order is: not computed yet when this was printed.");
    if (byId("spread").classList.contains("old")) put(byId("spread"), "How far the answer may change was not computed yet when this was printed.");
  }

  /** How sure the answer and the order are. @param {any} [order] @param {any[]} [changes] of which it is */
  doubts(order = null, changes = []) {
    const { model, lane, files, straight } = this;
    const told = this.answer?.solutes[lane];
    if (!told) return;
    const show = (/** @type {string} */ id, /** @type {string} */ sentence) => {
      put(byId(id), sentence);
      byId(id).classList.remove("old");
    };
    const asked = { tables: model.tables, text: model.text, names: this.alternatives.names(), lane, told, order, changes, options: { files, straight }, patience: PATIENT_FOR };
    this.pieces.begin(doubting(asked, (spread) => show("spread", spread)), (sure) => show("order-sure", sure), () => {
      show("spread", "");
      show("order-sure", order?.steps?.length ? "How sure the order is: the page cannot compute it." : "");
    });
  }

  /** @param {any} order @param {{asked: boolean, leftOut: {name: string, sentence: string}[], changes: any[]}} of */
  weighed(order, { asked, leftOut, changes }) {
    if (order.problem && order.broken.length) {
      const { tables } = this.model;
      const { sentence } = placed(order.problem, changedBy(tables, order.broken));
      const hint = sentence.includes("the loop holds") ? "; the change can set the volume of the injection, too" : "";
      this.order(asked, [...leftOut, { name: order.broken.at(-1), sentence: sentence + hint }]);
      return;
    }
    if (order.refused && order.milliseconds > PATIENT_FOR && !asked) {
      const find = element("button", { type: "button", onclick: () => this.order(true) }, "Find it all the same");
      this.alternatives.ordered({ refused: `The best order: ${order.refused}. `, act: find });
      this.doubts();
      return;
    }
    order.apart = apartWords(answer(this.model.tables, { files: this.files, straight: this.straight, platesBack: false, trace: false }).pairs);
    this.alternatives.ordered(order, leftOut);
    this.instrument.others();
    this.doubts(order, changes);
  }

  async address() {
    const { model } = this;
    const text = model.text;
    const fragment = text !== this.begun ? await fragmentOf(model.fileName, text) : "";
    if (model.text !== text) return;
    history.replaceState(null, "", fragment || location.href.replace(/#.*$/, ""));
    sealed(this.model.text);
  }

  /** Reads files that were chosen or dropped. @param {Iterable<File>} files */
  async opened(files) {
    for (const file of files) {
      try {
        if (file.size > 2.5e7) throw new Error("expected a scenario or a signal of less than 20 MB, found a larger file");
        const text = textOf(new Uint8Array(await file.arrayBuffer()), /\.toml$/i.test(file.name));
        if (/\.toml$/i.test(file.name) || /^\s*\[\[path\]\]/m.test(text)) {
          this.model.reset(text, fileName(file.name));
          this.named = true;
          this.fresh();
          say(`${file.name} is open. Undo brings back what was there.`);
        } else if (this.awaits(file.name)) this.injected(file.name, text);
        else this.overlay.read(file.name, text);
      } catch (problem) {
        say(`${file.name}: ${/** @type {Error} */ (problem).message}`, true);
      }
    }
  }

  /** Whether a file is that of the injection, or may be. @param {string} name */
  awaits(name) {
    const { shape, file } = this.model.tables.injection;
    return shape === "signal" && typeof file === "string" && (file.split(/[/\\]/).pop() === name || !Object.hasOwn(this.files, file));
  }

  /** A measured injection; it is held as long as the page is open. @param {string} name @param {string} text */
  injected(name, text) {
    const curve = pulseRead(text);
    const { file } = this.model.tables.injection;
    const other = file.split(/[/\\]/).pop() !== name;
    this.files = { ...this.files, [other ? name : file]: curve };
    if (other) this.model.set("injection", 0, "file", name);
    this.soon();
    say(`${name}: ${curve.times.length} points are what is injected. Keep the file beside the scenario: the program reads it there.`);
  }

  /** Another title, and a file name after it where the file is one of the examples. @param {string} title */
  entitled(title) {
    const { model } = this;
    model.apply("title", (text, tables) => withKey(text, tables, "", 0, "title", title || undefined), "title");
    const plain = title.toLowerCase().replace(/[^a-z0-9]+/g, "-").replace(/^-|-$/g, "");
    if (!this.named && plain) model.fileName = fileName(plain);
  }

  save() {
    download(this.model.fileName, this.model.text);
    this.model.saved = this.model.text;
    this.show();
    say(`${this.model.fileName} is handed to the browser, which keeps it where it keeps downloads.`);
  }

  wired() {
    const { model } = this;
    const on = (/** @type {string} */ id, /** @type {string} */ event, /** @type {(event: any) => void} */ act) => byId(id).addEventListener(event, act);
    on("open", "click", () => byId("file").click());
    on("file", "change", (event) => {
      const files = [...event.target.files];
      event.target.value = "";
      this.opened(files);
    });
    on("save", "click", () => this.save());
    on("undo", "click", () => { model.undo(); say("Undone."); });
    on("redo", "click", () => { model.redo(); say("Done again."); });
    on("print", "click", () => window.print());
    on("said", "click", () => put(byId("said"), ""));
    on("title", "input", () => this.entitled(byId("title").value.trim()));
    on("file-name", "change", () => {
      const typed = byId("file-name").value.trim();
      if (typed) model.fileName = fileName(typed);
      this.named ||= Boolean(typed);
      byId("file-name").value = model.fileName;
      this.soon();
    });
    on("title", "blur", () => model.settle());
    handing(model);
    beginnings(this.examples, (one) => this.begin(one));
    dropped((files) => this.opened(files));
    addEventListener("keydown", keys);
    addEventListener("hashchange", () => this.start());
    addEventListener("beforeunload", (event) => {
      if (model.dirty) event.preventDefault();
    });
    this.wiredAnswers(on);
  }

  /** What is shown, and how. @param {(id: string, event: string, act: (event: any) => void) => void} on */
  wiredAnswers(on) {
    const { model } = this;
    on("ribbon", "click", (event) => {
      const part = event.target.closest("[data-index], [data-row]");
      if (!part) return;
      const [name, index] = part.dataset.row ? [part.dataset.row, 0] : ["path", Number(part.dataset.index)];
      this.instrument.choose({ name, index }, `row-${name}-${index}`);
    });
    for (const one of ["by", "view", "noise"]) on(one, "change", () => this.show());
    on("lane", "change", () => {
      this.lane = Number(byId("lane").value);
      this.compute();
      if (this.overlay.beside()) say(`The peak of ${this.answer?.solutes[this.lane]?.name ?? "this solute"}. ${this.overlay.beside()}`);
    });
    on("pin", "click", () => {
      this.pin(this.pinned ? null : this.answer);
      this.compute();
      say(this.pinned ? "Pinned: what you change now is shown beside it." : "Unpinned.");
    });
    on("picture", "click", () => this.chart.save(model.fileName.replace(/\.toml$/, ""), [model.tables.title, byId("chart-title").textContent].filter(Boolean).join(": "), [byId("with").textContent].filter(Boolean)));
    on("curves", "click", () => this.answer && saveCurves(this.answer, model.fileName));
    on("changes", "make", (event) => this.made(event.detail));
    // before what measures how much is printed
    addEventListener("beforeprint", () => this.completed(), true);
    const drawn = (/** @type {number} */ wide) => this.ribbon(this.answer?.solutes[this.lane] ?? null, wide || undefined);
    for (const [event, wide] of /** @type {[string, number][]} */ ([["resize", 0], ["beforeprint", ON_SHEET], ["afterprint", 0]])) addEventListener(event, () => drawn(wide));
  }

  /** @param {{name: string, text: string}} one of the examples */
  begin(one) {
    this.model.reset(one.text, one.name);
    this.named = false;
    this.fresh();
  }

  /** Keeps an answer as the one before; null: none. @param {any} kept */
  pin(kept) {
    this.pinned = kept && { ...kept, factors: fitted(this.model.tables, this.files) };
    const button = byId("pin");
    button.setAttribute("aria-pressed", String(Boolean(this.pinned)));
    button.textContent = this.pinned ? "Unpin" : "Pin as “before”";
  }

  /** A change becomes part of the scenario. @param {string} name */
  made(name) {
    const { model } = this;
    attempted(() => {
      const made = withMade(model, name);
      model.apply("", () => ({ text: made.text, tables: made.tables, rewritten: made.commentsLost }));
      model.tell("file");
      say(`${name} is made. Undo takes it back.`);
    });
  }
}

document.body.setAttribute("aria-busy", "true");
if ("DecompressionStream" in window) new Bench(await inflated(byId("facts")), await inflated(byId("start"))).start();
else byId("headline").textContent = "This page asks for a browser of June 2023 or later.";
document.body.removeAttribute("aria-busy");
