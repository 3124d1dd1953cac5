// The page on readings in air; see answers.mjs.
import { Answer } from "./answer.mjs";

export function airReading(i, t) {
  const a = new Answer();
  const r = t.refrigerants.get(i.refrigerant);
  a.put({ refrigerant: r.key, density: t.air.density(i.reading, r.molarMass), "molar-mass": r.molarMass * 1000 });
  a.put({ heavier: r.relativeDensity, left: t.entry.displaced(i.reading) });
  a.show(r.relativeDensity > 1 ? "heavy" : "rises");
  const above = t.air.aboveBackground(i.reading, i.background, i.resolution, i.accuracy);
  a.put({ difference: above.difference === null ? null : Math.max(0, above.difference), needed: above.needed });
  a.show(above.above === null ? "no-background" : above.above ? "above" : "not-above");
  const found = t.entry.check(r, i.reading, i.oxygen);
  const reached = new Set(found.reached.map((limit) => limit.key));
  const limits = [...t.entry.limits(r), t.entry.caution(r)];
  for (const limit of limits) {
    a.show(`limit-${limit.key}`, `${limit.key}.${reached.has(limit.key) ? "reached" : "below"}`);
    a.put({ [`${limit.key}.at`]: limit.fraction, [`${limit.key}.density`]: t.air.density(limit.fraction, r.molarMass) });
    a.put({ [`${limit.key}.source`]: limit.source.where });
  }
  a.orders.limits = limits.sort((x, y) => x.fraction - y.fraction).map((limit) => limit.key);
  a.show(`entry-${found.verdict}`, i.oxygen === null ? "oxygen-unknown" : "oxygen-measured");
  if (found.oxygenLow) a.show("oxygen-low");
  if (found.oxygenHigh) a.show("oxygen-high");
  const space = t.air.spaceWithChanges(i.room, i.changes);
  buildsUp(i, t, r, space, a);
  clears(i, t, space, a);
  return a;
}

function buildsUp(i, t, r, space, a) {
  const vapour = t.air.vapourFlow(i.leak, r.molarMass);
  const toCaution = t.air.timeTo(space, t.entry.caution(r).fraction, vapour);
  const toLimit = t.air.timeTo(space, t.entry.limits(r)[0].fraction, vapour);
  const hour = t.units.HOUR;
  a.put({ vapour: vapour * hour, air: space.air * hour, after: t.air.after(space, vapour, i.time) });
  a.put({ "to-caution": toCaution, "to-limit": toLimit });
  a.show(i.changes === 0 ? "closed" : "aired");
  if (i.changes > 0) a.put({ steady: t.air.steady(space, vapour) });
  a.show(Number.isFinite(toCaution) ? "reaches-caution" : "never-caution");
  a.show(Number.isFinite(toLimit) ? "reaches-limit" : "never-limit");
  if (i.charge !== null) {
    const out = t.entry.release(r, i.charge, i.room);
    a.put({ "all-out": out.fraction, "all-density": out.density, "room-needed": out.volumeNeeded });
    a.show("release");
    if (out.aboveRcl !== null) a.show(out.aboveRcl ? "over-rcl" : "under-rcl");
  }
}

// When a detector can tell a leak from the room again, once nothing more leaks in.
function clears(i, t, space, a) {
  const clean = Math.max(i.background ?? 0, i.resolution);
  if (i.reading <= clean) return;
  const time = t.air.purgeTime(space, i.reading, clean);
  a.put({ clean, clears: time });
  a.show(Number.isFinite(time) ? "clears" : "stays");
}
