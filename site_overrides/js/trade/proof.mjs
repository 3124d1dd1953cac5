// Was a hold test sensitive enough to prove the fix? The leak that was, against the smallest it could have shown.
import { positive } from "./units.mjs";

const DEEP = 1; // Pa; inside of an evacuated circuit
const CONTINUUM = ["orifice", "laminar"];

export function make(content, { units, gas, flow, pressureTest, vacuum }) {
  const { ATMOSPHERE, ROOM_TEMPERATURE } = units;
  const { KNOWN_TEMPERATURE, UNKNOWN_TEMPERATURE, VACUUM_STEP } = content.constants.proof;
  const { GAUGE_STEP, GAUGE_SHARE } = content.constants.gauge;

  // Pa; what two readings of the same pressure (Pa absolute) may differ by.
  function gaugeError(pressure) {
    return Math.max(GAUGE_STEP, GAUGE_SHARE * pressure);
  }

  // `seen` Pa m3/s of `state` -> kg/s of refrigerant by both laws, and the verdict.
  function judged(inside, state, outside, seen, leak, drop, smallest, seconds) {
    const mass = flow.massRate(seen, state.molarMass, state.temperature);
    const ratios = CONTINUUM.map((law) => flow.lawFlux(law, inside) / flow.lawFlux(law, state, outside));
    const [low, high] = [mass * Math.min(...ratios), mass * Math.max(...ratios)];
    const wait = (seconds * high) / leak;
    const proven = leak >= high ? "proves" : leak >= low ? "doubtful" : "too-coarse";
    return { verdict: drop > smallest ? "fell" : proven, low, high, leak, wait, drop };
  }

  function evacuated(test, inside, leak, volume, properties) {
    const state = properties.nitrogen(inside.temperature, ATMOSPHERE);
    const rise = test.end - test.start;
    const seen = vacuum.riseLeak(volume, Math.max(rise, VACUUM_STEP), test.over);
    return judged(inside, state, DEEP, seen, leak, rise, Infinity, test.over);
  }

  // Judges the hold test { medium, start, end (Pa), over (s), startTemp, endTemp (K or null) } of a repair; `leak` kg/s before it.
  function hold(test, refrigerant, leak, volume, properties, temperature = ROOM_TEMPERATURE) {
    positive("leak rate", leak, "kg/s");
    positive("volume", volume, "m3");
    const inside = gas.standstill(properties, refrigerant, temperature);
    if (test.medium === "refrigerant" || gas.isNoSaturation(inside)) {
      return { verdict: "says-nothing", low: null, high: null, leak, wait: null, drop: null };
    }
    if (test.medium === "vacuum") return evacuated(test, inside, leak, volume, properties);
    positive("test pressure", units.gauge(test.start), "Pa");
    const [before, later] = [test.startTemp ?? null, test.endTemp ?? null];
    const at = before ?? temperature;
    const known = before !== null && later !== null;
    const expected = known ? pressureTest.expectedNitrogen(properties, test.start, before, later) : test.start;
    const kelvin = known ? KNOWN_TEMPERATURE : UNKNOWN_TEMPERATURE;
    const smallest = pressureTest.smallestDrop(gaugeError(test.start), test.start, at, kelvin);
    const seen = (volume * smallest) / positive("time", test.over, "s");
    const state = properties.nitrogen(at, test.start);
    return judged(inside, state, ATMOSPHERE, seen, leak, expected - test.end, smallest, test.over);
  }

  return { hold, gaugeError };
}
