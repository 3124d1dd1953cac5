// What to check next: checks by their chance to find the leak a minute, and the trade's own rules of order.

const BOARDS_KEPT = 24;

// What has been done: checks, techniques set up, places looked at, gauges on or not, anything found or not.
export class Done {
  constructor(order) {
    this.order = order;
    this.checks = new Set();
    this.used = new Set();
    this.seen = new Set();
    this.gaugesOn = false;
    this.found = false;
  }

  static after(checks, order) {
    const out = new Done(order);
    for (const { technique, at, result } of checks) {
      if (result === "skip") for (const place of at) out.checks.add(`${technique} ${place}`);
      else out.made(technique, at);
      if (result === "found") out.found = true;
    }
    return out;
  }

  made(technique, places) {
    for (const place of places) {
      this.checks.add(`${technique} ${place}`);
      if (technique === "visual") this.seen.add(place);
    }
    this.used.add(technique);
    this.gaugesOn ||= this.order.opens(technique);
  }

  // Has the eye been at that place, or over the area that holds it?
  looked(place) {
    for (const seen of this.seen) if (this.order.places.covers(seen, place)) return true;
    return false;
  }
}

// All checks that could be made at a unit. Chances lie one after the other: candidate n has from[n] to from[n + 1].
export class Board {
  constructor(order, candidates) {
    this.order = order;
    this.candidates = candidates;
    this.from = new Int32Array(candidates.length + 1);
    candidates.forEach((c, n) => {
      this.from[n + 1] = this.from[n] + c.inside.length;
    });
    this.of = new Int32Array(this.from[candidates.length]);
    this.chances = new Float64Array(this.of.length);
    candidates.forEach((c, n) => {
      this.of.set(c.inside, this.from[n]);
      this.chances.set(c.chances, this.from[n]);
    });
    this.found = new Float64Array(candidates.length);
    this.values = new Float64Array(candidates.length);
  }

  // The best check now; null where none could show anything.
  pick(weights, done) {
    const { rules, least, near } = this.order;
    const { candidates, from, of, chances, found, values } = this;
    const total = weights.reduce((sum, w) => sum + w, 0);
    if (total <= 0) return null;
    let best = -1;
    let survey = -1;
    for (let n = 0; n < candidates.length; n += 1) {
      const c = candidates[n];
      let p = 0;
      for (let k = from[n]; k < from[n + 1]; k += 1) p += chances[k] * weights[of[k]];
      p /= total;
      found[n] = p;
      if (p < least || done.checks.has(c.key)) continue;
      if (c.technique === "air-survey" && done.gaugesOn) continue; // hoses have put gas into the air
      let value = (p * c.worth) / (done.used.has(c.technique) ? c.later : c.first);
      if (c.strips && !done.looked(c.place)) value *= rules.look_first;
      values[n] = value;
      if (best < 0 || value > values[best] * (1 + near)) best = n;
      if (c.technique === "air-survey" && (survey < 0 || value > values[survey] * (1 + near))) survey = n;
    }
    if (best < 0) return null;
    let chosen = best;
    let { why } = candidates[best];
    const fresh = !done.found && !done.used.has("air-survey") && rules.survey_before.includes(candidates[best].technique);
    if (survey >= 0 && fresh && values[survey] >= rules.survey_share * values[best] * (1 - near)) {
      chosen = survey;
      why = [...candidates[survey].why, "before-gauges"];
    }
    const c = candidates[chosen];
    const minutes = done.used.has(c.technique) ? c.later : c.first;
    return { number: chosen, technique: c.technique, at: c.place, probability: found[chosen], minutes, why };
  }

  // Weights after the check was made and showed nothing.
  missed(number, weights) {
    for (let k = this.from[number]; k < this.from[number + 1]; k += 1) weights[this.of[k]] *= 1 - this.chances[k];
  }
}

export class Order {
  constructor(content, places) {
    this.content = content;
    this.places = places;
    this.rules = content.rules;
    this.least = content.least;
    this.near = content.near;
    this.techniques = new Map(Object.entries(content.techniques));
    this.areas = new Set(content.areas);
    this.low = new Set(content.low);
    this.covered = new Set(content.covered);
    this.light = new Set(content.light);
    this.boards = new Map();
  }

  // Does it connect gauges or let gas out?
  opens(technique) {
    const facts = this.techniques.get(technique);
    return facts !== undefined && facts.disturbs >= this.rules.opens_gauges;
  }

  level(place) {
    return this.areas.has(place) ? "area" : "part";
  }

  // [factor, verdict] of a technique for the leak's rate and refrigerant; the usual factor where one is not known.
  limit(technique, evidence) {
    const { limits } = this.rules;
    const { sees, usual } = this.techniques.get(technique);
    const smallest = sees[evidence.refrigerant ?? ""] ?? null;
    if (smallest === 0) return [limits.blind, "blind"];
    if (smallest === null || (evidence.rate ?? null) === null) return [usual, ""];
    const margin = evidence.rate / smallest;
    const verdict = margin >= this.content.comfortable ? "sees" : margin >= 1 ? "at-limit" : "too-small";
    return [limits[verdict], verdict];
  }

