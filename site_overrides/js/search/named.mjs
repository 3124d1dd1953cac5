// What a question names by its number: a unit as on its label, or as it is typed with gloves (s0502, S 502), and cases.

const UNIT = /(?:^|[^a-z0-9])s[\s\u2010-\u2015_-]{0,2}([0-9]{3,6})(?![a-z0-9])/gi;
const DIGITS = /^\s*([0-9]{4,6})\s*$/;
const NO_MORE = /^s?[0-9]+$/; // what is left over of a question that is a number and no more

const spelt = (digits) => `S-${String(Number(digits)).padStart(4, "0")}`;

// Numbers of units in a text, each once; `sure` is false where it may be another number.
export function unitsIn(text) {
  const found = new Map([...text.matchAll(UNIT)].map(([, digits]) => [spelt(digits), true]));
  const [, digits] = DIGITS.exec(text) ?? [];
  if (digits) found.set(spelt(digits), false);
  return [...found].map(([number, sure]) => ({ number, sure }));
}

// May the text name units, and does it say nothing else?
export function unitsAlone(text, { understood, words }) {
  return !understood.length && words.every((word) => NO_MORE.test(word)) && unitsIn(text).length > 0;
}

// The units with what the register (systems.json) says of them; `name` is empty where it has none, `register` null: it could not be had.
export function unitsOf(text, register) {
  const asked = unitsIn(text);
  if (!register) return asked.filter(({ sure }) => sure).map(({ number }) => ({ number, name: "", there: true }));
  const { keys, rows } = register.systems;
  const [at, site, name] = ["system", "site_name", "name"].map((key) => keys.indexOf(key));
  const byNumber = new Map(rows.map((row) => [row[at], [row[site], row[name]].filter(Boolean).join(", ")]));
  return asked
    .filter(({ number, sure }) => sure || byNumber.has(number))
    .map(({ number }) => ({ number, name: byNumber.get(number) ?? "", there: byNumber.has(number) }));
}

// Those of the cases found that the text names.
export function casesNamed(text, cases) {
  const said = ` ${text.toUpperCase().replace(/[^A-Z0-9]+/g, " ").trim()} `;
  return cases.filter(({ id }) => said.includes(` ${id.toUpperCase().replace(/[^A-Z0-9]+/g, " ")} `));
}
