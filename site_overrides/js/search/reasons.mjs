// What speaks for a cause and against it: each finding's likelihood under the cause against its average over all.
import { evidenceFindings } from "./causes.mjs";

const LEAST_SHIFT = 0.15; // nats; less is not worth a word

// [{ group, key, shift }] of one mode, strongest first; `shares` are the probabilities of the modes in the model's order.
export function reasonsFor(model, evidence, mode, shares) {
  const at = model.causes.modes.indexOf(mode);
  const out = [];
  for (const [group, key] of evidenceFindings(evidence, model)) {
    const row = model.causes.tables[group]?.[key];
    if (!row) continue;
    const mean = row.reduce((sum, value, m) => sum + Math.exp(value / 1000) * shares[m], 0);
    const shift = row[at] / 1000 - Math.log(mean);
    if (Math.abs(shift) >= LEAST_SHIFT) out.push({ group, key, shift });
  }
  return out.sort((a, b) => Math.abs(b.shift) - Math.abs(a.shift));
}
