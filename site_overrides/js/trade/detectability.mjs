// Which technique can see this leak: its rate against each technique's smallest, ranked and with the reason.
import { citation } from "./data.mjs";
import { general, grouped } from "./format.mjs";
import { OutOfRange, positive } from "./units.mjs";

const RANK = ["sees", "at-limit", "no-number", "no-data", "too-small", "blind"];
const FINDS = ["points", "narrows", "proves"];
const DEEP = 1; // Pa; inside of an evacuated circuit

const VOLUME = "the volume under test";
const CRITICAL = "a temperature below the critical one";
const NO_TABLE = "a temperature for which we hold a table of the vapour";
const NO_PRESSURE = "pressure at rest above that of the air outside";

const PLAIN = 1e9; // figures from here on are told as powers

const RAISED = { "-": "⁻", ...[..."⁰¹²³⁴⁵⁶⁷⁸⁹"] };

// Three digits, or whole thousands; very small and very large ones as 7.2 × 10⁻⁵.
function short(value) {
  if (value >= 999.5 && value < PLAIN) return grouped(value);
  if ((value >= 1e-3 && value < PLAIN) || !value) return general(value, 3);
  const down = value < 1 ? 3 : 0; // small enough to be written with a power
  const [mantissa, power] = general(value * 10 ** -down, 3).split("e");
  return `${mantissa}\u00a0×\u00a010${[...String(Number(power) + down)].map((c) => RAISED[c]).join("")}`;
}
const two = (value) => (value >= 99.5 && value < PLAIN ? grouped(value) : general(value, 2));

