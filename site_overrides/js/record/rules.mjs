// What a schema can't say of a record, as far as a phone can tell. Left to `leaklore check`: the file's name and
// folder, a number used twice, two records of one job; without the numbers of all cases, whether a case exists.
import { factsOf } from "./facts.mjs";
import { DATES } from "./rules_dates.mjs";
import { PLAUSIBILITY } from "./rules_plausibility.mjs";
import { PRIVACY } from "./rules_privacy.mjs";
import { PROOFS } from "./rules_proof.mjs";
import { REFERENCES, nearestKey } from "./rules_references.mjs";

const RULES = [...REFERENCES, ...DATES, ...PLAUSIBILITY, ...PROOFS, ...PRIVACY];

function patternsOf({ patterns }) {
  const whole = (pattern) => new RegExp(`^(?:${pattern})$`, "u");
  return {
    case: whole(patterns.case),
    system: whole(patterns.system),
    reference: new RegExp(patterns.reference, "gu"),
    date: new RegExp(patterns.date, "u"),
    private: patterns.private.map((one) => ({
      ...one,
      pattern: new RegExp(one.pattern, "gu"),
      glued: one.glued && new RegExp(one.glued, "u"),
    })),
  };
}

export function make(record, { vocabulary, read }) {
  const patterns = patternsOf(record);
  const nearKey = nearestKey(record, vocabulary);

  // Findings against a record that fits the schema; `world` { systems, cases, today, photos }.
  return function told(data, { systems = null, cases = null, today, photos = [] }) {
    const facts = factsOf(data, { systems, charges: record.charges, read });
    const world = { record, vocabulary, patterns, nearKey, systems, cases: cases && new Set(cases), today, photos };
    const found = [];
    for (const rule of RULES) {
      for (const finding of rule(data, facts, world)) found.push({ severity: "error", ...finding });
    }
    return found;
  };
}
