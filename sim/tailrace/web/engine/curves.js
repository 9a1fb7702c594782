// Curves through points: the even cubic spline, and the one that keeps monotone points monotone.

/**
 * Second derivatives, by steps, of the cubic spline through even points whose third derivative
 * does not jump at the second point and the last but one.
 * @param {ArrayLike<number>} y at least five points
 * @returns {Float64Array}
 */
export function bendsOf(y) {
  const count = y.length;
  const m = new Float64Array(count);
  const pivot = new Float64Array(count);
  m[1] = y[0] - 2 * y[1] + y[2];
  m[count - 2] = y[count - 3] - 2 * y[count - 2] + y[count - 1];
  for (let n = 2; n < count - 2; n += 1) {
    const right = 6 * (y[n - 1] - 2 * y[n] + y[n + 1]);
    pivot[n] = 1 / (4 - pivot[n - 1]);
    m[n] = (right - m[n - 1]) * pivot[n];
  }
  for (let n = count - 3; n > 1; n -= 1) m[n] -= pivot[n] * m[n + 1];
  m[0] = 2 * m[1] - m[2];
  m[count - 1] = 2 * m[count - 2] - m[count - 3];
  return m;
}

/**
 * The spline at a place counted in steps.
 * @param {ArrayLike<number>} y
 * @param {Float64Array} m as of bendsOf
 * @param {number} place
 */
export function splineAt(y, m, place) {
  const n = Math.min(Math.max(Math.floor(place), 0), y.length - 2);
  const t = place - n;
  const a = (m[n + 1] - m[n]) / 6;
  const c = y[n + 1] - y[n] - (2 * m[n] + m[n + 1]) / 6;
  return ((a * t + m[n] / 2) * t + c) * t + y[n];
}

/**
 * Slopes at increasing points of the Hermite curve of Fritsch and Butland, which keeps monotone
 * points monotone: as scipy's.
 * @param {ArrayLike<number>} x
 * @param {ArrayLike<number>} y
 */
export function monotone(x, y) {
  const last = x.length - 1;
  const steps = Array.from({ length: last }, (_, n) => x[n + 1] - x[n]);
  const slopes = steps.map((step, n) => (y[n + 1] - y[n]) / step);
  const inner = (/** @type {number} */ n) => {
    const [before, behind] = [slopes[n - 1], slopes[n]];
    if (before * behind <= 0) return 0;
    const [one, other] = [2 * steps[n] + steps[n - 1], steps[n] + 2 * steps[n - 1]];
    return (one + other) / (one / before + other / behind);
  };
  const edge = (/** @type {number} */ n, /** @type {number} */ next) => {
    const [h, g, s, r] = [steps[n], steps[next], slopes[n], slopes[next]];
    const slope = ((2 * h + g) * s - h * r) / (h + g);
    if (Math.sign(slope) !== Math.sign(s)) return 0;
    return Math.sign(s) !== Math.sign(r) && Math.abs(slope) > 3 * Math.abs(s) ? 3 * s : slope;
  };
  return Float64Array.from({ length: last + 1 }, (_, n) =>
    n === 0 ? edge(0, 1) : n === last ? edge(last - 1, last - 2) : inner(n),
  );
}

/**
 * Slopes at increasing points of the cubic spline through them; at its ends it does not bend.
 * @param {ArrayLike<number>} x
 * @param {ArrayLike<number>} y
 */
export function smooth(x, y) {
  const last = x.length - 1;
  const step = (/** @type {number} */ n) => x[n + 1] - x[n];
  const slope = (/** @type {number} */ n) => (3 * (y[n + 1] - y[n])) / step(n) ** 2;
  const [found, above] = [new Float64Array(last + 1), new Float64Array(last + 1)];
  for (let n = 0; n <= last; n += 1) {
    const before = n ? 1 / step(n - 1) : 0;
    const behind = n < last ? 1 / step(n) : 0;
    const right = (n ? slope(n - 1) : 0) + (n < last ? slope(n) : 0);
    const pivot = 2 * (before + behind) - (n ? before * above[n - 1] : 0);
    above[n] = behind / pivot;
    found[n] = (right - (n ? before * found[n - 1] : 0)) / pivot;
  }
  for (let n = last - 1; n >= 0; n -= 1) found[n] -= above[n] * found[n + 1];
  return found;
}

/**
 * The cubic curve through points with slopes, at rising places.
 * @param {ArrayLike<number>} x increasing
 * @param {ArrayLike<number>} y
 * @param {ArrayLike<number>} slopes
 * @param {Float64Array} places
 */
export function hermite(x, y, slopes, places) {
  let n = 0;
  return places.map((at) => {
    while (n < x.length - 2 && at > x[n + 1]) n += 1;
    const step = x[n + 1] - x[n];
    const t = (at - x[n]) / step;
    const u = 1 - t;
    return (
      u * u * (1 + 2 * t) * y[n] +
      t * t * (1 + 2 * u) * y[n + 1] +
      step * t * u * (u * slopes[n] - t * slopes[n + 1])
    );
  });
}

/**
 * Even numbers.
 * @param {number} start @param {number} step @param {number} count
 * @returns {Float64Array}
 */
export function evenly(start, step, count) {
  const made = new Float64Array(count);
  for (let n = 0; n < count; n += 1) made[n] = start + step * n;
  return made;
}

/**
 * Values of even samples at even places, by the cubic through four neighbours; zero beyond.
 * @param {Float64Array} values
 * @param {number} first place of the first value asked for, in steps
 * @param {number} step between places, in steps
 * @param {number} count
 * @returns {Float64Array}
 */
export function resampled(values, first, step, count) {
  const made = new Float64Array(count);
  const size = values.length;
  for (let k = 0; k < count; k += 1) {
    const place = first + step * k;
    const n = Math.floor(place);
    if (n < -3 || n > size + 1) continue;
    const t = place - n;
    const y = n >= 0 && n < size ? values[n] : 0;
    if (t === 0) {
      made[k] = y;
      continue;
    }
    const x = n >= 1 && n <= size ? values[n - 1] : 0;
    const z = n >= -1 && n < size - 1 ? values[n + 1] : 0;
    const w = n >= -2 && n < size - 2 ? values[n + 2] : 0;
    const a = t + 1;
    const b = t - 1;
    const c = t - 2;
    made[k] = (-t * b * c * x) / 6 + (a * b * c * y) / 2 - (a * t * c * z) / 2 + (a * t * b * w) / 6;
  }
  return made;
}

/**
 * Weights of values at 0, 1, ... at t.
 * @param {number} t
 * @param {number} points
 */
export function lagrange(t, points) {
  return Float64Array.from({ length: points }, (_, k) => {
    let weight = 1;
    for (let j = 0; j < points; j += 1) if (j !== k) weight *= (t - j) / (k - j);
    return weight;
  });
}
