// @ts-check
/** A row of a list is dragged to another place. */

/** @param {PointerEvent} event on its handle @param {HTMLElement} list @param {number} from @param {(to: number) => void} shift */
export function dragged(event, list, from, shift) {
  event.preventDefault();
  const items = [...list.children];
  const handle = /** @type {HTMLElement} */ (event.currentTarget);
  handle.setPointerCapture(event.pointerId);
  items[from].classList.add("dragged");
  let to = from;
  const over = (/** @type {PointerEvent} */ move) => {
    const boxes = items.map((one) => one.getBoundingClientRect());
    to = boxes.filter((box, k) => k !== from && box.top + (k > from ? 0.35 : 0.65) * box.height < move.clientY).length;
    items.forEach((one, k) => {
      one.classList.toggle("before", to !== from && k === (to > from ? to + 1 : to));
      one.classList.toggle("behind", to !== from && to === items.length - 1 && k === to);
    });
  };
  const drop = (/** @type {PointerEvent} */ end) => {
    handle.removeEventListener("pointermove", over);
    handle.removeEventListener("pointerup", drop);
    handle.removeEventListener("pointercancel", drop);
    for (const one of items) one.classList.remove("dragged", "before", "behind");
    if (end.type === "pointerup" && to !== from) shift(to);
  };
  handle.addEventListener("pointermove", over);
  handle.addEventListener("pointerup", drop);
  handle.addEventListener("pointercancel", drop);
}
