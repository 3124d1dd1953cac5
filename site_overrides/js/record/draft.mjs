// A record in the making: a plain object shaped like the record, with quantities and days as they are written.
import { speak } from "../say.mjs";
import { systemFacts } from "./facts.mjs";
import { QuantityError, make as makeQuantity } from "./quantity.mjs";
import { make as makeRules } from "./rules.mjs";
import { make as makeSchema } from "./schema.mjs";
import { pathOf } from "./text.mjs";
import { make as makeVocabulary } from "./vocabulary.mjs";
import { make as makeYaml } from "./yaml.mjs";

export { systemFacts };

// Signs that a record can't hold: control characters, halves of a pair, non-characters.
const REFUSED = /[^\n\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufffd\u{10000}-\u{10ffff}]/gu;
const ENGLISH = [];
const engines = new WeakMap();

// Everything that works with one data/record.json and one case schema, made once.
function engine(record, schema) {
  speak(record.says ?? ENGLISH);
  if (!engines.has(record)) engines.set(record, new WeakMap());
  const made = engines.get(record);
  if (!made.has(schema)) {
    const vocabulary = makeVocabulary(record);
    const { read } = makeQuantity(record);
    const { check, about } = makeSchema(record, schema, { vocabulary, read, QuantityError });
    made.set(schema, { check, about, told: makeRules(record, { vocabulary, read }), compose: makeYaml(record, about) });
  }
  return made.get(schema);
}

// The draft as it will be written: tabs become spaces, line ends \n, what no file can hold goes, so does `undefined`.
export function clean(value) {
  if (typeof value === "string") return value.replace(/\r\n?/g, "\n").replace(/\t/g, " ").replace(REFUSED, "");
  if (Array.isArray(value)) return value.filter((item) => item !== undefined).map(clean);
  if (value === null || typeof value !== "object") return value;
  const kept = Object.entries(value).filter(([, inner]) => inner !== undefined);
  return Object.fromEntries(kept.map(([key, inner]) => [clean(key), clean(inner)]));
}

// The text of the record's file.
export function asYaml(draft, { record, schema }) {
  return engine(record, schema).compose(clean(draft));
}

const shown = (finding) => ({ path: pathOf(finding.pointer), ...finding });

// What `leaklore check` would say, as [{ pointer, path, message, instead, severity, rule }]: the schema's errors,
// or where there are none, what the rules say. `world` { record, schema, systems, cases, today, photos }:
// data/record.json, data/schema/case.schema.json, { systems } as register.mjs reads them, numbers of all cases (both may be null),
// "2025-12-31", names of the pictures attached.
export function checkDraft(draft, { record, schema, ...world }) {
  const { check, told } = engine(record, schema);
  const data = clean(draft);
  const found = check(data);
  if (found.length) return found.map(shown);
  return told(data, { ...world, cases: world.cases && [...world.cases, data.id] }).map(shown);
}

// What the rules say against the fields that are there already: for what is missing the schema's example stands in,
// and nothing is told of that. Empty while the schema finds fault with a field that is there.
export function checkSoFar(draft, { record, schema, ...world }) {
  const { check, told } = engine(record, schema);
  const mine = clean(draft);
  const [example] = schema.examples;
  const data = { ...example, ...mine, cause: { ...example.cause, ...mine.cause } };
  if (!("system" in mine)) delete data.system;
  if (check(data).length) return [];
  const there = ({ pointer: [field], rule }) => field in mine && (record.waits_for[rule] ?? field) in mine;
  return told(data, world).filter((finding) => finding.pointer.length && there(finding)).map(shown);
}
