// What an answer holds: `outs` fill slots (SI, or text), `parts` are shown, `orders` sort lists.
// The same names as generator/leaklore/pages/bench_answers.py gives.
export class Answer {
  outs = {};
  parts = new Set();
  orders = {};

  put(outs) {
    for (const [key, value] of Object.entries(outs)) {
      if (value !== null && value !== undefined && (typeof value === "string" || Number.isFinite(value))) this.outs[key] = value;
    }
  }

  show(...parts) {
    for (const part of parts) this.parts.add(part);
  }
}

// Vapour of a circuit at rest; null, and the reason shown, where nothing can be told.
export function insideAtRest(t, refrigerant, temperature, a, OutOfRange) {
  const pressure = t.tables.dew(refrigerant, temperature);
  if (t.gas.isNoSaturation(pressure)) {
    a.put({ critical: pressure.critical });
    a.show("supercritical");
    return null;
  }
  a.put({ inside: pressure });
  if (pressure <= t.units.ATMOSPHERE) {
    a.show("below-atmosphere");
    return null;
  }
  try {
    return t.tables.vapour(refrigerant, temperature, pressure);
  } catch (fault) {
    if (!(fault instanceof OutOfRange)) throw fault;
    a.show("no-vapour");
    return null;
  }
}
