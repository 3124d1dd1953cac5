// Quantities as people write them (`9 lb 8 oz`, `71 degF`, `400 psig`) and in SI. Units and examples come with the data.
import { say } from "../say.mjs";
import { WHITE, didYouMean, oneLine, strip } from "./text.mjs";

const FRACTION = `(?:([0-9]+)(?:[${WHITE}]+|-))?([0-9]+)/([1-9][0-9]*)`;
const WORD = `(?:in[${WHITE}]+Hg|[A-Za-z°/]+)(?:[${WHITE}]+(?:vac|abs)[a-z]*)?|['’′"”″]`;
const TERM = new RegExp(`(-?)(?:${FRACTION}|([0-9]+(?:\\.[0-9]+)?|\\.[0-9]+))[${WHITE}]*(${WORD})`, "g");
const FROM_WHERE = "inHg"; // counted from the pressure of the air downwards, and from nothing upwards
const POWER_OF_TEN = /[0-9][eE][+-]?[0-9]/;
const NUMBER_FIRST = /^-?[0-9.]/;
const NUMBER = new RegExp(`^-?[0-9.][0-9./${WHITE}-]*$`);
const CURRENCY = new RegExp(`^(-?[0-9]+(?:\\.[0-9]{1,2})?)[${WHITE}]*([A-Z]{3})$`);
const BELOW_VACUUM = -1e-6;
const MOST = 1e15;
const MOST_MONEY = 1e12;
const KEPT = 5000;
const LONGEST = 500; // letters; over a longer text the pattern of terms would sit for minutes

export class QuantityError extends Error {
  constructor(message, instead) {
    super(message);
    this.instead = instead;
  }
}

// Readers: read(written, dimension) -> { written, si, dimension } or QuantityError with what to write.
export function make({ units, compound, dimensions, reading }) {
  const known = new Map(Object.entries(units));
  const pairs = new Set(compound.map((pair) => pair.join(" ")));
  const kept = new Map();
  const wanted = (dimension) => (dimension === "reading" ? reading : [dimension]);

  function near(unit, dimension, instead) {
    const words = [...known.keys()].filter((word) => wanted(dimension).includes(known.get(word).dimension));
    return didYouMean(unit, words, instead);
  }

  function money(written, told, example) {
    const hit = CURRENCY.exec(told);
    if (!hit) throw new QuantityError(say('"{value}" is not an amount with its currency', { value: told }), example);
    const si = Number(hit[1]);
    if (si < 0) throw new QuantityError(say('"{value}" is negative', { value: told }), example);
    if (!(si < MOST_MONEY)) throw new QuantityError(say('"{value}" is far too large', { value: told }), example);
    return { written, si, dimension: "money" };
  }

  function plausible(told, dimension, si, found, example) {
    const negative = () => new QuantityError(say('"{value}" is negative', { value: told }), example);
    if (dimension === "temperature") {
      if (si <= 0) throw new QuantityError(say('"{value}" is not above absolute zero', { value: told }), example);
    } else if (dimension === "pressure") {
      if (si < BELOW_VACUUM) throw new QuantityError(say('"{value}" is below vacuum', { value: told }), example);
      if (found.some(({ number, factor }) => number < 0 && factor < 0)) throw negative();
    } else if (dimension !== "level" && found.some(({ number }) => number < 0)) {
      throw negative();
    }
    if (!(si < MOST)) throw new QuantityError(say('"{value}" is far too large', { value: told }), example);
  }

  function made(written, dimension) {
    const such = { example: dimensions[dimension].examples };
    const example = say("write for example {example}", such);
    const text = strip(written);
    if (!text) throw new QuantityError(say("is blank"), example);
    const letters = text.length > LONGEST ? [...text] : [];
    if (letters.length > LONGEST) throw new QuantityError(say('"{value}…" is too long for a quantity', { value: oneLine(letters.slice(0, 20).join("")) }), example);
    const told = oneLine(text);
    if (dimension === "money") return money(written, told, example);
    if (text.includes(",")) throw new QuantityError(say('"{value}" has a comma, which can be read two ways', { value: told }), example);
    if (POWER_OF_TEN.test(text)) {
      const instead = say("write the number out, for example {example}", such);
      throw new QuantityError(say('"{value}" has a power of ten', { value: told }), instead);
    }
    const terms = [...text.matchAll(TERM)];
    if (!terms.length || strip(text.replace(TERM, ""))) {
      if (!NUMBER_FIRST.test(text)) throw new QuantityError(say('"{value}" does not begin with a number', { value: told }), example);
      if (NUMBER.test(text)) throw new QuantityError(say('"{value}" has no unit', { value: told }), example);
      throw new QuantityError(say('"{value}" is not a number with a unit', { value: told }), example);
    }
    const found = terms.map(([, sign, whole, top, bottom, decimal, word]) => {
      const unit = oneLine(word).replace("in Hg", "inHg");
      const number = decimal ? Number(decimal) : Number(whole ?? 0) + Number(top) / Number(bottom);
      const of = known.get(unit);
      if (unit === FROM_WHERE) {
        const instead = say('write "20 inHg vac" for 20 below atmospheric pressure, "9.9 inHg abs" for 9.9 absolute');
        throw new QuantityError(say('"{value}" does not say whether it is vacuum or absolute', { value: told }), instead);
      }
      if (!of) throw new QuantityError(say('"{unit}" in "{value}" is not a unit we know', { unit, value: told }), near(unit, dimension, example));
      return { number: sign ? -number : number, ...of };
    });
    for (const { dimension: got } of found) {
      if (!wanted(dimension).includes(got)) {
        const name = dimensions[dimension].name ?? say("a reading");
        throw new QuantityError(say('"{value}" is {name}, not {wanted}', { value: told, name: dimensions[got].name, wanted: name }), example);
      }
    }
    const pair = found.map(({ group }) => group).join(" ");
    if (found.length > 2 || (found.length === 2 && !pairs.has(pair))) {
      throw new QuantityError(say('"{value}" mixes units', { value: told }), example);
    }
    const si = found.reduce((sum, { number, add, factor, offset }) => sum + ((number + add) * factor + offset), 0);
    plausible(told, found[0].dimension, si, found, example);
    return { written, si, dimension: found[0].dimension };
  }

  function read(written, dimension) {
    const key = `${dimension}\0${written}`;
    let answer = kept.get(key);
    if (!answer) {
      try {
        answer = { quantity: made(written, dimension) };
      } catch (fault) {
        if (!(fault instanceof QuantityError)) throw fault;
        answer = { fault };
      }
      if (kept.size >= KEPT) kept.clear();
      kept.set(key, answer);
    }
    if (answer.fault) throw answer.fault;
    return answer.quantity;
  }

  return { read };
}

// ISO 4217 code of an amount of money.
export const currency = ({ written }) => strip(written).slice(-3);
