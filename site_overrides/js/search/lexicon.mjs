// What technicians' words mean: phrases by kind and key, compiled for matching. Content comes with the model.
import { distance, editsAllowed, stem } from "./text.mjs";

const ARTICLES = new Set(["a", "an", "the", "its", "my", "his", "her", "their", "our"]);
const GRAMMAR = ["negators", "negators_after", "enders", "bridges"];

// Letters of a word as bits: two edits change at most four of them.
function letterBits(word) {
  let bits = 0;
  for (let i = 0; i < word.length; i += 1) bits |= 1 << (word.charCodeAt(i) % 31);
  return bits;
}

function bitCount(bits) {
  let n = 0;
  for (let left = bits; left; left &= left - 1) n += 1;
  return n;
}

export function isArticle(word) {
  return ARTICLES.has(word);
}

export class Lexicon {
  constructor(content) {
    this.names = content.names;
    this.order = content.order;
    this.fillers = new Set(content.grammar.fillers);
    this.plain = new Set(content.plain);
    this.atLeak = new Set(content.at_leak);
    this.dull = new Set(content.grammar.fillers.map(stem));
    this.starts = new Map(); // first stem -> [{ pattern, meaning }]
    this.words = new Map(); // stem -> words
    this.joined = new Map(); // minisplit -> [mini, split]
    this.built = new Map(); // pattern as text -> its row
    this.nearest = new Map();
    const meanings = new Map();
    const mean = (phrase, kind, key) => {
      if (!meanings.has(phrase)) meanings.set(phrase, new Map());
      const kinds = meanings.get(phrase);
      if (!kinds.has(kind)) kinds.set(kind, []);
      if (!kinds.get(kind).includes(key)) kinds.get(kind).push(key);
    };
    for (const name of GRAMMAR) for (const phrase of content.grammar[name]) mean(phrase, name, "");
    for (const [kind, byKey] of Object.entries(content.phrases)) {
      for (const [key, listed] of Object.entries(byKey)) for (const phrase of listed) mean(phrase, kind, key);
    }
    for (const [phrase, kinds] of meanings) {
      const meaning = [...kinds].map(([kind, keys]) => ({ kind, keys }));
      const all = phrase.split(" ");
      const some = all.filter((w) => !ARTICLES.has(w));
      const parts = some.length ? some : all;
      this.add(parts, meaning);
      const bare = parts.filter((w) => !this.fillers.has(w));
      if (bare.length >= 2 && bare.length !== parts.length) this.add(bare, meaning);
    }
    for (const rows of this.starts.values()) rows.sort((a, b) => b.pattern.length - a.pattern.length || compare(a.pattern, b.pattern));
    for (const word of [...new Set([...this.fillers, ...ARTICLES])].sort()) this.note(word);
    this.every = [...new Set([...this.words.values()].flat())].sort().map((word) => ({ word, bits: letterBits(word) }));
  }

  note(word) {
    const key = stem(word);
    const listed = this.words.get(key);
    if (!listed) this.words.set(key, [word]);
    else if (!listed.includes(word)) listed.push(word);
  }

  add(parts, meaning) {
    const pattern = parts.map(stem);
    const key = pattern.join(" ");
    const known = this.built.get(key);
    if (known) {
      for (const m of meaning) {
        const mine = known.meaning.find((k) => k.kind === m.kind);
        if (!mine) known.meaning.push(m);
        else if (m.kind === "place") mine.keys = [...new Set([...mine.keys, ...m.keys])];
      }
      return;
    }
    const row = { pattern, meaning: meaning.map((m) => ({ ...m })) };
    this.built.set(key, row);
    if (!this.starts.has(pattern[0])) this.starts.set(pattern[0], []);
    this.starts.get(pattern[0]).push(row);
    for (const word of parts) this.note(word);
    for (let i = 0; i + 1 < parts.length; i += 1) {
      const [a, b] = [parts[i], parts[i + 1]];
      if (a.length >= 2 && b.length >= 2 && a.length + b.length >= 6 && !this.joined.has(a + b)) this.joined.set(a + b, [a, b]);
    }
  }

  knows(key) {
    return this.words.has(key);
  }

  // Stems of the words nearest to a misspelt one; words that the library's prose uses are not misspelt.
  near(word) {
    if (this.plain.has(word)) return [];
    let found = this.nearest.get(word);
    if (found) return found;
    let most = editsAllowed(word);
    let best = [];
    const bits = letterBits(word);
    const swapped = word.length > 1 ? word[1] + word[0] : word;
    for (const known of this.every) {
      const other = known.word;
      if (other.length < 4 || (other[0] !== word[0] && other.slice(0, 2) !== swapped)) continue;
      if (Math.abs(other.length - word.length) > most || bitCount(bits ^ known.bits) > 2 * most) continue;
      const edits = distance(word, other, most);
      if (edits > most) continue;
      if (edits < most) [best, most] = [[], edits];
      best.push(stem(other));
    }
    found = [...new Set(best)];
    if (this.nearest.size > 2000) this.nearest.clear();
    this.nearest.set(word, found);
    return found;
  }
}

function compare(a, b) {
  for (let i = 0; i < Math.min(a.length, b.length); i += 1) if (a[i] !== b[i]) return a[i] < b[i] ? -1 : 1;
  return a.length - b.length;
}
