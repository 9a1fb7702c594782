// A lesson around the sliders: predictions that are locked, tables to fill in, answers to show.

import { keepUnder, keptUnder } from "./kept.js";

/** @typedef {{chosen: string[], locked: boolean, shown: boolean, cells: string[]}} State */

const byName = (/** @type {string} */ name) => /** @type {any} */ (document.getElementById(name));
const all = (/** @type {string} */ selector) => /** @type {any[]} */ ([...document.querySelectorAll(selector)]);

/** @param {string} hash @returns {Map<string, string>} */
function tokens(hash) {
  const pairs = hash
    .slice(1)
    .split("&")
    .map((one) => /** @type {[string, string]} */ (one.split("=").map(decodeURIComponent)));
  return new Map(pairs);
}

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

/**
 * The address of a position.
 * @param {string | undefined} lesson
 * @param {number} version
 * @param {[string, string][]} positions
 */
export function hashOf(lesson, version, positions) {
  /** @type {[string, string][]} */
  const place = lesson === undefined ? [] : [["lesson", lesson]];
  if (version) place.push(["version", String(version)]);
  return `#${[...place, ...positions].map((pair) => pair.map(encodeURIComponent).join("=")).join("&")}`;
}

/** What was kept of this lesson. @param {string} name @returns {State} */
function stateOf(name) {
  return { chosen: [], locked: false, shown: false, cells: [], ...keptUnder(`lesson ${name}`) };
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
    if (link.getAttribute("href") === `#lesson=${name}`) link.setAttribute("aria-current", "page");
  const change = (/** @type {number} */ to) => {
    if (to !== version) location.hash = addressOf(to);
  };
  all("[data-version]").forEach((button) =>
    button.addEventListener("click", () => change(Number(button.dataset.version))),
  );
  const list = byName("version");
  list?.addEventListener("change", () => change(Number(list.value)));
  if (byName("predict")) predicting(name, stateOf(name), show);
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
        byName("lock").disabled = questions.some((_, k) => !state.chosen[k]);
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
    byName("after").hidden = !state.locked;
    byName("lock").hidden = state.locked;
    byName("lock").disabled = questions.some((_, n) => !state.chosen[n]);
    byName("anew").hidden = !state.locked;
    for (const one of questions) for (const radio of radios(one)) radio.disabled = state.locked;
    const place = byName("locked");
    place.textContent = state.locked
      ? `${place.dataset.told} (${state.chosen.map((letter, n) => `${n + 1}${letter}`).join(", ")})`
      : "";
    byName("verdicts").hidden = !state.shown;
    byName("show-answers").hidden = state.shown;
    all("#verdicts li").forEach((one, n) => {
      const { right, wrong } = byName("verdicts").dataset;
      const said = state.chosen[n] === one.dataset.answer ? right : wrong;
      one.querySelector(".verdict").textContent = `${state.chosen[n]}) ${said}`;
    });
  };
  const set = (/** @type {Partial<State>} */ what) => {
    Object.assign(state, what);
    keep(name, state);
    seen();
    show();
  };
  byName("lock").addEventListener("click", () => set({ locked: true }));
  byName("show-answers").addEventListener("click", () => set({ shown: true }));
  byName("anew").addEventListener("click", () => {
    keep(name, null);
    location.reload();
  });
  seen();
}
