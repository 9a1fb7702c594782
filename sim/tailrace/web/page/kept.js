// What this tab keeps of a page, where the browser keeps anything.

/** @param {string} name @returns {any} null: nothing */
export function keptUnder(name) {
  try {
    return JSON.parse(sessionStorage.getItem(name) ?? "null");
  } catch {
    return null;
  }
}

/** @param {string} name @param {unknown} what null: forget it */
export function keepUnder(name, what) {
  try {
    if (what === null) sessionStorage.removeItem(name);
    else sessionStorage.setItem(name, JSON.stringify(what));
  } catch {
    // a browser that keeps nothing: all begins anew when the page is opened again
  }
}
