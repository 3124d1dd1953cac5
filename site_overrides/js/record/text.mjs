// Text as Python treats it: what is white, how a value stands in a message, which word is nearest to another.

import { say } from "../say.mjs";
import { WHITE } from "../trade/typed.mjs";

export { WHITE };
const RUN = new RegExp(`[${WHITE}]+`, "g");
const SPACE = new RegExp(`[${WHITE}]`);
const SHOWN = 40;
const UNSEEN = /(?![ \t\n\r])[\p{Cc}\p{Cf}\p{Cs}\p{Z}]/gu;
const numbered = (sign) => `\\u${sign.codePointAt(0).toString(16).padStart(4, "0")}`;

// By hand: a pattern for the end of a text would begin anew at each of ten thousand spaces inside it.
export function strip(text) {
  let [from, to] = [0, text.length];
  while (from < to && SPACE.test(text[from])) from += 1;
  while (to > from && SPACE.test(text[to - 1])) to -= 1;
  return text.slice(from, to);
}

export const oneLine = (text) => strip(text).replace(RUN, " ");

// Length in signs: an emoji counts once.
export function length(text) {
  let count = 0;
  for (const _ of text) count += 1;
  return count;
}

// repr() of a number
function figure(number) {
  if (Number.isInteger(number)) return BigInt(number).toString();
  if (Math.abs(number) >= 1e-4) return String(number);
  return number.toExponential().replace(/e-(\d)$/, "e-0$1");
}

// json.dumps(value, ensure_ascii=False)
export function json(value, sorted = false) {
  if (typeof value === "number") return figure(value);
  if (Array.isArray(value)) return `[${value.map((item) => json(item, sorted)).join(", ")}]`;
  if (value === null || typeof value !== "object") return JSON.stringify(value);
  const keys = sorted ? Object.keys(value).sort() : Object.keys(value);
  return `{${keys.map((key) => `${JSON.stringify(key)}: ${json(value[key], sorted)}`).join(", ")}}`;
}

// A value for a message: on one line, cut where it is long; signs that nobody sees are written by their number.
export function short(value) {
  const text = oneLine((typeof value === "string" ? value : json(value)).replace(UNSEEN, numbered));
  return length(text) <= SHOWN ? text : `${[...text].slice(0, SHOWN - 1).join("")}…`;
}

export const quoted = (value) => (typeof value === "string" ? `"${short(value)}"` : short(value));

// ["search", 2, "at"] -> "search[2].at"
export function pathOf(pointer) {
  let out = "";
  for (const part of pointer) out += typeof part === "number" ? `[${part}]` : out ? `.${part}` : part;
  return out;
}

// Length of the longest common subsequence.
function common(left, right) {
  const row = new Uint16Array(right.length + 1);
  for (const sign of left) {
    let before = 0;
    for (let j = 1; j <= right.length; j += 1) {
      const above = row[j];
      if (sign === right[j - 1]) row[j] = before + 1;
      else if (row[j - 1] > above) row[j] = row[j - 1];
      before = above;
    }
  }
  return row[right.length];
}

// The most alike of [text, what it stands for], the first of equals; likeness 0 to 100, by insertions and deletions.
export function mostAlike(word, choices, least) {
  const left = [...word];
  let [best, found] = [least, null];
  for (const [text, key] of choices) {
    const right = [...text];
    const whole = left.length + right.length;
    const likeness = (same) => (whole ? (1 - (whole - 2 * same) / whole) * 100 : 100);
    if (likeness(Math.min(left.length, right.length)) < best) continue;
    const reached = likeness(common(left, right));
    if (found === null ? reached >= best : reached > best) [best, found] = [reached, key];
  }
  return found;
}

// The most similar of the known words; null where none is near.
export function nearest(word, known, least = 60) {
  return mostAlike(word.toLowerCase(), [...known].sort().map((key) => [key.toLowerCase(), key]), least);
}

// A question with the nearest word, or `otherwise` where none is near.
export function didYouMean(word, known, otherwise, least = 60) {
  const near = nearest(word, known, least);
  return near === null ? otherwise : say('did you mean "{word}"?', { word: near });
}

// The same function, which remembers its last answers: a draft is checked again after every key.
export function remembering(answer, most = 500) {
  const kept = new Map();
  return (...asked) => {
    const key = asked.join("\0");
    if (!kept.has(key)) {
      if (kept.size >= most) kept.clear();
      kept.set(key, answer(...asked));
    }
    return kept.get(key);
  };
}
