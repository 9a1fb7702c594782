// Straight tubes: the table of their transfer functions, and their exact cumulants.

import { bendsOf, splineAt } from "./curves.js";
import { facts } from "./facts.js";
import { unrolled } from "./packed.js";

/** @type {{given: any, coefficients: Float64Array, growth: Float64Array[], bends: Float64Array[]} | null} */
let opened = null;

function tables() {
  const given = facts().tube;
  if (!opened || opened.given !== given) {
    const coefficients = unrolled(given.coefficients, given.shape);
    const both = unrolled(given.growth, [1, given.nodes[2], 2]);
    const growth = [0, 1].map((part) => both.filter((_, n) => n % 2 === part));
    opened = { given, coefficients, growth, bends: growth.map((one) => bendsOf(one)) };
  }
  return opened;
}

/**
 * omega tau about which the transfer function changes its ways.
 * @param {number} fourier
 */
function bend(fourier) {
  return Math.sqrt(24 * fourier) + Math.cbrt(fourier);
}

/**
 * Four cubic B-splines at t of an interval.
 * @param {number} t
 * @param {Float64Array} w
 */
function weights(t, w) {
  const u = 1 - t;
  w[0] = (u * u * u) / 6;
  w[1] = (3 * t * t * t - 6 * t * t + 4) / 6;
  w[2] = (3 * u * u * u - 6 * u * u + 4) / 6;
  w[3] = (t * t * t) / 6;
}

/**
 * Multiply a spectrum by the transfer function of a straight tube.
 * @param {number} fourier residence over the radial diffusion time, 1
 * @param {number} residence s
 * @param {Float64Array} omega rad/s, increasing
 * @param {Float64Array} re
 * @param {Float64Array} im
 */
export function throughTube(fourier, residence, omega, re, im) {
  const { given, coefficients } = tables();
  const [rows, columns] = given.shape;
  const place = (Math.log(fourier / given.least) / Math.log(given.most / given.least)) * (rows - 3);
  const at = Math.min(Math.max(Math.trunc(place), 0), rows - 4);
  const w = new Float64Array(4);
  weights(place - at, w);
  const turn = bend(fourier);
  const reach = (1400 / fourier + 40 * Math.sqrt(fourier)) / turn;
  const scale = (columns - 3) / Math.asinh(reach);
  const greatest = Math.min((omega[omega.length - 1] * residence) / turn, reach);
  const needed = Math.min(Math.trunc(Math.asinh(greatest) * scale) + 5, columns);
  const row = new Float64Array(2 * needed);
  for (let k = 0; k < 2 * needed; k += 1) {
    for (let j = 0; j < 4; j += 1) row[k] += w[j] * coefficients[2 * columns * (at + j) + k];
  }
  for (let n = 0; n < omega.length; n += 1) {
    const late = omega[n] * residence;
    const q = late / turn;
    if (q > reach) {
      re[n] = 0;
      im[n] = 0;
      continue;
    }
    const there = Math.asinh(q) * scale;
    const first = Math.min(Math.trunc(there), columns - 4);
    weights(there - first, w);
    let fall = 0;
    let phase = 0;
    for (let k = 0; k < 4; k += 1) {
      fall += w[k] * row[2 * (first + k)];
      phase += w[k] * row[2 * (first + k) + 1];
    }
    const root = Math.sqrt(Math.sqrt(1 + q * q));
    const size = Math.exp((-fall * q * q) / (root * root * root));
    phase = (phase * q) / root + 0.5 * late;
    const [x, y] = [size * Math.cos(phase), -size * Math.sin(phase)];
    const [a, b] = [re[n], im[n]];
    re[n] = a * x - b * y;
    im[n] = a * y + b * x;
  }
}

/**
 * Exact variance and third cumulant, in units of (a^2/D)^2 and (a^2/D)^3.
 * @param {number} fourier
 * @returns {[number, number]}
 */
export function reducedCumulants(fourier) {
  const { given, growth, bends } = tables();
  const [low, high] = given.nodes;
  const place = ((Math.log(fourier) - low) / (high - low)) * (growth[0].length - 1);
  const [one, other] = [0, 1].map((part) => Math.exp(splineAt(growth[part], bends[part], place)));
  return [(fourier ** 2 * one) / (1 + fourier), (fourier ** 3 * other) / (1 + fourier ** 2)];
}
