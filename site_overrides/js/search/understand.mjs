// From what somebody types to findings: phrases, typing mistakes, negation, amounts, and the words left over.
import { foldAt, sortedLetters, stem, words } from "./text.mjs";

const DENIED = { symptom: "absent", place: "not-place", mode: "not-mode", technique: "clean" };
const AFFIRMED = { absent: "symptom", "not-place": "place", "not-mode": "mode", clean: "technique" };
const BESIDE = new Set(["kind", "setting", "condition", "refrigerant"]); // kinds of finding that no place belongs to
const SPARED = new Set(["symptom", "mode"]); // kinds that `nothing found` does not deny
const SINGLE = new Set(["setting", "kind", "refrigerant", "lost", "charge", "over", "age"]);

function tokensOf(text, found, lexicon) {
  const out = [];
  let [clause, last] = [0, 0];
  for (const hit of text.matchAll(/[a-z0-9]+/g)) {
    const [start, end] = [hit.index, hit.index + hit[0].length];
    clause += (text.slice(last, start).match(/[,.;:!?\n]/g) ?? []).length;
    last = end;
    const amount = found.find((a) => start < a.end && a.start < end);
    if (amount && !amount.loose) {
      clause += 1; // nothing is denied, and no phrase goes on, across an amount
      continue;
    }
    const word = hit[0];
    const parts = !lexicon.knows(stem(word)) && lexicon.joined.has(word) ? lexicon.joined.get(word) : [word];
    for (const part of parts) {
      if (parts.length === 1 && lexicon.articles.has(part)) continue;
      const own = stem(part);
      // a word that stands for itself may still be a slip inside a longer phrase: loosing charge
      const strange = !lexicon.knows(own);
      const slip = !amount && (part.length >= 4 || strange) && !/[0-9]/.test(part);
      const near = slip ? lexicon.near(part).filter((n) => n !== own) : [];
      const blurred = strange && part.length >= 4 && near.length > 0 && near.every((n) => lexicon.dull.has(n));
      const filler = !amount && (lexicon.fillers.has(part) || blurred);
      out.push({ word: part, stem: own, start, end, clause, filler, near, loose: Boolean(amount) });
    }
  }
  return out;
}

// Is it a slip of that stem even where it stands alone? Not a short word that lacks a letter, and not one as near to a
// word that says nothing alone: behnd.
function sureSlip({ word, near }, meant, lexicon) {
  return (word.length > 3 || sortedLetters(word) === sortedLetters(meant)) && near.every((one) => lexicon.alone.has(one));
}

// Phrases that begin at a token, one for each number of tokens taken: most words, then fewest slips.
function matchesAt(tokens, i, lexicon, skips) {
  const first = tokens[i];
  const best = new Map();
  const stands = ({ stem: own }) => lexicon.knows(own) && !lexicon.articles.has(own);
  [first.stem, ...first.near].forEach((start, k) => {
    for (const { pattern, meaning } of lexicon.starts.get(start) ?? []) {
      let [slips, known, j, skipped, n] = [k ? 1 : 0, k > 0 && stands(first), i + 1, 0, 1];
      while (n < pattern.length && j < tokens.length && tokens[j].clause === first.clause) {
        const token = tokens[j];
        if (token.stem === pattern[n]) [n, skipped] = [n + 1, 0];
        else if (token.near.includes(pattern[n])) [n, skipped, slips, known] = [n + 1, 0, slips + 1, known || stands(token)];
        else if (token.filler && skipped < skips) skipped += 1;
        else break;
        j += 1;
      }
      // known words alone are no slips; hising is no form of his
      if (n < pattern.length || (slips === n && known)) continue;
      if (slips && n === 1 && !sureSlip(first, start, lexicon)) continue;
      const old = best.get(j - i);
      if (!old || n > old.words || (n === old.words && slips < old.slips)) best.set(j - i, { length: j - i, words: n, slips, pattern, meaning });
    }
  });
  return [...best.values()].sort((a, b) => a.length - b.length);
}

// The tokens cut into phrases and single words: long phrases count by the square of their words.
function coverOf(tokens, lexicon, skips) {
  const best = Array.from({ length: tokens.length + 1 }, () => ({ score: 0, match: null }));
  for (let i = tokens.length - 1; i >= 0; i -= 1) {
    let [score, match] = [best[i + 1].score, null];
    for (const m of matchesAt(tokens, i, lexicon, skips)) {
      const value = m.words ** 2 - 0.5 * m.slips + best[i + m.length].score;
      if (value > score || (value === score && match === null)) [score, match] = [value, m];
    }
    best[i] = { score, match };
  }
  const out = [];
  for (let i = 0; i < tokens.length; i += best[i].match?.length ?? 1) out.push([i, best[i].match]);
  return out;
}

