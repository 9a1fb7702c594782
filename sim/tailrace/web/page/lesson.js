// A lesson around the sliders: predictions that are locked, tables to fill in, answers to show.

import { byId } from "../shown/dom.js";
import { keepUnder, keptUnder, tokens } from "./address.js";

/** told: by button whether the program's numbers are shown; open: by answer whether it is unfolded. */
/** @typedef {{chosen: string[], locked: boolean, shown: boolean, cells: string[], told: boolean[], open: boolean[]}} State */

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
  const { chosen, cells, locked, shown, told, open } = keptUnder(`lesson ${name}`) ?? {};
  const texts = (/** @type {unknown} */ list) => (Array.isArray(list) ? list.map((one) => String(one ?? "")) : []);
  const flags = (/** @type {unknown} */ list) => (Array.isArray(list) ? list.map((one) => one === true) : []);
  return { chosen: texts(chosen), locked: locked === true, shown: shown === true, cells: texts(cells), told: flags(told), open: flags(open) };
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

/** The program's numbers, and a teacher's answers, are shown until they are folded: on another instrument, too.
 * @param {string} name @param {State} state */
function unfolding(name, state) {
  all(".tell").forEach((button, n) => {
    const { previousElementSibling: table, nextElementSibling: note } = button.parentElement;
    const tell = (/** @type {boolean} */ on) => {
      button.setAttribute("aria-pressed", String(on));
      if (note?.matches(".told")) note.hidden = !on;
      for (const one of table.querySelectorAll(".told")) one.hidden = !on;
    };
    tell(state.told[n] ?? false);
    button.addEventListener("click", () => {
      state.told[n] = !state.told[n];
      tell(state.told[n]);
      keep(name, state);
    });
  });
  all("section[data-shared] > details").forEach((answer, n) => {
    answer.open = state.open[n] ?? false;
    answer.addEventListener("toggle", () => {
      if (answer.open === (state.open[n] ?? false)) return;
      state.open[n] = answer.open;
      keep(name, state);
    });
  });
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
  unfolding(name, state);
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
