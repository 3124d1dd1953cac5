// The words that a record may use, and the one that somebody meant who wrote another.
import { say } from "../say.mjs";
import { mostAlike, remembering, strip } from "./text.mjs";

const ALIKE = 68;
const SHOWN = 4;

export function make({ words }) {
  const kinds = new Map(Object.entries(words).map(([kind, known]) => [kind, new Map(Object.entries(known))]));
  const spoken = new Map();
  const phrases = new Map();

  function prepare(kind, known) {
    const said = new Map();
    const choices = [...known.keys()].map((key) => [key.toLowerCase(), key]);
    for (const [key, [name, ...also]] of known) {
      for (const phrase of [...also, name]) said.set(phrase.toLowerCase(), key);
      for (const phrase of [name, ...also]) choices.push([phrase.toLowerCase(), key]);
    }
    spoken.set(kind, said);
    phrases.set(kind, choices);
  }

  // What to write instead of `word`: the nearest key, or where the list is.
  function suggest(kind, word) {
    const known = kinds.get(kind) ?? new Map();
    if (!spoken.has(kind)) prepare(kind, known);
    const phrase = strip(word).toLowerCase();
    const meant = spoken.get(kind).get(phrase) ?? mostAlike(phrase, phrases.get(kind), ALIKE);
    if (meant) return say('did you mean "{word}"?', { word: meant });
    if (!known.size) return say("leave it out, or add it to company.yaml");
    const some = [...known.keys()].sort().slice(0, SHOWN).join(", ");
    return say("write one of {words}", { words: known.size > SHOWN ? `${some}, …` : some });
  }

  return {
    has: (kind, key) => Boolean(kinds.get(kind)?.has(key)),
    keys: (kind) => [...(kinds.get(kind)?.keys() ?? [])],
    suggest: remembering(suggest),
  };
}
