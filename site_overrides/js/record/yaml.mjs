// A record as the text of its file: fields in the schema's order, small maps and lists on one line, as `leaklore new`
// writes it. Text stands plain only where no reader of YAML can take it for anything else, else in double quotes;
// what has several lines stands behind `|`.

const PLAIN = /^(?:[\p{L}\p{N}(/]|-[0-9])(?:[^\p{C}\p{Z}]| (?! |$))*$/u;
const CLOCK = /^-?[0-9][0-9_]*(?::[0-9]+)+/;
const ESCAPED = /[\\"\t\n\r\x85\u2028\u2029\ufeff]/g;
const NAMED = { "\n": "\\n", "\t": "\\t", "\\": "\\\\", '"': '\\"' };
const BLOCK = /^[^\s\x85\u2028\u2029\ufeff][^\t\r\x85\u2028\u2029\ufeff]*$/;
const BLANK_ROW = /^[^\S\n]+$/m;

const escaped = (sign) => NAMED[sign] ?? `\\u${sign.codePointAt(0).toString(16).padStart(4, "0")}`;
const isMap = (value) => typeof value === "object" && value !== null && !Array.isArray(value);
const holdsMap = (value) => (Array.isArray(value) ? value : Object.values(value)).some(isMap);

// A number without a power of ten, which a record can't hold.
function figure(number) {
  const [digits, power] = String(number).split("e-");
  if (power === undefined) return digits;
  const sign = number < 0 ? "-" : "";
  return `${sign}0.${"0".repeat(power - 1)}${digits.replace(/[-.]/g, "")}`;
}

export function make({ layout }, about) {
  const elsewhere = new RegExp(`^(?:${layout.elsewhere})$`, "i"); // a number or yes and no to other readers of YAML

  // The same with every map in the schema's order; keys that the schema does not know come last.
  function ordered(value, pointer) {
    if (Array.isArray(value)) return value.map((item) => ordered(item, [...pointer, 0]));
    if (!isMap(value)) return value;
    const known = Object.keys(about(pointer)?.properties ?? {}).filter((key) => Object.hasOwn(value, key));
    const keys = [...known, ...Object.keys(value).filter((key) => !known.includes(key))];
    return Object.fromEntries(keys.map((key) => [key, ordered(value[key], [...pointer, key])]));
  }

  function scalar(text, flow) {
    const safe = PLAIN.test(text) && !elsewhere.test(text) && !CLOCK.test(text) && !/: |:$| #/.test(text);
    if (safe && !(flow && /[,[\]{}?]|:[^\p{L}\p{N}]/u.test(text))) return text;
    return `"${text.replace(ESCAPED, escaped)}"`;
  }

  // Text behind a key: several lines as a block, everything else on the key's line.
  function textOf(text, indent) {
    if (!text.includes("\n") || !BLOCK.test(text) || BLANK_ROW.test(text)) return scalar(text, false);
    const rows = text.replace(/\n$/, "").split("\n");
    const sign = !text.endsWith("\n") ? "|-" : text.endsWith("\n\n") ? "|+" : "|";
    return `${sign}\n${rows.map((row) => (row ? `${indent}  ${row}` : "")).join("\n")}`;
  }

  function flow(value) {
    if (Array.isArray(value)) return `[${value.map(flow).join(", ")}]`;
    if (isMap(value)) return `{${Object.entries(value).map(([k, v]) => `${scalar(k, true)}: ${flow(v)}`).join(", ")}}`;
    if (typeof value === "number") return figure(value);
    return typeof value === "string" ? scalar(value, true) : String(value);
  }

  function entry(key, value, indent) {
    const name = `${indent}${scalar(key, true)}:`;
    if (typeof value === "string") return [`${name} ${textOf(value, indent)}`];
    const line = `${name} ${flow(value)}`;
    if (isMap(value) && holdsMap(value)) {
      return [name, ...Object.entries(value).flatMap(([k, v]) => entry(k, v, `${indent}  `))];
    }
    if (Array.isArray(value) && holdsMap(value)) {
      const below = layout.entry_a_line.includes(key) || value.length > 1 || [...line].length > layout.width;
      return below ? [name, ...value.map((item) => `${indent}  - ${flow(item)}`)] : [line];
    }
    return [line];
  }

  return function compose(draft) {
    const lines = Object.entries(ordered(draft, [])).flatMap(([key, value]) => entry(key, value, ""));
    return `${[layout.first_line, ...lines].join("\n")}\n`;
  };
}
