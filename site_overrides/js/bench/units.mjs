// Pure: figures as they are typed and as they are written. The tables come from data/bench.json; the rules are those of
// generator/leaklore/pages/bench_units.py, so that the example of the build and the live answer agree to the letter.
const NARROW = "\u202f";
const TIED = "\u00a0"; // a figure and its unit stay on one line
const SMALL = 1e-3;
const LARGE = 1e6;
const SUPERSCRIPTS = { "-": "⁻", 0: "⁰", 1: "¹", 2: "²", 3: "³", 4: "⁴", 5: "⁵", 6: "⁶", 7: "⁷", 8: "⁸", 9: "⁹" };
const SHORT = { days: "day", months: "month", years: "year" };

// Rounds a true tie to the even digit, as Python does; toFixed takes the larger one.
function fixed(value, places) {
  const scaled = Math.abs(value) * 10 ** places;
  const tie = Number.isInteger(value * 2 ** (places + 1)) && scaled % 1 === 0.5;
  if (!tie) return value.toFixed(places);
  const down = Math.floor(scaled);
  const even = (down % 2 ? down + 1 : down) / 10 ** places;
  return (Math.sign(value) * even).toFixed(places);
}

function grouped(text) {
  const [whole, rest] = text.split(".");
  const apart = whole.replace(/\B(?=(\d{3})+$)/g, NARROW);
  const short = rest === undefined ? apart : `${apart}.${rest}`.replace(/0+$/, "").replace(/\.$/, "");
  return short === "-0" ? "0" : short;
}

export function number(value, digits, places = null) {
  const size = Math.abs(value);
  let text;
  if (size && !(size >= SMALL && size < LARGE)) {
    const [mantissa, power] = value.toExponential(digits - 1).split("e");
    const short = mantissa.includes(".") ? mantissa.replace(/0+$/, "").replace(/\.$/, "") : mantissa;
    text = `${short}${TIED}×${TIED}10${[...String(Number(power))].map((c) => SUPERSCRIPTS[c]).join("")}`;
  } else if (places !== null) {
    text = grouped(fixed(value, places));
  } else {
    let scaled = size;
    let behind = 0;
    while (size && scaled < 10 ** (digits - 1) && behind < 6) {
      scaled *= 10;
      behind += 1;
    }
    text = size ? grouped(fixed(value, behind)) : "0";
  }
  return text.replaceAll("-", "−");
}

function written(si, steps, { singular = SHORT }) {
  const step = steps.find((s) => s.below === null || Math.abs(si) < s.below) ?? steps.at(-1);
  const text = number((si - step.offset) / step.factor, step.digits, step.places);
  if (text === "1" && step.name in singular) return `1${TIED}${singular[step.name]}`;
  return step.name ? `${text}${step.name === "%" ? NARROW : TIED}${step.name.replaceAll(" ", TIED)}` : text;
}

function day(iso, { language = "en-GB" }) {
  const options = { day: "numeric", month: "long", year: "numeric", timeZone: "UTC" };
  return new Intl.DateTimeFormat(language, options).format(new Date(`${iso}T00:00:00Z`));
}

// `form`: both systems, the company's `first`, the `other`, or `us` or `si` for themselves.
export function write(value, dimension, form, tables) {
  if (typeof value === "string") return dimension === "day" ? day(value, tables) : value;
  const { us, si } = tables.dimensions[dimension];
  if (form === "us" || form === "si") return written(value, form === "us" ? us : si, tables);
  const [first, other] = tables.us_first ? [us, si] : [si, us];
  if (form !== "both" || JSON.stringify(us) === JSON.stringify(si)) return written(value, form === "other" ? other : first, tables);
  return `${written(value, first, tables)} (${written(value, other, tables)})`;
}

export function unitOf(dimension, key, tables) {
  return tables.dimensions[dimension].units.find((unit) => unit.key === key);
}

// What somebody typed -> { value } or { problem }; null for nothing.
export function parse(text) {
  const plain = text.trim().replaceAll("−", "-").replaceAll(/[\s\u202f\u00a0]/g, "");
  if (!plain) return null;
  if (/^[+-]?\d{1,3},\d{3}$/.test(plain)) {
    return { problem: `“${text.trim()}” can be read in two ways. Write ${plain.replace(",", "")} or ${plain.replace(",", ".")}.` };
  }
  const point = plain.replace(",", ".");
  if (!/^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$/i.test(point) || !Number.isFinite(Number(point))) {
    return { problem: `“${text.trim()}” is not a number. Write it like 2.4.` };
  }
  return { value: Number(point) };
}

export const toSi = (value, unit) => value * unit.factor + unit.offset;

// A figure of a field after its unit was switched: short, and near enough that the answer stays.
export function fromSi(si, unit, digits = 6) {
  const value = (si - unit.offset) / unit.factor;
  return String(Number(value.toPrecision(digits)));
}
