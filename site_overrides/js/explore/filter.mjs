// What is chosen, which leaks fit it, and how many: counts only, no page and no chart.

// A choice: a set of numbers for each facet; `from`, `to` numbers of quarters, both in; `young` in, `old` out, in years.
export function nothingChosen(data) {
  const chosen = { from: null, to: null, young: null, old: null };
  for (const facet of Object.keys(data.facets)) chosen[facet] = new Set();
  return chosen;
}

export function isChosen(chosen, part) {
  if (part === "when") return chosen.from !== null || chosen.to !== null;
  if (part === "age") return chosen.young !== null || chosen.old !== null;
  return chosen[part].size > 0;
}

const PARTS = ["when", "age"];

// For each part a test of a leak by its number; null where the part lets every leak through.
function tests(data, chosen) {
  const { leaks } = data;
  const found = {};
  for (const part of [...Object.keys(data.facets), ...PARTS]) found[part] = null;
  for (const facet of Object.keys(data.facets)) {
    if (chosen[facet].size) found[facet] = (i) => chosen[facet].has(leaks[facet][i]);
  }
  const { from, to, young, old } = chosen;
  if (from !== null || to !== null) {
    found.when = (i) => leaks.quarter[i] >= (from ?? 0) && leaks.quarter[i] <= (to ?? Infinity);
  }
  if (young !== null || old !== null) {
    found.age = (i) => leaks.age[i] !== null && leaks.age[i] >= (young ?? 0) && leaks.age[i] < (old ?? Infinity);
  }
  return found;
}

// { fits: numbers of the leaks that pass all; beside: for each part, those that pass all the other parts }
export function sift(data, chosen) {
  const found = tests(data, chosen);
  const parts = Object.keys(found);
  const fits = [];
  const beside = Object.fromEntries(parts.map((part) => [part, []]));
  for (let i = 0; i < data.leaks.case.length; i += 1) {
    const failed = parts.filter((part) => found[part] && !found[part](i));
    if (!failed.length) fits.push(i);
    if (!failed.length) for (const part of parts) beside[part].push(i);
    else if (failed.length === 1) beside[failed[0]].push(i);
  }
  return { fits, beside };
}

// How many of these leaks have each value of a column: [leaks, cases] by value.
export function tallied(data, numbers, column, length) {
  const leaks = new Array(length).fill(0);
  const cases = Array.from({ length }, () => new Set());
  for (const i of numbers) {
    const value = data.leaks[column][i];
    leaks[value] += 1;
    cases[value].add(data.leaks.case[i]);
  }
  return leaks.map((n, value) => [n, cases[value].size]);
}

// Cases of these leaks, newest first, each with the numbers of its leaks.
export function casesOf(data, numbers) {
  const found = new Map();
  for (const i of [...numbers].reverse()) {
    const id = data.leaks.case[i];
    if (found.has(id)) found.get(id).unshift(i);
    else found.set(id, [i]);
  }
  return found;
}