export function make(content, { units, gas, flow, pressureTest, vacuum, air }) {
  const { ATMOSPHERE, DAY, GRAM_PER_YEAR, HOUR, MICRON, OUNCE, ROOM_TEMPERATURE } = units;
  const { techniques, defaults, comfortable, reasons } = content.techniques;

  // A field of the situation, or its default times `factor`.
  const setting = (given, key, factor) => given ?? defaults[key] * factor;
  const warmth = (s) => s.temperature ?? ROOM_TEMPERATURE;

  // Vapour that comes out of the circuit at rest, or what is missing for it to be known.
  function atRest(properties, refrigerant, t) {
    const pressure = properties.dew(refrigerant, t);
    if (gas.isNoSaturation(pressure)) return CRITICAL;
    if (pressure <= ATMOSPHERE) return NO_PRESSURE;
    try {
      return properties.vapour(refrigerant, t, pressure);
    } catch (fault) {
      if (!(fault instanceof OutOfRange)) throw fault; // near the critical point or above 55 degC no vapour table was made
      return NO_TABLE;
    }
  }

  // The leak as throughput (Pa m3/s) of refrigerant, of nitrogen at the test pressure, and of air into a vacuum.
  function flows(s, properties) {
    const t = warmth(s);
    const refrigerant = flow.throughput(positive("leak rate", s.leak, "kg/s"), s.refrigerant.molarMass, t);
    const inside = atRest(properties, s.refrigerant, t);
    if (typeof inside === "string") return { refrigerant, nitrogen: null, inward: null, missing: inside };
    const other = (state, outside) =>
      flow.throughput(flow.sameHole(s.leak, inside, state, ATMOSPHERE, outside).low, state.molarMass, t);
    const pressure = s.testPressure ?? null;
    const nitrogen = pressure === null ? null : other(properties.nitrogen(t, pressure), ATMOSPHERE);
    return { refrigerant, nitrogen, inward: other(properties.nitrogen(t, ATMOSPHERE), DEEP), missing: "" };
  }

  const measured = (leak, limit, unit, wait = null) => ({ leak, limit, unit, wait });

  // Each measure gives leak and limit in one unit, or the name of what is missing.
  function standing(by, s, { nitrogen }) {
    if ((s.volume ?? null) === null) return VOLUME;
    const volume = s.volume * (by === "sections" ? defaults.section_share : 1);
    const gauge = setting(s.gauge, "gauge_pa", 1);
    const kelvin = setting(s.temperatureUncertainty, "temperature_k", 1);
    const hold = setting(s.hold, "hold_hours", HOUR);
    const limit = pressureTest.smallestLeak(volume, hold, gauge, s.testPressure, warmth(s), kelvin);
    const wait = pressureTest.timeToSee(nitrogen, volume, gauge, s.testPressure, warmth(s), kelvin);
    return measured(nitrogen, limit, "Pa m3/s", wait.seconds);
  }

  function evacuated(s, { inward, missing }) {
    if ((s.volume ?? null) === null) return VOLUME;
    if (inward === null) return missing;
    const rise = setting(s.vacuumRise, "vacuum_micron", MICRON);
    const limit = vacuum.riseLeak(s.volume, rise, setting(s.vacuumHold, "vacuum_minutes", 60));
    return measured(inward, limit, "Pa m3/s", (s.volume * rise) / inward);
  }

  // Concentration in a room (at last) or a bag (after the wait) against the detector.
  function collected(by, s) {
    const vapour = air.vapourFlow(s.leak, s.refrigerant.molarMass);
    const background = setting(s.background, "background_ppm", 1e-6);
    const { needed } = air.aboveBackground(0, background, setting(s.detector, "detector_ppm", 1e-6));
    const ppm = (reached, wait) => measured(reached * 1e6, needed * 1e6, "ppm", wait);
    const until = (space) => air.timeTo(space, Math.min(1, needed), vapour);
    if (by === "bag") {
      const bag = air.space(setting(s.bag, "bag_litres", 1e-3));
      return ppm(air.after(bag, vapour, setting(s.bagWait, "bag_hours", HOUR)), until(bag));
    }
    if ((s.space ?? null) === null) return "the room's volume and air change";
    if (s.space.air <= 0) return ppm(air.after(s.space, vapour, 24 * HOUR), until(s.space));
    return ppm(air.steady(s.space, vapour), null);
  }

  function measure(by, smallest, s, found) {
    if (found.missing === NO_PRESSURE) return NO_PRESSURE;
    if (by === "mass") return measured(s.leak / GRAM_PER_YEAR, smallest, "g/yr");
    if (by === "throughput") return measured(Math.max(found.refrigerant, found.nitrogen ?? 0), smallest, "Pa m3/s");
    if (["tracer", "standing", "sections"].includes(by)) {
      if ((s.testPressure ?? null) === null) return "the test pressure";
      if (found.nitrogen === null) return found.missing;
      return by === "tracer" ? measured(found.nitrogen, smallest, "Pa m3/s") : standing(by, s, found);
    }
    return by === "vacuum" ? evacuated(s, found) : collected(by, s);
  }

  function sight(key, s, found) {
    const technique = techniques[key];
    const { finds, order } = technique;
    const head = { technique: key, finds, order, source: citation(technique), missing: "" };
    const empty = { leak: null, limit: null, unit: "", wait: null, margin: null };
    if ((technique.blind_to ?? []).includes(s.refrigerant.key)) return { ...head, ...empty, verdict: "blind" };
    if (technique.by === "none") return { ...head, ...empty, verdict: "no-number" };
    const by = measure(technique.by, technique.smallest ?? 0, s, found);
    if (typeof by === "string") return { ...head, ...empty, verdict: "no-data", missing: by };
    const margin = by.leak / by.limit;
    const verdict = margin >= comfortable ? "sees" : margin >= 1 ? "at-limit" : "too-small";
    return { ...head, ...by, margin, verdict };
  }

  // All techniques, best first.
  function judge(situation, properties) {
    const found = flows(situation, properties);
    const rank = (one) => [RANK.indexOf(one.verdict), FINDS.indexOf(one.finds), one.order];
    const compare = (a, b) => rank(a).reduce((told, place, i) => told || place - rank(b)[i], 0);
    return Object.keys(techniques).map((key) => sight(key, situation, found)).sort(compare);
  }

  function figure(value, unit) {
    return unit === "g/yr" ? `${short(value)} g/yr (${short((value * 1e-3) / OUNCE)} oz/yr)` : `${short(value)} ${unit.replace("m3", "m³")}`;
  }

  function span(seconds) {
    const [size, name] = [[DAY, "days"], [HOUR, "h"], [60, "min"]].find(([one]) => seconds >= 2 * one) ?? [1, "s"];
    return `${two(seconds / size)} ${name}`;
  }

  // The verdict in a sentence; `shown` is the technique's name on the page.
  function reason(found, shown, refrigerantKey) {
    const { verdict, leak, limit, unit, wait, margin, missing } = found;
    const slots = { name: shown, refrigerant: refrigerantKey, missing };
    if (leak !== null && limit !== null && margin !== null) {
      Object.assign(slots, { leak: figure(leak, unit), limit: figure(limit, unit) });
      slots.times = two(margin);
    }
    if (wait !== null) slots.wait = span(wait);
    const template = reasons[verdict === "too-small" && wait !== null ? "wait" : verdict];
    return template.replace(/\{(\w+)\}/g, (_, slot) => slots[slot]);
  }

  return { flows, judge, reason, name: (technique) => techniques[technique].name, defaults, RANK, FINDS };
}
