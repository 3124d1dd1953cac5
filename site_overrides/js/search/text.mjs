// Words of a text: folded, split and reduced to stems, the same here and in Python (analysis/text.py).

const GAS = /(^|[^a-z0-9])r[ \t-\r-]?([0-9]{2,4}[a-z]{0,2})(?:\(([ez])\))?(?![a-z0-9])/g;
const APOSTROPHES = "'\u2019\u2018\u02bc\u00b4`";
const VOWEL = /[aeiouy]/;
const SHORT = /^[^aeiouy][aeiouy][^aeiouywx]$/;
const DOUBLE = /([bdgmnprt])\1$/;
const STEMS_KEPT = 20000;
const stemsKept = new Map();

// One character folded: each for itself, so that places in the text are kept.
function foldLetter(letter) {
  if (APOSTROPHES.includes(letter)) return "";
  if (letter.length > 1) return " ";
  const plain = letter.toLowerCase().normalize("NFKD").replace(/[\u0300-\u036f]/g, "").replace(/./gsu, (f) => (f.length > 1 ? " " : f));
  if (!plain.includes("\u2044")) return plain;
  const fraction = plain.replaceAll("\u2044", "/"); // 1½ is one and a half
  return fraction.length > 1 ? ` ${fraction}` : fraction;
}

function foldLetters(text) {
  return /^[\t-\r -&(-_a-~]*$/.test(text) ? text.toLowerCase() : Array.from(text, foldLetter).join("");
}

// Lower case without accents and apostrophes; `R-410A` and `r 410a` become `r410a`, a half 1/2, an emoji a space.
export function fold(text) {
  return foldLetters(text).replace(GAS, (_, before, number, isomer) => `${before}r${number}${isomer ?? ""}`);
}

// { folded, begins, ends }: for each character of the folded text where that of the text begins and ends, counted in
// whole characters.
export function foldAt(letters) {
  const found = [];
  letters.forEach((letter, i) => {
    for (const f of foldLetter(letter)) found.push([f, i, i + 1]);
  });
  const out = [];
  let last = 0;
  for (const hit of found.map(([f]) => f).join("").matchAll(GAS)) {
    const start = hit.index + hit[1].length;
    const end = hit.index + hit[0].length;
    const isomer = hit[3] ? 3 : 0; // in its brackets
    const number = end - isomer - hit[2].length;
    out.push(...found.slice(last, start + 1), ...found.slice(number, number + hit[2].length));
    if (isomer) out.push(found[end - 2]);
    const [f, begin] = out.pop();
    out.push([f, begin, found[end - 1][2]]);
    last = end;
  }
  out.push(...found.slice(last));
  return { folded: out.map(([f]) => f).join(""), begins: out.map((one) => one[1]), ends: out.map((one) => one[2]) };
}

// Words of folded text.
export function words(folded) {
  return folded.match(/[a-z0-9]+/g) ?? [];
}

// Stem of a folded word; words with digits stay as they are.
export function stem(word) {
  let found = stemsKept.get(word);
  if (found === undefined) {
    found = withoutEnding(word);
    if (stemsKept.size >= STEMS_KEPT) stemsKept.clear();
    stemsKept.set(word, found);
  }
  return found;
}

function withoutEnding(word) {
  if (word.length < 3 || /[0-9]/.test(word)) return word;
  let w = word;
  if (w.endsWith("ies") && w.length > 4) w = `${w.slice(0, -3)}y`;
  else if (/(?:sses|ches|shes|xes|zes)$/.test(w)) w = w.slice(0, -2);
  else if (w.endsWith("s") && !/(?:ss|us|is)$/.test(w) && w.length > 3) w = w.slice(0, -1);
  for (const end of ["ing", "ed"]) {
    const rest = w.slice(0, -end.length);
    if (w.endsWith(end) && rest.length >= 3 && VOWEL.test(rest)) {
      if (DOUBLE.test(rest)) w = rest.slice(0, -1);
      else w = SHORT.test(rest) ? `${rest}e` : rest; // piping is of pipe, not of pip
      break;
    }
  }
  if (w.endsWith("ly") && w.length > 5) w = w.slice(0, -2);
  if (w.endsWith("y") && w.length > 3) w = `${w.slice(0, -1)}i`;
  else if (w.endsWith("e") && w.length > 4) w = w.slice(0, -1); // fine is no fin
  return w;
}

// Stems of any text, in order.
export function stems(text) {
  return words(fold(text)).map(stem);
}

// Edits from a to b: a letter put in, left out, changed, or two neighbours swapped; above `most` gives most + 1.
// Optimal string alignment distance.
export function distance(a, b, most) {
  if (Math.abs(a.length - b.length) > most) return most + 1;
  let before = [];
  let last = Array.from({ length: b.length + 1 }, (_, j) => j);
  for (let i = 1; i <= a.length; i += 1) {
    const row = [i];
    let least = i;
    for (let j = 1; j <= b.length; j += 1) {
      let cost = Math.min(row[j - 1] + 1, last[j] + 1, last[j - 1] + (a[i - 1] === b[j - 1] ? 0 : 1));
      if (i > 1 && j > 1 && a[i - 1] === b[j - 2] && a[i - 2] === b[j - 1]) cost = Math.min(cost, before[j - 2] + 1);
      row.push(cost);
      if (cost < least) least = cost;
    }
    if (least > most && Math.min(...last) > most) return most + 1; // a swap reaches back two rows
    [before, last] = [last, row];
  }
  return Math.min(last[b.length], most + 1);
}

// The letters of a word in order: equal where only their places differ.
export function sortedLetters(word) {
  return [...word].sort().join("");
}

// Typing mistakes that a word of this length may hold: none below 4 letters, one below 8, then two.
export function editsAllowed(word) {
  if (word.length < 4) return 0;
  return word.length < 8 ? 1 : 2;
}
