// @ts-check
/** Columns of a text of any layout, found as `measurements/text.py` finds them. */

const DELIMITERS = ["\t", ";", "|", " ", ","];
/** Lines from which the layout is told, at the beginning and at the end. */
const LOOKED_AT = 400;
const FEWEST_CLOCKS = 10;
const WAYS_TRIED = 4;
const MISSING = new Set(["", "nan", "n/a", "na", "null", "none", "-", "--", "-9999", "-9999.0", "inf"]);
const PLAIN = /^[+-]?(?:\d+\.?\d*|\.\d+)(?:[eEdD][+-]?\d{1,3})?$/;
const GROUPED = /^[+-]?\d{1,3}(?:,\d{3})+(?:\.\d+)?$/;
const POINTED = /^[+-]?\d{1,3}(?:\.\d{3})+(?:,\d+)?$/;
const APART = /(?<=\d)['’\u00a0\u202f\u2009](?=\d{3}(?!\d))/g;
const CLOCK = /(?<![\d:])(?:\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}[ T]+)?\d{1,3}:\d{2}(?::\d{2})?(?:[.,]\d+)?/;
const TIME_WORD = /\b(?:time|minutes?|seconds?|min|rt|t|x)\b|time/i;
/** @type {Record<string, string[]>} */
const WORDS_OF = {
  ms: ["ms", "msec", "milliseconds"],
  s: ["s", "sec", "secs", "second", "seconds"],
  min: ["min", "mins", "minute", "minutes"],
  h: ["h", "hr", "hrs", "hour", "hours"],
};
/** Units of time, s. @type {Record<string, number>} */
export const TIME_UNITS = { ms: 1e-3, s: 1, min: 60, h: 3600 };
const UNIT_OF = new Map(Object.entries(WORDS_OF).flatMap(([unit, words]) => words.map((word) => /** @type {[string, string]} */ ([word, unit]))));
const UNIT_WORDS = [...UNIT_OF.keys()].sort((one, other) => other.length - one.length).join("|");
const TIME_UNIT = `(?<![A-Za-z])(?<!L/)(${UNIT_WORDS})(?![A-Za-z.])`;
const TIME_UNIT_SAID = `\\b(?:time|x)\\b[\\w ./-]*?(?:unit|axis|title)s?\\W+(${UNIT_WORDS})\\b`;
const NUMBER_SAID = "([+-]?\\d+(?:[.,]\\d+)?(?:[eE][+-]?\\d+)?)";
/** How headers name what the times of values alone follow from. */
const NAMED_AS = { interval: "(?:interval|step|period|increment|delta|dt)", rate: "(?:rate|frequency)", start: "(?:start|delay|first)(?:[ _]?time)?" };

/** @typedef {{delimiter: string, decimal: string}} Way what stands between cells, and the decimal sign */
/** @typedef {{cells: string[], numbers: (number | null)[], pattern: string}} Line pattern: which cells are numbers; empty: none */
/** @typedef {{time: number[], values: number[], unit: string, stated: boolean, quantum: number, signal: number, heads: string[], others: number[]}} Columns
 * times in `unit`; `others`: places of the columns of numbers that are no times */

/** Times and values of a text; throws an Error with the first reason where no way of reading its lines gives them.
 * @param {string} text @param {{unit?: string, column?: number}} asked @returns {Columns} */
export function columnsOf(text, asked) {
  const lines = text.replace(/^\uFEFF/, "").replace(APART, "").split(/\r\n|[\n\r\v\f\x1c-\x1e\x85\u2028\u2029]/);
  /** @type {Error | null} */
  let reason = null;
  for (const [way, pattern] of ranked(lines).slice(0, WAYS_TRIED)) {
    try {
      return read(lines, way, pattern, asked);
    } catch (problem) {
      reason ??= /** @type {Error} */ (problem);
    }
  }
  throw clocks(lines) ?? reason ?? new Error("expected lines of numbers, found none; choose a file of points");
}

