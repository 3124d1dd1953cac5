// What a system or a case knows goes into the fields; what it does not know is emptied, not left at the example's.
import { load, recordOf } from "./load.mjs";
import { say } from "../say.mjs";

const VERSION = 2; // of the files with systems and with cases
const NUMBERS = 200; // as generator/leaklore/pages/data_cases.py cuts cases into files
const CASE = /^([A-Z]{2,4}-\d{4})-(\d{3,5})$/;

async function systemFacts(root, key) {
  const { systems } = await load(root, "systems", VERSION);
  const found = recordOf(systems, key);
  if (!found) return null;
  return {
    id: key,
    name: `${found.site_name}, ${found.name}`,
    url: `systems/${key}/`,
    refrigerant: found.refrigerant,
    charge: found.charge_kg,
    length: found.line_set_length_m,
    liquid: found.line_set_liquid,
    suction: found.line_set_suction,
    circuit: found.circuit_guess_m3,
    equipment: found.kind,
    setting: found.setting,
  };
}

async function caseFacts(root, key, t) {
  const [, series, number] = key.match(CASE) ?? [];
  if (!series) return null;
  const piece = `${series}-${Math.floor(number / NUMBERS)}`;
  const answer = await load(root, `cases/${piece}`, VERSION, { missing: null });
  const found = answer && recordOf(answer.cases, key);
  if (!found) return null;
  const system = found.system ? await systemFacts(root, found.system) : null;
  return {
    ...(system ?? {}),
    id: key,
    name: found.title,
    url: found.url,
    refrigerant: found.refrigerant ?? system?.refrigerant,
    charge: found.charge_kg ?? system?.charge,
    lost: found.lost_kg,
    over: found.lost_over_s,
    leak: found.leak_rate_g_per_year === null ? null : found.leak_rate_g_per_year * t.units.GRAM_PER_YEAR,
    equipment: found.kind,
    setting: found.setting,
  };
}

export async function factsFor(asked, root, t) {
  const [piece, system] = [asked.get("case"), asked.get("system")];
  if (piece) return { wanted: say("case {id}", { id: piece }), facts: await caseFacts(root, piece, t) };
  if (system) return { wanted: say("system {id}", { id: system }), facts: await systemFacts(root, system) };
  return null;
}

// Facts as the fields want them. The rest of the circuit is guessed from charge and line set, less the line set.
function values(facts, t) {
  const found = { ...facts };
  const size = (text) => {
    try {
      return text ? t.volume.tube(text).name : "";
    } catch {
      return ""; // a size that is in no table
    }
  };
  if (facts.length) Object.assign(found, { liquid: size(facts.liquid), suction: size(facts.suction) });
  else if (facts.circuit) Object.assign(found, { liquid: "", suction: "", length: 0 });
  if (facts.circuit) {
    const lines = t.volume.lineSet(found.liquid || null, found.suction || null, found.length ?? 0);
    found.rest = Math.max(0, facts.circuit - lines);
  }
  if (facts.equipment) {
    const appliance = t.usRules.appliance(facts.equipment, facts.setting ?? undefined);
    found.kind = appliance.kind;
    found.light = appliance.light ? "yes" : "no";
    found.residential = facts.setting === "residential" ? "yes" : "no";
  }
  return found;
}

// Fills the fields that the address does not name itself; tells which came from the record and which it lacks.
export function prefill(facts, fields, asked, t) {
  const found = values(facts, t);
  const taken = [];
  const lacking = [];
  for (const field of fields.values()) {
    if (!field.record || asked.has(field.key)) continue;
    const value = found[field.record];
    const known = value !== null && value !== undefined;
    if (field.kind === "quantity") {
      if (known) field.fill(value, field.record === "rest" ? 3 : 5);
      else field.text = "";
    } else if (known) {
      field.query = value;
    }
    if (known) taken.push(field.waiting);
    else if (field.kind === "quantity" && !field.optional) lacking.push(field.waiting);
  }
  return { taken, lacking };
}
