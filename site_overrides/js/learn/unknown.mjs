// The unknown case: what each check says, and how a search is scored. Twin of analysis/unknown.py.

// What is packed in a data file, as an object.
export async function unpacked(text) {
  const bytes = Uint8Array.from(atob(text), (c) => c.charCodeAt(0));
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate"));
  return new Response(stream).json();
}

function asAnswer([result, first, later, done, note, hindsight, readings]) {
  return { result, first, later, done: Boolean(done), note, hindsight: Boolean(hindsight), readings };
}

export class UnknownCase {
  // `content` is the unpacked part of a data file.
  constructor(content) {
    this.rules = content.rules;
    this.inside = content.inside;
    this.record = content.record;
    this.way = content.way;
    this.told = content.case;
    [this.mode, this.component] = content.solution;
    this.suspects = new Map(content.suspects.map(([mode, likely, places, against]) => [mode, { likely, places, against }]));
    this.checks = new Map();
    for (const [technique, place, sees, answers, confirms] of content.checks) {
      this.checks.set(`${technique} ${place}`, { technique, place, sees, answers: answers.map(asAnswer), confirms: confirms && asAnswer(confirms) });
    }
  }

  // Is the component that place, or in it?
  holds(place, component) {
    return place === component || (this.inside[place] ?? []).includes(component);
  }

  // Answers of the checks of a trail, [technique, place] in order, with their minutes.
  answers(trail) {
    const times = new Map();
    const used = new Set();
    const found = new Set();
    return trail.map(([technique, place]) => {
      const key = `${technique} ${place}`;
      const check = this.checks.get(key);
      if (!check) throw new Error(`no check ${key}`);
      const before = times.get(key) ?? 0;
      const agrees = check.confirms && found.size - found.has(technique) > 0;
      const answer = agrees ? check.confirms : check.answers[Math.min(before, check.answers.length - 1)];
      const minutes = used.has(technique) ? answer.later : answer.first;
      times.set(key, before + 1);
      used.add(technique);
      if (answer.result === "found") found.add(technique);
      return { ...answer, technique, place, sees: check.sees, minutes, repeated: before > 0 };
    });
  }

  // Chance that a leak at a place would have stayed unseen by all the clean checks over it.
  unseen(cleared, place) {
    let left = 1;
    for (const [spot, sees] of cleared) if (this.holds(spot, place)) left *= 1 - sees / 1000;
    return left;
  }

  score(trail, cause, place) {
    const { rules } = this;
    const vain = new Set();
    const cleared = [];
    const showed = { sign: new Set(), found: new Set() };
    const lapses = [];
    let minutes = 0;
    let foundAfter = null;
    for (const [number, said] of this.answers(trail).entries()) {
      minutes += said.minutes;
      const inVain = !this.holds(said.place, this.component);
      if (said.result === "clean") {
        if (inVain && (said.repeated || this.unseen(cleared, said.place) <= rules.cleared)) lapses.push({ kind: "again", check: number });
        cleared.push([said.place, said.sees]);
      } else if (said.result === "found" || this.holds(said.place, place)) showed[said.result].add(said.technique);
      if (said.result === "found") foundAfter ??= minutes;
      if (inVain && foundAfter === null) vain.add(said.place);
    }
    const right = place === this.component;
    const pinpointed = right ? showed.found.size : 0;
    const doubted = !right && this.unseen(cleared, place) <= rules.cleared;
    const proof = pinpointed > 1 ? "point" : pinpointed ? "once" : showed.sign.size ? "section" : "suspected";
    if (proof === "once") lapses.push({ kind: "once", check: null });
    else if (proof !== "point") lapses.push({ kind: doubted ? "cleared" : proof === "section" ? "sign-only" : "guess", check: null });
    if (cause !== this.mode) {
      const named = this.suspects.get(cause);
      if (named.likely <= rules.against) lapses.push({ kind: "against", check: null });
      if (!named.places.some((spot) => this.holds(place, spot))) lapses.push({ kind: "elsewhere", check: null });
    }
    const pars = [this.record, this.way].filter((walk) => walk.minutes !== null);
    const proven = right && foundAfter !== null;
    const points = {
      place: { point: rules.place, once: rules.pinpointed }[proof] ?? (this.holds(place, this.component) ? rules.named : 0),
      cause: cause === this.mode ? rules.cause : 0,
      pace: proven ? againstPars(foundAfter, pars.map((walk) => walk.minutes), rules.pace) : 0,
      aim: proven ? againstPars(vain.size, pars.map((walk) => walk.vain), rules.aim) : 0,
    };
    return { ...points, points: points.place + points.cause + points.pace + points.aim, minutes, foundAfter, vain: vain.size, proof, lapses };
  }
}

// All points where none of the others did better, one where one of them did worse or as well.
function againstPars(value, pars, points) {
  if (value <= Math.min(...pars)) return points;
  return value <= Math.max(...pars) ? 1 : 0;
}
