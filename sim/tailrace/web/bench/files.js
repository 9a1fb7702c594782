// @ts-check
/** Files in and out, the address that holds the scenario, and texts to copy. */
import { byId } from "../shown/dom.js";
import { bytesIn, letters } from "../shown/letters.js";

const MOST_TEXT = 1e6;
const END = "END_OF_SCENARIO";

/** Bytes of a stream, up to a limit. @param {ReadableStream} stream @param {number} most */
async function collected(stream, most) {
  const reader = stream.getReader();
  const pieces = [];
  let size = 0;
  for (;;) {
    const { done, value } = await reader.read();
    if (done) break;
    size += value.length;
    if (size > most) {
      await reader.cancel();
      throw new Error("too long");
    }
    pieces.push(value);
  }
  const whole = new Uint8Array(size);
  let at = 0;
  for (const piece of pieces) {
    whole.set(piece, at);
    at += piece.length;
  }
  return whole;
}

/** The part of the address that holds a scenario. @param {string} name @param {string} text */
export async function fragmentOf(name, text) {
  if (!globalThis.CompressionStream) return "";
  const packed = new Blob([text]).stream().pipeThrough(new CompressionStream("deflate-raw"));
  return `#file=${encodeURIComponent(name)}&s=${letters(await collected(packed, 1e7))}`;
}

/** The scenario that an address holds, or null. Throws an Error with one sentence.
 * @param {string} fragment @returns {Promise<{name: string, text: string} | null>} */
export async function fromFragment(fragment) {
  const found = /^#file=([^&]*)&s=([A-Za-z0-9_-]+)$/.exec(fragment);
  if (!found) return null;
  try {
    const unpacked = new Blob([bytesIn(found[2])]).stream().pipeThrough(new DecompressionStream("deflate-raw"));
    const text = new TextDecoder("utf-8", { fatal: true }).decode(await collected(unpacked, MOST_TEXT));
    return { name: fileName(decodeURIComponent(found[1])), text };
  } catch {
    throw new Error("expected a scenario in the address, found one that is cut or damaged; open the file instead");
  }
}

/** A name that can be that of a file. @param {string} name */
export function fileName(name) {
  const plain = name.replaceAll(/[^A-Za-z0-9._ -]/g, "-").replace(/^[.-]+/, "").slice(0, 80);
  return plain.endsWith(".toml") ? plain : `${plain || "scenario"}.toml`;
}

/** The text of a file: UTF-8, or as its first bytes say; of data also in the old way of one byte a letter.
 * @param {Uint8Array} bytes @param {boolean} scenario */
export function textOf(bytes, scenario) {
  const zeros = (/** @type {number} */ odd) => bytes.subarray(0, 4000).filter((one, k) => !one && k % 2 === odd).length;
  const wide = zeros(0) + zeros(1) > Math.min(bytes.length, 4000) / 4 ? (zeros(1) > zeros(0) ? "utf-16le" : "utf-16be") : "";
  const mark = bytes[0] === 0xff && bytes[1] === 0xfe ? "utf-16le" : bytes[0] === 0xfe && bytes[1] === 0xff ? "utf-16be" : wide;
  if (mark && !scenario) return new TextDecoder(mark).decode(bytes);
  try {
    return new TextDecoder("utf-8", { fatal: true }).decode(bytes);
  } catch {
    if (scenario) throw new Error("expected a scenario file in UTF-8, found other bytes; save it as UTF-8");
    return new TextDecoder("windows-1252").decode(bytes);
  }
}

/** Hands on files that are dropped on the page. @param {(files: Iterable<File>) => void} then */
export function dropped(then) {
  const over = (/** @type {boolean} */ shown) => {
    if (byId("drop").hidden === shown) byId("drop").hidden = !shown;
  };
  addEventListener("dragover", (event) => {
    if (!event.dataTransfer?.types.includes("Files")) return;
    event.preventDefault();
    over(true);
  });
  // of a drag that was broken off not every browser tells: what comes after it does
  for (const after of ["dragend", "pointerdown", "pointermove", "keydown", "blur"]) addEventListener(after, () => over(false));
  addEventListener("dragleave", (event) => !event.relatedTarget && over(false));
  addEventListener("drop", (event) => {
    event.preventDefault();
    over(false);
    then(event.dataTransfer?.files ?? []);
  });
}

/** What writes the file and runs it, in a shell. @param {string} name @param {string} text @param {boolean} windows */
function commandOf(name, text, windows) {
  const run = `tailrace run "${name}" --out "out/${name.replace(/\.toml$/, "")}"`;
  const lines = text.endsWith("\n") ? text : `${text}\n`;
  if (windows) return lines.includes("\n'@") ? run : `@'\n${lines}'@ | Set-Content -Encoding utf8 "${name}"\n${run}\n`;
  let end = END;
  while (lines.includes(end)) end += "_";
  return `cat > "${name}" <<'${end}'\n${lines}${end}\n${run}\n`;
}

/** Shows a text to copy. @param {string} title @param {string} text @param {string} note */
function offer(title, text, note) {
  const dialog = byId("offer");
  byId("offer-title").textContent = title;
  byId("offer-note").textContent = note;
  const area = byId("offer-text");
  area.value = text;
  byId("offer-done").textContent = "";
  dialog.showModal();
  area.select();
}

/** Copies what is offered. */
async function copyOffer() {
  const area = byId("offer-text");
  area.select();
  let done = false;
  try {
    await navigator.clipboard.writeText(area.value);
    done = true;
  } catch {
    done = document.execCommand("copy");
  }
  byId("offer-done").textContent = done ? "Copied." : "Copy it with the keyboard: it is selected.";
}

/** SHA-256 of a text as 64 digits, or empty where the browser has none. @param {string} text */
export async function hashOf(text) {
  if (!globalThis.crypto?.subtle) return "";
  const digest = await crypto.subtle.digest("SHA-256", new TextEncoder().encode(text));
  return [...new Uint8Array(digest)].map((one) => one.toString(16).padStart(2, "0")).join("");
}

/** Buttons that hand on the scenario, as a command and as a link. @param {{fileName: string, text: string}} model */
export function handing(model) {
  const on = (/** @type {string} */ id, /** @type {() => void} */ act) => byId(id).addEventListener("click", act);
  on("command", () => offer("As a command", commandOf(model.fileName, model.text, navigator.userAgent.includes("Windows")), "It writes the scenario to a file and runs it; paste it into a terminal where tailrace is installed."));
  on("link", async () => offer("As a link", location.href.replace(/#.*$/, "") + (await fragmentOf(model.fileName, model.text)), "It opens this page with this scenario, wherever the page lies at the same place. The scenario is in the link itself."));
  on("offer-copy", () => copyOffer());
  on("offer-close", () => byId("offer").close());
}

/** What keys do, as buttons do it. @param {KeyboardEvent} event */
export function keys(event) {
  if (!(event.ctrlKey || event.metaKey) || event.altKey) return;
  const key = event.key.toLowerCase();
  const act = key === "z" ? (event.shiftKey ? "redo" : "undo") : { y: "redo", s: "save", o: "open" }[key];
  if (!act) return;
  event.preventDefault();
  byId(act).click();
}
