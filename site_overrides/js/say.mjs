// Words of the bench, of what the form finds and of the questions, in the language of the page: English stands in the
// scripts, every other language comes with the page or its data as pairs of messages (pages/{bench,record}_words.py).
let pairs = [];
let words = new Map();

export function speak(given) {
  if (given === pairs) return;
  pairs = given;
  words = new Map(given);
}

const filled = (message, slots) => message.replaceAll(/\{(\w+)\}/g, (_, key) => slots[key]);

export const say = (message, slots = {}) => filled(words.get(message) ?? message, slots);

// A sentence that was put together in English elsewhere, said anew; as it is where no message fits.
export function reworded(text) {
  for (const [english, told] of pairs) {
    const found = text.match(form(english));
    if (!found) continue;
    const slots = Object.entries(found.groups ?? {}).map(([key, value]) => [key, reworded(value)]);
    return filled(told, Object.fromEntries(slots));
  }
  return text;
}

function form(message) {
  const parts = message.split(/\{(\w+)\}/);
  return new RegExp(`^${parts.map((part, i) => (i % 2 ? `(?<${part}>.+?)` : part.replaceAll(/[.*+?^${}()|[\]\\]/g, "\\$&"))).join("")}$`);
}