  // Is the whole charge gone?
  empty(evidence) {
    return evidence.symptoms.some((symptom) => this.rules.empty_when.includes(symptom));
  }

  // Factor on a technique's chances from limits, conditions and an empty circuit.
  hand(technique, evidence) {
    const { fooled, sniffs, empty } = this.rules;
    let [factor] = this.limit(technique, evidence);
    for (const condition of evidence.conditions) factor *= fooled[technique]?.[condition] ?? 1;
    if (sniffs.includes(technique) && this.empty(evidence)) factor *= empty;
    return factor;
  }

  // Weights after a check: a clean place loses weight by the chance to have found it, a find gains.
  update(frame, weights, check, evidence) {
    if (check.result === "skip" || !this.techniques.has(check.technique)) return weights;
    const { false_sign: falseSign, smallest_find: smallestFind, chance } = this.content;
    const hand = this.hand(check.technique, evidence);
    const missed = new Float64Array(frame.size).fill(1);
    for (const place of check.at) {
      const row = chance[check.technique][this.level(place)];
      for (const i of frame.inside(place)) missed[i] *= 1 - (row[frame.modes[i]] / 1000) * hand;
    }
    if (check.result === "clean") return weights.map((w, i) => w * missed[i]);
    const covered = frame.mask(check.at);
    return weights.map((w, i) => w * (covered[i] ? Math.max(1 - missed[i], smallestFind) : falseSign * smallestFind));
  }

  // Every technique at every place that fits the equipment and could show one of these leaks.
  board(frame, evidence) {
    const verdicts = [...this.techniques.keys()].map((technique) => this.limit(technique, evidence)[1]);
    const key = JSON.stringify([frame.kinds, evidence.refrigerant, evidence.conditions, verdicts, this.empty(evidence)]);
    let board = this.boards.get(key);
    if (!board) {
      if (this.boards.size >= BOARDS_KEPT) this.boards.clear();
      board = new Board(this, this.candidates(frame, evidence));
      this.boards.set(key, board);
    }
    return board;
  }

  candidates(frame, evidence) {
    const places = [...new Set([...frame.components, ...this.areas])].filter((place) => this.places.fits(place, frame.kinds)).sort();
    const out = [];
    for (const technique of this.techniques.keys()) {
      const hand = this.hand(technique, evidence);
      if (hand === 0) continue;
      const usedOn = this.rules.places[technique] ?? [];
      const never = this.rules.not_at[technique] ?? [];
      for (const place of places) {
        const level = this.level(place);
        const inside = frame.inside(place);
        if (!usedOn.includes(level) || !inside.length || never.includes(place)) continue;
        const row = this.content.chance[technique][level];
        const has = frame.has(place);
        const chances = inside.map((i, n) => (row[frame.modes[i]] / 1000) * hand * has[n]);
        out.push({ technique, place, key: `${technique} ${place}`, inside, chances, ...this.standing(technique, place, level, evidence) });
      }
    }
    return out;
  }

  // Worth of a find, minutes of first and later use, and the rules that moved it.
  standing(technique, place, level, evidence) {
    const { rules } = this;
    const facts = this.techniques.get(technique);
    let worth = facts.finds === "points" && level === "part" ? 1 : rules.sign;
    worth *= rules.disturbs ** Math.max(facts.disturbs - 1, 0);
    const why = [];
    if (!this.light.has(evidence.refrigerant) && this.low.has(place) && rules.sniffs.includes(technique)) {
      worth *= rules.low_first;
      why.push("low-first");
    }
    if (technique === "visual" && [...this.covered].some((inner) => this.places.covers(place, inner))) why.push("look-first");
    const [, verdict] = this.limit(technique, evidence);
    if (verdict === "at-limit" || verdict === "too-small") why.push(verdict);
    const [first, later] = this.content.minutes[technique][level];
    const strips = this.covered.has(place) && rules.touches.includes(technique);
    const more = strips ? rules.strip_minutes : 0;
    return { worth, first: first / 1000 + more, later: later / 1000 + more, strips, why };
  }

  // The next checks, each chosen as if those before it had been clean; minutes until the first sign; chance of none.
  plan(frame, weights, evidence) {
    const checks = [];
    let minutes = 0;
    let missed = 1;
    if (weights.reduce((sum, w) => sum + w, 0) > 0) {
      const left = Float64Array.from(weights);
      const board = this.board(frame, evidence);
      const done = Done.after(evidence.checks, this);
      while (checks.length < this.content.ahead) {
        const next = board.pick(left, done);
        if (next === null) break;
        checks.push(next);
        minutes += missed * next.minutes;
        missed *= 1 - next.probability;
        board.missed(next.number, left);
        done.made(next.technique, [next.at]);
      }
    }
    return { checks, minutes, missed };
  }
}
