// The computations of the bench in the browser: SI inputs by field in, an Answer out. Each is the twin of the function of
// the same name in generator/leaklore/pages/bench_answers.py and bench_answers_gas.py; trade knowledge is all in `t`.
import { OutOfRange } from "../trade/index.mjs";
import { Answer, insideAtRest } from "./answer.mjs";
import { airReading } from "./answers_air.mjs";

const TUBE = [193.15, 473.15]; // K, the coldest and hottest tube of a refrigerating circuit

function pressureTemperature(i, t) {
  const a = new Answer();
  const r = t.refrigerants.get(i.refrigerant);
  const [low, high] = t.tables.saturationRange(r);
  a.put({ refrigerant: r.key, low, high, error: t.tables.saturationError(r), group: r.safetyGroup, heavier: r.relativeDensity });
  a.show(r.pure ? "pure" : "blend", r.flammable ? "flammable" : "not-flammable");
  if (i.given === "pressure") {
    a.show("by-pressure");
    const dew = t.tables.temperature(r, i.pressure, "dew");
    const bubble = t.tables.temperature(r, i.pressure, "bubble");
    a.put({ "dew-temperature": dew, "bubble-temperature": bubble, glide: dew - bubble, absolute: i.pressure });
    beyond(i.tube, dew, bubble, t, a);
    return a;
  }
  const pressure = t.tables.dew(r, i.temperature);
  if (t.gas.isNoSaturation(pressure)) {
    a.put({ critical: pressure.critical });
    a.show("supercritical");
    return a;
  }
  a.show("by-temperature");
  a.put({ dew: pressure, bubble: t.tables.bubble(r, i.temperature), absolute: pressure, kelvin: i.temperature });
  if (!r.pure) {
    try {
      a.put({ glide: t.tables.glide(r, pressure) });
      a.show("glide");
    } catch (fault) {
      if (!(fault instanceof OutOfRange)) throw fault; // the other side of the glide lies beyond the table
    }
  }
  return a;
}

function beyond(tube, dew, bubble, t, a) {
  if (tube === null) return;
  t.units.require("tube temperature", tube, ...TUBE, "K");
  if (tube > dew) {
    a.put({ superheat: tube - dew });
    a.show("superheat");
  } else if (tube < bubble) {
    a.put({ subcooling: bubble - tube });
    a.show("subcooling");
  } else a.show("two-phase");
}

function leakRates(i, t) {
  const a = new Answer();
  const r = t.refrigerants.get(i.refrigerant);
  const { YEAR } = t.units;
  const loss = t.leakRate.loss(i.lost, i.over, i.charge);
  a.put({ rate: loss.rate, share: loss.share, years: loss.share ? YEAR / loss.share : null });
  if ("years" in a.outs) a.show("lasts");
  const set = Object.keys(t.refrigerants.GWP_SETS).find((key) => r.gwp[key] !== null);
  if (set) {
    const gwp = r.gwp[set];
    a.put({ gwp, "gwp-set": t.refrigerants.GWP_SETS[set], co2e: t.leakRate.tonnesCo2e(i.lost, gwp) });
    a.put({ "co2e-year": t.leakRate.tonnesCo2e(loss.rate * YEAR, gwp) });
    a.show("gwp");
  }
  if (i.price !== null) {
    a.put({ cost: t.leakRate.cost(i.lost, i.price), "cost-year": t.leakRate.cost(loss.rate * YEAR, i.price) });
    a.show("price");
  }
  if (i.charge === null) {
    a.show("no-charge");
    return a;
  }
  a.show("charge");
  usRules(i, t, r, a);
  const check = t.euRules.leakCheck(r, i.charge, i.detection, i.hermetic, i.residential);
  a.put({ "eu.because": check.because, "eu.months": check.months, "eu.source": check.source.where });
  a.show(check.months === null ? "eu.none" : "eu.checked");
  if (check.detection) a.show("eu.detection");
  return a;
}

