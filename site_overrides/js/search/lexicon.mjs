// What technicians' words mean: phrases by kind and key, compiled for matching. Content comes with the model.
import { distance, editsAllowed, sortedLetters, stem } from "./text.mjs";

const OFFICES = ["negators", "negators_after", "clears", "enders", "bridges", "carriers"];
const WORDS_KEPT = 2000;
const SEVERAL = new Set(["place", "kind"]); // one phrase may mean several: a coil, a heat pump

// Which letters a word has, as bits: an edit takes away one of them at most, and puts in one at most.
function letterBits(word) {
  let bits = 0;
  for (let i = 0; i < word.length; i += 1) bits |= 1 << (word.charCodeAt(i) % 32);
  return bits;
}

function bitCount(bits) {
  let n = 0;
  for (let left = bits; left; left &= left - 1) n += 1;
  return n;
}

function orderOfPatterns(a, b) {
  if (a.pattern.length !== b.pattern.length) return b.pattern.length - a.pattern.length;
  const i = a.pattern.findIndex((part, k) => part !== b.pattern[k]);
  return a.pattern[i] < b.pattern[i] ? -1 : 1;
}

export class Lexicon {
  constructor(content) {
    this.names = content.names;
    this.order = content.order;
    const { articles, prepositions } = content.grammar;
    const fillers = [...content.grammar.fillers, ...articles, ...prepositions];
    this.fillers = new Set(fillers);
    this.articles = new Set(articles); // left out of phrases
    this.prepositions = new Set(prepositions); // lead to a place
    this.plain = new Set(content.plain);
    this.atLeak = new Set(content.at_leak);
    this.dull = new Set(fillers.map(stem));
    this.starts = new Map(); // first stem -> [{ pattern, meaning }], the longest first
    this.words = new Map(); // stem -> words
    this.joined = new Map(); // minisplit -> [mini, split], hi -> [high]
    this.built = new Map(); // pattern as text -> its row
    this.nearest = new Map();
    this.letters = null;
    const meanings = new Map();
    const mean = (phrase, kind, key) => {
      if (!meanings.has(phrase)) meanings.set(phrase, new Map());
      const kinds = meanings.get(phrase);
      if (!kinds.has(kind)) kinds.set(kind, []);
      if (!kinds.get(kind).includes(key)) kinds.get(kind).push(key);
    };
    for (const name of OFFICES) for (const phrase of content.grammar[name]) mean(phrase, name, "");
    for (const [kind, byKey] of Object.entries(content.phrases)) {
      for (const [key, listed] of Object.entries(byKey)) for (const phrase of listed) mean(phrase, kind, key);
    }
    const pointers = new Set(content.grammar.pointers); // mean something only with the next word: last
    const shorter = [];
    for (const [phrase, kinds] of meanings) {
      const meaning = [...kinds].map(([kind, keys]) => ({ kind, keys }));
      const all = phrase.split(" ");
      const some = all.filter((w) => !this.articles.has(w));
      const parts = some.length ? some : all;
      this.add(parts, meaning);
      const bare = parts.filter((w) => !this.fillers.has(w));
      if (bare.length >= 2 && bare.length !== parts.length && !pointers.has(bare.at(-1))) shorter.push([bare, meaning]);
    }
    for (const said of content.grammar.shortened) {
      const [short, ...meant] = said.split(" ");
      this.joined.set(short, meant);
    }
    const whole = new Set(this.built.keys());
    for (const [bare, meaning] of shorter) {
      // what a phrase means itself goes before what is left of another: relief valve (leaking)
      if (!whole.has(bare.map(stem).join(" "))) this.add(bare, meaning);
    }
    for (const rows of this.starts.values()) rows.sort(orderOfPatterns);
    this.alone = new Set([...this.starts].filter(([, rows]) => rows.at(-1).pattern.length === 1).map(([start]) => start));
    for (const word of [...this.fillers].sort()) this.note(word);
  }

  // First letter -> words that a slip may have meant; made when the first slip comes.
  get byLetter() {
    if (this.letters) return this.letters;
    this.letters = new Map();
    for (const word of [...new Set([...this.words.values()].flat())].sort()) {
      if (word.length < 3) continue;
      if (!this.letters.has(word[0])) this.letters.set(word[0], []);
      this.letters.get(word[0]).push({ word, bits: letterBits(word) });
    }
    return this.letters;
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
        else if (SEVERAL.has(m.kind)) mine.keys = [...new Set([...mine.keys, ...m.keys])];
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

  // Is it a word of some phrase?
  knows(key) {
    return this.words.has(key);
  }

  // Stems of the words nearest to a misspelt one: those of the fewest edits, at most as many as allowed.
  // Words that the library's prose uses are not misspelt.
  near(word) {
    if (this.plain.has(word)) return [];
    let found = this.nearest.get(word);
    if (found === undefined) {
      found = this.nearestTo(word);
      if (this.nearest.size >= WORDS_KEPT) this.nearest.clear();
      this.nearest.set(word, found);
    }
    return found;
  }

  nearestTo(word) {
    const bits = letterBits(word);
    let most = editsAllowed(word);
    let best = [];
    const swapped = word.slice(1, 2) + word[0];
    const short = word.length === 3; // only a letter left out or two swapped
    if (short) most = 1;
    for (const letter of [...new Set(swapped)].sort()) {
      for (const { word: known, bits: has } of this.byLetter.get(letter) ?? []) {
        if (letter !== word[0] && !known.startsWith(swapped)) continue;
        if (short ? known.length < 4 && (known === word || sortedLetters(known) !== sortedLetters(word)) : known.length < 4) continue;
        if (Math.abs(known.length - word.length) > most) continue;
        if (bitCount(bits & ~has) > most || bitCount(has & ~bits) > most) continue;
        const edits = distance(word, known, most);
        if (edits > most) continue;
        if (edits < most) [best, most] = [[], edits];
        best.push(stem(known));
      }
    }
    return [...new Set(best)];
  }
}
