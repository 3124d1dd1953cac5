// Properties interpolated from the tables that Python wrote from an equation of state.
//
// Saturation: ln p is a Chebyshev series in x, linear in 1/T. Vapour: Z and n are series in x, linear in T, and
// y = 2 p/p_dew(T) - 1. Viscosity: a parabola in T. Each table states its largest relative error.
import { isNoSaturation } from "./gas.mjs";
import { TradeError, require } from "./units.mjs";

const HALVINGS = 60;

// Sum of c_k T_k(x) by Clenshaw's recurrence; -1 <= x <= 1.
export function chebyshev(coefficients, x) {
  let b1 = 0;
  let b2 = 0;
  for (let k = coefficients.length - 1; k > 0; k -= 1) [b1, b2] = [coefficients[k] + 2 * x * b1 - b2, b1];
  return coefficients[0] + x * b1 - b2;
}

// Sum of c_ij T_i(x) T_j(y).
export function chebyshev2(rows, x, y) {
  return chebyshev(rows.map((row) => chebyshev(row, y)), x);
}

// `low`..`high` -> -1..1.
function scaled(value, low, high) {
  return (2 * value - low - high) / (high - low);
}

export function make(content, { gas }) {
  const { refrigerants, nitrogen: inert, warmest } = content.tables;

  const has = (refrigerant) => Object.hasOwn(refrigerants, refrigerant.key);

  function entryOf(refrigerant) {
    if (!has(refrigerant)) throw new TradeError(`there is no table for ${refrigerant.key}`, "refrigerant");
    return refrigerants[refrigerant.key];
  }

  const saturationError = (refrigerant) => entryOf(refrigerant).saturation.error;

  function saturationRange(refrigerant) {
    const { low, high } = entryOf(refrigerant).saturation;
    return [low, high];
  }

  // Pa absolute at `temperature` (K); no saturation above the critical temperature.
  function saturation(refrigerant, temperature, side) {
    const entry = entryOf(refrigerant);
    const [low, high] = saturationRange(refrigerant);
    if (temperature > high && entry.critical < high + 1) {
      require("temperature", temperature, low, warmest, "K");
      return { noSaturation: true, temperature, critical: entry.critical };
    }
    const kelvin = require("temperature", temperature, low, high, "K");
    const coefficients = entry.saturation[side] ?? entry.saturation.dew;
    return Math.exp(chebyshev(coefficients, scaled(1 / kelvin, 1 / high, 1 / low)));
  }

  const bubble = (refrigerant, temperature) => saturation(refrigerant, temperature, "bubble");
  const dew = (refrigerant, temperature) => saturation(refrigerant, temperature, "dew");

  // K; saturation temperature at `pressure` (Pa absolute), by halving the range.
  function temperature(refrigerant, pressure, side) {
    let [low, high] = saturationRange(refrigerant);
    const [least, most] = [low, high].map((kelvin) => saturation(refrigerant, kelvin, side));
    if (!isNoSaturation(least) && !isNoSaturation(most)) require("pressure", pressure, least, most, "Pa");
    for (let i = 0; i < HALVINGS; i += 1) {
      const middle = (low + high) / 2;
      const found = saturation(refrigerant, middle, side);
      if (!isNoSaturation(found) && found < pressure) low = middle;
      else high = middle;
    }
    return (low + high) / 2;
  }

  // K between bubble and dew point at `pressure`; 0 for a pure refrigerant.
  function glide(refrigerant, pressure) {
    return temperature(refrigerant, pressure, "dew") - temperature(refrigerant, pressure, "bubble");
  }

  function interpolated(table, molarMass, kelvin, pressure, y) {
    const x = scaled(kelvin, table.low, table.high);
    const exponent = chebyshev2(table.exponent, x, y);
    return gas.state(molarMass, kelvin, pressure, exponent, chebyshev2(table.compressibility, x, y), chebyshev(table.viscosity, x));
  }

  // Vapour at or below its dew pressure.
  function vapour(refrigerant, temperatureGiven, pressure) {
    const { vapour: table, molar_mass: molarMass } = entryOf(refrigerant);
    const kelvin = require("temperature", temperatureGiven, table.low, table.high, "K");
    const most = dew(refrigerant, kelvin);
    require("pressure", pressure, 1e3, most * (1 + 1e-3), "Pa");
    return interpolated(table, molarMass, kelvin, pressure, 2 * Math.min(pressure / most, 1) - 1);
  }

  function nitrogen(temperatureGiven, pressure) {
    const kelvin = require("temperature", temperatureGiven, inert.low, inert.high, "K");
    require("pressure", pressure, 1e3, inert.highest, "Pa");
    return interpolated(inert, inert.molar_mass, kelvin, pressure, scaled(pressure, 0, inert.highest));
  }

  return {
    ...{ has, saturation, bubble, dew, temperature, glide, vapour, nitrogen },
    ...{ saturationError, saturationRange, chebyshev, chebyshev2 },
  };
}