// The place that the rest of a phrase ends with.
function placeInside(tokens, lexicon, skips) {
  for (let i = 0; i < tokens.length; i += 1) {
    for (const m of matchesAt(tokens, i, lexicon, skips).reverse()) {
      if (i + m.length === tokens.length) return m.meaning.find((k) => k.kind === "place") ?? null;
    }
  }
  return null;
}

function itemsOf(tokens, lexicon, skips) {
  return coverOf(tokens, lexicon, skips).map(([i, m]) => {
    const { word, stem: own, start, end, clause, filler, loose } = tokens[i];
    if (!m) return { meaning: [], start, end, clause, word, stem: own, filler, loose, stems: [], inside: null };
    return {
      meaning: m.meaning,
      start,
      end: tokens[i + m.length - 1].end,
      clause,
      word,
      stem: own,
      filler,
      loose: false,
      stems: m.pattern.filter((s) => !lexicon.dull.has(s)),
      inside: m.length > 1 ? placeInside(tokens.slice(i + 1, i + m.length), lexicon, skips) : null,
    };
  });
}

// Of several meanings that of the likelier kind.
function likeliest({ meaning }, { order }) {
  for (const kind of order) {
    const found = meaning.find((m) => m.kind === kind);
    if (found) return found;
  }
  return null;
}

function hasOffice(item, name) {
  return item.meaning.some((m) => m.kind === name);
}

// Findings of a kind that stand at the end.
function tailOf(findings, kind) {
  let first = findings.length;
  while (first && findings[first - 1].kind === kind) first -= 1;
  return findings.slice(first);
}

// Each check at each place, or alone where no place was said.
function cleanOf(checks, places) {
  if (!places.length) return checks.map((c) => ({ ...c, kind: "clean" }));
  const at = (c, p) => ({ ...c, kind: "clean", at: p.keys, start: Math.min(c.start, p.start), end: Math.max(c.end, p.end) });
  return checks.flatMap((c) => places.map((p) => at(c, p)));
}

// Clauses in which a list of symptoms goes on to its `or`: `no dent, nick or hole`.
function listsOf(items, folded, lexicon) {
  const clauses = [];
  for (const item of items) {
    if (clauses.at(-1)?.[0].clause === item.clause) clauses.at(-1).push(item);
    else clauses.push([item]);
  }
  const found = new Set();
  for (let i = clauses.length - 1; i > 0; i -= 1) {
    const held = clauses[i];
    const kinds = held.map((item) => (likeliest(item, lexicon)?.kind === "symptom" ? "s" : "-")).join("");
    const ends = kinds === "s-s" && hasOffice(held[1], "carriers");
    if (!ends && (kinds !== "s" || !found.has(clauses[i + 1]?.[0].clause))) continue;
    if (/^[ \t-\r]*,[ \t-\r]*$/.test(folded.slice(clauses[i - 1].at(-1).end, held[0].start))) found.add(held[0].clause);
  }
  return found;
}

// Walks the items once and keeps the state of negation.
class NegationReader {
  constructor(lexicon, dull, reach, lists) {
    Object.assign(this, { lexicon, dull, lists, farthest: reach, findings: [], words: [] });
    Object.assign(this, { negated: false, reach: 0, fresh: false, carry: false, silent: false, clause: 0 });
    this.whole = false; // does the negation spare symptoms: `nothing found, hissing`?
    this.turned = false; // was the last item such a negation of what stood before it?
    this.since = 0; // the first finding behind the last comma, amount or `but`
    this.run = 0; // the first behind the last word of no meaning, too
    this.bridged = false; // was the last item `and`, behind a finding: `soaped the flare and nothing`?
    this.link = false; // did the last item join two of a list: `flares and coil`?
    this.linked = new Set(); // findings that such an item joins to the one before
  }

  // `alone`: nothing else stands in its clause.
  read(item, alone) {
    const { fresh } = this;
    this.readItem(item, alone);
    const bridge = hasOffice(item, "bridges");
    this.bridged = (fresh && bridge) || (this.bridged && item.filler);
    this.link = item.filler || bridge;
  }

