// @ts-check
/** What to begin with: one of the examples, of which the first is an empty instrument. */
import { byId, element, say } from "../shown/dom.js";

/** @typedef {{name: string, title: string, text: string}} Example */

/** The list of what there is, and the line above an example that nobody has changed yet.
 * @param {Example[]} examples @param {(one: Example) => void} begin */
export function beginnings(examples, begin) {
  const opened = (/** @type {Example} */ one) => {
    begin(one);
    say(`${one.title}: it is open. Undo brings back what was there.`);
  };
  const select = byId("examples");
  select.append(...examples.map((one, k) => element("option", { value: k }, one.title)));
  select.addEventListener("change", () => {
    const one = examples[Number(select.value)];
    select.value = "";
    if (one) opened(one);
  });
  byId("empty").addEventListener("click", () => {
    opened(examples[0]);
    byId("adding").open = true;
    byId("adding").querySelector("summary").focus();
  });
  byId("go-on").addEventListener("click", () => {
    byId("example").dataset.left = "true";
    byId("example").hidden = true;
    byId("row-method-0").focus();
  });
}

/** Whether the line is shown. @param {Example[]} examples @param {string} text of the scenario @param {boolean} tried whether a change is ticked */
export function untouched(examples, text, tried) {
  const place = byId("example");
  place.hidden = tried || place.dataset.left === "true" || !examples.some((one, k) => k > 0 && one.text === text);
}

/** What an answer rests on is folded where there is little room. */
export function folded() {
  const roomy = matchMedia("(min-width: 34.01rem)");
  const fold = () => byId("grounds").toggleAttribute("open", roomy.matches);
  roomy.addEventListener("change", fold);
  fold();
}
