// The part of JSON Schema that the case schema uses, and its errors told in plain words, in the order of the schema.
import { isDay, isPartialDay } from "./days.mjs";
import { didYouMean, json, length, pathOf, quoted, short } from "./text.mjs";

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
const LONGEST_EXAMPLE = 90;

function exampleOf(schema) {
  const first = schema.examples?.[0];
  if (first === undefined) return "";
  const text = json(first);
  return typeof first === "object" && first !== null ? text : text.replace(/^"+|"+$/g, "");
}

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
      writes.set(schema, example ? `write for example ${example}` : "");
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
    if ("x-quantity" in schema) return `write a number with its unit, for example "${exampleOf(schema)}"`;
    const fits = "pattern" in schema ? matches(schema.pattern, text) : true;
    if (!fits || "format" in schema || "x-vocabulary" in schema) return write || "put it in quotes";
    return `put it in quotes: "${short(text)}"`;
  }

  function typeFault(value, wanted, schema, write, atRoot) {
    const words = TYPES[wanted];
    if (value === null) return ["is empty", `${write || `write ${words}`}, or leave it out`];
    if (wanted === "string" && typeof value === "number") {
      return [`${short(value)} is a number, not text`, textHint(json(value), schema, write)];
    }
    if (wanted === "string" && typeof value === "boolean") {
      return [`${short(value)} is yes or no, not text`, textHint(short(value), schema, write)];
    }
    if (wanted === "boolean") return [`"${short(value)}" is not true or false`, "write true or false in small letters"];
    if ((wanted === "integer" || wanted === "number") && typeof value === "string") {
      const zeros = /^0+([0-9]+)$/.exec(value);
      const digits = `for example ${exampleOf(schema) || "6"}`;
      return [`"${short(value)}" is text, not ${words}`, zeros ? `write ${short(zeros[1])}` : `write plain digits, ${digits}`];
    }
    if (wanted === "array") {
      return [`${quoted(value)} is not a list`, typeof value === "string" ? `write [${short(value)}]` : write];
    }
    if (wanted === "object" && atRoot && schema.required?.length) {
      const begin = `write one key a line, and begin with \`${schema.required[0]}:\``;
      return [`${quoted(value)} is not a block of keys`, begin];
    }
    return [`${quoted(value)} is not ${words}`, write || `write ${words}`];
  }

  function missing(key, schema) {
    const sub = schema.properties[key] ?? {};
    const told = exampleOf(sub);
    if (listed(sub)) return `add \`${key}:\` and one of ${sub.enum.join(", ")}`;
    if (told && length(told) < LONGEST_EXAMPLE) return `add it, for example \`${key}: ${told}\``;
    return `add \`${key}:\` (${sub.description ?? ""})`;
  }

  // Keyword -> faults [message, what to write, { rule, at, onKey }] of a value.
  const KEYWORDS = {
    *type(value, wanted, schema, write, pointer) {
      if (!IS[wanted](value)) yield typeFault(value, wanted, schema, write, !pointer.length);
    },
    *"x-vocabulary"(value, kind) {
      if (typeof value !== "string" || vocabulary.has(kind, value)) return;
      yield [`"${short(value)}" is not ${nouns[kind]}`, vocabulary.suggest(kind, value), { rule: "reference" }];
    },
    *"x-quantity"(value, dimension) {
      if (typeof value !== "string" || !value) return; // of an empty text minLength tells
      try {
        read(value, dimension);
      } catch (fault) {
        if (!(fault instanceof QuantityError)) throw fault;
        yield [fault.message, fault.instead, { rule: "quantity" }];
      }
    },
    *format(value, name) {
      if (name !== "date" || typeof value !== "string" || isDay(value)) return;
      yield [`"${short(value)}" is not a day`, "write YYYY-MM-DD, for example 2025-02-03", { rule: "date" }];
    },
    *pattern(value, pattern, _, write) {
      if (typeof value !== "string") return;
      if (value.includes("\n") || !matches(pattern, value)) {
        yield [`"${short(value)}" does not have the form wanted here`, write];
      } else if (pattern === partialDay && !isPartialDay(value)) {
        const instead = "write YYYY, YYYY-MM or YYYY-MM-DD, for example 2022-06";
        yield [`"${short(value)}" does not exist`, instead, { rule: "date" }];
      }
    },
    *required(value, keys, schema) {
      if (!isMap(value)) return;
      for (const key of keys) if (!Object.hasOwn(value, key)) yield [`"${key}" is missing`, missing(key, schema)];
    },
    *additionalProperties(value, allowed, schema) {
      if (allowed !== false || !isMap(value)) return;
      const known = Object.keys(schema.properties ?? {});
      const some = `known keys: ${known.slice(0, KEYS_SHOWN).join(", ")}${known.length > KEYS_SHOWN ? ", …" : ""}`;
      for (const [key, inner] of Object.entries(value)) {
        if (known.includes(key)) continue;
        const comma = inner === null && key.includes(" "); // {note: Cold, wet and windy}
        const instead = comma ? "put text that holds a comma in quotes" : didYouMean(key, known, some, ALIKE);
        yield [`"${short(key)}" is not a key here`, instead, { rule: "schema/unknown-key", at: key }];
      }
    },
    *enum(value, words) {
      if (words.includes(value)) return;
      const all = `write one of ${words.join(", ")}`;
      if (value === null) yield ["is empty", all];
      else yield [`${quoted(value)} is not one of the words allowed here`, didYouMean(short(value), words, all, ALIKE)];
    },
    *minLength(value, least, _, write) {
      if (typeof value === "string" && length(value) < least) {
        yield [value ? `"${short(value)}" is too short` : "is empty", write];
      }
    },
    *maxLength(value, fit) {
      if (typeof value !== "string" || value.length <= fit) return;
      const count = length(value);
      if (count > fit) yield [`is ${count} characters long; at most ${fit} fit`, "shorten it"];
    },
    *minItems(value, least, _, write) {
      if (Array.isArray(value) && value.length < least) yield ["the list is empty", write || "add an entry"];
    },
    *maxItems(value, fit) {
      if (Array.isArray(value) && value.length > fit) {
        yield [`has ${value.length} entries; at most ${fit} fit`, "leave some out"];
      }
    },
    *uniqueItems(value, wanted) {
      if (!wanted || !Array.isArray(value)) return;
      const seen = new Set();
      for (const [i, item] of value.entries()) {
        const sign = json(item, true);
        if (seen.has(sign)) yield [`"${short(item)}" is in the list twice`, "keep one", { rule: "schema/twice", at: i }];
        seen.add(sign);
      }
    },
    *minimum(value, least) {
      if (typeof value === "number" && value < least) yield [`${short(value)} is too small`, `write at least ${json(least)}`];
    },
    *maximum(value, fit) {
      if (typeof value === "number" && value > fit) yield [`${short(value)} is too large`, `write at most ${json(fit)}`];
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
            message: `${pathOf(pointer) || "the file"}: ${message}`,
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
        const message = `has more than ${most} errors; the first ${most} are told`;
        found.push({ pointer: [], message, instead: "correct them and check again", rule: "schema/more", severity: "error" });
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
