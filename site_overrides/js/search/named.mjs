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
  const byNumber = new Map(rows.map((row) => [row[keys.indexOf("system")], row]));
  const of = (number, key) => byNumber.get(number)?.[keys.indexOf(key)] ?? null;
  return asked
    .filter(({ number, sure }) => sure || byNumber.has(number))
    .map(({ number }) => ({
      number,
      name: [of(number, "site_name"), of(number, "name")].filter(Boolean).join(", "),
      there: byNumber.has(number),
      gear: { kind: of(number, "kind"), setting: of(number, "setting"), refrigerant: of(number, "refrigerant"), charge: of(number, "charge_kg") },
    }));
}

// The only unit that is named and known, else null: with two nobody can say of which a finding is told.
export function onlyUnit(units) {
  const known = units.filter(({ there, gear }) => there && gear);
  return known.length === 1 ? known[0] : null;
}

// What was understood, with what the register knows of the unit where nothing else was said.
export function withGear(evidence, gear) {
  if (!gear) return evidence;
  const [setting, refrigerant, charge] = ["setting", "refrigerant", "charge"].map((key) => evidence[key] ?? gear[key]);
  const kinds = evidence.kinds.length === 1 || !gear.kind ? evidence.kinds : [gear.kind];
  return { ...evidence, kinds, setting, refrigerant, charge, share: evidence.rate === null || !charge ? null : evidence.rate / charge };
}

// Those of the cases found that the text names.
export function casesNamed(text, cases) {
  const said = ` ${text.toUpperCase().replace(/[^A-Z0-9]+/g, " ").trim()} `;
  return cases.filter(({ id }) => said.includes(` ${id.toUpperCase().replace(/[^A-Z0-9]+/g, " ")} `));
}
