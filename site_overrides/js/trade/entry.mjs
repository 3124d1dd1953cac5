// May somebody go in? A reading against the limits of the refrigerant and against the oxygen that is left.
// A check, not a permit.
import { citation } from "./data.mjs";
import { positive, require } from "./units.mjs";

const order = (a, b) => a.fraction - b.fraction || (a.key < b.key ? -1 : 1);

export function make(content, { air }) {
  const rules = content.practice.air;
  const { ENRICHED } = content.constants.entry;

  // Oxygen left, mol/mol, when vapour takes the place of air.
  function displaced(fraction) {
    return rules.oxygen.normal * (1 - require("concentration", fraction, 0, 1, "mol/mol"));
  }

  // Mole fraction of any vapour that brings oxygen down to the least.
  function oxygenLimit() {
    return 1 - rules.oxygen.least / rules.oxygen.normal;
  }

  // Limits for a refrigerant, lowest first: rcl, flammable, oxygen, immediate.
  function limits(refrigerant) {
    const found = [{ key: "oxygen", fraction: oxygenLimit(), source: citation(rules.oxygen) }];
    if (refrigerant.rcl !== null) found.push({ key: "rcl", fraction: refrigerant.rcl, source: citation(rules.rcl) });
    if (refrigerant.lfl !== null) {
      const fraction = rules.flammable.share * refrigerant.lfl;
      found.push({ key: "flammable", fraction, source: citation(rules.flammable) });
    }
    const immediate = rules.immediate[refrigerant.key];
    if (immediate) found.push({ key: "immediate", fraction: immediate.ppm * 1e-6, source: citation(immediate) });
    return found.sort(order);
  }

  // Mole fraction above which the reason is found and the room ventilated before work goes on.
  function caution(refrigerant) {
    const found = rules.caution[refrigerant.key] ?? rules.caution[refrigerant.safetyGroup[0]];
    return { key: "caution", fraction: found.ppm * 1e-6, source: citation(found) };
  }

  // Verdict on the highest reading (mole fraction); `oxygen` as measured, null where it was not.
  function check(refrigerant, reading, oxygen = null) {
    require("reading", reading, 0, 1, "mol/mol");
    const all = limits(refrigerant);
    const reached = all.filter((limit) => reading >= limit.fraction);
    let [oxygenLow, oxygenHigh] = [false, false];
    if (oxygen !== null) {
      require("oxygen", oxygen, 0, 1, "mol/mol");
      [oxygenLow, oxygenHigh] = [oxygen < rules.oxygen.least, oxygen > ENRICHED];
    }
    if (reached.length || oxygenLow || oxygenHigh) {
      return { verdict: "stay-out", limit: all[0], reached, oxygenLow, oxygenHigh };
    }
    const warning = caution(refrigerant);
    if (reading > warning.fraction) return { verdict: "ventilate", limit: warning, reached: [], oxygenLow, oxygenHigh };
    return { verdict: "below-limits", limit: all[0], reached: [], oxygenLow, oxygenHigh };
  }

  // A whole charge (kg) let out into a closed room (m3), well mixed at 25 degC, against the RCL.
  function release(refrigerant, charge, volume) {
    const density = positive("charge", charge, "kg") / positive("volume", volume, "m3");
    const fraction = Math.min(1, density / air.density(1, refrigerant.molarMass));
    const limit = refrigerant.rclDensity;
    if (limit === null) return { density, fraction, aboveRcl: null, volumeNeeded: null };
    return { density, fraction, aboveRcl: density > limit, volumeNeeded: charge / limit };
  }

  return { displaced, oxygenLimit, limits, caution, check, release, ENRICHED };
}