  readItem(item, alone) {
    const is = (kind) => hasOffice(item, kind);
    const clears = is("clears");
    const denies = clears || is("negators_after");
    let { turned } = this;
    this.turned = false;
    if (item.clause !== this.clause) {
      if (alone && denies && this.checked() && this.turnLast(clears)) return;
      turned = false;
      this.close();
      this.clause = item.clause;
      this.negated = this.carry && this.lists.has(item.clause);
      this.reach = 0;
      this.fresh = this.carry = this.silent = false;
      this.since = this.run = this.findings.length;
    }
    if (item.loose) {
      this.close();
      this.negated = this.fresh = this.carry = false; // nothing is denied across an amount
      this.since = this.run = this.findings.length;
      return;
    }
    const finding = likeliest(item, this.lexicon);
    const lastIsMeant = this.fresh || (this.bridged && this.saidCheck());
    if (denies && lastIsMeant && !this.negated && this.turnLast(clears)) {
      this.turned = clears;
      return;
    }
    if (!finding && is("negators")) {
      this.silent = this.fresh && this.findings.at(-1)?.kind === "technique";
      [this.negated, this.reach, this.carry, this.whole] = [true, 0, false, clears];
    } else if (!finding && turned && this.lexicon.prepositions.has(item.word)) {
      [this.negated, this.reach, this.whole] = [true, 0, true]; // flares ok, nothing found at the coil
    } else if (!finding && is("carriers") && this.carry) {
      [this.negated, this.reach] = [true, 0];
    } else if (!finding && is("enders")) {
      this.negated = this.carry = this.fresh = false;
      this.since = this.run = this.findings.length;
    } else if (!finding) this.plainWord(item);
    else this.finding(finding, item);
  }

  // May a check, or the place of one, be denied that was said last?
  checked() {
    return this.fresh && !this.negated && this.saidCheck();
  }

  saidCheck() {
    const places = this.findings.at(-1)?.kind === "place" ? this.list().length : 0;
    return this.findings[this.findings.length - places - 1]?.kind === "technique";
  }

  // Denies what was said last; `clears`: only a check or a place, and none where a sign was seen.
  turnLast(clears = false) {
    const last = this.findings.at(-1);
    if (!last || !Object.hasOwn(DENIED, last.kind) || (clears && !this.cleared(last))) return false;
    const count = this.findings.length;
    let places = last.kind === "place" ? this.list() : [];
    const checks = this.checks(count - places.length);
    if (last.kind === "technique") places = this.checkedPlaces(checks.length);
    if (checks.length) this.findings.splice(count - places.length - checks.length, Infinity, ...cleanOf(checks, places));
    else if (last.kind === "place") {
      const denied = places.length > 1 && this.ofSign(places.length) ? places.slice(1) : places;
      this.findings.splice(count - denied.length, Infinity, ...denied.map((f) => ({ ...f, kind: "not-place" })));
    } else this.findings[count - 1] = { ...last, kind: DENIED[last.kind] };
    this.fresh = !this.findings.at(-1).at.length; // `visual clean at the coil`: the place may follow
    return true;
  }

  // The place said last, and those that are joined to it.
  list() {
    let first = this.findings.length - 1;
    while (first > this.since && this.linked.has(first) && this.findings[first - 1].kind === "place") first -= 1;
    return this.findings.slice(first);
  }

  // The technique said last before that finding, and those said in one go with it: `soap and dye clean`.
  checks(end) {
    const together = tailOf(this.findings.slice(this.run, end), "technique");
    return together.length ? together : tailOf(this.findings.slice(this.since, end), "technique").slice(-1);
  }

  // Does the first of so many last places belong to a sign: `oil at the flare`?
  ofSign(places) {
    const at = this.findings.length - places - 1;
    return at >= this.since && this.findings[at].kind === "symptom" && this.atLeak(this.findings[at]);
  }

  cleared({ kind }) {
    return kind === "technique" || (kind === "place" && !this.ofSign(1));
  }

  // The places before the techniques said last, `flare checked with soap`, but not those of a sign.
  checkedPlaces(checks) {
    const before = this.findings.slice(this.since, this.findings.length - checks);
    const places = tailOf(before, "place");
    return before.slice(0, before.length - places.length).every((f) => BESIDE.has(f.kind)) ? places : [];
  }

  plainWord(item) {
    if (item.filler || this.dull.has(item.word)) return;
    this.reach += 1;
    this.carry = false;
    if (this.negated && this.reach <= this.farthest) return;
    this.negated = this.fresh = false;
    if (!item.meaning.length) this.run = this.findings.length;
    if (item.word.length > 1 && !item.meaning.length) this.words.push([item.word, item.stem]);
  }

