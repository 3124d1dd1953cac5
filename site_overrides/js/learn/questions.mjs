// Questions drawn from a seed: the twin of generator/leaklore/analysis/questions/draw.py.
import { QuestionChance, QuestionMaker } from "./questions_make.mjs";
import { askHoldCase, askHoldLongEnough, askVacuumRise, askWarms, askWhatIsLeft } from "./questions_pressure.mjs";
import { askBeforeGauges, askEmptyCircuit, askFools, askLeastDisturbing, askLowFirst, askReadingsAbove, askSecondTechnique, askTechniqueSees } from "./questions_finding.mjs";
import { askAnnualized, askCheckAfterRepair, askCheckInterval, askCo2e, askExplains, askPerYear, askRepairBy, askRepairDue, askShareAYear } from "./questions_rates.mjs";
import { askFindsMode, askFitsBest, askMissesMode, askTellTale } from "./questions_modes.mjs";

export const QUESTIONS_VERSION = 2;
export const MIXED = "mixed";
const DRAWS = 60;

const MAKES = {
  "technique-sees": askTechniqueSees,
  "readings-above": askReadingsAbove,
  fools: askFools,
  warms: askWarms,
  "what-is-left": askWhatIsLeft,
  "hold-long-enough": askHoldLongEnough,
  "vacuum-rise": askVacuumRise,
  "hold-case": askHoldCase,
  "per-year": askPerYear,
  "share-a-year": askShareAYear,
  co2e: askCo2e,
  explains: askExplains,
  "fits-best": askFitsBest,
  "tell-tale": askTellTale,
  "finds-mode": askFindsMode,
  "misses-mode": askMissesMode,
  "least-disturbing": askLeastDisturbing,
  "before-gauges": askBeforeGauges,
  "low-first": askLowFirst,
  "empty-circuit": askEmptyCircuit,
  "second-technique": askSecondTechnique,
  annualized: askAnnualized,
  "repair-due": askRepairDue,
  "repair-by": askRepairBy,
  "check-interval": askCheckInterval,
  "check-after-repair": askCheckAfterRepair,
};

const answerOf = ({ key, choices, right }) => [key, ...right.map((i) => choices[i]).sort()].join("\n");
const contentOf = ({ text, choices, right }) => [text, ...right.map((i) => choices[i]).sort()].join("\n");

// Draws from `material` (data/learn/questions.json) with the bench's trade and `write(value, dimension)`.
export class QuestionDrawer {
  constructor(material, t, write) {
    Object.assign(this, { material, t, write });
  }

  // One question of a template; null where the library can't give one, or no longer knows it.
  one(topic, key, seed) {
    if (!this.material.topics[topic]?.includes(key)) return null;
    const chance = new QuestionChance(seed);
    const { material, t, write } = this;
    for (let i = 0; i < DRAWS; i += 1) {
      const inner = new QuestionChance(chance.whole());
      const found = MAKES[key](new QuestionMaker({ topic, key, chance: inner, material, t, write }));
      if (found) return found;
    }
    return null;
  }

  // Those with the same answer as one before come last: another gas or place in the text often asks nothing new.
  draw(topic, seed, n) {
    const { topics } = this.material;
    const names = topic === MIXED ? Object.keys(topics) : [topic];
    const chance = new QuestionChance(seed);
    const out = [];
    for (const told of [answerOf, contentOf]) {
      let pool = names.flatMap((name) => topics[name].map((key) => [name, key]));
      const seen = new Set(out.map(told));
      while (pool.length && out.length < n) {
        for (const pair of chance.shuffled(pool)) {
          if (out.length === n) break;
          const found = this.fresh(pair, chance, told, seen);
          if (found) {
            seen.add(told(found));
            out.push(found);
          } else {
            pool = pool.filter((other) => other !== pair);
          }
        }
      }
    }
    return out;
  }

  fresh([topic, key], chance, told, seen) {
    for (let i = 0; i < DRAWS / 4; i += 1) {
      const found = this.one(topic, key, chance.whole());
      if (found && !seen.has(told(found))) return found;
    }
    return null;
  }
}
