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
 * Cubic Hermite curve of Fritsch and Butland through increasing points, at one place: as scipy's.
 * @param {number[]} x
 * @param {number[]} y
 * @param {number} at
 */
export function monotoneAt(x, y, at) {
  const steps = x.slice(1).map((one, n) => one - x[n]);
  const slopes = steps.map((step, n) => (y[n + 1] - y[n]) / step);
  const inner = (/** @type {number} */ n) => {
    const [before, behind] = [slopes[n - 1], slopes[n]];
    if (before * behind <= 0) return 0;
    const [one, other] = [2 * steps[n] + steps[n - 1], steps[n] + 2 * steps[n - 1]];
    return (one + other) / (one / before + other / behind);
  };
  const edge = (
    /** @type {number} */ h,
    /** @type {number} */ g,
    /** @type {number} */ s,
    /** @type {number} */ r,
  ) => {
    const slope = ((2 * h + g) * s - h * r) / (h + g);
    if (Math.sign(slope) !== Math.sign(s)) return 0;
    return Math.sign(s) !== Math.sign(r) && Math.abs(slope) > 3 * Math.abs(s) ? 3 * s : slope;
  };
  const last = x.length - 1;
  const tangent = (/** @type {number} */ n) => {
    if (n === 0) return edge(steps[0], steps[1], slopes[0], slopes[1]);
    return n === last ? edge(steps[n - 1], steps[n - 2], slopes[n - 1], slopes[n - 2]) : inner(n);
  };
  let n = 0;
  while (n < last - 1 && at > x[n + 1]) n += 1;
  const t = (at - x[n]) / steps[n];
  const u = 1 - t;
  return (
    u * u * (1 + 2 * t) * y[n] +
    t * t * (1 + 2 * u) * y[n + 1] +
    steps[n] * t * u * (u * tangent(n) - t * tangent(n + 1))
  );
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
