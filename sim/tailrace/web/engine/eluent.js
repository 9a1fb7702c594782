// Viscosity, density and diffusivity: as the program's `eluent/`, with its coefficients.

import { hermite, monotone } from "./curves.js";
import { Refusal, constant, facts } from "./facts.js";
import { general } from "./units.js";

/** @typedef {Record<string, number>} Composition volume fractions before mixing, by liquid */

/** @param {number} base @param {number[]} terms */
const powers = (base, terms) => terms.reduce((sum, factor, power) => sum + factor * base ** power, 0);

/**
 * Name and mole fraction of the one liquid that is mixed with water.
 * @param {Composition} composition
 * @param {string} wanted
 * @returns {[string | null, number]}
 */
function organic(composition, wanted) {
  const names = Object.keys(composition).filter((name) => name !== "water" && composition[name] > 0);
  if (names.length > 1) {
    throw new Refusal(
      `no ${wanted} correlation for a mixture of ${Object.keys(composition).sort().join(" and ")}: ` +
        `known are water and its mixtures with one other liquid, else give ${wanted}`,
      ["method"],
    );
  }
  return names.length ? [names[0], moleFractions(composition)[names[0]]] : [null, 0];
}

/**
 * @param {Composition} composition
 * @returns {Record<string, number>}
 */
function moleFractions(composition) {
  const { LIQUIDS } = facts().eluent;
  const moles = Object.entries(composition).map(([name, share]) => [
    name,
    (share * LIQUIDS[name].density) / LIQUIDS[name].molar_mass,
  ]);
  const total = moles.reduce((sum, [, amount]) => sum + Number(amount), 0);
  return Object.fromEntries(moles.map(([name, amount]) => [name, Number(amount) / total]));
}

/** @param {number} temperature K @param {string} wanted */
function checkTemperature(temperature, wanted) {
  const { LOWEST_TEMPERATURE: low, HIGHEST_TEMPERATURE: high } = facts().eluent;
  if (low <= temperature && temperature <= high) return;
  throw new Refusal(
    `no ${wanted} at ${(temperature - 273.15).toFixed(1)} degC: the correlations hold from ` +
      `${general(low - 273.15, 3)} to ${general(high - 273.15, 3)} degC, outside that give ${wanted}`,
    ["method", "temperature"],
  );
}

/** @param {number} temperature K @returns {number} Pa s */
function waterViscosity(temperature) {
  const { WATER_TERMS } = facts().eluent;
  return (
    1e-6 *
    WATER_TERMS.reduce(
      (/** @type {number} */ sum, /** @type {number[]} */ [factor, power]) =>
        sum + factor * (temperature / 300) ** power,
      0,
    )
  );
}

/**
 * Viscosity at low pressure, Pa s.
 * @param {Composition} composition
 * @param {number} temperature K
 * @returns {number}
 */
export function viscosityOf(composition, temperature) {
  checkTemperature(temperature, "viscosity");
  const [name, share] = organic(composition, "viscosity");
  if (name === null) return waterViscosity(temperature);
  const { AT_25_DEGC, EXCESS_SLOPE, PURE_TERMS, MIXING_TEMPERATURE } = facts().eluent;
  /** @type {[number, number][]} */
  const rows = AT_25_DEGC[name];
  const shares = rows.map((row) => row[0]);
  const ends = [Math.log(rows[0][1]), Math.log(rows[rows.length - 1][1])];
  const known = rows.map(([x, eta]) => Math.log(eta) - x * ends[1] - (1 - x) * ends[0]);
  const [excess] = hermite(shares, known, monotone(shares, known), Float64Array.of(share));
  const [first, second] = EXCESS_SLOPE[name];
  const carried = 1 + (first + second * share) * (1 / temperature - 1 / MIXING_TEMPERATURE);
  const [a, b, c] = PURE_TERMS[name];
  const pure = a + b / temperature + c * Math.log(temperature);
  const ideal = share * pure + (1 - share) * Math.log(1e3 * waterViscosity(temperature));
  return 1e-3 * Math.exp(ideal + excess * carried);
}

/**
 * Viscosity under pressure over that at 0.1 MPa; as `pressure_factor`.
 * @param {Composition} composition
 * @param {number} temperature K
 * @param {number} absolute pressure, Pa; above 100 MPa as there
 */
export function pressureFactor(composition, temperature, absolute) {
  const { PRESSURE_TERMS, ATMOSPHERE, HIGHEST_PRESSURE, MIXING_TEMPERATURE } = facts().eluent;
  const above = (Math.min(absolute, HIGHEST_PRESSURE) - ATMOSPHERE) / 1e8;
  const warmer = (temperature - MIXING_TEMPERATURE) / 100;
  let sum = 0;
  for (const [name, share] of Object.entries(composition)) {
    PRESSURE_TERMS[name].forEach((/** @type {number[]} */ row, /** @type {number} */ power) => {
      sum += share * above ** (power + 1) * powers(warmer, row);
    });
  }
  return Math.exp(sum);
}

/**
 * Density at low pressure, kg/m^3.
 * @param {Composition} composition
 * @param {number} temperature K
 * @returns {number}
 */
