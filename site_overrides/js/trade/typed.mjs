// Amounts and sizes as somebody types them -> as a record has them. Twin of plain_amount and plain_size in records/quantity.py.
import { general } from "./format.mjs";

// What str.split() and \s take for space in Python; JavaScript's \s differs by a few signs.
export const WHITE = "\\t-\\r\\x1c-\\x20\\x85\\xa0\\u1680\\u2000-\\u200a\\u2028\\u2029\\u202f\\u205f\\u3000";
const RUN = new RegExp(`[${WHITE}]+`, "g");
const MINUS = new RegExp(`^[${WHITE}]*[-−–][${WHITE}]*`);
const PLUS = new RegExp(`^[${WHITE}]*\\+[${WHITE}]*`);
const ONE_SIGN = /[¼-¾⅐-⅞]/g; // a fraction in one letter, as ⅜
const HYPHENED = new RegExp(`([0-9])[${WHITE}]*-[${WHITE}]*([0-9]+/[0-9])`, "g");
const FEET_AND_INCHES = new RegExp(`([0-9])[${WHITE}]*(['’′"”″])(?:[${WHITE}]*(?=[0-9]))?`, "g");
const WITH_COMMA = /[0-9][0-9,]*/g;
const DECIMALS = /^([0-9]+,[0-9]{1,2}|0,[0-9]+)$/;
const isDigit = (sign) => /^[0-9]$/.test(sign ?? "");

const oneLine = (text) => text.replace(RUN, " ").replace(/^ | $/g, "");

function speltOut(fraction, at, text) {
  return `${isDigit(text[at - 1]) ? " " : ""}${fraction.normalize("NFKC").replace("\u2044", "/")}`;
}

function inLetters(hit, digit, mark, at, text) {
  return `${digit} ${"'’′".includes(mark) ? "ft" : "in"}${isDigit(text[at + hit.length]) ? " " : ""}`;
}

// What somebody types, as a record has it: 9,5 kg is 9.5 kg, 1-1/8" is 1 1/8 in. Three digits behind a comma may be
// thousands: they stay, and are told.
export function plainAmount(typed) {
  const text = typed.replace(MINUS, "-").replace(PLUS, "").replace(ONE_SIGN, speltOut).replace(HYPHENED, "$1 $2").replace(FEET_AND_INCHES, inLetters);
  return text.includes(".") ? text : text.replace(WITH_COMMA, (number) => (DECIMALS.test(number) ? number.replace(",", ".") : number));
}

const INCHES = /^(?:([0-9]+) )?([0-9]+)\/([0-9]+)(?: ?in(?:ch|ches)?\.?)?$/i;
const MILLIMETRES = /^([0-9]+(?:\.[0-9]+)?) ?mm$/;

// The size of a tube as the tables have it: 1-1/8" is 1 1/8 in, 9,52mm is 9.52 mm; what is no size stays.
export function plainSize(typed) {
  const text = oneLine(plainAmount(typed));
  const inches = INCHES.exec(text);
  if (inches) return `${inches[1] ? `${inches[1]} ` : ""}${inches[2]}/${inches[3]} in`;
  const metric = MILLIMETRES.exec(text);
  return metric ? `${general(Number(metric[1]), 6)} mm` : oneLine(typed);
}
