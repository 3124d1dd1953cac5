// From findings to causes and the next checks: the models of a library put together.
import { CauseModel } from "./causes.mjs";
import { PlaceModel } from "./places.mjs";
import { Order } from "./order.mjs";

export function rounded(value, digits) {
  const scale = 10 ** digits;
  return Math.round(value * scale) / scale;
}

export class Adviser {
  constructor(model) {
    this.content = model.causes;
    this.causes = new CauseModel(model);
    this.places = new PlaceModel(model.places, model.causes.modes);
    this.order = new Order(model.order, this.places);
  }

  // { frame, weights }: every mode at every place with its probability, after findings and checks.
  joint(evidence) {
    const frame = this.places.frame(evidence.kinds);
    let weights = this.places.joint(frame, this.causes.weigh(evidence), evidence);
    for (const check of evidence.checks) weights = this.order.update(frame, weights, check, evidence);
    const total = weights.reduce((sum, w) => sum + w, 0);
    return { frame, weights: total > 0 ? weights.map((w) => w / total) : weights };
  }

  // [{ mode, probability, places: [[component, weight]] }] by probability; of equals the guide's order.
  rank({ frame, weights }) {
    const { digits } = this.content;
    const out = this.causes.modes.map((mode) => ({ mode, probability: 0, places: [] }));
    weights.forEach((weight, i) => {
      const cause = out[frame.modes[i]];
      cause.probability += weight;
      cause.places.push([frame.components[i], weight]);
    });
    const near = (value) => rounded(value, digits);
    for (const cause of out) {
      cause.places.sort((a, b) => near(b[1]) - near(a[1]) || (a[0] < b[0] ? -1 : 1));
    }
    return out.sort((a, b) => near(b.probability) - near(a.probability));
  }

  // { causes, plan, known }; `known` is false where nothing tells causes apart.
  advise(said) {
    const evidence = { ...said, kinds: this.places.kindsFor(said) };
    const found = this.joint(evidence);
    const causes = this.rank(found);
    const told = [evidence.symptoms, evidence.absent, evidence.places, evidence.checks].some((all) => all.length > 0);
    return {
      causes,
      plan: this.order.plan(found.frame, found.weights, evidence),
      known: told && causes[0].probability >= this.content.unsure,
    };
  }

  // The same unit after a leak was found and set right: finds count as clean, and places tell only what the unit has.
  withoutFind(evidence) {
    const checks = evidence.checks.map((check) => (check.result === "found" ? { ...check, result: "clean" } : check));
    const found = evidence.checks.filter((check) => check.result === "found").map((check) => check.at);
    return { ...evidence, kinds: this.places.kindsFor(evidence), checks, places: [], notPlaces: [...evidence.notPlaces, ...found] };
  }

  // Probability in words.
  inWords(probability) {
    return this.content.words.find(([least]) => probability >= least)[1];
  }
}
