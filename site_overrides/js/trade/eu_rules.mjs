// Leak checks under the EU regulation by tonnes of CO2 equivalent or kilograms.
// All figures come from the data with their article and mark. Nothing here is legal advice.
import { citation } from "./data.mjs";
import { day, plusDays, plusMonths } from "./days.mjs";
import { general } from "./format.mjs";
import { positive } from "./units.mjs";

// At or above, letting the rounding of a product of decimals pass.
const met = (amount, limit) => amount >= limit * (1 - 1e-12);

export function make(content, { leakRate }) {
  const rule = content.rules.eu;
  const hfc = content.rules.us.hfc;

  // 1 or 2 by the annex that decides; null for what the regulation does not take.
  function annexOf({ composition }) {
    if (composition.every((part) => rule.annex_2_section_1.includes(part.of))) return 2;
    return composition.some((part) => hfc.includes(part.of)) ? 1 : null;
  }

  // Interval of leak checks for a charge (kg); `months` null where no check is asked.
  function leakCheck(refrigerant, charge, detectionSystem = false, hermetic = false, residential = false) {
    positive("charge", charge, "kg");
    const { key } = refrigerant;
    const annex = annexOf(refrigerant);
    const told = (months, because, tonnes, detection, of) => ({ months, because, tonnes, detection, source: citation(of) });
    if (annex === null) {
      const why = rule.outside[Object.hasOwn(rule.outside, key) ? key : "natural"];
      return told(null, why, null, false, rule.annexes);
    }
    const byTonnes = annex === 1;
    const gwp = refrigerant.gwp["eu-2024-573"];
    if (byTonnes && gwp === null) return told(null, `no GWP for ${key} in the regulation's annexes`, null, false, rule.annexes);
    const tonnes = byTonnes ? leakRate.tonnesCo2e(charge, gwp) : null;
    const amount = byTonnes ? tonnes : charge;
    const [unit, shown] = byTonnes ? ["tonnes", "t CO₂e"] : ["kg", "kg"];
    const { duty, hermetic: sealed, detection } = rule;
    const [least, sealedBelow] = [duty[`least_${unit}`], sealed[`below_${unit}`]];
    if (!met(amount, least)) return told(null, `below ${general(least)} ${shown}`, tonnes, false, duty);
    if (hermetic && !met(amount, sealedBelow)) {
      return told(null, `sealed and below ${general(sealedBelow)} ${shown}`, tonnes, false, sealed);
    }
    if (hermetic && residential && charge < sealed.residential_below_kg) {
      return told(null, `sealed, in a home and below ${general(sealed.residential_below_kg)} kg`, tonnes, false, sealed);
    }
    const row = rule.intervals.find((one) => one[`below_${unit}`] === null || !met(amount, one[`below_${unit}`]));
    const months = detectionSystem ? row.with_detection : row.months;
    const because = `${general(amount, 4)} ${shown}${detectionSystem ? " with a detection system" : ""}`;
    return told(months, because, tonnes, met(amount, detection[unit]), rule.interval);
  }

  // First and last day of the check after a repair; what is mobile, by its `kind`, may be checked directly after it.
  function recheckWindow(repaired, kind = null) {
    const date = day("day", repaired);
    const { latest_months: months } = rule.recheck;
    const hours = rule.recheck.at_once.includes(kind) ? 0 : rule.recheck.earliest_hours;
    return [plusDays(date, hours / 24), plusMonths(date, months), citation(rule.recheck)];
  }

  return { leakCheck, recheckWindow };
}
