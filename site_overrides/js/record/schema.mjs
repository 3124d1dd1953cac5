// The part of JSON Schema that the case schema uses, and its errors told in plain words, in the order of the schema.
import { say } from "../say.mjs";
import { isDay, isPartialDay } from "./days.mjs";
import { didYouMean, json, length, nearest, pathOf, quoted, short } from "./text.mjs";

const TYPES = {
  string: "text",
  integer: "a whole number",
  number: "a number",
  boolean: "true or false",
  array: "a list",
  object: "a block of keys",
};
const isMap = (value) => typeof value === "object" && value !== null && !Array.isArray(value);
const IS = {
  string: (value) => typeof value === "string",
  integer: (value) => Number.isInteger(value),
  number: (value) => typeof value === "number",
  boolean: (value) => typeof value === "boolean",
  array: Array.isArray,
  object: isMap,
};
const ALIKE = 70;
const KEYS_SHOWN = 8;
const DECIMALS = /^[0-9]+(?: [^ ]+)?$/;
const LONGEST_EXAMPLE = 90;

function exampleOf(schema) {
  const first = schema.examples?.[0];
  if (first === undefined) return "";
  const text = json(first);
  return typeof first === "object" && first !== null ? text : text.replace(/^"+|"+$/g, "");
}

// Is a text neither too short nor too long? Else that is told, and no more.
function fits(text, { minLength = 0, maxLength = Infinity }) {
  const count = length(text);
  return minLength <= count && count <= maxLength;
}

// Keys that somebody wrote in another way, which is told: they are not missing.
const meantOf = (data, known) => new Set(Object.keys(data).filter((key) => !known.includes(key)).map((key) => nearest(key, known, ALIKE)));

// The words of a list that is part of the schema; a written-out vocabulary is none.
const listed = (schema) => ("x-vocabulary" in schema ? null : schema.enum);

