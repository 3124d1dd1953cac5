// Runs the browser's twin of a computation on arguments sent as JSON and tells answers or refusals as JSON.
import { general, fixed, grouped } from "/trade/format.mjs";
import { trade, OutOfRange, TradeError } from "/trade/index.mjs";

const NUMBERS = { inf: Infinity, "-inf": -Infinity, nan: NaN };

// Several steps that have one name in the tests.
const STEPS = {
  "format.general": () => general,
  "format.fixed": () => fixed,
  "format.grouped": () => grouped,
  version: () => (content) => trade(content).data.version,
  constants: (t) => () =>
    Object.fromEntries(
      Object.entries(t).map(([part, names]) => [part, Object.fromEntries(Object.entries(names).filter(([name]) => /^[A-Z_]+$/.test(name)))]),
    ),
  "data.checked": (t) => () => ["rules", "practice", "techniques", "tubes"].map(t.data.checked),
  "data.advice": (t) => () => t.data.advice,
  "refrigerants.keys": (t) => () => t.refrigerants.all.map((one) => one.key),
  "volume.tubes": (t) => () => t.volume.tubes,
  "usRules.kinds": (t) => () => t.usRules.kinds,
  "detectability.reasons": (t) => (situation) =>
    t.detectability
      .judge(situation, t.tables)
      .map((one) => t.detectability.reason(one, t.detectability.name(one.technique), situation.refrigerant.key)),
  parts: (t) => () => Object.fromEntries(Object.entries(t).map(([part, names]) => [part, Object.keys(names).sort()])),
};

function decoded(t, node) {
  if (Array.isArray(node)) return node.map((one) => decoded(t, one));
  if (node === null || typeof node !== "object") return node;
  if ("$number" in node) return NUMBERS[node.$number];
  if ("$left" in node) return undefined;
  if ("$refrigerant" in node) return t.refrigerants.get(node.$refrigerant);
  if ("$tables" in node) return t.tables;
  if ("$raw" in node) return node.$raw;
  if ("$gas" in node) return t.gas.state(...decoded(t, node.$gas));
  return Object.fromEntries(Object.entries(node).map(([key, value]) => [key, decoded(t, value)]));
}

function encoded(node) {
  if (typeof node === "number" && !Number.isFinite(node)) return { $number: Number.isNaN(node) ? "nan" : node > 0 ? "inf" : "-inf" };
  if (node === undefined) return { $left: true };
  if (Array.isArray(node)) return node.map(encoded);
  if (node === null || typeof node !== "object") return node;
  return Object.fromEntries(Object.entries(node).map(([key, value]) => [key, encoded(value)]));
}

function refusal(fault) {
  if (fault instanceof OutOfRange) {
    const { field, value, low, high, unit, message } = fault;
    return { $refused: "OutOfRange", ...encoded({ field, value, low, high, unit, message }) };
  }
  if (fault instanceof TradeError) return { $refused: "TradeError", message: fault.message };
  return { $refused: "fault", message: String(fault?.stack ?? fault) };
}

export function answers(content, name, calls) {
  const t = trade(content);
  const [part, func] = name.split(".");
  const run = STEPS[name]?.(t) ?? t[part]?.[func];
  if (typeof run !== "function") throw new Error(`the browser has no ${name}`);
  return calls.map((args) => {
    try {
      return encoded(run(...decoded(t, args)));
    } catch (fault) {
      return refusal(fault);
    }
  });
}
