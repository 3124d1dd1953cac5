// One question, one answer: what was understood, causes, next checks, cases like it, pages that help.
//
//   const engine = new Engine(model, fetchPiece);      // model: what data/search/model.json says
//   engine.prefetch(text);                             // pieces on their way while the person types
//   engine.advise(text, { checks, today, second });            // at once, without the index
//   await engine.find(text, { checks, only, today, second });  // the whole answer, with the cases
//
// fetchPiece(path, kind, { fresh }) -> Promise of an ArrayBuffer (kind "bytes") or of what the JSON says (kind "json");
// `path` lies below data/search/; with `fresh` the piece that came before was cut or of another build.
// checks [{ technique, at: [place], result: clean | found | skip }], only { facet: value }, today { year, month, day }.
import { amountReader } from "./amounts.mjs";
import { Lexicon } from "./lexicon.mjs";
import { distance, editsAllowed, fold, stem } from "./text.mjs";
import { evidenceOf, understand } from "./understand.mjs";
import { Adviser, rounded } from "./advice.mjs";
import { IndexReader, bucketPath } from "./index.mjs";
import { withGear } from "./named.mjs";

const WHY_SHOWN = 5;
const PLACES_SHOWN = 3;

// The known stem of the fewest edits, of equals the first; null where none is near enough.
export function nearestStem(said, known) {
  let most = editsAllowed(said);
  let best = null;
  if (!most) return null;
  for (const other of known) {
    const edits = distance(said, other, most);
    if (edits < most || (edits === most && best === null)) {
      best = other;
      most = edits;
      if (edits <= 1) break;
    }
  }
  return best;
}

// Paths of the buckets that hold a text's plain words, so that they can be on their way before it is understood.
export function plainBuckets(text, { index, lexicon, reading }) {
  const fillers = new Set(lexicon.grammar.fillers);
  const words = wordsOf(text.slice(0, reading.longest)).filter((word) => word.length > 1 && !fillers.has(word));
  return [...new Set(words.map((word) => bucketPath(`w:${stem(word)}`, index.buckets)))];
}

function wordsOf(text) {
  return fold(text).match(/[a-z0-9]+/g) ?? [];
}

// The `most` documents of the best scores among `first` to `last`, best first; of equals the lower number.
function bestOf(scores, first, last, most, kept) {
  const found = [];
  for (let number = first; number < last; number += 1) {
    if (scores[number] <= 0 || (found.length === most && scores[number] < found[most - 1].score - 1e-6)) continue;
    const score = rounded(scores[number], 6);
    if (score <= 0 || !kept(number)) continue;
    let at = found.length;
    while (at > 0 && found[at - 1].score < score) at -= 1;
    if (at === most) continue;
    found.splice(at, 0, { number, score });
    if (found.length > most) found.pop();
  }
  return found;
}

export class Engine {
  #lexicon = null;
  #amounts = null;
  #adviser = null;
  #heard = { key: null };
  #spellings = new Map();

  constructor(model, fetchPiece) {
    this.model = model;
    this.index = new IndexReader(model.index, fetchPiece);
    this.fillers = new Set(model.lexicon.grammar.fillers);
  }