/** @param {string} line @param {Way} way @returns {Line} */
function rowOf(line, way) {
  if (way.delimiter === way.decimal && !line.includes('"')) return { cells: [], numbers: [], pattern: "" };
  const cells = cellsOf(line, way);
  const numbers = cells.map((one) => numberOf(one, way.decimal));
  const some = numbers.some((one) => one !== null && !Number.isNaN(one));
  return { cells, numbers, pattern: some ? numbers.map((one) => (one === null ? "0" : "1")).join("") : "" };
}

/** @param {string} line @param {Way} way */
function cellsOf(line, { delimiter }) {
  if (delimiter === " ") return line.trim() ? line.trim().split(/\s+/).map((one) => one.replace(/^"+|"+$/g, "")) : [];
  const found = (line.includes('"') ? unquoted(line, delimiter) : line.split(delimiter)).map((one) => one.trim());
  while (found.length > 1 && !found[found.length - 1]) found.pop();
  return found;
}

/** Cells of which some stand in quotes. @param {string} line @param {string} delimiter */
function unquoted(line, delimiter) {
  const found = [""];
  let inside = false;
  for (let k = 0; k < line.length; k += 1) {
    const last = found.length - 1;
    if (inside && line[k] === '"' && line[k + 1] === '"') found[last] += line[(k += 1)];
    else if (line[k] === '"' && (inside || !found[last].trim())) inside = !inside;
    else if (!inside && line[k] === delimiter) found.push("");
    else found[last] += line[k];
  }
  return found;
}

/** A number; NaN where one is missing, null for anything else. @param {string} cell @param {string} decimal */
function numberOf(cell, decimal) {
  if (MISSING.has(cell.toLowerCase())) return NaN;
  let plain = cell;
  if (decimal === ",") {
    if (cell.split(",").length > 2) return null;
    if (cell.includes(",") || POINTED.test(cell)) plain = cell.replaceAll(".", "").replace(",", ".");
  } else if (GROUPED.test(cell)) plain = cell.replaceAll(",", "");
  return PLAIN.test(plain) ? Number(plain.replace(/d/i, "e")) : null;
}

/** Ways to read the lines with the pattern of most of them; those first that make most of them rows of two numbers or more.
 * @param {string[]} lines @returns {[Way, string][]} */
function ranked(lines) {
  const seen = [...lines.slice(0, LOOKED_AT), ...lines.slice(LOOKED_AT).slice(-LOOKED_AT)];
  /** @type {{lone: number, count: number, way: Way, pattern: string}[]} */
  const found = [];
  for (const delimiter of DELIMITERS)
    for (const decimal of [".", ","]) {
      /** @type {Map<string, number>} */
      const counts = new Map();
      for (const line of seen) {
        const { pattern } = rowOf(line, { delimiter, decimal });
        if (pattern) counts.set(pattern, (counts.get(pattern) ?? 0) + 1);
      }
      const [most] = [...counts].sort(([, one], [, other]) => other - one);
      if (most) found.push({ lone: Number(many(most[0]) < 2), count: most[1], way: { delimiter, decimal }, pattern: most[0] });
    }
  return found.sort((one, other) => one.lone - other.lone || other.count - one.count).map(({ way, pattern }) => [way, pattern]);
}

/** @param {string} pattern how many of its cells are numbers */
const many = (pattern) => pattern.replaceAll("0", "").length;

