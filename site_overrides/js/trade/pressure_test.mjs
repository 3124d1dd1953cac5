// Standing pressure test: what temperature explains, what is left as a leak, and how small a leak shows.
import { absolutePressure, absoluteTemperature, positive, require } from "./units.mjs";

const REPEATS = 6;

// Pa absolute of a tight circuit at `later` K: P2 = P1 T2 / T1.
function expectedPressure(pressure, temperature, later) {
  absolutePressure("pressure", pressure);
  absoluteTemperature("temperature", temperature);
  return (pressure * absoluteTemperature("later temperature", later)) / temperature;
}

// The same for real nitrogen, P2 = P1 (T2 Z2) / (T1 Z1), by repeating.
function expectedNitrogen(properties, pressure, temperature, later) {
  const first = properties.nitrogen(temperature, absolutePressure("pressure", pressure));
  let found = expectedPressure(pressure, temperature, later);
  for (let i = 0; i < REPEATS; i += 1) {
    const second = properties.nitrogen(later, found);
    found = (pressure * later * second.compressibility) / (temperature * first.compressibility);
  }
  return found;
}

// Pa; smallest corrected fall that means a leak: sqrt(r^2 + (P dT/T)^2).
function smallestDrop(resolution, pressure, temperature, temperatureUncertainty) {
  positive("resolution", resolution, "Pa");
  absolutePressure("pressure", pressure);
  absoluteTemperature("temperature", temperature);
  require("temperature uncertainty", temperatureUncertainty, 0, 50, "K");
  return Math.hypot(resolution, (pressure * temperatureUncertainty) / temperature);
}

export function make(content, { units }) {
  const { ROOM_TEMPERATURE } = units;
  const { STEADY_DROP } = content.constants.pressure_test;

  // Pa m3/s lost between two readings, negative where the reading rose: Q = V (P1 - P2 T1/T2) / t.
  function leak(volume, seconds, start, end, startTemperature = ROOM_TEMPERATURE, endTemperature = null) {
    positive("volume", volume, "m3");
    positive("time", seconds, "s");
    absoluteTemperature("start temperature", startTemperature);
    const later = endTemperature === null ? startTemperature : endTemperature;
    absoluteTemperature("end temperature", later);
    const corrected = (absolutePressure("end pressure", end) * startTemperature) / later;
    return (volume * (absolutePressure("start pressure", start) - corrected)) / seconds;
  }

  // The same with the second reading brought back as real nitrogen.
  function nitrogenLeak(properties, volume, seconds, start, end, startTemperature, endTemperature) {
    absolutePressure("end pressure", end);
    const back = expectedNitrogen(properties, end, endTemperature, startTemperature);
    return leak(volume, seconds, start, back, startTemperature);
  }

  // Pa m3/s; the smallest leak that a test of `seconds` shows, in the test gas: Q = V dP / t.
  function smallestLeak(volume, seconds, resolution, pressure, temperature = ROOM_TEMPERATURE, temperatureUncertainty = 0) {
    positive("volume", volume, "m3");
    positive("time", seconds, "s");
    return (volume * smallestDrop(resolution, pressure, temperature, temperatureUncertainty)) / seconds;
  }

  // How long to wait until a leak (Pa m3/s) shows: t = V dP / Q; not `steady` means longer.
  function timeToSee(throughput, volume, resolution, pressure, temperature = ROOM_TEMPERATURE, temperatureUncertainty = 0) {
    positive("leak rate", throughput, "Pa m3/s");
    positive("volume", volume, "m3");
    const drop = smallestDrop(resolution, pressure, temperature, temperatureUncertainty);
    return { seconds: (volume * drop) / throughput, drop, steady: drop <= STEADY_DROP * pressure };
  }

  return { expectedPressure, expectedNitrogen, leak, nitrogenLeak, smallestDrop, smallestLeak, timeToSee, STEADY_DROP };
}
