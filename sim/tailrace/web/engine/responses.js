// Transfer functions that several parts have in common. Each multiplies a spectrum, re and im,
// at frequencies omega in rad/s: H is the integral of the response times exp(-i omega t).

/** @typedef {Float64Array} Numbers */

/**
 * What closed form says of a part: cumulants in time that it adds.
 * @typedef {object} Cumulants
 * @property {number} mean s
 * @property {number} gaussian textbook variance, s^2
 * @property {number} variance exact, s^2
 * @property {number} third s^3
 */

/**
 * n equal stirred tanks with total residence T: (1 + i omega T/n)^-n.
 * @param {number} residence s
 * @param {number} tanks
 * @param {Numbers} omega @param {Numbers} re @param {Numbers} im
 */
export function throughTanks(residence, tanks, omega, re, im) {
  const time = residence / tanks;
  for (let n = 0; n < omega.length; n += 1) {
    const late = omega[n] * time;
    if (tanks === 1) {
      const square = 1 + late * late;
      const [a, b] = [re[n], im[n]];
      re[n] = (a + b * late) / square;
      im[n] = (b - a * late) / square;
    } else {
      turned((1 + late * late) ** (-tanks / 2), -tanks * Math.atan(late), n, re, im);
    }
  }
}

/**
 * Multiply one entry by size and angle.
 * @param {number} size @param {number} angle @param {number} n @param {Numbers} re @param {Numbers} im
 */
export function turned(size, angle, n, re, im) {
  const [x, y] = [size * Math.cos(angle), size * Math.sin(angle)];
  const [a, b] = [re[n], im[n]];
  re[n] = a * x - b * y;
  im[n] = a * y + b * x;
}

/**
 * Multiply one entry by another complex number.
 * @param {number} x @param {number} y @param {number} n @param {Numbers} re @param {Numbers} im
 */
export function times(x, y, n, re, im) {
  const [a, b] = [re[n], im[n]];
  re[n] = a * x - b * y;
  im[n] = a * y + b * x;
}

/**
 * The mean over n equal stirred tanks with total residence T.
 * @param {number} residence s
 * @param {number} tanks whole
 * @param {Numbers} omega @param {Numbers} re @param {Numbers} im
 */
export function throughMeanOfTanks(residence, tanks, omega, re, im) {
  for (let n = 0; n < omega.length; n += 1) {
    const late = (omega[n] * residence) / tanks;
    const [x, y] = [1 / (1 + late * late), -late / (1 + late * late)];
    let [p, q, sum, other] = [x, y, x, y];
    for (let k = 1; k < tanks; k += 1) {
      [p, q] = [p * x - q * y, p * y + q * x];
      sum += p;
      other += q;
    }
    times(sum / tanks, other / tanks, n, re, im);
  }
}

/**
 * A response that is even from 0 to a duration, s.
 * @param {number} duration
 * @param {Numbers} omega @param {Numbers} re @param {Numbers} im
 */
export function throughEven(duration, omega, re, im) {
  for (let n = 0; n < omega.length; n += 1) {
    const half = (omega[n] * duration) / 2;
    turned(half === 0 ? 1 : Math.sin(half) / half, -half, n, re, im);
  }
}

/** @param {number} residence @param {number} tanks @returns {Cumulants} */
export function ofTanks(residence, tanks) {
  const variance = residence ** 2 / tanks;
  return { mean: residence, gaussian: variance, variance, third: (2 * residence ** 3) / tanks ** 2 };
}
