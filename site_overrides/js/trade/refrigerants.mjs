// Refrigerants as the guide describes them, in SI: composition, molar mass, GWP sets, limits in air.
import { TradeError, require } from "./units.mjs";

export function make(content, { units }) {
  const { LIMIT_TEMPERATURE, GWP_SETS } = content.constants.refrigerants;

  // kg/m3 of a mole fraction in air at 25 degC and 101 325 Pa: x M p / (R T).
  function limitDensity(fraction, molarMass) {
    return (fraction * molarMass * units.ATMOSPHERE) / (units.R * LIMIT_TEMPERATURE);
  }

  function of(facts) {
    const { key, name, composition, rcl, lfl } = facts;
    const molarMass = facts.molar_mass;
    return {
      key,
      name,
      composition: composition.map((part) => ({ of: part.of, share: part.share })),
      molarMass,
      safetyGroup: facts.safety_group,
      gwp: { ...facts.gwp },
      rcl,
      lfl,
      marks: { ...facts.marks },
      pure: composition.length === 1,
      flammable: !facts.safety_group.endsWith("1"),
      relativeDensity: molarMass / units.AIR,
      rclDensity: rcl === null ? null : limitDensity(rcl, molarMass),
    };
  }

  const all = content.refrigerants.map(of);
  const byKey = new Map(all.map((one) => [one.key, one]));

  function get(key) {
    const found = byKey.get(key);
    if (!found) throw new TradeError(`"${key}" is not among our refrigerants`, "refrigerant");
    return found;
  }

  function parts(composition, by) {
    require("sum of shares", composition.reduce((sum, part) => sum + part.share, 0), 0.999, 1.001, "");
    for (const part of composition) {
      if (typeof by[part.of] !== "number") throw new TradeError(`nothing is known of ${part.of}`, "composition");
    }
    return composition;
  }

  // kg/mol of a blend from mass fractions: M = 1 / sum(w_i / M_i).
  function blendMolarMass(composition, molarMasses) {
    return 1 / parts(composition, molarMasses).reduce((sum, part) => sum + part.share / molarMasses[part.of], 0);
  }

  // GWP of a blend: sum(w_i GWP_i).
  function blendGwp(composition, gwps) {
    return parts(composition, gwps).reduce((sum, part) => sum + part.share * gwps[part.of], 0);
  }

  return { all, get, of, limitDensity, blendMolarMass, blendGwp, LIMIT_TEMPERATURE, GWP_SETS };
}
