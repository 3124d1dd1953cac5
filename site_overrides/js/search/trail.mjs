// The checks that were made, as the `search:` part of a record.

// `steps` are { technique, at, result, minutes, points }; skipped ones are no steps. A spot that another technique has
// pinpointed before is confirmed.
export function trailAsYaml(steps) {
  const made = steps.filter((step) => step.result !== "skip");
  if (!made.length) return "";
  const spots = new Map();
  const lines = made.map(({ technique, at, result, minutes, points }) => {
    let told = result === "found" ? "lead" : "clean";
    if (told === "lead" && points) {
      told = spots.has(at[0]) && spots.get(at[0]) !== technique ? "confirmed" : "pinpointed";
      if (told === "pinpointed") spots.set(at[0], technique);
    }
    return `  - {technique: ${technique}, at: [${at.join(", ")}], minutes: ${Math.max(1, Math.round(minutes))}, result: ${told}}`;
  });
  return `search: # minutes are as planned: put in what it took\n${lines.join("\n")}\n`;
}