export function make(record, root, { vocabulary, read, QuantityError }) {
  const { nouns, shared, most_findings: most } = record;
  const patterns = new Map();
  const writes = new WeakMap();
  const partialDay = Object.values(shared)[0].$defs.installed.pattern;

  const matches = (pattern, text) => {
    if (!patterns.has(pattern)) patterns.set(pattern, new RegExp(pattern));
    return patterns.get(pattern).test(text);
  };

  function writeOf(schema) {
    if (!writes.has(schema)) {
      const example = exampleOf(schema);
      writes.set(schema, example ? say("write for example {example}", { example }) : "");
    }
    return writes.get(schema);
  }

  // Where "urn:…:common:1#/$defs/case_id" leads.
  function resolve(ref) {
    const [name, path] = ref.split("#");
    return path.split("/").slice(1).reduce((node, part) => node[part], name ? shared[name] : root);
  }

  // What to write where text is wanted and a number, true or false stands.
  function textHint(text, schema, write) {
    if ("x-quantity" in schema) return say('write a number with its unit, for example "{example}"', { example: exampleOf(schema) });
    const fits = "pattern" in schema ? matches(schema.pattern, text) : true;
    if (!fits || "format" in schema || "x-vocabulary" in schema) return write || say("put it in quotes");
    return say('put it in quotes: "{value}"', { value: short(text) });
  }

  function typeFault(value, wanted, schema, write, atRoot) {
    const words = say(TYPES[wanted]);
    if (value === null) return [say("is empty"), say("{write}, or leave it out", { write: write || say("write {words}", { words }) })];
    if (wanted === "string" && typeof value === "number") {
      return [say("{value} is a number, not text", { value: short(value) }), textHint(json(value), schema, write)];
    }
    if (wanted === "string" && typeof value === "boolean") {
      return [say("{value} is yes or no, not text", { value: short(value) }), textHint(short(value), schema, write)];
    }
    if (wanted === "boolean") return [say('"{value}" is not true or false', { value: short(value) }), say("write true or false in small letters")];
    if ((wanted === "integer" || wanted === "number") && typeof value === "string") {
      const zeros = /^0+([0-9]+)$/.exec(value);
      const instead = zeros ? say("write {words}", { words: short(zeros[1]) }) : say("write plain digits, for example {example}", { example: exampleOf(schema) || "6" });
      return [say('"{value}" is text, not {words}', { value: short(value), words }), instead];
    }
    if (wanted === "array") {
      return [say("{value} is not a list", { value: quoted(value) }), typeof value === "string" ? say("write {words}", { words: `[${short(value)}]` }) : write];
    }
    if (wanted === "object" && atRoot && schema.required?.length) {
      const begin = say("write one key a line, and begin with {key}", { key: `\`${schema.required[0]}:\`` });
      return [say("{value} is not {words}", { value: quoted(value), words }), begin];
    }
    return [say("{value} is not {words}", { value: quoted(value), words }), write || say("write {words}", { words })];
  }

  function missing(key, schema) {
    const sub = schema.properties[key] ?? {};
    const told = exampleOf(sub);
    if (listed(sub)) return say("add {key} and one of {words}", { key: `\`${key}:\``, words: sub.enum.join(", ") });
    if (told && length(told) < LONGEST_EXAMPLE) return say("add it, for example {example}", { example: `\`${key}: ${told}\`` });
    return say("add {key} ({what})", { key: `\`${key}:\``, what: say(sub.description ?? "") });
  }

  // Keyword -> faults [message, what to write, { rule, at }] of a value.
  const KEYWORDS = {
    *type(value, wanted, schema, write, pointer) {
      if (!IS[wanted](value)) yield typeFault(value, wanted, schema, write, !pointer.length);
    },
    *"x-vocabulary"(value, kind) {
      if (typeof value !== "string" || vocabulary.has(kind, value)) return;
      yield [say('"{value}" is not {noun}', { value: short(value), noun: nouns[kind] }), vocabulary.suggest(kind, value), { rule: "reference" }];
    },
    *"x-quantity"(value, dimension, schema) {
      if (typeof value !== "string" || !fits(value, schema)) return;
      try {
        read(value, dimension);
      } catch (fault) {
        if (!(fault instanceof QuantityError)) throw fault;
        yield [fault.message, fault.instead, { rule: "quantity" }];
      }
    },
    *format(value, name) {
      if (name !== "date" || typeof value !== "string" || isDay(value)) return;
      yield [say('"{value}" is not a day', { value: short(value) }), say("write YYYY-MM-DD, for example 2025-02-03"), { rule: "date" }];
    },
    *pattern(value, pattern, schema, write) {
      if (typeof value !== "string" || !fits(value, schema)) return;
      if (value.includes("\n") || !matches(pattern, value)) {
        yield [say('"{value}" does not have the form wanted here', { value: short(value) }), write];
      } else if (pattern === partialDay && !isPartialDay(value)) {
        const instead = say("write YYYY, YYYY-MM or YYYY-MM-DD, for example 2022-06");
        yield [say('"{value}" does not exist', { value: short(value) }), instead, { rule: "date" }];
      }
    },
    *required(value, keys, schema) {
      if (!isMap(value)) return;
      const meant = meantOf(value, Object.keys(schema.properties));
      for (const key of keys) if (!Object.hasOwn(value, key) && !meant.has(key)) yield [say("{key} is missing", { key: `"${key}"` }), missing(key, schema)];
    },
    *additionalProperties(value, allowed, schema) {
      if (allowed !== false || !isMap(value)) return;
      const known = Object.keys(schema.properties ?? {});
      const some = say("known keys: {keys}", { keys: `${known.slice(0, KEYS_SHOWN).join(", ")}${known.length > KEYS_SHOWN ? ", …" : ""}` });
      const entries = Object.entries(value);
      for (const [i, [key, inner]] of entries.entries()) {
        if (known.includes(key)) continue;
        const cut = inner === null && Number.isInteger(entries[i - 1]?.[1]) && DECIMALS.test(key); // {charge: 1,1 kg}
        const comma = inner === null && key.includes(" "); // {note: Cold, wet and windy}
        const quotes = comma ? say("put text that holds a comma in quotes") : didYouMean(key, known, some, ALIKE);
        const instead = cut ? say("write decimals with a point, as in 1.1 kg") : quotes;
        yield [say('"{key}" is not a key here', { key: short(key) }), instead, { rule: "schema/unknown-key", at: key }];
      }
    },
    *enum(value, words) {
      if (words.includes(value)) return;
      const all = say("write one of {words}", { words: words.join(", ") });
      if (value === null) yield [say("is empty"), all];
      else yield [say("{value} is not one of the words allowed here", { value: quoted(value) }), didYouMean(short(value), words, all, ALIKE)];
    },
    *minLength(value, least, _, write) {
      if (typeof value === "string" && length(value) < least) {
        yield [value ? say('"{value}" is too short', { value: short(value) }) : say("is empty"), write || say("write at least {n} characters", { n: least })];
      }
    },
    *maxLength(value, fit) {
      if (typeof value !== "string" || value.length <= fit) return;
      const count = length(value);
      if (count > fit) yield [say("is {n} characters long; at most {most} fit", { n: count, most: fit }), say("shorten it")];
    },
    *minItems(value, least, _, write) {
      if (Array.isArray(value) && value.length < least) yield [say("the list is empty"), write || say("add an entry")];
    },
    *maxItems(value, fit) {
      if (Array.isArray(value) && value.length > fit) {
        yield [say("has {n} entries; at most {most} fit", { n: value.length, most: fit }), say("leave some out")];
      }
    },
    *uniqueItems(value, wanted) {
      if (!wanted || !Array.isArray(value)) return;
      const seen = new Set();
      for (const [i, item] of value.entries()) {
        const sign = json(item, true);
        if (seen.has(sign)) yield [say('"{value}" is in the list twice', { value: short(item) }), say("keep one"), { rule: "schema/twice", at: i }];
        seen.add(sign);
      }
    },
    *minimum(value, least) {
      if (typeof value === "number" && value < least) yield [say("{value} is too small", { value: short(value) }), say("write at least {least}", { least: json(least) })];
    },
    *maximum(value, fit) {
      if (typeof value === "number" && value > fit) yield [say("{value} is too large", { value: short(value) }), say("write at most {most}", { most: json(fit) })];
    },
  };

  function* findings(value, schema, pointer) {
    for (const [keyword, wanted] of Object.entries(schema)) {
      if (keyword === "$ref") {
        yield* findings(value, resolve(wanted), pointer);
      } else if (keyword === "properties") {
        if (!isMap(value)) continue;
        for (const [key, inner] of Object.entries(wanted)) {
          if (Object.hasOwn(value, key)) yield* findings(value[key], inner, [...pointer, key]);
        }
      } else if (keyword === "items") {
        if (!Array.isArray(value)) continue;
        for (const [i, item] of value.entries()) yield* findings(item, wanted, [...pointer, i]);
      } else if (Object.hasOwn(KEYWORDS, keyword) && !(keyword === "enum" && !listed(schema))) {
        for (const [message, instead, more = {}] of KEYWORDS[keyword](value, wanted, schema, writeOf(schema), pointer)) {
          yield {
            pointer: more.at === undefined ? pointer : [...pointer, more.at],
            message: `${pathOf(pointer) || say("the file")}: ${message}`,
            instead,
            rule: more.rule ?? `schema/${keyword}`,
            severity: "error",
          };
        }
      }
    }
  }

  // What the schema says against a record.
  function check(data) {
    const found = [];
    for (const finding of findings(data, root, [])) {
      if (found.length === most) {
        const message = say("has more than {n} errors; the first {n} are told", { n: most });
        found.push({ pointer: [], message, instead: say("correct them and check again"), rule: "schema/more", severity: "error" });
        break;
      }
      found.push(finding);
    }
    return found;
  }

  // The schema of a field, shared parts followed; undefined where there is no such field.
  function about(pointer) {
    let found = root;
    for (const part of pointer) {
      found = typeof part === "number" ? found?.items : found?.properties?.[part];
      if (found?.$ref) found = { ...resolve(found.$ref), ...found };
    }
    return found;
  }

  return { check, about };
}
