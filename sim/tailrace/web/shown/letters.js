// @ts-check
/** Bytes as letters that an address may hold. */

/** @param {Uint8Array} bytes */
export function letters(bytes) {
  let found = "";
  for (let k = 0; k < bytes.length; k += 1) found += String.fromCharCode(bytes[k]);
  return btoa(found).replaceAll("+", "-").replaceAll("/", "_").replace(/=+$/, "");
}

/** The bytes again; throws an Error where they are none. @param {string} text */
export function bytesIn(text) {
  return Uint8Array.from(atob(text.replaceAll("-", "+").replaceAll("_", "/")), (one) => one.charCodeAt(0));
}
