// What every template of a question draws from: the twin of generator/leaklore/analysis/questions/{chance,question}.py.
export const CLEAR = 0.15;
export const CHOICES = 4;
export const LOOK = "visual";
export const NITROGEN_SHOWS = "bubble-test";
const HIGH_SIDE = 328.15; // K

// Mulberry32 by Tommy Ettinger (2017, public domain).
export class QuestionChance {
  constructor(seed) {
    this.state = seed >>> 0;
  }

  whole() {
    this.state = (this.state + 0x6d2b79f5) >>> 0;
    let t = this.state;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return (t ^ (t >>> 14)) >>> 0;
  }

  below(n) {
    return Math.floor((this.whole() * n) / 4294967296);
  }

  share(low, high) {
    return low + (high - low) * (this.whole() / 4294967296);
  }

  pick(items) {
    return items[this.below(items.length)];
  }

  shuffled(items) {
    const out = [...items];
    for (let i = out.length - 1; i > 0; i -= 1) {
      const j = this.below(i + 1);
      [out[i], out[j]] = [out[j], out[i]];
    }
    return out;
  }
}

export function filled(text, slots) {
  return text.replace(/\{([\w-]+)\}/g, (_, slot) => slots[slot]);
}

export const capital = (text) => text.slice(0, 1).toUpperCase() + text.slice(1);

export function apart(right, wrong) {
  return Math.abs(right - wrong) >= CLEAR * Math.max(Math.abs(right), Math.abs(wrong));
}

// `t` is the bench's trade, `write(value, dimension)` a figure in the company's units; of "reason", a sentence of the trade.
export class QuestionMaker {
  constructor({ topic, key, chance, material, t, write }) {
    Object.assign(this, { topic, key, chance, material, t, write, words: material.words[key] });
  }

  one(name) {
    return this.chance.pick(this.material.numbers[name]);
  }

  fixed(name) {
    return this.material.numbers[name][0];
  }

  gas(name) {
    return this.t.refrigerants.get(this.one(name));
  }

  // Pa absolute; no question puts a circuit on more, which its nameplate may not allow.
  mostNitrogen(gas) {
    const found = this.t.tables.bubble(gas, HIGH_SIDE);
    return this.t.gas.isNoSaturation(found) ? 0 : found;
  }

  named(kind, key) {
    return this.material.names[kind][key];
  }

  say(sentence, slots = {}) {
    return filled(this.words[sentence], slots);
  }

  few(items) {
    return this.chance.shuffled(items).slice(0, CHOICES - 1);
  }

  question(choices, right, link, slots, why, several) {
    const { topic, key } = this;
    return { topic, key, text: this.say("text", slots), choices, right, explanation: this.say(why, slots), link, several };
  }

  asked(right, wrong, link, slots, why = "why", several = false) {
    const texts = this.chance.shuffled([...right, ...wrong]);
    if (new Set(texts).size < texts.length) return null;
    const marks = texts.map((_, i) => i).filter((i) => right.includes(texts[i]));
    return this.question(texts, marks, link, slots, why, several);
  }

  measured(right, wrong, dimension, link, slots) {
    const taken = [];
    for (const value of wrong) {
      if (apart(right, value) && taken.every((other) => apart(value, other))) taken.push(value);
    }
    const [below, above] = [taken.filter((v) => v < right), taken.filter((v) => v > right)];
    const [least, most] = [Math.max(0, CHOICES - 1 - above.length), Math.min(CHOICES - 1, below.length)];
    if (least > most) return null;
    const lower = least + this.chance.below(most - least + 1);
    const values = [right, ...below.slice(0, lower), ...above.slice(0, CHOICES - 1 - lower)].sort((a, b) => a - b);
    const texts = values.map((value) => this.write(value, dimension));
    if (new Set(texts).size < texts.length) return null;
    return this.question(texts, [values.indexOf(right)], link, slots, "why", false);
  }
}
