// What of a text is denied: findings in the order of its items, by the words that deny, join and end.
import { hasOffice, likeliest } from "./phrases.mjs";

const DENIED = { symptom: "absent", place: "not-place", mode: "not-mode", technique: "clean" };
const BESIDE = new Set(["kind", "setting", "condition", "refrigerant"]); // kinds of finding that no place belongs to
const SPARED = new Set(["symptom", "mode"]); // kinds that `nothing found` does not deny

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
export function listsOf(items, folded, lexicon) {
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
export class NegationReader {
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
    const atLeak = this.atLeak(made);
    // `ice on coil` does not say which coil
    if (kind === "symptom" && item.inside && (atLeak || item.inside.keys.length === 1)) {
      this.findings.push({ kind: atLeak ? "place" : "near", keys: item.inside.keys, start, end, value: null, at: [], stems: [] });
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
