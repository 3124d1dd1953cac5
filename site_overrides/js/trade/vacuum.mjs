// Vacuum hold: rate of rise, what it means, and the limits that the trade uses.
import { citation } from "./data.mjs";
import { fixed } from "./format.mjs";
import { positive, require } from "./units.mjs";

// Pa m3/s that a rise means if it is a leak: Q = V dP / t.
function riseLeak(volume, rise, seconds) {
  positive("volume", volume, "m3");
  positive("time", seconds, "s");
  return (volume * require("rise", rise, 0, 1.1e5, "Pa")) / seconds;
}

// Pa; Magnus formula, over ice below 0 degC.
function waterVapourPressure(temperature) {
  const t = require("temperature", temperature, 233.15, 338.15, "K") - 273.15;
  return 611.2 * Math.exp(t < 0 ? (22.46 * t) / (272.62 + t) : (17.62 * t) / (243.12 + t));
}

const slope = (from, to) => (to.pressure - from.pressure) / (to.after - from.after);

export function make(content, { units }) {
  const { MICRON } = units;
  const { MINUTE } = content.constants.vacuum;
  const { shape: bounds, limits: rows } = content.practice.vacuum;

  // Tells leak from moisture by whether the rise slows: readings { after (s), pressure (Pa) } in order of time.
  function judge(readings) {
    const source = citation(bounds);
    const said = (shape, steepness, rate, levelsAt) => ({ shape, steepness, rate, levelsAt, source });
    for (let i = 1; i < readings.length; i += 1) {
      const least = (readings[i - 1].after + 1e-9) * (1 + 2e-9); // later even by what `require` lets pass as rounding
      require("time of a reading", readings[i].after, least, Infinity, "s");
    }
    for (const one of readings) require("pressure", one.pressure, 0, 1.1e5, "Pa");
    if (readings.length < 2) return said("unknown", null, 0, null);
    const first = readings[0];
    const last = readings.at(-1);
    const rate = slope(first, last);
    if (last.pressure - first.pressure < bounds.quiet_micron * MICRON) return said("quiet", null, rate, null);
    if (readings.length < 3) return said("unknown", null, rate, null);
    const half = (first.after + last.after) / 2;
    const far = (one) => Math.abs(one.after - half);
    const middle = readings.slice(1, -1).reduce((best, one) => (far(one) < far(best) ? one : best));
    const early = slope(first, middle);
    if (early <= 0) return said("unknown", null, rate, null);
    const steepness = slope(middle, last) / early;
    if (steepness >= bounds.leak_from) return said("leak", steepness, rate, null);
    const end = first.pressure + (middle.pressure - first.pressure) / (1 - Math.max(steepness, 0));
    return said(steepness < bounds.moisture_below ? "moisture" : "both", steepness, rate, Math.max(end, last.pressure));
  }

  function limit(row, start, end, seconds) {
    const below = row.stay_below_micron ?? null;
    const ceiling = below === null ? row.not_above_micron : below;
    const slack = below === null ? 1e-9 : -1e-9;
    const told = (passed, because) => ({ key: row.key, name: row.name, passed, because, source: citation(row) });
    const passed = end < ceiling * MICRON * (1 + slack);
    if (start > row.from_micron * MICRON * (1 + 1e-9)) return told(null, `it began above ${row.from_micron} micron`);
    if (passed && row.minutes && seconds < row.minutes * MINUTE * (1 - 1e-9)) {
      return told(null, `shorter than ${row.minutes} minutes`);
    }
    return told(passed, `${fixed(end / MICRON)} micron against ${ceiling} micron`);
  }

  // The trade's limits for a hold from `start` to `end` (Pa absolute); `passed` null where the test doesn't fit the limit.
  function limits(start, end, seconds) {
    require("start pressure", start, 0, 1.1e5, "Pa");
    require("end pressure", end, 0, 1.1e5, "Pa");
    positive("time", seconds, "s");
    return rows.map((row) => limit(row, start, end, seconds));
  }

  return { riseLeak, waterVapourPressure, judge, limits, MINUTE };
}
