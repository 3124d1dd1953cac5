// Questions on techniques, readings and the order of checks: the twin of generator/leaklore/analysis/questions/finding.py.
import { CHOICES, CLEAR, LOOK, NITROGEN_SHOWS, capital } from "./questions_make.mjs";

// Rounded to two digits where it has more before the point.
function twoDigits(value) {
  let size = 1;
  while (value / size >= 100) size *= 10;
  return size > 1 ? Math.floor(value / size + 0.5) * size : value;
}

function toldOf(m, sight, gas) {
  const name = m.named("technique", sight.technique);
  if (sight.verdict === "sees") return m.say("shows", { name, times: m.write(twoDigits(sight.margin || 0), "rough") });
  if (sight.verdict === "blind") return m.say("blind", { name, gas });
  return m.say("needs", { name, times: m.write(twoDigits(1 / (sight.margin || 1)), "rough") });
}

export function askTechniqueSees(m) {
  const { t } = m;
  const refrigerant = m.gas("searched");
  const [leak, testPressure] = [m.one("any-rates"), m.one("pressures")];
  const [hold, volume] = [m.one("holds"), m.one("volumes")];
  if (testPressure > m.mostNitrogen(refrigerant)) return null;
  const sights = t.detectability.judge({ leak, refrigerant, testPressure, volume, hold }, t.tables).filter((s) => s.technique in m.material.techniques);
  const sees = sights.filter((s) => s.verdict === "sees");
  const misses = sights.filter((s) => s.verdict === "blind" || (s.margin !== null && s.margin < 1 - CLEAR));
  const count = 1 + m.chance.below(CHOICES - 1);
  const right = m.chance.shuffled(sees).slice(0, count);
  const wrong = m.chance.shuffled(misses).slice(0, CHOICES - count);
  if (right.length + wrong.length < CHOICES) return null;
  const told = (some) => `${some.map((s) => toldOf(m, s, refrigerant.key)).join("; ")}.`;
  const names = (some) => some.map((s) => m.named("technique", s.technique));
  const slots = {
    gas: refrigerant.key,
    rate: m.write(leak, "leak-rate"),
    pressure: m.write(testPressure, "pressure"),
    hold: m.write(hold, "time"),
    volume: m.write(volume, "circuit"),
    shown: told(right),
    others: told(wrong),
  };
  return m.asked(names(right), names(wrong), "bench:which-technique", slots, "why", true);
}

export function askReadingsAbove(m) {
  const { factor, step } = m.material.reading;
  const places = m.chance.shuffled(m.material.places).slice(0, CHOICES);
  if (places.length < CHOICES) return null;
  const count = 1 + m.chance.below(CHOICES - 1);
  const [right, wrong] = [[], []];
  places.forEach((place, i) => {
    const background = m.one("backgrounds");
    const least = Math.max(factor * background, background + step);
    let value;
    if (i < count) {
      value = Math.ceil(least * m.chance.share(1.2, 4) * 1e6) * 1e-6;
    } else {
      const most = (1 - CLEAR) * Math.max(factor * background, background + step);
      value = Math.floor((background + (most - background) * m.chance.share(0.3, 1)) * 1e6) * 1e-6;
    }
    const slots = { place: m.named("component", place), value: m.write(value, "concentration"), background: m.write(background, "concentration") };
    (i < count ? right : wrong).push(m.say("choice", slots));
  });
  const slots = { factor: String(factor), step: m.write(step, "concentration") };
  return m.asked(right, wrong, "bench:air", slots, "why", true);
}

export function askFools(m) {
  const { techniques } = m.material;
  const able = Object.keys(techniques).filter((key) => techniques[key].fooled_by.length && techniques[key].safe.length >= CHOICES - 1);
  if (!able.length) return null;
  const technique = m.chance.pick(able);
  const right = m.chance.pick(techniques[technique].fooled_by);
  const wrong = m.few(techniques[technique].safe);
  const others = wrong.map(([what, of]) => m.say("of", { what, name: m.named("technique", of) }));
  const slots = { technique: m.named("technique", technique), others: `${others.join("; ")}.` };
  return m.asked([capital(right)], wrong.map(([what]) => capital(what)), `technique:${technique}`, slots);
}

