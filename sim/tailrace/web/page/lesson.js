// A lesson around the sliders: predictions that are locked, tables to fill in, answers to show.

import { byId } from "../shown/dom.js";
import { keepUnder, keptUnder, tokens } from "./address.js";

/** @typedef {{chosen: string[], locked: boolean, shown: boolean, cells: string[]}} State */

const all = (/** @type {string} */ selector) => /** @type {any[]} */ ([...document.querySelectorAll(selector)]);

/**
 * Which station an address asks for; the first one where it asks for none.
 * @param {{lesson: string, version: number}[]} stations
 * @param {string} hash
 */
export function stationOf(stations, hash) {
  const said = tokens(hash);
  const version = Number(said.get("version") ?? 0);
  const name = said.get("lesson") ?? stations[0].lesson;
  const found = stations.findIndex((one) => one.lesson === name && one.version === version);
  return Math.max(found < 0 ? stations.findIndex((one) => one.lesson === name) : found, 0);
}

/** What was kept of this lesson; of another's making only what can be. @param {string} name @returns {State} */
function stateOf(name) {
  const { chosen, cells, locked, shown } = keptUnder(`lesson ${name}`) ?? {};
  const texts = (/** @type {unknown} */ list) => (Array.isArray(list) ? list.map((one) => String(one ?? "")) : []);
  return { chosen: texts(chosen), locked: locked === true, shown: shown === true, cells: texts(cells) };
}

/** @param {string} name @param {State | null} state */
function keep(name, state) {
  keepUnder(`lesson ${name}`, state);
  if (!state) keepUnder(`pin ${name}`, null);
}

/**
 * @param {string} name
 * @param {number} version
 * @param {(version: number) => string} addressOf
 * @param {() => void} show draws what was hidden
 */
export function lessonOf(name, version, addressOf, show) {
  for (const link of all(".lessons a"))
    if (link.dataset.lesson === name) link.setAttribute("aria-current", "page");
  const change = (/** @type {number} */ to) => {
    if (to !== version) location.hash = addressOf(to);
  };
  all("[data-version]").forEach((button) =>
    button.addEventListener("click", () => change(Number(button.dataset.version))),
  );
  const list = byId("version");
  list?.addEventListener("change", () => change(Number(list.value)));
  if (byId("predict")) predicting(name, stateOf(name), show);
}

/** @param {string} name @param {State} state @param {() => void} show */
function predicting(name, state, show) {
  const questions = all(".question");
  const radios = (/** @type {any} */ one) => [...one.querySelectorAll("input")];
  const cells = all(".fill input");
  questions.forEach((one, n) =>
    radios(one).forEach((radio) => {
      radio.checked = radio.value === state.chosen[n];
      radio.addEventListener("change", () => {
        state.chosen[n] = radio.value;
        byId("lock").disabled = questions.some((_, k) => !state.chosen[k]);
        keep(name, state);
      });
    }),
  );
  cells.forEach((cell, n) => {
    cell.value = state.cells[n] ?? "";
    cell.addEventListener("input", () => {
      state.cells[n] = cell.value;
      keep(name, state);
    });
  });
  for (const button of all(".tell"))
    button.addEventListener("click", () => {
      const on = button.getAttribute("aria-pressed") !== "true";
      button.setAttribute("aria-pressed", String(on));
      const { previousElementSibling: table, nextElementSibling: note } = button.parentElement;
      if (note?.matches(".told")) note.hidden = !on;
      for (const one of table.querySelectorAll(".told")) one.hidden = !on;
    });
  const seen = () => {
    byId("after").hidden = !state.locked;
    byId("lock").hidden = state.locked;
    byId("lock").disabled = questions.some((_, n) => !state.chosen[n]);
    byId("anew").hidden = !state.locked;
    for (const one of questions) for (const radio of radios(one)) radio.disabled = state.locked;
    const place = byId("locked");
    place.textContent = state.locked
      ? `${place.dataset.told} (${state.chosen.map((letter, n) => ("" + (n + 1) + letter)).join(", ")})`
      : "";
    byId("verdicts").hidden = !state.shown;
    byId("show-answers").hidden = state.shown;
    all("#verdicts li").forEach((one, n) => {
      const { right, wrong } = byId("verdicts").dataset;
      const agrees = state.chosen[n] === one.dataset.answer;
      one.querySelector(".verdict").textContent = agrees ? right : `${state.chosen[n]}) ${wrong}`;
    });
  };
  const set = (/** @type {Partial<State>} */ what) => {
    Object.assign(state, what);
    keep(name, state);
    seen();
    show();
  };
  byId("lock").addEventListener("click", () => set({ locked: true }));
  byId("show-answers").addEventListener("click", () => set({ shown: true }));
  byId("anew").addEventListener("click", () => {
    keep(name, null);
    location.reload();
  });
  seen();
}
