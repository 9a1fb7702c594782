// @ts-check
/** What takes long is computed in pieces, so that the page is alive between them. */
import { say } from "../shown/dom.js";

/** ms of one piece. */
const PIECE = 10;

/** Says what cannot be done. @param {() => void} act @param {(sentence: string) => void} [refused] */
export function attempted(act, refused = say) {
  try {
    act();
  } catch (problem) {
    refused(/** @type {Error} */ (problem).message);
  }
}

/** One work after the other, of which a new one takes the place. */
export class Pieces {
  constructor() {
    this.timer = 0;
    /** @type {(() => void) | null} what is computed next */
    this.next = null;
  }

  /** What is computed next, once the page has had its turn; null: nothing. @param {(() => void) | null} act @param {number} [wait] ms */
  later(act, wait = 0) {
    clearTimeout(this.timer);
    this.next = act;
    if (act) this.timer = window.setTimeout(() => this.on(), wait);
  }

  on() {
    const act = this.next;
    this.later(null);
    act?.();
  }

  /** @template T @param {Generator<void, T, void>} work @param {(found: T) => void} done @param {(sentence: string) => void} refused */
  begin(work, done, refused) {
    const on = () => {
      const until = performance.now() + PIECE;
      let step = work.next();
      while (!step.done && performance.now() < until) step = work.next();
      if (step.done) done(step.value);
      else this.later(() => attempted(on, refused));
    };
    attempted(on, refused);
  }

  /** All that is still to be computed, at once; false: it takes longer than that. @param {number} patience ms */
  completed(patience) {
    const until = performance.now() + patience;
    while (this.next && performance.now() < until) this.on();
    return this.next === null;
  }
}