export function askLeastDisturbing(m) {
  const { t } = m;
  const [refrigerant, leak] = [m.gas("searched"), m.one("rates")];
  const verdicts = Object.fromEntries(t.detectability.judge({ leak, refrigerant }, t.tables).map((s) => [s.technique, s.verdict]));
  const disturbs = Object.fromEntries(Object.entries(m.material.techniques).map(([key, facts]) => [key, facts.disturbs]));
  const keys = Object.keys(disturbs);
  const least = Math.min(...Object.values(disturbs));
  const able = keys.filter((key) => disturbs[key] === least && ["sees", "no-number"].includes(verdicts[key]));
  if (!able.length) return null;
  const first = m.chance.pick(able);
  const later = keys.filter((key) => disturbs[key] >= disturbs[first] + 2);
  if (later.length < CHOICES - 1) return null;
  const wrong = m.few(later);
  const slots = {
    gas: refrigerant.key,
    rate: m.write(leak, "leak-rate"),
    right: m.named("technique", first),
    d: String(disturbs[first]),
    others: wrong.map((key) => m.say("one", { name: m.named("technique", key), d: String(disturbs[key]) })).join(", "),
  };
  return m.asked([m.named("technique", first)], wrong.map((key) => m.named("technique", key)), `technique:${first}`, slots);
}

export function askBeforeGauges(m) {
  const { survey_before: later, rooms, techniques } = m.material;
  if (!("air-survey" in techniques) || later.length < CHOICES - 1 || !rooms.length) return null;
  const room = m.chance.pick(rooms);
  const gas = m.gas(room.gases);
  const heavy = later.filter((key) => LOOK in techniques && techniques[key].disturbs >= techniques[LOOK].disturbs + 3);
  const read = m.chance.below(2) === 1 && heavy.length >= CHOICES - 2;
  const others = read ? ["air-survey", ...m.chance.shuffled(heavy).slice(0, CHOICES - 2)] : m.few(later);
  const key = read ? LOOK : "air-survey";
  const right = m.named("technique", key);
  const slots = { gas: gas.key, place: m.named("component", room.area), state: read ? m.say("read") : "", right };
  return m.asked([right], others.map((one) => m.named("technique", one)), `technique:${key}`, slots, read ? "why-read" : "why");
}

export function askEmptyCircuit(m) {
  const onNitrogen = m.chance.below(2) === 1;
  const [gas, pressure] = [m.gas("common"), m.one("pressures")];
  const silent = m.material.empty[onNitrogen ? "nitrogen" : "stands"];
  if (silent.length < CHOICES - 1 || pressure > m.mostNitrogen(gas)) return null;
  const wrong = m.few(silent).map((key) => m.named("technique", key));
  const key = onNitrogen ? NITROGEN_SHOWS : LOOK;
  const right = m.named("technique", key);
  const state = onNitrogen ? m.say("nitrogen", { pressure: m.write(pressure, "pressure") }) : m.say("stands");
  const slots = { gas: gas.key, state, right, others: wrong.join(", ") };
  return m.asked([right], wrong, `technique:${key}`, slots, onNitrogen ? "why-nitrogen" : "why-stands");
}

export function askSecondTechnique(m) {
  const { firsts, places } = m.material.second;
  if (!firsts.length || !places.length) return null;
  const names = {
    first: m.named("technique", m.chance.pick(firsts)),
    second: m.named("technique", NITROGEN_SHOWS),
    place: m.named("component", m.chance.pick(places)),
  };
  const wrong = ["again", "turn", "vacuum"].map((key) => m.say(key, names));
  return m.asked([m.say("right", names)], wrong, `technique:${NITROGEN_SHOWS}`, names);
}

export function askLowFirst(m) {
  const { low } = m.material;
  if (!low.length) return null;
  const spot = m.chance.pick(low);
  const gas = m.gas(spot.gases);
  const times = gas.molarMass / m.t.units.AIR;
  if (times < 1 + CLEAR) return null;
  const wrong = m.few(spot.others).map((key) => m.named("component", key));
  const slots = { gas: gas.key, area: m.named("component", spot.area), times: m.write(times, "times") };
  return m.asked([m.named("component", spot.low)], wrong, `component:${spot.low}`, slots);
}