/** @param {string} line */
const skipped = (line) => !line.trim() || /^\s*([#%']|\/\/)/.test(line);

/** @param {string[]} lines @param {Way} way @param {string} pattern @param {{unit?: string, column?: number}} asked @returns {Columns} */
function read(lines, way, pattern, asked) {
  const fits = lines.slice(0, LOOKED_AT).map((one) => rowOf(one, way).pattern === pattern);
  if (!fits.includes(true)) throw new Error("expected points in the first lines, found none; shorten the header");
  const first = startOf(lines, way, pattern, fits);
  const rows = rowsOf(lines, first, way, pattern);
  const heads = headings(lines.slice(0, first), way, pattern.length);
  if (way.delimiter === "," && first && pattern.length === 2 * cellsOf(lines[first - 1], way).length && pattern.length > 2)
    throw new Error("expected commas between columns or within numbers, found both; export with another delimiter, or with decimal points");
  const header = lines.slice(0, first).filter((one) => one.trim()).slice(0, LOOKED_AT);
  const numeric = [...pattern].flatMap((one, at) => (one === "1" ? [at] : []));
  const column = (/** @type {number} */ at) => rows.map(({ numbers }) => /** @type {number} */ (numbers[at]));
  const timed = numeric.length > 1 ? timeColumn(column, numeric, heads) : -1;
  if (timed >= 0 && !TIME_WORD.test(heads[timed])) {
    const told = clocks(lines);
    if (told) throw told;
  }
  const others = numeric.filter((at) => at !== timed);
  const signal = asked.column !== undefined && others.includes(asked.column) ? asked.column : (others.find((at) => at > timed) ?? others[0]);
  const said = timeUnit(header, timed < 0 ? "" : heads[timed]);
  const unit = asked.unit ?? said ?? "s";
  const values = column(signal);
  const places = rows.slice(0, 50).map(({ cells }) => (timed < 0 || /e/i.test(cells[timed]) ? 0 : (cells[timed].split(way.decimal)[1]?.length ?? 0)));
  return {
    time: timed < 0 ? grid(header, unit, values.length) : column(timed),
    values,
    unit,
    stated: asked.unit !== undefined || said !== null,
    quantum: timed < 0 ? 0 : 10 ** -Math.max(...places),
    signal,
    heads,
    others,
  };
}

/** Points behind the header; what comes behind the last of them is a footer. @param {string[]} lines @param {number} first
 * @param {Way} way @param {string} pattern */
function rowsOf(lines, first, way, pattern) {
  /** @type {Line[]} */
  const rows = [];
  let wrong = -1;
  for (let at = first; at < lines.length; at += 1) {
    if (skipped(lines[at])) continue;
    const line = rowOf(lines[at], way);
    if (line.pattern !== pattern) wrong = wrong < 0 ? at : wrong;
    else if (wrong < 0) rows.push(line);
    else throw new Error(`line ${wrong + 1}: expected ${many(pattern)} ${many(pattern) === 1 ? "number" : "numbers"} as in the lines around, found "${lines[wrong].slice(0, 40)}"; correct or cut the line`);
  }
  return rows;
}

/** The first line of two that fit: a header may hold one that looks like a point.
 * @param {string[]} lines @param {Way} way @param {string} pattern @param {boolean[]} fits */
function startOf(lines, way, pattern, fits) {
  const starts = fits.flatMap((fit, at) => (fit && !fits[at - 1] ? [at] : []));
  let [best, longest] = [starts[0], 0];
  for (const at of starts) {
    const some = lines.slice(at, at + LOOKED_AT).filter((one) => !skipped(one));
    const end = some.findIndex((one) => rowOf(one, way).pattern !== pattern);
    const run = end < 0 ? some.length : end;
    if (run > longest) [best, longest] = [at, run];
    if (run > 1) break;
  }
  return best;
}

/** What stands above each column: the last two lines with as many cells and no number.
 * @param {string[]} header @param {Way} way @param {number} count */
function headings(header, way, count) {
  const bare = (/** @type {string} */ line) => line.replace(/^[#%'/ ]+/, "");
  /** @type {string[][]} */
  const rows = [];
  for (const line of header.filter((one) => one.trim()).slice(-4).reverse()) {
    const cells = cellsOf(bare(line), way);
    if (cells.length !== count || rowOf(line, way).pattern || (count === 1 && /[:=]/.test(line))) break;
    rows.unshift(cells);
  }
  if (rows.length) return rows[0].map((_, k) => rows.slice(-2).map((row) => row[k]).filter(Boolean).join(" "));
  const above = header.length ? bare(header[header.length - 1]).trim().split(/\t|\s{2,}|(?<=[\])])\s+/) : [];
  return above.length === count ? above : Array(count).fill("");
}

/** @param {(at: number) => number[]} column @param {number[]} numeric @param {string[]} heads */
function timeColumn(column, numeric, heads) {
  const rises = (/** @type {number[]} */ one) =>
    one.every((value) => !Number.isNaN(value)) && one.some((value) => value !== one[0]) && one.filter((value, k) => k && value >= one[k - 1]).length > 0.99 * (one.length - 1);
  const rising = numeric.filter((at) => rises(column(at)));
  const named = numeric.filter((at) => TIME_WORD.test(heads[at].replaceAll("_", " ")));
  const [found] = [...named.filter((at) => rising.includes(at)), ...named, ...rising];
  if (found === undefined) throw new Error("expected a column of rising times, found none");
  return found;
}

/** What to say of points whose times are written as on a clock; null of others. @param {string[]} lines */
function clocks(lines) {
  const last = lines.slice(-LOOKED_AT);
  const times = last.flatMap((one) => CLOCK.exec(one)?.[0] ?? []);
  if (times.length < Math.max(FEWEST_CLOCKS, last.length / 2)) return null;
  return new Error(`expected times as numbers, found them as on a clock, "${times[0]}"; write seconds since the start in their place`);
}

/** The unit of time that a file gives; null: none. @param {string[]} header @param {string} heading of the times */
function timeUnit(header, heading) {
  const all = (/** @type {string} */ pattern, /** @type {string} */ text) => [...text.matchAll(new RegExp(pattern, "gi"))].map((one) => one[1]);
  const plain = (/** @type {string} */ text) => text.replaceAll("_", " ");
  const lone = header.length && !heading ? all(TIME_UNIT, plain(header[header.length - 1])) : [];
  for (const found of [all(TIME_UNIT, plain(heading)), header.flatMap((line) => all(TIME_UNIT_SAID, line)), lone, heading ? [] : intervalUnits(header, all)])
    if (found.length) return UNIT_OF.get(found[found.length - 1].toLowerCase()) ?? null;
  return null;
}

/** Units of time in lines of a header that give the interval between points.
 * @param {string[]} header @param {(pattern: string, text: string) => string[]} all */
function intervalUnits(header, all) {
  const named = new RegExp(`${NAMED_AS.interval}[^\\d+-]{0,30}?${NUMBER_SAID}.{0,20}`, "i");
  const units = header.flatMap((line) => all(TIME_UNIT, (named.exec(line)?.[0] ?? "").replaceAll("_", " ")));
  const rated = header.some((line) => new RegExp(`${NAMED_AS.rate}.*${NUMBER_SAID}\\s*Hz\\b`, "i").test(line));
  return units.length || !rated ? units : ["s"];
}

/** Times of values alone, from the header, in `unit`. @param {string[]} header @param {string} unit @param {number} count */
function grid(header, unit, count) {
  const [start, step, rate] = ["start", "interval", "rate"].map((key) => statedIn(header, /** @type {"start"} */ (key), TIME_UNITS[unit]));
  const interval = step ?? (rate ? 1 / rate : NaN);
  if (!(interval > 0)) throw new Error("expected a column of times, or an interval in the header, found values alone; add times");
  return Array.from({ length: count }, (_, k) => (start ?? 0) + interval * k);
}

/** A number that the header gives, in the file's unit of time (of a rate: per that); null: it gives none.
 * @param {string[]} header @param {keyof NAMED_AS} key @param {number} unit s */
function statedIn(header, key, unit) {
  const units = key === "rate" ? "(Hz|[1/]+s|/?min|pts/s|points/s)?" : `(${UNIT_WORDS})?\\b`;
  const asked = new RegExp(`${NAMED_AS[key]}[^\\d+-]{0,30}?${NUMBER_SAID}\\s*[\\])]?\\s*${units}`, "i");
  for (const line of header) {
    const found = asked.exec(line);
    if (!found) continue;
    const value = Number(found[1].replace(",", "."));
    const word = (found[2] ?? "").toLowerCase();
    if (key === "rate") return (value * unit) / (word.includes("min") ? 60 : 1);
    const inside = new RegExp(TIME_UNIT, "i").exec(line.slice(0, found.index + found[0].indexOf(found[1])).replaceAll("_", " "));
    const named = word || inside?.[1].toLowerCase();
    return named ? (value * TIME_UNITS[UNIT_OF.get(named) ?? "s"]) / unit : value;
  }
  return null;
}
