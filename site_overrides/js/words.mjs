// Pure: does a text hold all words of a query? Words may be cut short; case and accents don't matter.

export function plain(text) {
  return text.toLowerCase().normalize("NFD").replace(/\p{M}/gu, "");
}

export function terms(query) {
  return plain(query).split(/[^\p{L}\p{N}()./-]+/u).filter(Boolean).slice(0, 30);
}

export function matches(text, wanted) {
  const words = plain(text);
  return wanted.every((word) => words.startsWith(word) || words.includes(` ${word}`) || (word.length > 3 && words.includes(word)));
}
