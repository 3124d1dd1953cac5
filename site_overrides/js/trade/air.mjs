// Refrigerant in the air of a room: units, what a leak builds up, and whether a reading means anything.
// Concentrations are mole fractions (1 ppm = 1e-6 mol/mol); a space is { volume m3, air m3/s of fresh air }, well mixed.
import { citation } from "./data.mjs";
import { absoluteTemperature, positive, require } from "./units.mjs";

function space(volume, air = 0) {
  return { volume, air };
}

function spaceWithChanges(volume, changesPerHour) {
  require("air changes", changesPerHour, 0, 1000, "1/h");
  return space(volume, (positive("volume", volume, "m3") * changesPerHour) / 3600);
}

// Mole fraction `seconds` after a leak of `vapour` m3/s began: G/Q + (C0 - G/Q) exp(-Q t/V), C0 + G t/V when closed.
function after({ volume, air }, vapour, seconds, start = 0) {
  positive("volume", volume, "m3");
  require("vapour flow", vapour, 0, 1e3, "m3/s");
  require("time", seconds, 0, 1e10, "s");
  const turns = (air * seconds) / volume;
  if (turns < 1e-9) return Math.min(1, start + (vapour * seconds) / volume);
  return Math.min(1, start * Math.exp(-turns) - (vapour / air) * Math.expm1(-turns));
}

// Mole fraction that is reached in the end: G/Q, at most 1; 1 for a closed space with any leak.
function steady({ air }, vapour) {
  require("vapour flow", vapour, 0, 1e3, "m3/s");
  if (air <= 0) return vapour > 0 ? 1 : 0;
  return Math.min(1, vapour / air);
}

// s until a leak brings clean air to `target`; infinite where it never does.
function timeTo({ volume, air }, target, vapour) {
  require("concentration", target, 0, 1, "mol/mol");
  if (vapour <= 0) return Infinity;
  if (air <= 0) return (target * volume) / vapour;
  const share = (target * air) / vapour;
  return share >= 1 ? Infinity : (-volume / air) * Math.log1p(-share);
}

// s of ventilation from `start` to `end` with the leak stopped: V/Q ln(C0/C).
function purgeTime({ volume, air }, start, end) {
  require("end concentration", end, 1e-12, start, "mol/mol");
  return air <= 0 ? Infinity : (volume / air) * Math.log(start / end);
}

export function make(content, { units }) {
  const { R, ATMOSPHERE } = units;
  const { REFERENCE } = content.constants.air;
  const rule = content.practice.air.background;

  // kg/m3 of a mole fraction in air: x M p / (R T).
  function density(part, molarMass, temperature = REFERENCE, pressure = ATMOSPHERE) {
    require("concentration", part, 0, 1, "mol/mol");
    absoluteTemperature("temperature", temperature);
    return (part * molarMass * positive("pressure", pressure, "Pa")) / (R * temperature);
  }

  // Mole fraction of kg/m3; refused above pure vapour.
  function fraction(kgPerM3, molarMass, temperature = REFERENCE, pressure = ATMOSPHERE) {
    positive("molar mass", molarMass, "kg/mol");
    const most = density(1, molarMass, temperature, pressure);
    return require("concentration", kgPerM3, 0, most * (1 + 1e-9), "kg/m3") / most;
  }

  // m3/s of vapour at room conditions from a leak in kg/s.
  function vapourFlow(massPerSecond, molarMass, temperature = REFERENCE, pressure = ATMOSPHERE) {
    require("leak rate", massPerSecond, 0, 1e3, "kg/s");
    absoluteTemperature("temperature", temperature);
    return (massPerSecond * R * temperature) / (molarMass * pressure);
  }

  // A reading against the background of the same instrument: needed = steps x resolution + accuracy x background.
  function aboveBackground(reading, background, resolution, accuracy = 0) {
    require("reading", reading, 0, 1, "mol/mol");
    positive("resolution", resolution, "mol/mol");
    require("accuracy", accuracy, 0, 1, "");
    const source = citation(rule);
    let needed = rule.steps * resolution;
    if (background === null || background === undefined) return { above: null, difference: null, needed, source };
    needed += accuracy * require("background", background, 0, 1, "mol/mol");
    const difference = reading - background;
    return { above: difference > needed * (1 + 1e-9), difference, needed, source };
  }

  return {
    ...{ density, fraction, vapourFlow, space, spaceWithChanges, after, steady, timeTo, purgeTime },
    ...{ aboveBackground, REFERENCE },
  };
}
