// Figures that can't be: more lost than was there, a pressure that rises by itself, a wrong unit.
import { say } from "../say.mjs";
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
  const slots = { lost: lost.written, charge: charge.written, added: toppedUp?.written };
  const message = toppedUp
    ? say('"{lost}" is more than was there: the system holds {charge} and {added} were added', slots)
    : say('"{lost}" is more than was there: the system holds {charge}', slots);
  yield {
    pointer: ["charge", "lost"],
    message: `charge.lost: ${message}`,
    instead: say("correct it, or write what was added meanwhile as topped_up:"),
    rule: "charge/too-much",
  };
}

// A hold test gains no more pressure than its temperatures explain.
function* pressureGain(_, { hold }, { record }) {
  if (!hold || hold.medium === "vacuum" || hold.medium === "refrigerant") return;
  const byTemperature = expectedPressure(hold);
  const expected = byTemperature ?? hold.start.si;
  if (!(hold.end.si > expected + gaugeError(expected, record))) return;
  const gauge = expected - record.atmosphere;
  const slots = { end: hold.end.written, expected: `${fixed(gauge / record.units.psia.factor)} psig, ${fixed(gauge / record.units.bara.factor, 1)} bar` };
  const message =
    byTemperature === null
      ? say('"{end}" is more than it began with, and start_temp: and end_temp: are not both given ({expected} expected)', slots)
      : say('"{end}" is more than its temperatures explain ({expected} expected)', slots);
  yield {
    pointer: ["fix", "hold_test", "end"],
    message: `fix.hold_test.end: ${message}`,
    instead: say("correct the figures, or give both temperatures of the tubes"),
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
    const fault = (message, instead) => ({ pointer, message: `fix.hold_test.${name}: ${message}`, instead, rule: "hold-test/unit" });
    if (vacuum && si >= atmosphere) {
      yield fault(say('"{value}" is no vacuum', { value: written }), say('write it in micron or mbar, for example "480 micron"'));
    } else if (!vacuum && si < atmosphere) {
      const message = say('"{value}" is below atmospheric pressure, but the medium is {medium}', { value: written, medium: hold.medium });
      yield fault(message, say("write medium: vacuum, or the gauge pressure"));
    }
  }
}

// A symptom is not both seen and absent.
function* seenAndAbsent(data) {
  for (const [i, key] of (data.not_seen ?? []).entries()) {
    if (!data.symptoms.includes(key)) continue;
    const message = `not_seen[${i}]: ${say('"{key}" is among the symptoms too', { key })}`;
    yield { pointer: ["not_seen", i], message, instead: say("keep it in one of the two lists"), rule: "symptom/both" };
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
        message: `readings[${i}].${name}: ${say('"{value}" is not what {instrument} reads', { value: reading[name].written, instrument: by })}`,
        instead: say("write for example {example}, or correct the instrument", { example: record.reading_examples[allowed[0]] }),
        rule: "reading/unit",
      };
    }
    if (!background || unfit(background) || background.dimension === value.dimension) continue;
    const differ = say('"{background}" and the value "{value}" have different kinds of unit', { background: background.written, value: value.written });
    yield {
      pointer: ["readings", i, "background"],
      message: `readings[${i}].background: ${differ}`,
      instead: say("write both in the same unit"),
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
      message: `${pathOf(pointer)}: ${say('"{value}" is not in {currency}', { value: amount.written, currency: own })}`,
      instead: say("write the amount in {currency}, the company's currency", { currency: own }),
      rule: "money/currency",
    };
  }
}

export const PLAUSIBILITY = [tooMuchLost, pressureGain, holdTestUnit, seenAndAbsent, readingUnit, companyCurrency];
