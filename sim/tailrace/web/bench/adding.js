// @ts-check
/** The list of what can be added to the path, by the names that the trade has. */
import { micro } from "../engine/units.js";
import { element } from "../shown/dom.js";

/** What a part is called here, where its usual name would mislead. @type {Record<string, string>} */
const ADDED = { union: "joint, union, badly cut tube end", loop: "loop that holds no sample, such as one for parking" };

/** A part with typical sizes. @param {any} usual @param {any[]} path @returns {Record<string, any>} */
export function usualPart(usual, path) {
  /** @type {Record<string, any>} */
  const made = { name: usual.name, part: usual.part };
  for (const [key, range] of Object.entries(usual.ranges)) {
    if (key === "plates" || key === "head_volume") continue;
    const typical = range.shown[1];
    made[key] = range.kind === "number" ? Number(typical) : typical;
  }
  if (usual.name === "heater") made.heater = true;
  const packed = usual.part === "column" && path.find((one) => one.part === "column")?.particle;
  if (packed) made.particle = packed;
  return made;
}

/** @param {{usual: any[], path: any[], place: number | null, open: boolean}} shown place: where the next part goes; null: where it usually is
 * @param {{add: (usual: any, id: string) => void, placed: (place: number | null) => void}} tell */
export function addingPanel({ usual, path, place, open }, { add, placed }) {
  const places = [["", "where it usually is"], ["0", `before 1 ${path[0].name}`], ...path.map((one, k) => [String(k + 1), `behind ${k + 1} ${one.name}`])];
  const options = places.map(([value, words]) => element("option", { value, selected: value === String(place ?? "") }, words));
  const where = element("select", { id: "add-where", onchange: () => placed(where.value ? Number(where.value) : null) }, options);
  const choices = usual.map((one) => {
    const id = `add-${one.name.replaceAll(" ", "-")}`;
    return element(
      "li",
      {},
      element(
        "button",
        { type: "button", id, onclick: () => add(one, id) },
        element("strong", {}, ADDED[one.name] ?? one.name),
        element("span", {}, micro(Object.values(one.ranges).slice(0, 3).map(typicalOf).join(" × "))),
      ),
    );
  });
  return element(
    "details",
    { class: "adding", id: "adding", open },
    element("summary", {}, "Add a part"),
    element("p", {}, element("label", { for: "add-where" }, "It goes "), where),
    element("p", { class: "hint" }, "Sizes are typical ones: correct them. Drag a part to another place, or move it with Alt and the arrow keys."),
    element("ul", { class: "choices" }, choices),
  );
}

/** A typical size; of a share, what it is of. @param {any} range */
function typicalOf({ kind, shown }) {
  return kind === "number" ? `${Number((100 * Number(shown[1])).toPrecision(4))} % of the flow` : shown[1];
}
