// Charge lost as a rate: by the year, as a share of the charge, by the two methods of the US rules, in t CO2e, in money.
import { day, plusDays } from "./days.mjs";
import { positive, require } from "./units.mjs";

function tonnesCo2e(mass, gwp) {
  require("mass", mass, 0, 1e9, "kg");
  return (mass * require("GWP", gwp, 0, 50_000, "")) / 1000;
}

function cost(mass, price) {
  return require("mass", mass, 0, 1e9, "kg") * require("price", price, 0, 1e6, "/kg");
}

export function make(content, { units }) {
  const { YEAR } = units;
  const { RULE_YEAR } = content.constants.leak_rate;

  // Mean loss of `lost` kg over `over` s; `share` of `charge` (kg) a year, null without a charge.
  function loss(lost, over, charge = null) {
    require("charge lost", lost, 0, 1e6, "kg");
    positive("time", over, "s");
    const rate = lost / over;
    const share = charge === null ? null : (rate * YEAR) / positive("full charge", charge, "kg");
    return { rate, share };
  }

  // Share a year: (added / full charge) / (min(days, 365) / 365).
  function annualizing(added, fullCharge, days) {
    require("refrigerant added", added, 0, 1e6, "kg");
    positive("full charge", fullCharge, "kg");
    positive("days since the last addition", days, "d");
    return added / fullCharge / (Math.min(days, RULE_YEAR) / RULE_YEAR);
  }

  // Share a year: additions [{ day, mass, counts }] of the last 365 days, or since `verified`, over the full charge.
  function rollingAverage(additions, fullCharge, on, verified = null) {
    positive("full charge", fullCharge, "kg");
    const first = plusDays(day("day", on), -RULE_YEAR);
    const since = verified === null ? first : day("day of the verification test", verified);
    const start = since > first ? since : first;
    const counted = additions.filter(
      (one) => (one.counts ?? true) && start < day("day of the addition", one.day) && one.day <= on,
    );
    return counted.reduce((sum, one) => sum + require("refrigerant added", one.mass, 0, 1e6, "kg"), 0) / fullCharge;
  }

  return { loss, annualizing, rollingAverage, tonnesCo2e, cost, RULE_YEAR };
}
