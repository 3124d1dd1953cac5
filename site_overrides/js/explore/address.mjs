// What is chosen, in the address: it can be sent on, and back and forward lead through it.
import { nothingChosen } from "./filter.mjs";

const quarterKey = (quarter) => quarter.toLowerCase().replace(" ", "-");

function year(text, data) {
  const value = /^\d{1,3}$/.test(text ?? "") ? Number(text) : null;
  return value !== null && value <= data.oldest ? value : null;
}

// What the address asks for; what the data do not know is left out.
export function readChosen(query, data) {
  const asked = new URLSearchParams(query);
  const chosen = nothingChosen(data);
  for (const [facet, { keys }] of Object.entries(data.facets)) {
    for (const key of asked.getAll(facet)) if (keys.includes(key)) chosen[facet].add(keys.indexOf(key));
  }
  const quarters = data.quarters.map(quarterKey);
  for (const end of ["from", "to"]) {
    const at = quarters.indexOf(asked.get(end) ?? "");
    if (at >= 0) chosen[end] = at;
  }
  chosen.young = year(asked.get("age-from"), data);
  chosen.old = year(asked.get("age-to"), data);
  return inOrder(chosen);
}

// A range that was given the wrong way round is turned; an age of no length gets one year.
export function inOrder(chosen) {
  const { from, to, young, old } = chosen;
  if (from !== null && to !== null && from > to) Object.assign(chosen, { from: to, to: from });
  if (young !== null && old !== null && young > old) Object.assign(chosen, { young: old, old: young });
  if (chosen.old !== null && chosen.old === (chosen.young ?? 0)) chosen.old += 1;
  return chosen;
}

export function writeChosen(chosen, data) {
  const asked = new URLSearchParams();
  for (const [facet, { keys }] of Object.entries(data.facets)) {
    for (const number of [...chosen[facet]].sort((a, b) => a - b)) asked.append(facet, keys[number]);
  }
  for (const end of ["from", "to"]) if (chosen[end] !== null) asked.set(end, quarterKey(data.quarters[chosen[end]]));
  if (chosen.young !== null) asked.set("age-from", String(chosen.young));
  if (chosen.old !== null) asked.set("age-to", String(chosen.old));
  const text = asked.toString();
  return text ? `?${text}` : "";
}
