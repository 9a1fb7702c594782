// Numbers from text: as the program's `web/rolled.py` and `benchmarks/bent_page_table.py` pack them.

const SIGNS = String.fromCharCode(...Array.from({ length: 94 }, (_, n) => 33 + n)).replace(/["\\<]/g, "");
const BITS = 13;
const DIFFERENCES = 5;
const HALF = Math.floor(SIGNS.length / 2);
const WORTH = new Uint8Array(128);
for (let n = 0; n < SIGNS.length; n += 1) WORTH[SIGNS.charCodeAt(n)] = n;

/** Bytes from text. @param {string} text */
export function bytesOf(text) {
  const bytes = new Uint8Array(Math.floor(((text.length / 2) * BITS) / 8));
  let [held, bits, at] = [0, 0, 0];
  for (let n = 0; n < text.length; n += 2) {
    held = (held << BITS) | (WORTH[text.charCodeAt(n)] * SIGNS.length + WORTH[text.charCodeAt(n + 1)]);
    for (bits += BITS; bits >= 8; at += 1) {
      bits -= 8;
      bytes[at] = held >> bits;
      held &= (1 << bits) - 1;
    }
  }
  return bytes;
}

/**
 * What a page has of JSON, deflated, as `web/assemble.py` packs it.
 * @param {HTMLElement} element
 * @returns {Promise<any>}
 */
export async function inflated({ textContent, dataset }) {
  const bytes = bytesOf(textContent ?? "").subarray(0, Number(dataset.bytes));
  return new Response(new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate"))).json();
}

/**
 * What `rolled` of the program packed: (rows, columns, parts) numbers.
 * @param {{quantum: number, starts: number[], steps: string}} packed
 * @param {number[]} shape
 * @returns {Float64Array}
 */
export function unrolled({ quantum, starts, steps }, [rows, columns, parts]) {
  const made = new Float64Array(rows * columns * parts);
  let read = 0;
  for (let row = 0; row < rows; row += 1) {
    const from = row * columns * parts;
    for (let n = 0; n < DIFFERENCES * parts; n += 1) made[from + n] = starts[DIFFERENCES * parts * row + n];
    for (let at = from + DIFFERENCES * parts; at < from + columns * parts; at += 1) {
      let [step, size, more] = [0, 1, true];
      for (; more; size *= HALF, read += 1) {
        const digit = WORTH[steps.charCodeAt(read)];
        more = digit >= HALF;
        step += size * (digit % HALF);
      }
      const [a, b, c, d, e] = [5, 4, 3, 2, 1].map((back) => made[at - back * parts]);
      made[at] = 5 * (e - b) - 10 * (d - c) + a + (step % 2 ? -(step + 1) / 2 : step / 2);
    }
  }
  return made.map((one) => one * quantum);
}

/** Whole numbers from a range coder of 32 bits; each yes or no by odds that are learnt. */
export class Decoder {
  /**
   * @param {Uint8Array} bytes
   * @param {Uint8Array} odds of 256, that a number ends at each length
   * @param {number} longest bits of a number
   * @param {number} quick how soon odds are learnt
   */
  constructor(bytes, odds, longest, quick) {
    this.bytes = bytes;
    this.longest = longest;
    this.quick = quick;
    this.odds = Uint16Array.from(odds, (one) => 256 * one);
    this.range = 2 ** 32 - 1;
    this.held = 0;
    this.at = 0;
    for (let n = 0; n < 4; n += 1) this.held = ((this.held << 8) | this.next()) >>> 0;
  }

  next() {
    this.at += 1;
    return this.bytes[this.at - 1] ?? 0;
  }

  /** @param {number} asked which odds hold */
  number(asked) {
    let length = 0;
    while (length < this.longest && this.goesOn(this.longest * asked + length)) length += 1;
    if (!length) return 0;
    let size = 1;
    for (let bit = 1; bit < length; bit += 1) size = 2 * size + this.half();
    return this.half() ? -size : size;
  }

  /** @param {number} at */
  goesOn(at) {
    const odds = this.odds[at];
    const bound = (this.range >>> 16) * odds;
    const on = this.held >= bound;
    if (on) {
      this.held -= bound;
      this.range -= bound;
      this.odds[at] = odds - (odds >> this.quick);
    } else {
      this.range = bound;
      this.odds[at] = odds + ((65536 - odds) >> this.quick);
    }
    this.settle();
    return on;
  }

  half() {
    this.range = Math.floor(this.range / 2);
    const on = this.held >= this.range;
    if (on) this.held -= this.range;
    this.settle();
    return Number(on);
  }

  settle() {
    while (this.range < 2 ** 24) {
      this.range *= 256;
      this.held = this.held * 256 + this.next();
    }
  }
}
