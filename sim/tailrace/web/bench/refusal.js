// @ts-check
/** Why there is no answer, and what can be done about it. */
import { facts } from "../engine/facts.js";
import { LOOP } from "../engine/rules.js";
import { micro } from "../engine/units.js";
import { byId, element } from "../shown/dom.js";
import { capital } from "../shown/numbers.js";

/** @typedef {(string | number)[]} Place */
/** @typedef {{place: Place, sentence: string}} Said */

/** The same in the words of a bench, and where the one field is that mends it. @param {Said} problem @param {Record<string, any>} tables
 * @returns {Said} */
function told({ place, sentence }, tables) {
  const holds = /^expected at most the (.*) that the loop holds, found (.*); fill less/.exec(sentence);
  if (holds) return { place, sentence: `${micro(holds[2])} are to be injected, and the loop holds ${micro(holds[1])}; inject no more than it holds, or give a larger loop` };
  if (sentence.startsWith("expected loop_bore, or two of")) {
    const many = LOOP.every((key) => key in (tables.injection ?? {}));
    return many
      ? { place, sentence: "of loop bore, loop length and loop volume two decide the third; empty one of them" }
      : { place: ["injection", "loop_bore"], sentence: "it is missing; type it, or else both length and volume of the loop" };
  }
  const [, key, why] = /^expected the key (\w+)( since .*?| beside .*?)?, found none; add \w+ = /.exec(sentence) ?? [];
  if (!key) return { place, sentence };
  return { place: place.at(-1) === key ? place : [...place, key], sentence: `it is missing${why ? (", and is needed" + why) : ""}; type it` };
}

/** A problem, where a person finds it, in the words of the forms, and the place of the field. @param {Said} problem
 * @param {Record<string, any>} tables of the scenario @returns {Said} */
export function placed(problem, tables) {
  const { place, sentence } = told(problem, tables);
  const [table, index, key = ""] = typeof place[1] === "number" ? place : [place[0], 0, place[1]];
  const where = tables?.[table]?.[index]?.name ?? capital(String(table));
  const said = sentence.replace("the key ", "").replace(/\w+_\w+/g, (word) => (isKey(word) ? word.replaceAll("_", " ") : word));
  return { place, sentence: `${where}${key ? (", " + (String(key).replaceAll("_", " "))) : ""}: ${said}` };
}

/** @param {string} word */
function isKey(word) {
  return Object.values(facts().tables).some((/** @type {any} */ table) => Object.hasOwn(table.fields, word));
}

/** @param {Place} where */
function goingTo(where) {
  const index = typeof where[1] === "number" ? where[1] : 0;
  const row = byId(`row-${where[0]}-${index}`);
  if (!row) return null;
  const go = () => {
    if (row.getAttribute("aria-expanded") !== "true") byId(row.id).click();
    (byId(`field-${where[0]}-${index}-${typeof where[1] === "number" ? where[2] : where[1]}`) ?? byId(row.id)).focus();
  };
  return element("button", { type: "button", class: "small", onclick: go }, "Go there");
}

let said = "";

/** Says why there is no answer; an empty sentence: there is one.
 * @param {string} sentence @param {boolean} kept whether the last answer is still to be seen @param {Place} [where]
 * @param {(() => void) | null} [straighten] */
export function refuse(sentence, kept, where, straighten = null) {
  const place = byId("refused");
  document.body.classList.toggle("kept", kept);
  place.hidden = !sentence;
  document.body.classList.toggle("unanswered", Boolean(sentence));
  if (said === `${kept} ${sentence}`) return;
  said = `${kept} ${sentence}`;
  const act = where ? goingTo(where) : straighten && element("button", { type: "button", class: "small", onclick: straighten }, "Show it as if it were straight");
  const old = kept && sentence ? element("span", { class: "kept-note" }, " What is grey is the last answer, from before this.") : null;
  place.replaceChildren(...[sentence, act && " ", act, old].filter(Boolean));
}
