// What a record says, beside what the register of installs says of its system.

const registers = new WeakMap();

// The system of the register (data/systems.json, read by register.mjs) with this number; null where it has none or the file is not at hand.
export function systemOf(systems, number) {
  if (!systems || typeof number !== "string") return null;
  if (!registers.has(systems)) registers.set(systems, new Map(systems.systems.map((one) => [one.system, one])));
  return registers.get(systems).get(number) ?? null;
}

export const numbersOf = (systems) => systems.systems.map((one) => one.system);

// What the register knows of a system, as a record would write it; null for an unknown number.
export function systemFacts(systems, number, record) {
  const found = systemOf(systems, number);
  if (!found) return null;
  const lines = {
    route: found.line_set_route,
    length: found.line_set_length_m === null ? null : `${found.line_set_length_m} m`,
    liquid: found.line_set_liquid,
    suction: found.line_set_suction,
  };
  const facts = {
    setting: found.setting,
    kind: found.kind,
    family: found.family,
    refrigerant: found.refrigerant,
    charge: record?.charges[number] ?? (found.charge_kg === null ? null : `${found.charge_kg} kg`),
    installed: found.installed,
    line_set: given(lines),
  };
  const { name, site_name: site, branch, crew, removed } = found;
  return { number, name, site, branch, crew, removed, equipment: given(facts) };
}

// What is known of a map; null where that is nothing.
function given(map) {
  const known = Object.entries(map).filter(([, value]) => value !== null && value !== undefined);
  return known.length ? Object.fromEntries(known) : null;
}

// The record's equipment over the register's, quantities read; `data` fits the schema.
export function factsOf(data, { systems, charges, read }) {
  const system = systemOf(systems, data.system);
  const own = data.equipment ?? {};
  const charge = own.charge ?? (system ? charges[data.system] : undefined);
  const amount = (map, key, dimension) => (map && key in map ? read(map[key], dimension) : null);
  const hold = data.fix?.hold_test && Object.keys(data.fix.hold_test).length ? data.fix.hold_test : null;
  return {
    system,
    equipment: {
      setting: own.setting ?? system?.setting ?? null,
      kind: own.kind ?? system?.kind ?? null,
      refrigerant: own.refrigerant ?? system?.refrigerant ?? null,
      charge: charge === undefined ? null : read(charge, "mass"),
      installed: own.installed ?? system?.installed ?? null,
    },
    lost: amount(data.charge, "lost", "mass"),
    toppedUp: amount(data.charge, "topped_up", "mass"),
    readings: (data.readings ?? []).map((one) => ({
      by: one.by,
      value: read(one.value, "reading"),
      background: amount(one, "background", "reading"),
    })),
    costs: [
      ...data.search.map((step, i) => [["search", i, "cost"], amount(step, "cost", "money")]),
      [["fix", "parts"], amount(data.fix, "parts", "money")],
      [["first_diagnosis", "cost"], amount(data.first_diagnosis, "cost", "money")],
    ],
    hold: hold && {
      medium: hold.medium,
      start: read(hold.start, "pressure"),
      end: read(hold.end, "pressure"),
      startTemp: amount(hold, "start_temp", "temperature"),
      endTemp: amount(hold, "end_temp", "temperature"),
    },
    causes: [data.cause, ...(data.also_found ?? [])],
    looks: data.follow_up ?? [],
  };
}

// Pa absolute that temperature alone explains (constant volume: P2 = P1 T2/T1); null without both temperatures.
export function expectedPressure({ medium, start, startTemp, endTemp }) {
  if (!startTemp || !endTemp || medium === "vacuum") return null;
  return (start.si * endTemp.si) / startTemp.si;
}

// Every [pointer, text] of a record that holds prose.
export function* proseOf(data) {
  for (const key of ["title", "story", "lesson", "advice"]) if (typeof data[key] === "string") yield [[key], data[key]];
  for (const group of ["readings", "search", "follow_up"]) {
    for (const [i, item] of (data[group] ?? []).entries()) if ("note" in item) yield [[group, i, "note"], item.note];
  }
  for (const [i, item] of (data.photos ?? []).entries()) yield [["photos", i, "caption"], item.caption];
  if (data.withdrawn) yield [["withdrawn", "why"], data.withdrawn.why];
}
