// The address of a page: which lesson it is, where the sliders stand and what a student did. All of it
// stands behind the #, and nowhere else.

import { bytesIn, letters } from "../shown/letters.js";

/** Key of what a student did. */
const DONE = "kept";
/** ms until an address is addressed that a browser refused, as some do that see many. */
const AGAIN_AFTER = 1000;

/** What an address says, by its keys. @param {string} hash @returns {Map<string, string>} */
export function tokens(hash) {
  /** @type {Map<string, string>} */
  const found = new Map();
  for (const one of hash.slice(1).split("&")) {
    const [key, value = ""] = one.split("=");
    try {
      found.set(decodeURIComponent(key), decodeURIComponent(value));
    } catch {
      // a sign that was cut in two says nothing
    }
  }
  return found;
}

/** @param {string} hash @returns {Record<string, any>} */
function keptIn(hash) {
  try {
    const found = JSON.parse(new TextDecoder().decode(bytesIn(tokens(hash).get(DONE) ?? "")));
    return typeof found === "object" ? { ...found } : {};
  } catch {
    return {};
  }
}

/** By name; null: it was there and is gone, and no older address brings it back. */
let kept = keptIn(location.hash);

/** What is kept under a name; null: nothing. @param {string} name @returns {any} */
export function keptUnder(name) {
  return (Object.hasOwn(kept, name) ? kept[name] : null) ?? null;
}

/** Keep this until the page is opened without it; null: forget it. @param {string} name @param {unknown} what */
export function keepUnder(name, what) {
  if (what === null && keptUnder(name) === null) return;
  kept = { ...kept, [name]: what };
  addressed(location.hash);
}

/** Keep this for the next opening alone. @param {string} name @returns {any} */
export function takenOnce(name) {
  const found = keptUnder(name);
  if (found !== null) {
    kept = { ...kept, [name]: undefined };
    addressed(location.hash);
  }
  return found;
}

/** An address with what is kept. @param {string} hash without or with what was kept once */
export function withKept(hash) {
  const place = hash.slice(1).split("&").filter((one) => one && !one.startsWith(`${DONE}=`));
  const text = JSON.stringify(kept);
  const all = text === "{}" ? place : [...place, `${DONE}=${letters(new TextEncoder().encode(text))}`];
  return `#${all.join("&")}`;
}

let retry = 0;

/** The page is here from now on, with what is kept. @param {string} hash */
export function addressed(hash) {
  clearTimeout(retry);
  const address = withKept(hash);
  for (const link of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll("[data-lesson]"))) {
    const left = keptUnder(`place ${link.dataset.lesson}`);
    link.setAttribute("href", withKept(`#${left ?? placeIn(link.dataset.lesson, 0, [])}`));
  }
  if (address === (location.hash || "#")) return;
  try {
    history.replaceState(history.state, "", address);
  } catch {
    retry = window.setTimeout(() => addressed(hash), AGAIN_AFTER);
  }
}

/** Takes up what an address brings beside what is here; whether it brought anything. @param {string} hash */
export function takenUp(hash) {
  const brought = keptIn(hash);
  const fresh = Object.keys(brought).some((name) => !Object.hasOwn(kept, name));
  kept = { ...brought, ...kept };
  addressed(hash);
  return fresh;
}

/**
 * What an address says of a position.
 * @param {string | undefined} lesson
 * @param {number} version
 * @param {[string, string][]} positions
 */
export function placeIn(lesson, version, positions) {
  /** @type {[string, string][]} */
  const place = lesson === undefined ? [] : [["lesson", lesson]];
  if (version) place.push(["version", String(version)]);
  return [...place, ...positions].map((pair) => pair.map(encodeURIComponent).join("=")).join("&");
}
