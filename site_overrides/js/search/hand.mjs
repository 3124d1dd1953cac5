// What the search heard and did, as the beginning of a record; the page "Record a case" takes it over.

const HAND_OVER = "leaklore.handed";
const MONTHS = 12; // in a year

// The amount in the words that were typed, where they are a number with a unit; else in the unit given.
function asTyped(text, { start, end }, pattern, otherwise) {
  const hit = pattern.exec([...text].slice(start, end).join("").toLowerCase());
  return hit ? hit[0].replace(/([0-9])(?=[a-z])/g, "$1 ") : otherwise;
}

// `steps` are { technique, at, result, minutes, points }; `answer` is what the engine understood and knows.
// A `unit` of the register stands by its number; what is known from there is not said again.
export function recordOf({ understood, evidence }, text, steps, unit = null) {
  const record = {};
  const put = (key, value) => {
    if (value !== null && value !== undefined && value.length !== 0) record[key] = value;
  };
  if (unit) record.system = unit.number;
  put("symptoms", [...evidence.symptoms]);
  put("not_seen", [...evidence.absent]);
  if (evidence.conditions.length) record.environment = { conditions: [...evidence.conditions] };
  const known = { setting: evidence.setting, kind: evidence.kinds.length === 1 ? evidence.kinds[0] : null, refrigerant: evidence.refrigerant };
  const equipment = Object.fromEntries(Object.entries(known).filter(([name, key]) => key && key !== unit?.gear[name]));
  const amount = (kind) => understood.filter((finding) => finding.kind === kind).at(-1) ?? null;
  const mass = /[0-9]+(?:\.[0-9]+)? ?(?:lbs?|oz|kg|g)\b(?: [0-9]+(?:\.[0-9]+)? ?oz\b)?/;
  const time = /[0-9]+(?:\.[0-9]+)? ?(?:days?|weeks?|months?|years?)\b/;
  const kilograms = ({ value }) => `${Number(value.toFixed(3))} kg`;
  const charge = amount("charge");
  if (charge) equipment.charge = asTyped(text, charge, mass, kilograms(charge));
  if (Object.keys(equipment).length) record.equipment = equipment;
  const [lost, over] = [amount("lost"), amount("over")];
  if (lost) {
    record.charge = { lost: asTyped(text, lost, mass, kilograms(lost)) };
    if (over) record.charge.over = asTyped(text, over, time, `${Number((over.value * MONTHS).toFixed(1))} months`);
  }
  const made = steps.filter(({ result }) => result !== "skip");
  put("search", made.map(({ technique, at, result, minutes, points }) => ({ technique, at: [...at], minutes: Math.max(1, Math.round(minutes)), result: result === "found" ? (points ? "pinpointed" : "lead") : "clean" })));
  const found = made.filter(({ result, points }) => result === "found" && points);
  if (found.length === 1) record.cause = { component: found[0].at[0] };
  return record;
}

export function handOver(record) {
  try {
    sessionStorage.setItem(HAND_OVER, JSON.stringify({ record }));
  } catch {
    // refused: the form opens empty
  }
}
