// @ts-check
/** Why there is no answer, and what can be done about it. */
import { facts } from "../engine/facts.js";
import { byId, element } from "../shown/dom.js";
import { capital } from "../shown/numbers.js";

/** @typedef {(string | number)[]} Place */

/** A problem, where a person finds it, in the words of the forms. @param {{place: Place, sentence: string}} problem
 * @param {Record<string, any>} tables of the scenario */
export function placed({ place, sentence }, tables) {
  const [table, index, key = ""] = typeof place[1] === "number" ? place : [place[0], 0, place[1]];
  const where = tables?.[table]?.[index]?.name ?? capital(String(table));
  const said = sentence.replace("the key ", "").replace(/\w+_\w+/g, (word) => (isKey(word) ? word.replaceAll("_", " ") : word));
  return `${where}${key ? `, ${String(key).replaceAll("_", " ")}` : ""}: ${said}`;
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
 * @param {string} sentence @param {Place} [where] @param {(() => void) | null} [straighten] */
export function refuse(sentence, where, straighten = null) {
  const place = byId("refused");
  place.hidden = !sentence;
  document.body.classList.toggle("unanswered", Boolean(sentence));
  if (said === sentence) return;
  said = sentence;
  const act = where ? goingTo(where) : straighten && element("button", { type: "button", class: "small", onclick: straighten }, "Show it as if it were straight");
  place.replaceChildren(...[sentence, act && " ", act].filter(Boolean));
}
