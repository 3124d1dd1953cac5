// Refrigerants as the guide describes them, in SI: composition, molar mass, GWP sets, limits in air.
import { TradeError } from "./units.mjs";

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

  return { all, get, of, limitDensity, LIMIT_TEMPERATURE, GWP_SETS };
}
