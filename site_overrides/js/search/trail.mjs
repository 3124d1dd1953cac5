// The checks that were made, as the `search:` part of a record.

// `steps` are { technique, at, result, minutes, points }; skipped ones are no steps.
export function trailAsYaml(steps) {
  const made = steps.filter((step) => step.result !== "skip");
  if (!made.length) return "";
  const lines = made.map(({ technique, at, result, minutes, points }) => {
    const told = result === "found" ? (points ? "pinpointed" : "lead") : "clean";
    return `  - {technique: ${technique}, at: [${at.join(", ")}], minutes: ${Math.max(1, Math.round(minutes))}, result: ${told}}`;
  });
  return `search: # minutes are as planned: put in what it took\n${lines.join("\n")}\n`;
}
