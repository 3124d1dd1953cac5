// From what somebody types to findings: phrases, typing mistakes, negation, amounts, and the words left over.
import { NegationReader, listsOf } from "./negation.mjs";
import { itemsOf, tokensOf } from "./phrases.mjs";
import { foldAt, words } from "./text.mjs";

const AFFIRMED = { absent: "symptom", "not-place": "place", "not-mode": "mode", clean: "technique" };
const SINGLE = new Set(["setting", "kind", "refrigerant", "lost", "charge", "over", "age"]);

// Does `a` name some of the kinds of equipment that `b` may mean?
function narrower(a, b) {
  return a.kind === b.kind && a.keys.length < b.keys.length && a.keys.every((key) => b.keys.includes(key));
}

// Of two that contradict or repeat each other the later counts; one setting, kind, refrigerant and amount. What leaves
// open which kind is meant does not take the place of one that it may mean: a rooftop heat pump.
function lastWordOf(findings) {
  let out = [];
  const same = (a, b) => a.length === b.length && a.every((key, i) => key === b[i]);
  for (const f of findings) {
    if (f.kind === "kind" && f.keys.length > 1 && out.some((o) => narrower(o, f))) continue;
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
  const read = reader.findings.map((f) => (f.kind === "place" && amounts.measuredAt(folded, found, f) ? { ...f, kind: "near" } : f));
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
    kinds: of("kind").at(-1)?.keys ?? [],
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
