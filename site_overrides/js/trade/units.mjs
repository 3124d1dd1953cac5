// The error for a value outside a formula's range, the checks that throw it, and the constants as Python wrote them.
import { general } from "./format.mjs";

// What is said to the technician; `field` names the input where it is known.
export class TradeError extends Error {
  constructor(message, field = "") {
    super(message);
    this.name = this.constructor.name;
    this.field = field;
  }
}

// A value for which the formula does not hold; `low` and `high` are the limits.
export class OutOfRange extends TradeError {
  constructor(field, value, low, high, unit) {
    const [v, l, h] = [value, low, high].map((number) => general(typeof number === "number" ? number : NaN, 6));
    const tail = unit ? ` ${unit}` : "";
    const limits = high < Infinity ? `is outside ${l} to ${h}${tail}` : `must be above ${l}${low ? tail : ""}`;
    super(`${field} ${v}${tail} ${limits}`, field);
    Object.assign(this, { value, low, high, unit });
  }
}

// `value` if `low` <= `value` <= `high`; what is outside by rounding only (1e-9 of the limit) comes back as the limit.
export function require(field, value, low, high, unit) {
  if (typeof value === "number" && low - 1e-9 * Math.abs(low) <= value && value <= high + 1e-9 * Math.abs(high)) {
    return Math.min(Math.max(value, low), high);
  }
  throw new OutOfRange(field, value, low, high, unit);
}

export function positive(field, value, unit) {
  if (typeof value === "number" && value > 0 && value < Infinity) return value;
  throw new OutOfRange(field, value, 0, Infinity, unit);
}

// K, as met at a circuit; a figure in degF or degC is refused.
export function absoluteTemperature(field, kelvin) {
  return require(field, kelvin, 150, 480, "K");
}

// Pa absolute, as met at a circuit; psi or bar are refused.
export function absolutePressure(field, pascal) {
  return require(field, pascal, 1e3, 2e7, "Pa");
}

export function make(content) {
  const constants = content.constants.units;
  return {
    ...constants,
    require,
    positive,
    absoluteTemperature,
    absolutePressure,
    // Pa gauge of Pa absolute, against the standard atmosphere.
    gauge: (pascal) => pascal - constants.ATMOSPHERE,
  };
}
