// From a text to items: words, typing mistakes, and the phrases that mean something.
import { sortedLetters, stem } from "./text.mjs";

export function tokensOf(text, found, lexicon) {
  const out = [];
  let [clause, last] = [0, 0];
  for (const hit of text.matchAll(/[a-z0-9]+/g)) {
    const [start, end] = [hit.index, hit.index + hit[0].length];
    clause += (text.slice(last, start).match(/[,.;:!?\n]/g) ?? []).length;
    last = end;
    const amount = found.find((a) => start < a.end && a.start < end);
    if (amount && !amount.loose) {
      clause += 1; // nothing is denied, and no phrase goes on, across an amount
      continue;
    }
    const word = hit[0];
    const parts = !lexicon.knows(stem(word)) && lexicon.joined.has(word) ? lexicon.joined.get(word) : [word];
    for (const part of parts) {
      if (parts.length === 1 && lexicon.articles.has(part)) continue;
      const own = stem(part);
      // a word that stands for itself may still be a slip inside a longer phrase: loosing charge
      const strange = !lexicon.knows(own);
      const slip = !amount && (part.length >= 4 || strange) && !/[0-9]/.test(part);
      const near = slip ? lexicon.near(part).filter((n) => n !== own) : [];
      const blurred = strange && part.length >= 4 && near.length > 0 && near.every((n) => lexicon.dull.has(n));
      const filler = !amount && (lexicon.fillers.has(part) || blurred);
      out.push({ word: part, stem: own, start, end, clause, filler, near, loose: Boolean(amount) });
    }
  }
  return out;
}

// Is it a slip of that stem even where it stands alone? Not a short word that lacks a letter, and not one as near to a
// word that says nothing alone: behnd.
function sureSlip({ word, near }, meant, lexicon) {
  return (word.length > 3 || sortedLetters(word) === sortedLetters(meant)) && near.every((one) => lexicon.alone.has(one));
}

// Phrases that begin at a token, one for each number of tokens taken: most words, then fewest slips.
function matchesAt(tokens, i, lexicon, skips) {
  const first = tokens[i];
  const best = new Map();
  const stands = ({ stem: own }) => lexicon.knows(own) && !lexicon.articles.has(own);
  [first.stem, ...first.near].forEach((start, k) => {
    for (const { pattern, meaning } of lexicon.starts.get(start) ?? []) {
      let [slips, known, j, skipped, n] = [k ? 1 : 0, k > 0 && stands(first), i + 1, 0, 1];
      while (n < pattern.length && j < tokens.length && tokens[j].clause === first.clause) {
        const token = tokens[j];
        if (token.stem === pattern[n]) [n, skipped] = [n + 1, 0];
        else if (token.near.includes(pattern[n])) [n, skipped, slips, known] = [n + 1, 0, slips + 1, known || stands(token)];
        else if (token.filler && skipped < skips) skipped += 1;
        else break;
        j += 1;
      }
      // known words alone are no slips; hising is no form of his
      if (n < pattern.length || (slips === n && known)) continue;
      if (slips && n === 1 && !sureSlip(first, start, lexicon)) continue;
      const old = best.get(j - i);
      if (!old || n > old.words || (n === old.words && slips < old.slips)) best.set(j - i, { length: j - i, words: n, slips, pattern, meaning });
    }
  });
  return [...best.values()].sort((a, b) => a.length - b.length);
}

// The tokens cut into phrases and single words: long phrases count by the square of their words.
function coverOf(tokens, lexicon, skips) {
  const best = Array.from({ length: tokens.length + 1 }, () => ({ score: 0, match: null }));
  for (let i = tokens.length - 1; i >= 0; i -= 1) {
    let [score, match] = [best[i + 1].score, null];
    for (const m of matchesAt(tokens, i, lexicon, skips)) {
      const value = m.words ** 2 - 0.5 * m.slips + best[i + m.length].score;
      if (value > score || (value === score && match === null)) [score, match] = [value, m];
    }
    best[i] = { score, match };
  }
  const out = [];
  for (let i = 0; i < tokens.length; i += best[i].match?.length ?? 1) out.push([i, best[i].match]);
  return out;
}

// The place that the rest of a phrase ends with.
function placeInside(tokens, lexicon, skips) {
  for (let i = 0; i < tokens.length; i += 1) {
    for (const m of matchesAt(tokens, i, lexicon, skips).reverse()) {
      if (i + m.length === tokens.length) return m.meaning.find((k) => k.kind === "place") ?? null;
    }
  }
  return null;
}

export function itemsOf(tokens, lexicon, skips) {
  return coverOf(tokens, lexicon, skips).map(([i, m]) => {
    const { word, stem: own, start, end, clause, filler, loose } = tokens[i];
    if (!m) return { meaning: [], start, end, clause, word, stem: own, filler, loose, stems: [], inside: null };
    return {
      meaning: m.meaning,
      start,
      end: tokens[i + m.length - 1].end,
      clause,
      word,
      stem: own,
      filler,
      loose: false,
      stems: m.pattern.filter((s) => !lexicon.dull.has(s)),
      inside: m.length > 1 ? placeInside(tokens.slice(i + 1, i + m.length), lexicon, skips) : null,
    };
  });
}

// Of several meanings that of the likelier kind.
export function likeliest({ meaning }, { order }) {
  for (const kind of order) {
    const found = meaning.find((m) => m.kind === kind);
    if (found) return found;
  }
  return null;
}

export function hasOffice(item, name) {
  return item.meaning.some((m) => m.kind === name);
}