function usRules(i, t, r, a) {
  const days = i.over / t.units.DAY;
  const rates = [t.leakRate.annualizing(i.lost, i.charge, days)];
  a.put({ days, annualizing: rates[0] });
  if (i.added !== null) {
    rates.push(t.leakRate.rollingAverage([{ day: i.on, mass: i.added, counts: true }], i.charge, i.on));
    a.put({ rolling: rates[1] });
    a.show("rolling");
  }
  const kind = { kind: i.kind, light: i.light };
  for (const rule of t.usRules.rules(r, i.charge, kind, i.on, Math.max(...rates))) {
    a.show(rule.key);
    a.put({ [`${rule.key}.because`]: rule.because });
    if (!rule.holds || rule.threshold === null) {
      a.show(`${rule.key}.out`);
      continue;
    }
    a.put({ [`${rule.key}.threshold`]: rule.threshold });
    a.show(`${rule.key}.${rule.over ? "over" : "under"}`);
    if (rule.over) {
      a.put({ "repair-by": t.usRules.repairBy(i.on).day, inspection: t.usRules.inspectionMonths(i.kind, i.charge)[0] });
      a.show("us.over");
    }
    if (t.usRules.chronicReport(i.lost, i.charge, Number(i.on.slice(0, 4))) !== null) a.show("us.chronic");
  }
}

function leakFlow(i, t) {
  const a = new Answer();
  const r = t.refrigerants.get(i.refrigerant);
  const { ATMOSPHERE, GRAM_PER_YEAR } = t.units;
  const leak = i.given === "mass" ? i.leak : t.flow.massRate(i.flow, r.molarMass);
  a.put({ rate: leak, grams: leak / GRAM_PER_YEAR, flow: t.flow.throughput(leak, r.molarMass), "molar-mass": r.molarMass * 1000 });
  let gas;
  if (i.inside === null) {
    gas = insideAtRest(t, r, i.temperature, a, OutOfRange);
    a.show("at-rest");
  } else {
    gas = t.tables.vapour(r, i.temperature, i.inside);
    a.put({ inside: gas.pressure });
    a.show("as-given");
  }
  if (gas === null) return a;
  if (gas.pressure <= ATMOSPHERE) {
    a.show("below-atmosphere");
    return a;
  }
  const hole = t.flow.hole(leak, gas);
  a.put({ diameter: hole.diameter, flux: t.flow.orificeFlux(gas).mass, exponent: gas.exponent });
  a.show("hole", hole.choked ? "choked" : "subsonic", hole.continuum ? "continuum" : "pore");
  const nitrogen = i.gas === "nitrogen";
  const other = nitrogen ? t.tables.nitrogen(i.temperature, i.test) : t.tables.vapour(r, i.temperature, i.test);
  if (!nitrogen) a.show("other-refrigerant");
  if (other.pressure <= ATMOSPHERE) {
    a.show("test-below-atmosphere");
    return a;
  }
  a.show("other");
  const same = t.flow.sameHole(leak, gas, other);
  const [low, high] = [same.low, same.high].map((mass) => t.flow.throughput(mass, other.molarMass));
  a.put({ "other-low": low, "other-high": high, "mass-low": same.low, "mass-high": same.high });
  a.put({ "bubble-slow": t.flow.bubbleTime(low), "bubble-fast": t.flow.bubbleTime(high) });
  return a;
}

const circuit = (i, t) => t.volume.lineSet(i.liquid, i.suction, i.length) + i.rest;

// Refuses a test that the air outside holds in: nothing comes out, so nothing can be told of it.
function aboveOutside(pressure, t) {
  const { ATMOSPHERE } = t.units;
  if (pressure <= ATMOSPHERE) throw new OutOfRange("test pressure", pressure, ATMOSPHERE, Infinity, "Pa");
}

function standingTest(i, t) {
  const a = new Answer();
  const r = t.refrigerants.get(i.refrigerant);
  const { pressure: start, temperature, later } = i;
  aboveOutside(start, t);
  const expected = t.pressureTest.expectedNitrogen(t.tables, start, temperature, later);
  const volume = circuit(i, t);
  const smallest = t.pressureTest.smallestLeak(volume, i.time, i.gauge, start, temperature, i.kelvin);
  const drop = t.pressureTest.smallestDrop(i.gauge, start, temperature, i.kelvin);
  a.put({ expected, change: Math.abs(expected - start), absolute: start, kelvin: temperature, "later-kelvin": later });
  a.put({ ideal: t.pressureTest.expectedPressure(start, temperature, later), refrigerant: r.key });
  a.put({ volume, lines: t.volume.lineSet(i.liquid, i.suction, i.length), drop, smallest });
  a.show(expected < start ? "cooler" : expected > start ? "warmer" : "same");
  if (i.nameplate !== null && start > i.nameplate) a.show("above-nameplate");
  if (i.end !== null) {
    const lost = expected - i.end;
    a.put({ lost: Math.abs(lost) });
    a.show("end", lost > drop ? "falls" : lost < -drop ? "rises" : "holds");
    if (lost > drop) a.put({ measured: t.pressureTest.nitrogenLeak(t.tables, volume, i.time, start, i.end, temperature, later) });
  }
  const inside = insideAtRest(t, r, temperature, a, OutOfRange);
  if (inside === null) return a;
  const nitrogen = t.tables.nitrogen(temperature, start);
  const seen = t.flow.sameHole(t.flow.massRate(smallest, nitrogen.molarMass, temperature), nitrogen, inside);
  a.put({ "seen-low": seen.low, "seen-high": seen.high });
  a.show("seen");
  if (i.leak) {
    const passed = t.flow.sameHole(i.leak, inside, nitrogen).low;
    const through = t.flow.throughput(passed, nitrogen.molarMass, nitrogen.temperature);
    const wait = t.pressureTest.timeToSee(through, volume, i.gauge, nitrogen.pressure, nitrogen.temperature, i.kelvin);
    a.put({ wait: wait.seconds, through });
    a.show("wait", i.time >= wait.seconds ? "long-enough" : "too-short");
    if (!wait.steady) a.show("not-steady");
  }
  return a;
}

