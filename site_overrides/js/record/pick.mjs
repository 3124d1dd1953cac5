// Words of a vocabulary by typing: names and what people say instead, prefixes of words first, misspellings last.

const LISTED = 60; // rows that a list shows at once
const LONGEST = 200; // letters; a longer text is no misspelling of anything
const ALIKE = 0.5; // of 1: pairs of letters in common, from which on a word is taken for a misspelling

// Small letters without accents, words apart by one space.
export function plainPhrase(text) {
  return text.toLowerCase().normalize("NFKD").replace(/\p{M}/gu, "").replace(/[^\p{L}\p{N}]+/gu, " ").trim();
}

function pairsOf(text) {
  const pairs = new Set();
  for (let i = 0; i + 1 < text.length; i += 1) pairs.add(text.slice(i, i + 2));
  return pairs;
}

function likeness(a, b) {
  const [left, right] = [pairsOf(a), pairsOf(b)];
  let common = 0;
  for (const pair of left) if (right.has(pair)) common += 1;
  return (2 * common) / (left.size + right.size || 1);
}

// Options { key, name, also } as they can be found.
export function searchable(options) {
  return options.map((option) => ({ ...option, phrases: [option.name, ...(option.also ?? []), option.key].map(plainPhrase) }));
}

function fit({ phrases }, asked, words) {
  let best = 0;
  phrases.forEach((phrase, i) => {
    const first = i ? 0 : 0.5; // its name goes before what is said instead
    const spaced = ` ${phrase}`;
    if (phrase === asked) best = Math.max(best, 5 + first);
    else if (phrase.startsWith(asked)) best = Math.max(best, 4 + first);
    else if (words.every((word) => spaced.includes(` ${word}`))) best = Math.max(best, 3 + first);
    else if (asked.length > 2 && phrase.includes(asked)) best = Math.max(best, 2 + first);
  });
  if (!best && words.length > 1) {
    const all = ` ${phrases.join(" ")}`;
    if (words.every((word) => all.includes(` ${word}`))) best = 1.5;
  }
  if (!best && asked.length > 3 && asked.length <= LONGEST) {
    const near = Math.max(...phrases.map((phrase) => Math.max(likeness(asked, phrase), ...phrase.split(" ").map((word) => likeness(asked, word)))));
    if (near >= ALIKE) best = near;
  }
  return best;
}

// Options that the text may mean, the likeliest first; all of them in their order for an empty text.
export function narrowed(options, text) {
  const asked = plainPhrase(text);
  if (!asked) return options.slice(0, LISTED);
  const words = asked.split(" ");
  return options
    .map((option) => ({ option, score: fit(option, asked, words) }))
    .filter(({ score }) => score > 0)
    .sort((a, b) => b.score - a.score)
    .slice(0, LISTED)
    .map(({ option }) => option);
}

// The option that is written out in full, by its name, its key, or one of the things said instead by nobody else.
export function spelledOut(options, text) {
  const asked = plainPhrase(text);
  const named = options.find((option) => option.phrases[0] === asked || option.key === text.trim());
  if (named) return named;
  const said = options.filter((option) => option.phrases.includes(asked));
  return said.length === 1 ? said[0] : null;
}

// A list to type into. `pick` takes the chosen key, `leave` the text that is no option when the field is left.
export class Picker {
  constructor(element, { options, pick, leave, none, calm }) {
    Object.assign(this, { element, options, pick, leave, none, at: -1 });
    this.reveal = () => calm.later(this.reveal, () => this.list.scrollIntoView({ block: "nearest" }));
    this.input = element.querySelector("[role=combobox]");
    this.list = element.querySelector("[role=listbox]");
    this.input.addEventListener("focus", () => this.open());
    this.input.addEventListener("click", () => this.open());
    this.input.addEventListener("input", (event) => {
      event.stopPropagation(); // half a word is no answer yet
      this.open();
    });
    this.input.addEventListener("keydown", (event) => this.key(event));
    this.input.addEventListener("blur", () => calm.later(this, () => this.blur()));
    this.list.addEventListener("pointerdown", (event) => event.preventDefault()); // the box keeps the cursor
    this.list.addEventListener("click", (event) => {
      const row = event.target.closest("[role=option]");
      if (row) this.choose(row.dataset.key);
    });
  }

  open() {
    const found = narrowed(this.options(), this.input.value);
    this.rows = found.map((option, i) => {
      const row = document.createElement("li");
      row.setAttribute("role", "option");
      row.id = `${this.list.id}-${i}`;
      row.dataset.key = option.key;
      row.setAttribute("aria-selected", "false");
      row.append(option.name);
      if (option.more) {
        const small = document.createElement("small");
        small.textContent = option.more;
        row.append(" ", small);
      }
      return row;
    });
    if (!found.length) {
      const row = document.createElement("li");
      row.className = "pick__none";
      row.setAttribute("role", "presentation");
      row.textContent = this.none;
      this.list.replaceChildren(row);
    } else {
      this.list.replaceChildren(...this.rows);
    }
    this.list.hidden = false;
    this.list.scrollTop = 0;
    this.input.setAttribute("aria-expanded", "true");
    this.mark(this.input.value.trim() && found.length ? 0 : -1);
    this.reveal(); // the list may begin below the bar at the foot
    globalThis.visualViewport?.addEventListener("resize", this.reveal); // or lie under the keyboard that comes up
  }

  close() {
    this.list.hidden = true;
    globalThis.visualViewport?.removeEventListener("resize", this.reveal);
    this.input.setAttribute("aria-expanded", "false");
    this.input.removeAttribute("aria-activedescendant");
    this.at = -1;
  }

  mark(i) {
    this.at = i;
    this.rows.forEach((row, k) => row.setAttribute("aria-selected", String(k === i)));
    if (i < 0) this.input.removeAttribute("aria-activedescendant");
    else {
      this.input.setAttribute("aria-activedescendant", this.rows[i].id);
      const { offsetTop, offsetHeight } = this.rows[i];
      if (offsetTop < this.list.scrollTop) this.list.scrollTop = offsetTop;
      else if (offsetTop + offsetHeight > this.list.scrollTop + this.list.clientHeight) this.list.scrollTop = offsetTop + offsetHeight - this.list.clientHeight;
    }
  }

  key(event) {
    const { key } = event;
    if (key === "ArrowDown" || key === "ArrowUp") {
      event.preventDefault();
      if (this.list.hidden) this.open();
      const n = this.rows.length;
      if (n) this.mark(key === "ArrowDown" ? (this.at + 1) % n : (this.at <= 0 ? n : this.at) - 1);
    } else if (key === "Enter") {
      event.preventDefault();
      if (!this.list.hidden && this.at >= 0) this.choose(this.rows[this.at].dataset.key);
    } else if (key === "Escape" && !this.list.hidden) {
      event.preventDefault();
      this.input.value = "";
      this.close();
    }
  }

  choose(key) {
    this.input.value = "";
    this.close();
    this.pick(key);
  }

  // Left with words in the box: what they spell out is taken, anything else is kept as it was typed.
  blur() {
    if (document.activeElement !== this.input) this.take(); // else it is back again
  }

  take() {
    const text = this.input.value.trim();
    this.close();
    if (!text) return;
    this.input.value = "";
    const meant = spelledOut(this.options(), text);
    if (meant) this.pick(meant.key, false);
    else this.leave(text);
  }
}
