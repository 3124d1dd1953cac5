// A proof level is earned by what the record shows.
import { say } from "../say.mjs";
import { expectedPressure } from "./facts.mjs";
import { gaugeError } from "./rules_plausibility.mjs";

const PROOF = ["cause", "proof"];
const NARROWED = ["section", "lead", "pinpointed", "confirmed"];
const FOUND = ["pinpointed", "confirmed"];

const fault = (message, instead, rule) => ({ pointer: PROOF, message: `cause.proof: ${message}`, instead, rule });

// Did the test hold? Never by vacuum alone: that puts at most 1 bar across the leak, and in the wrong direction.
function passed(hold, record) {
  if (hold.medium === "vacuum") return false;
  const expected = expectedPressure(hold) ?? hold.start.si;
  return hold.end.si >= expected - gaugeError(expected, record);
}

// `held` needs a hold test that passed or a follow-up that found it holding.
function* held({ cause }, { hold, looks }, { record }) {
  if (cause.proof !== "held") return;
  if (looks.some(({ result }) => result === "leaking-again")) {
    yield fault(say("held, but a follow-up found it leaking again"), say("write proof: point"), "proof/leaking-again");
    return;
  }
  if (looks.some(({ result }) => result === "holding" || result === "other-leak")) return;
  if (!hold) {
    const instead = say("add fix.hold_test: or follow_up:, or write proof: point");
    yield fault(say("held, but there is neither a hold test nor a follow-up that found it holding"), instead, "proof/held");
  } else if (!passed(hold, record)) {
    const message =
      hold.medium === "vacuum"
        ? say("held, but a vacuum alone is no proof and no follow-up found it holding")
        : say("held, but the hold test lost pressure and no follow-up found it holding");
    yield fault(message, say("add a follow_up:, or write proof: point"), "proof/held");
  }
}

// `point` and `held` need a place pinpointed and confirmed by a second technique.
function* point({ cause: { proof, component }, search }) {
  if (proof !== "point" && proof !== "held") return;
  const hits = search.filter(({ result, at }) => FOUND.includes(result) && at.includes(component));
  if (!hits.length) {
    const instead = say("add the step, or write proof: section or suspected");
    yield fault(say("{proof}, but no search step pinpointed {component}", { proof, component }), instead, "proof/point");
  } else if (new Set(hits.map(({ technique }) => technique)).size < 2) {
    const slots = { proof, technique: hits[0].technique, component };
    const message = say("{proof}, but only {technique} found {component}; a second technique has to confirm it", slots);
    yield fault(message, say("add the step with result: confirmed, or write proof: section"), "proof/point");
  }
}

// `section` needs a search step that narrowed it down.
function* section({ cause, search }) {
  if (cause.proof !== "section" || search.some(({ result }) => NARROWED.includes(result))) return;
  const instead = say("add the step with result: section, or write proof: suspected");
  yield fault(say("section, but no search step narrowed it down"), instead, "proof/section");
}

// Pinpointed or confirmed is said of the place that leaked.
function* elsewhere({ search, cause }, { causes }) {
  const leaked = new Set(causes.map(({ component }) => component));
  for (const [i, { result, at }] of search.entries()) {
    if (!FOUND.includes(result) || at.some((place) => leaked.has(place))) continue;
    const message = say("{result} at {places}, but the leak was at {component}", { result, places: at.join(", "), component: cause.component });
    yield {
      pointer: ["search", i, "result"],
      message: `search[${i}].result: ${message}`,
      instead: say("write result: false-alarm or lead, correct the place, or add the leak to also_found:"),
      rule: "search/elsewhere",
    };
  }
}

export const PROOFS = [held, point, section, elsewhere];
