// The whole search in its address, so that it can be sent on and come back to: text, checks, filters.

const RESULTS = new Set(["clean", "found", "skip"]);
const MOST_CHECKS = 40; // that an address may hold

export function readAddress(query, facets) {
  const asked = new URLSearchParams(query);
  const checks = [];
  for (const said of asked.getAll("did").slice(0, MOST_CHECKS)) {
    const [, result, technique, at] = /^(\w+)\.([\w-]+)@([\w,-]+)$/.exec(said) ?? [];
    if (RESULTS.has(result)) checks.push({ technique, at: at.split(","), result });
  }
  const finds = checks.filter((c) => c.result === "found").length;
  const only = {};
  for (const name of facets) if (asked.get(name)) only[name] = asked.get(name);
  return { q: asked.get("q") ?? "", checks, only, second: Math.min(Math.max(0, Math.trunc(Number(asked.get("second"))) || 0), finds) };
}

export function writeAddress({ q, checks, only, second }) {
  const asked = new URLSearchParams();
  if (q.trim()) asked.set("q", q.trim());
  for (const { technique, at, result } of checks) asked.append("did", `${result}.${technique}@${at.join(",")}`);
  for (const [name, value] of Object.entries(only)) if (value) asked.set(name, value);
  if (second) asked.set("second", String(second)); // so many finds are set right, and it was searched on
  const text = asked.toString();
  return text ? `?${text}` : "";
}