  // Compiled when first used.
  get lexicon() {
    return (this.#lexicon ??= new Lexicon(this.model.lexicon));
  }

  get adviser() {
    return (this.#adviser ??= new Adviser(this.model));
  }

  // Asks for the buckets of a text's words; faults are told by the question itself.
  prefetch(text) {
    for (const path of plainBuckets(text, this.model)) this.index.bucket(path).catch(() => {});
  }

  // { understood, evidence, advice } of a text and checks.
  // `gear` is what the register knows of the unit: { kind, setting, refrigerant, charge in kg }, each may be null.
  heard(text, { checks = [], today, second = false, gear = null }) {
    const key = JSON.stringify([text, checks, today, second, gear]);
    if (this.#heard.key !== key) {
      const { model } = this;
      this.#amounts ??= amountReader(model.amounts);
      const understood = understand(text, this.lexicon, this.#amounts, today, model.reading);
      const known = withGear(evidenceOf(understood, checks), gear);
      const evidence = second ? this.adviser.withoutFind(known) : known;
      this.#heard = { key, understood, evidence, advice: this.adviser.advise(evidence) };
    }
    return this.#heard;
  }

  // What doesn't need the index, at once.
  advise(text, asked = {}) {
    const { understood, evidence, advice } = this.heard(text, asked);
    return { ...this.told(understood, advice), evidence };
  }

  async find(text, asked = {}) {
    const { only = null, most = this.model.find.cases } = asked;
    const { understood, evidence, advice } = this.heard(text, asked);
    const terms = this.terms(understood, advice);
    const { stems } = understood;
    const wanted = Object.entries(only ?? {});
    const [facets] = await Promise.all([
      wanted.length ? this.index.facets() : null,
      this.index.load([...terms.keys(), ...stems.map((said) => `w:${said}`)]),
    ]);
    for (const term of await Promise.all(stems.map((said) => this.spelt(said)))) if (term !== null) terms.set(`w:${term}`, 1);
    await this.index.load(terms.keys());
    const marked = [...terms].filter(([term, weight]) => term.startsWith("w:") && weight > 0).map(([term]) => term.slice(2));
    return { ...this.told(understood, advice), ...(await this.hits(terms, wanted, facets, most)), evidence, stems: marked.sort() };
  }

  // Terms of the index with the weight that the question gives them, but for the words that are left over.
  terms({ findings }, advice) {
    const { terms: marks, several, spoken, against, likely, draw } = this.model.find;
    const turned = { absent: "s", "not-place": "p", "not-mode": "m" };
    const out = new Map();
    const add = (term, weight) => {
      if (Math.abs(out.get(term) ?? 0) < Math.abs(weight)) out.set(term, weight);
    };
    for (const { kind, keys, stems } of findings) {
      for (const key of keys) {
        if (Object.hasOwn(marks, kind)) add(`${marks[kind]}:${key}`, keys.length === 1 ? 1 : several);
        if (Object.hasOwn(turned, kind)) add(`${turned[kind]}:${key}`, against);
      }
      if (Object.hasOwn(turned, kind) || !keys.length) continue;
      for (const word of stems) add(`w:${word}`, spoken);
    }
    if (advice.known) {
      for (const { mode, probability } of advice.causes) if (probability >= likely) add(`m:${mode}`, draw * probability);
    }
    return out;
  }

  // The stem itself where some text has it, else the nearest that two or more texts have.
  async spelt(said) {
    await this.index.load([`w:${said}`]);
    if (this.index.has(`w:${said}`)) return said;
    if (!this.#spellings.has(said)) this.#spellings.set(said, nearestStem(said, (await this.index.words()).get(said[0]) ?? []));
    return this.#spellings.get(said);
  }

  // { cases, pages }, best first; `wanted` [[facet, value]].
  async hits(terms, wanted, facets, mostCases) {
    const { pages: mostPages, scale } = this.model.find;
    const { cases, documents, facets: values } = this.model.index;
    const held = [...terms].filter(([term]) => this.index.has(term)).sort((a, b) => (a[0] < b[0] ? -1 : 1));
    const scores = this.index.scored(held, scale);
    const asked = wanted.map(([facet, value]) => {
      if (!Object.hasOwn(values, facet)) throw new Error(`Cases can't be filtered by ${facet}.`);
      return [facets.get(facet), values[facet].indexOf(value)];
    });
    const found = [
      ...bestOf(scores, 0, cases, mostCases, (number) => asked.every(([codes, code]) => codes[number] === code)),
      ...bestOf(scores, cases, documents, mostPages, () => true),
    ];
    const why = ({ number }) =>
      held
        .map(([term, weight]) => [term, rounded((weight * this.index.impact(term, number)) / scale, 9)])
        .filter(([, value]) => value > 0)
        .sort((a, b) => b[1] - a[1])
        .slice(0, WHY_SHOWN)
        .map(([term]) => term);
    const reasons = found.map(why);
    const lines = await this.index.lines(found.map(({ number }) => number));
    const out = { cases: [], pages: [] };
    found.forEach(({ number, score }, i) => {
      const line = lines[i];
      if (number < cases) out.cases.push({ id: line[0], title: line[1], score, why: reasons[i], line });
      else out.pages.push({ kind: line[0], title: line[1], url: line[3], score, line });
    });
    return out;
  }

  // Findings, causes and checks in the shape that the command prints.
  told({ findings, words }, { known, causes, plan }) {
    const names = this.model.lexicon.names.mode;
    return {
      understood: findings.map(({ kind, keys, start, end, at, value }) => ({
        kind,
        keys,
        start,
        end,
        ...(at?.length ? { at } : {}),
        ...((value ?? null) === null ? {} : { value: rounded(value, 9) }),
      })),
      words,
      known,
      causes: causes.map(({ mode, probability, places }) => ({
        mode,
        name: names[mode],
        probability: rounded(probability, 9),
        word: this.adviser.inWords(probability),
        places: places.slice(0, PLACES_SHOWN).map(([at, weight]) => ({ at, probability: rounded(weight, 9) })),
      })),
      checks: plan.checks.map(({ technique, at, probability, minutes, why }) => ({
        technique,
        at,
        probability: rounded(probability, 9),
        minutes: rounded(minutes, 3),
        why,
      })),
      minutes: rounded(plan.minutes, 6),
      missed: rounded(plan.missed, 9),
    };
  }
}