function vacuumHold(i, t) {
  const a = new Answer();
  const r = t.refrigerants.get(i.refrigerant);
  const { ATMOSPHERE, positive } = t.units;
  const rise = i.end - i.start;
  const readings = [{ after: 0, pressure: i.start }];
  positive("time", i.time, "s");
  if (i.middle !== null && i.half !== null) {
    if (positive("half-way time", i.half, "s") >= i.time) throw new OutOfRange("half-way time", i.half, 0, i.time, "s");
    readings.push({ after: i.half, pressure: i.middle });
  }
  readings.push({ after: i.time, pressure: i.end });
  const found = t.vacuum.judge(readings);
  const water = t.vacuum.waterVapourPressure(i.temperature);
  a.put({ rise: Math.abs(rise), steepness: found.steepness, "levels-at": found.levelsAt, water, refrigerant: r.key });
  a.show(`shape-${found.shape}`);
  if (found.levelsAt !== null) a.show("levels", found.levelsAt > water ? "above-water" : "below-water");
  for (const limit of t.vacuum.limits(i.start, i.end, i.time)) {
    const word = limit.passed === null ? "unfit" : limit.passed ? "passed" : "failed";
    a.show(`${limit.key}.${word}`);
    a.put({ [`${limit.key}.because`]: limit.because });
  }
  if (rise <= 0) {
    a.show("no-rise");
    return a;
  }
  const leak = t.vacuum.riseLeak(i.volume, rise, i.time);
  a.put({ leak });
  a.show("rise");
  const inside = insideAtRest(t, r, i.temperature, a, OutOfRange);
  if (inside !== null && i.end < ATMOSPHERE / 2) {
    const air = t.tables.nitrogen(i.temperature, ATMOSPHERE);
    const same = t.flow.sameHole(t.flow.massRate(leak, air.molarMass, i.temperature), air, inside, i.end);
    a.put({ "out-low": same.low });
    a.show("outward");
  }
  return a;
}

function whichTechnique(i, t) {
  const a = new Answer();
  const r = t.refrigerants.get(i.refrigerant);
  if (i.test !== null) aboveOutside(i.test, t);
  const volume = circuit(i, t);
  const sights = t.detectability.judge(
    {
      leak: i.leak,
      refrigerant: r,
      temperature: i.temperature,
      testPressure: i.test,
      volume: volume || null,
      space: i.room === null ? null : t.air.spaceWithChanges(i.room, i.changes),
      hold: i.time,
      gauge: i.gauge,
      temperatureUncertainty: i.kelvin,
    },
    t.tables,
  );
  const name = t.detectability.name;
  a.put({ refrigerant: r.key, rate: i.leak, flow: t.flow.throughput(i.leak, r.molarMass), volume });
  a.orders.techniques = sights.map((s) => s.technique);
  a.put({ seeing: sights.filter((s) => s.verdict === "sees").length });
  for (const s of sights) {
    a.show(`${s.technique}.${s.verdict}`);
    a.put({ [`${s.technique}.because`]: t.detectability.reason(s, name(s.technique), r.key) });
  }
  a.show(sights[0].verdict === "sees" ? "some" : "none");
  a.put({ best: name(sights[0].technique) });
  return a;
}

export const ANSWERS = {
  "pressure-temperature": pressureTemperature,
  "leak-rate": leakRates,
  "leak-flow": leakFlow,
  "standing-test": standingTest,
  "vacuum-hold": vacuumHold,
  air: airReading,
  "which-technique": whichTechnique,
};
