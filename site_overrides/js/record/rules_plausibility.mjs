// Figures that can't be: more lost than was there, a pressure that rises by itself, a wrong unit.
import { fixed } from "../trade/format.mjs";
import { expectedPressure } from "./facts.mjs";
import { currency } from "./quantity.mjs";
import { pathOf } from "./text.mjs";

const ROUNDING = 1.02; // scales and rounding of lb and oz

// Pa; what two readings of the same pressure (Pa absolute) may differ by.
export const gaugeError = (pressure, { gauge_step: step, gauge_share: share }) => Math.max(step, share * pressure);

// No more is lost than the system holds and was added.
function* tooMuchLost(_, { lost, toppedUp, equipment: { charge } }) {
  if (!lost || !charge || !(lost.si > (charge.si + (toppedUp?.si ?? 0)) * ROUNDING)) return;
  const have = charge.written + (toppedUp ? ` and ${toppedUp.written} were added` : "");
  yield {
    pointer: ["charge", "lost"],
    message: `charge.lost: "${lost.written}" is more than was there: the system holds ${have}`,
    instead: "correct it, or write what was added meanwhile as topped_up:",
    rule: "charge/too-much",
  };
}

// A hold test gains no more pressure than its temperatures explain.
function* pressureGain(_, { hold }, { record }) {
  if (!hold || hold.medium === "vacuum" || hold.medium === "refrigerant") return;
  const byTemperature = expectedPressure(hold);
  const expected = byTemperature ?? hold.start.si;
  const explained =
    byTemperature === null ? "it began with, and start_temp: and end_temp: are not both given" : "its temperatures explain";
  if (!(hold.end.si > expected + gaugeError(expected, record))) return;
  const gauge = expected - record.atmosphere;
  const told = `${fixed(gauge / record.units.psia.factor)} psig, ${fixed(gauge / record.units.bara.factor, 1)} bar`;
  yield {
    pointer: ["fix", "hold_test", "end"],
    message: `fix.hold_test.end: "${hold.end.written}" is more than ${explained} (${told} expected)`,
    instead: "correct the figures, or give both temperatures of the tubes",
    rule: "hold-test/gain",
  };
}

// A vacuum is given below atmospheric pressure, a pressure test above.
function* holdTestUnit(_, { hold }, { record: { atmosphere } }) {
  if (!hold) return;
  const vacuum = hold.medium === "vacuum";
  for (const name of ["start", "end"]) {
    const { si, written } = hold[name];
    const pointer = ["fix", "hold_test", name];
    const begin = `fix.hold_test.${name}: "${written}"`;
    if (vacuum && si >= atmosphere) {
      const instead = 'write it in micron or mbar, for example "480 micron"';
      yield { pointer, message: `${begin} is no vacuum`, instead, rule: "hold-test/unit" };
    } else if (!vacuum && si < atmosphere) {
      const message = `${begin} is below atmospheric pressure, but the medium is ${hold.medium}`;
      yield { pointer, message, instead: "write medium: vacuum, or the gauge pressure", rule: "hold-test/unit" };
    }
  }
}

// A symptom is not both seen and absent.
function* seenAndAbsent(data) {
  for (const [i, key] of (data.not_seen ?? []).entries()) {
    if (!data.symptoms.includes(key)) continue;
    const message = `not_seen[${i}]: "${key}" is among the symptoms too`;
    yield { pointer: ["not_seen", i], message, instead: "keep it in one of the two lists", rule: "symptom/both" };
  }
}

// The unit fits the instrument.
function* readingUnit(_, { readings }, { record }) {
  for (const [i, reading] of readings.entries()) {
    const { by, value, background } = reading;
    const allowed = record.reading_units[by];
    const unfit = (quantity) => quantity && allowed && !allowed.includes(quantity.dimension);
    for (const name of ["value", "background"]) {
      if (!unfit(reading[name])) continue;
      yield {
        pointer: ["readings", i, name],
        message: `readings[${i}].${name}: "${reading[name].written}" is not what ${by} reads`,
        instead: `write for example ${record.reading_examples[allowed[0]]}, or correct the instrument`,
        rule: "reading/unit",
      };
    }
    if (!background || unfit(background) || background.dimension === value.dimension) continue;
    const differ = `"${background.written}" and the value "${value.written}" have different kinds of unit`;
    yield {
      pointer: ["readings", i, "background"],
      message: `readings[${i}].background: ${differ}`,
      instead: "write both in the same unit",
      rule: "reading/unit",
    };
  }
}

// Money is in the company's currency.
function* companyCurrency(_, { costs }, { record: { currency: own } }) {
  for (const [pointer, amount] of costs) {
    if (!amount || currency(amount) === own) continue;
    yield {
      pointer,
      message: `${pathOf(pointer)}: "${amount.written}" is not in ${own}`,
      instead: `write the amount in ${own}, the company's currency`,
      rule: "money/currency",
    };
  }
}

export const PLAUSIBILITY = [tooMuchLost, pressureGain, holdTestUnit, seenAndAbsent, readingUnit, companyCurrency];
