// Questions on pressure and vacuum tests: the twin of generator/leaklore/analysis/questions/pressure.py.
import { CLEAR, apart } from "./questions_make.mjs";

const STANDING = "bench:standing-test";
const AT_REST = [255, 335]; // K
const HALF_TIME = 300; // s
const ALL_TIME = 600;

export function askWarms(m) {
  const { t, material } = m;
  const [start, at, step] = [m.one("pressures"), m.one("temperatures"), m.one("steps")];
  const warmer = m.chance.below(2) === 1;
  const later = warmer ? at + step : at - step;
  if (!(AT_REST[0] < later && later < AT_REST[1])) return null;
  const end = t.pressureTest.expectedNitrogen(t.tables, start, at, later);
  const change = Math.abs(end - start);
  const gauge = start - t.units.ATMOSPHERE;
  const byTheScale = gauge * (step / (at - m.fixed("zero")));
  const [right, other] = warmer ? ["rises", "falls"] : ["falls", "rises"];
  const moved = (way, amount) => m.say(way, { change: m.write(amount, "pressure-step") });
  const slip = apart(change, byTheScale) && byTheScale < gauge ? byTheScale : change / 4;
  const wrong = [moved(other, change), m.say("stays"), moved(right, slip)];
  const slots = {
    pressure: m.write(start, "pressure"),
    temperature: m.write(at, "temperature"),
    step: m.write(step, "temperature-step"),
    way: m.words[warmer ? "warmer" : "cooler"],
    later: m.write(later, "temperature"),
    absolute: m.write(start, "absolute"),
    zero: m.words[material.us ? "zero-us" : "zero-si"],
    end: m.write(end, "pressure"),
  };
  return m.asked([moved(right, change)], wrong, STANDING, slots);
}

export function askWhatIsLeft(m) {
  const { t } = m;
  const { ATMOSPHERE } = t.units;
  const [start, at, step] = [m.one("pressures"), m.one("temperatures"), m.one("steps")];
  const later = m.chance.below(4) ? at - step : at + step;
  const [lost, grid] = [m.one("leaks-of-pressure"), m.fixed("grid")];
  if (!(AT_REST[0] < later && later < AT_REST[1])) return null;
  const expected = t.pressureTest.expectedNitrogen(t.tables, start, at, later);
  const end = Math.floor((expected - lost - ATMOSPHERE) / grid + 0.5) * grid + ATMOSPHERE;
  const drop = t.pressureTest.smallestDrop(t.proof.gaugeError(start), start, at, m.material.kelvin);
  const [left, moved, byHeat] = [expected - end, Math.abs(start - end), Math.abs(start - expected)];
  if (lost ? left < 1.5 * drop : Math.abs(left) > 0.5 * drop) return null;
  const amounts = lost ? [moved, byHeat, moved + byHeat] : [moved, 2 * moved, moved / 2];
  const right = lost ? left : 0;
  const wrong = [];
  for (const amount of [...amounts, 2 * moved, left / 2]) {
    const clear = Math.abs(amount - right) >= Math.max(CLEAR * Math.max(amount, right), drop);
    if (clear && wrong.every((one) => apart(amount, one))) wrong.push(amount);
  }
  const needed = lost ? 2 : 3;
  if (wrong.length < needed) return null;
  const missing = (amount) => m.say("missing", { value: m.write(amount, "pressure-step") });
  const nothing = m.say("nothing");
  const slots = {
    pressure: m.write(start, "pressure"),
    temperature: m.write(at, "temperature"),
    later: m.write(later, "temperature"),
    end: m.write(end, "pressure"),
    expected: m.write(expected, "pressure"),
    drop: m.write(drop, "pressure-step"),
    left: m.write(left, "pressure-step"),
  };
  const texts = wrong.slice(0, needed).map(missing);
  if (lost) return m.asked([missing(left)], [nothing, ...texts], STANDING, slots, "why-missing");
  return m.asked([nothing], texts, STANDING, slots, "why-nothing");
}