  finding(m, item) {
    const at = this.findings.length - 1;
    const last = this.findings[at] ?? null;
    const attached = m.kind === "place" && this.fresh && last !== null;
    if (attached && (last.kind === "clean" || last.kind === "absent") && !last.at.length) {
      this.findings[at] = { ...last, at: m.keys, end: item.end };
      [this.carry, this.negated] = [true, false];
      return;
    }
    let { kind } = m;
    if (this.negated && this.silent && kind !== "symptom" && last !== null) {
      // it is the technique that showed nothing: `dye never showed at the flare`
      this.findings[at] = { ...last, kind: "clean", at: kind === "place" ? m.keys : [] };
      this.negated = this.silent = false;
      if (kind === "place") {
        this.findings[at].end = item.end;
        this.carry = this.fresh = true;
        return;
      }
    }
    if (this.negated && kind === "condition" && !this.whole && !this.reach) {
      this.negated = this.fresh = false;
      this.carry = true;
      return;
    }
    if (this.negated && Object.hasOwn(DENIED, kind) && !(this.whole && SPARED.has(kind))) {
      kind = DENIED[kind];
      this.carry = true;
    } else if (attached && last.kind === "symptom" && !this.atLeak(last)) kind = "near";
    const { start, end, stems } = item;
    const made = { kind, keys: m.keys, start, end, value: null, at: [], stems };
    this.linked[this.link ? "add" : "delete"](this.findings.length);
    this.findings.push(made);
    if (kind === "symptom" && item.inside) {
      this.findings.push({ kind: this.atLeak(made) ? "place" : "near", keys: item.inside.keys, start, end, value: null, at: [], stems: [] });
    }
    this.silent = false;
    [this.negated, this.fresh] = [false, true];
  }

  // A technique that was denied at the end of its clause showed nothing: `the dye never showed`.
  close() {
    if (this.silent && this.negated && this.findings.at(-1)?.kind === "technique") this.turnLast();
    this.silent = false;
  }

  atLeak(finding) {
    return this.lexicon.atLeak.has(finding.keys[0]);
  }
}

// Of two that contradict or repeat each other the later counts; one setting, kind, refrigerant and amount.
function lastWordOf(findings) {
  let out = [];
  const same = (a, b) => a.length === b.length && a.every((key, i) => key === b[i]);
  for (const f of findings) {
    const base = AFFIRMED[f.kind] ?? f.kind;
    out = out.filter((o) =>
      SINGLE.has(f.kind) ? o.kind !== f.kind : (AFFIRMED[o.kind] ?? o.kind) !== base || !same(o.keys, f.keys) || !same(o.at, f.at),
    );
    out.push(f);
  }
  return out;
}

// { findings, words, stems }; `today` is { year, month, day }, `reading` the model's limits.
export function understand(raw, lexicon, amounts, today, reading) {
  // whole characters, as Python counts them; folded none takes two units
  const { folded, begins, ends } = foldAt(Array.from(raw.slice(0, 2 * reading.longest)).slice(0, reading.longest));
  // 407 c is a refrigerant and no temperature
  const joined = ({ start, end }) => words(folded.slice(start, end)).join("");
  const found = amounts(folded, today).filter((a) => a.kind !== "reading" || !lexicon.knows(joined(a)));
  const items = itemsOf(tokensOf(folded, found, lexicon), lexicon, reading.skips);
  const dull = new Set(found.length ? reading.beside : []);
  const reader = new NegationReader(lexicon, dull, reading.reach, listsOf(items, folded, lexicon));
  items.forEach((item, i) => reader.read(item, items[i - 1]?.clause !== item.clause && items[i + 1]?.clause !== item.clause));
  reader.close();
  const said = found.filter((a) => a.kind !== "reading").map(({ kind, value, start, end }) => ({ kind, keys: [], start, end, value, at: [], stems: [] }));
  const read = reader.findings.map((f) => (f.kind === "place" && amounts.measuredAt(folded, found, f.end) ? { ...f, kind: "near" } : f));
  const findings = lastWordOf([...read, ...said].sort((a, b) => a.start - b.start || a.end - b.end));
  return {
    findings: findings.map((f) => ({ ...f, start: begins[f.start], end: ends[f.end - 1] })),
    words: reader.words.map(([word]) => word),
    stems: [...new Set(reader.words.map(([, own]) => own))],
  };
}

// Findings as evidence; `checks` are those made beside the text.
export function evidenceOf({ findings }, checks = []) {
  const of = (kind) => findings.filter((f) => f.kind === kind);
  const one = (kind) => of(kind).at(-1)?.keys[0] ?? null;
  const value = (kind) => of(kind).at(-1)?.value ?? null;
  const keys = (kind) => [...new Set(of(kind).map((f) => f.keys[0]))].sort();
  const [lost, over, charge] = [value("lost"), value("over"), value("charge")];
  const rate = lost !== null && over ? lost / over : null;
  const seen = keys("symptom");
  return {
    symptoms: seen,
    absent: keys("absent").filter((key) => !seen.includes(key)),
    conditions: keys("condition"),
    setting: one("setting"),
    kind: one("kind"),
    refrigerant: one("refrigerant"),
    age: value("age"),
    rate,
    charge,
    share: rate === null || !charge ? null : rate / charge,
    places: of("place").map((f) => f.keys),
    notPlaces: of("not-place").map((f) => f.keys),
    named: keys("mode"),
    ruledOut: keys("not-mode"),
    checks: [...of("clean").filter((f) => f.at.length).map((f) => ({ technique: f.keys[0], at: f.at, result: "clean" })), ...checks],
  };
}
