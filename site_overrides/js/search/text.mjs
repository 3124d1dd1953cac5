// Words of a text: folded, split and reduced to stems, the same here and in Python (analysis/text.py).

const GAS = /(?<![\p{L}\p{N}_])r[\s-]?(\d{2,4}[a-z]{0,2})(?:\(([ez])\))?(?![a-z0-9])/gu;
const VOWEL = /[aeiouy]/;
const DOUBLE = /([bdgmnprt])\1$/;
const stemCache = new Map();

// Lower case without accents and apostrophes; `R-410A` and `r 410a` become `r410a`.
export function fold(text) {
  return text
    .toLowerCase()
    .normalize("NFKD")
    .replace(/\p{M}/gu, "")
    .replace(/[\u2019']/g, "")
    .replace(GAS, (_, number, isomer) => `r${number}${isomer ?? ""}`);
}

// Words of folded text.
export function words(folded) {
  return folded.match(/[a-z0-9]+/g) ?? [];
}

// Stem of a folded word; words with digits stay as they are.
export function stem(word) {
  let found = stemCache.get(word);
  if (found === undefined) {
    found = cutDown(word);
    if (stemCache.size > 20000) stemCache.clear();
    stemCache.set(word, found);
  }
  return found;
}

function cutDown(word) {
  if (word.length < 3 || /\d/.test(word)) return word;
  let w = word;
  if (w.endsWith("ies") && w.length > 4) w = `${w.slice(0, -3)}y`;
  else if (/(?:sses|ches|shes|xes|zes)$/.test(w)) w = w.slice(0, -2);
  else if (w.endsWith("s") && !/(?:ss|us|is)$/.test(w) && w.length > 3) w = w.slice(0, -1);
  for (const end of ["ing", "ed"]) {
    const rest = w.slice(0, -end.length);
    if (w.endsWith(end) && rest.length >= 3 && VOWEL.test(rest)) {
      w = DOUBLE.test(rest) ? rest.slice(0, -1) : rest;
      break;
    }
  }
  if (w.endsWith("ly") && w.length > 5) w = w.slice(0, -2);
  if (w.endsWith("y") && w.length > 3) w = `${w.slice(0, -1)}i`;
  else if (w.endsWith("e") && w.length > 3) w = w.slice(0, -1);
  return w;
}

// Stems of any text, in order.
export function stems(text) {
  return words(fold(text)).map(stem);
}

// Edits from a to b, a swap of neighbours counting one; above `most` gives most + 1. Optimal string alignment.
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

// Typing mistakes that a word of this length may hold.
export function editsAllowed(word) {
  return word.length < 4 ? 0 : word.length < 8 ? 1 : 2;
}