export function askHoldLongEnough(m) {
  const { t, material } = m;
  const { ROOM_TEMPERATURE } = t.units;
  const gas = m.gas("common");
  const [rate, volume, pressure] = [m.one("rates"), m.one("volumes"), m.one("pressures")];
  const inside = t.gas.standstill(t.tables, gas, ROOM_TEMPERATURE);
  if (t.gas.isNoSaturation(inside) || pressure > m.mostNitrogen(gas)) return null;
  const nitrogen = t.tables.nitrogen(ROOM_TEMPERATURE, pressure);
  const gauge = t.proof.gaugeError(pressure);
  const drop = t.pressureTest.smallestDrop(gauge, pressure, ROOM_TEMPERATURE, material.kelvin);
  const ratios = material.laws.map((law) => t.flow.lawFlux(law, nitrogen) / t.flow.lawFlux(law, inside));
  const passes = rate * Math.min(...ratios);
  const wait = (volume * drop) / t.flow.throughput(passes, nitrogen.molarMass, ROOM_TEMPERATURE);
  const ladder = m.one("ladders");
  const longEnough = ladder.filter((hold) => hold >= wait);
  if (!longEnough.length || !ladder.every((hold) => apart(wait, hold))) return null;
  const slots = {
    rate: m.write(rate, "leak-rate"),
    gas: gas.key,
    volume: m.write(volume, "circuit"),
    pressure: m.write(pressure, "pressure"),
    gauge: m.write(gauge, "pressure-step"),
    doubt: m.write(material.kelvin, "temperature-step"),
    drop: m.write(drop, "pressure-step"),
    wait: m.write(wait, "time"),
  };
  const others = ladder.filter((hold) => hold !== longEnough[0]);
  return m.measured(longEnough[0], others, "time", STANDING, slots);
}

export function askVacuumRise(m) {
  const { t } = m;
  const start = m.one("vacua");
  let early = m.one("first-rises");
  let late;
  const kind = m.chance.pick(["moisture", "leak", "leak", "moisture", "quiet"]);
  const grid = 10 * t.units.MICRON;
  if (kind === "quiet") {
    early = m.chance.pick([2, 3, 4]) * grid;
    late = m.chance.pick([0, 1, 2]) * grid;
  } else {
    const share = kind === "moisture" ? m.chance.share(0.05, 0.25) : m.chance.share(0.9, 1.1);
    late = Math.floor((early * share) / grid + 0.5) * grid;
  }
  const [middle, end] = [start + early, start + early + late];
  const readings = [
    { after: 0, pressure: start },
    { after: HALF_TIME, pressure: middle },
    { after: ALL_TIME, pressure: end },
  ];
  if (t.vacuum.judge(readings).shape !== kind) return null;
  const figures = { start, middle, end, early, late, rise: early + late };
  const slots = Object.fromEntries(Object.entries(figures).map(([name, value]) => [name, m.write(value, "vacuum")]));
  const wrong = ["moisture", "leak", "quiet", "pump"].filter((key) => key !== kind).map((key) => m.say(key));
  return m.asked([m.say(kind)], wrong, "bench:vacuum-hold", slots, `why-${kind}`);
}

export function askHoldCase(m) {
  const { holds } = m.material;
  if (!holds.length) return null;
  const verdict = m.chance.pick([...new Set(holds.map((one) => one.verdict))].sort());
  const test = m.chance.pick(holds.filter((one) => one.verdict === verdict));
  const dimension = test.medium === "vacuum" ? "vacuum" : "pressure";
  let temps = "";
  if (test.first !== null) temps = m.say("temps", { first: m.write(test.first, "temperature"), last: m.write(test.last, "temperature") });
  const slots = {
    gas: test.gas,
    rate: m.write(test.rate, "leak-rate"),
    volume: m.write(test.volume, "about-circuit"),
    medium: m.words[test.medium],
    start: m.write(test.start, dimension),
    end: m.write(test.end, dimension),
    over: m.write(test.over, "time"),
    temps,
    wait: test.wait === null ? "" : m.write(test.wait, "time"),
  };
  const wrong = ["proves", "too-coarse", "says-nothing", "fell"].filter((key) => key !== verdict).map((key) => m.say(key));
  return m.asked([m.say(verdict)], wrong, `case:${test.case}`, slots, `why-${verdict}`);
}
