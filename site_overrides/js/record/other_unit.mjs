// What an amount comes to in the units that were not typed: beside `9 lb 8 oz` stands 4.31 kg.

const US = /lb|pound|oz|ounce|psi|°?F\b|ft|foot|feet|inch|inHg|\bin\b|['’′"”″]|micron/;
const VACUUM = 50_000; // Pa; below it a pressure is a vacuum, in micron or Pa
const OUNCES = 16; // in a pound

function rounded(value, digits = 3) {
  if (value === 0) return "0";
  const places = Math.max(0, digits - 1 - Math.floor(Math.log10(Math.abs(value))));
  const text = value.toFixed(Math.min(places, 6));
  return text.includes(".") ? text.replace(/\.?0+$/, "") : text;
}

// `read(text, dimension)` and `units` are those of the checks; empty where there is nothing to say.
export function inOtherUnit(text, dimension, read, units) {
  let found;
  try {
    found = read(text, dimension);
  } catch {
    return ""; // what is wrong is told below the field
  }
  const inUnit = (unit) => (found.si - units[unit].offset) / units[unit].factor - units[unit].add;
  const plain = (unit, shown = unit, digits = 3) => `${rounded(inUnit(unit), digits)} ${shown}`;
  const us = US.test(text);
  switch (found.dimension) {
    case "mass":
      if (us) return inUnit("kg") < 0.1 ? plain("g") : plain("kg");
      if (inUnit("lb") < 1) return plain("oz", "oz", 2);
      return poundsAndOunces(inUnit("oz"));
    case "pressure":
      if (/inHg/.test(text)) return plain("mbar");
      if (found.si < VACUUM) return /micron/.test(text) ? plain("Pa") : plain("micron");
      return us ? plain("bar") : plain("psig");
    case "temperature":
      return us ? `${rounded(Math.round(inUnit("degC")))} °C` : `${rounded(Math.round(inUnit("degF")))} °F`;
    case "length":
      return us ? plain("m") : plain("ft");
    case "leak rate":
      return us ? plain("g/yr") : plain("oz/yr", "oz/yr", 2);
    default:
      return "";
  }
}

function poundsAndOunces(ounces) {
  const whole = Math.round(ounces);
  const [lb, oz] = [Math.floor(whole / OUNCES), whole % OUNCES];
  return oz ? `${lb} lb ${oz} oz` : `${lb} lb`;
}
