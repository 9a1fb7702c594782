// @ts-check
/** The foot of the page: what it is, and of which scenario. */
import { byId, element } from "../shown/dom.js";
import { hashOf } from "./files.js";

/** @param {string} version of tailrace @param {string} tables their hash @param {string} licences of the libraries in it */
export function trust(version, tables, licences) {
  byId("trust").replaceChildren(
    `tailrace ${version}. To tell versions apart, the first digits of SHA-256: of the tables in this page ${tables.slice(0, 16)}…; of the instrument as it is now `,
    element("span", { id: "hash" }),
    ". ",
    element("span", { class: "screen-only" }, "Computed in this page, with the transfer functions of the parts. Its tests hold every number against the program, within 0.01 % of it, wherever the path is linear: that is how well numbers are computed, pressures and signal-to-noise, too; how well they are known, what is typed in decides, and for pressures ± 20 %. What is not linear the program has to compute. Nothing leaves this page. "),
    "For anything that is signed, save the scenario and use ",
    element("code", {}, "tailrace run"),
    ", which estimates its own error.",
  );
  byId("licences").append(element("pre", {}, licences));
}

/** @param {string} text of the scenario */
export async function sealed(text) {
  const hash = await hashOf(text);
  byId("hash").textContent = hash ? `${hash.slice(0, 16)}…` : "not known here";
  byId("hash").title = hash;
}