export function densityOf(composition, temperature) {
  checkTemperature(temperature, "density");
  const [name, share] = organic(composition, "density");
  const {
    LIQUIDS,
    WATER_DENSITY_TERMS,
    WATER_DENOMINATOR,
    METHANOL_TERMS,
    ACETONITRILE_TERMS,
    EXCESS_VOLUME,
  } = facts().eluent;
  const celsius = temperature - 273.15;
  const water = powers(celsius, WATER_DENSITY_TERMS) / (1 + WATER_DENOMINATOR * celsius);
  if (name === null) return water;
  const [first, second, critical, power] = ACETONITRILE_TERMS;
  const pure =
    name === "methanol"
      ? powers(temperature - 298.15, METHANOL_TERMS)
      : (LIQUIDS[name].molar_mass * first) / second ** (1 + (1 - temperature / critical) ** power);
  const mass = share * LIQUIDS[name].molar_mass + (1 - share) * LIQUIDS.water.molar_mass;
  const volume = (share * LIQUIDS[name].molar_mass) / pure + ((1 - share) * LIQUIDS.water.molar_mass) / water;
  return mass / (volume + 1e-6 * share * (1 - share) * powers(1 - 2 * share, EXCESS_VOLUME[name]));
}

/**
 * Diffusion coefficient after Wilke and Chang, m^2/s.
 * @param {number} molarVolume m^3/mol
 * @param {Composition} composition
 * @param {number} temperature K
 * @param {number} viscosity Pa s
 */
export function wilkeChang(molarVolume, composition, temperature, viscosity) {
  const { LIQUIDS } = facts().eluent;
  const mass = Object.entries(moleFractions(composition)).reduce(
    (sum, [name, share]) => sum + share * LIQUIDS[name].association * LIQUIDS[name].molar_mass,
    0,
  );
  return (7.4e-12 * Math.sqrt(1e3 * mass) * temperature) / (viscosity * 1e3 * (molarVolume * 1e6) ** 0.6);
}

/**
 * Molar volume at the boiling point from a formula, m^3/mol: Schroeder's contributions.
 * @param {string} formula
 * @param {number} rings
 */
export function molarVolumeOf(formula, rings) {
  const { ATOMS, DOUBLE_BOND, RING, UNSATURATION } = facts().eluent;
  const parts = [...formula.matchAll(/([A-Z][a-z]?)([1-9][0-9]{0,3})?/g)];
  if (!parts.length || parts.map((one) => one[0]).join("") !== formula) {
    throw new Refusal(
      `expected a formula such as "C20H28O5", found "${formula.slice(0, 60)}"; write element symbols with numbers and nothing else`,
    );
  }
  let [volume, twice] = [0, 2];
  for (const [, symbol, number] of parts) {
    if (!Object.hasOwn(ATOMS, symbol)) {
      throw new Refusal(
        `expected only ${Object.keys(ATOMS).join(", ")} in the formula, found ${symbol}; give molar_volume or diffusivity instead`,
      );
    }
    volume += ATOMS[symbol] * Number(number ?? 1);
    twice += (UNSATURATION[symbol] ?? 0) * Number(number ?? 1);
  }
  if (twice < 0 || twice % 2) {
    throw new Refusal(
      `expected the formula of a neutral molecule, found "${formula}", whose valences do not pair; check the number of hydrogen atoms`,
    );
  }
  if (rings > twice / 2) {
    throw new Refusal(
      `expected at most ${twice / 2} rings in "${formula}", found ${rings}; check the formula and the rings`,
    );
  }
  return 1e-6 * (volume + DOUBLE_BOND * (twice / 2 - rings) + RING * rings);
}

/**
 * What passes a part.
 * @typedef {object} Stream
 * @property {number} flow m^3/s
 * @property {number} diffusivity m^2/s
 * @property {number} viscosity Pa s
 * @property {number} density kg/m^3
 * @property {number} retention k on the column
 * @property {number} amount mol
 * @property {number} absorptivity m^2/mol
 * @property {number} share of the amount that was injected
 * @property {number} [ratio] of retention to that where it was stated; 1
 * @property {number} [platesDiffusivity] where plates were found, m^2/s; as it is now
 */

/** @param {Stream} stream @param {number} bore m */
export function reynoldsNumber(stream, bore) {
  return (4 * stream.density * stream.flow) / (Math.PI * bore * stream.viscosity);
}

/** @param {Stream} stream @param {number} bore m @param {number} length m @returns {number} Pa */
export function hagenPoiseuille(stream, bore, length) {
  return (128 * stream.viscosity * length * stream.flow) / (Math.PI * bore ** 4);
}

/** @param {Stream} stream @param {any} column @returns {number} Pa */
export function kozenyCarman(stream, column) {
  const superficial = (4 * stream.flow) / (Math.PI * column.bore ** 2);
  const outside = column.external_porosity;
  const resistance = (constant("KOZENY_CARMAN") * (1 - outside) ** 2) / outside ** 3;
  return (resistance * stream.viscosity * column.length * superficial) / column.particle_diameter ** 2;
}
