// Leak rates in the trade's units, and gas through a hole.
//
// A throughput Q (Pa m3/s at a stated temperature) and a mass rate m (kg/s) are tied by m = Q M / (R T).
import { TradeError, absoluteTemperature, positive, require } from "./units.mjs";

const LAWS = ["orifice", "laminar", "molecular"];
const CONTINUUM = 0.01;

// p2/p0 at and below which the flow is choked: (2/(n+1))^(n/(n-1)).
export function criticalRatio(exponent) {
  const n = require("isentropic exponent", exponent, 0.5, 2, "");
  return Math.abs(n - 1) < 1e-7 ? Math.exp(-0.5) : (2 / (n + 1)) ** (n / (n - 1));
}

export function make(content, { units }) {
  const { R, ATMOSPHERE, ROOM_TEMPERATURE, YEAR } = units;
  const { THROUGHPUT, MASS, DISCHARGE, BUBBLE } = content.constants.flow;

  function massRate(rate, molarMass, temperature = ROOM_TEMPERATURE) {
    absoluteTemperature("temperature", temperature);
    return (rate * molarMass) / (R * temperature);
  }

  function throughput(massPerSecond, molarMass, temperature = ROOM_TEMPERATURE) {
    absoluteTemperature("temperature", temperature);
    return (massPerSecond * R * temperature) / molarMass;
  }

  // A leak rate in another unit; `molarMass` is needed between mass and throughput only.
  function convert(value, unit, to, molarMass = null, temperature = ROOM_TEMPERATURE, year = YEAR) {
    require("leak rate", value, 0, Infinity, unit);
    const known = [...Object.keys(THROUGHPUT), ...Object.keys(MASS)];
    for (const name of [unit, to]) {
      if (!known.includes(name)) throw new TradeError(`'${name}' is not a unit of leak rate; known: ${known.join(", ")}`, "unit");
    }
    if (unit in THROUGHPUT && to in THROUGHPUT) return (value * THROUGHPUT[unit]) / THROUGHPUT[to];
    if (unit in MASS && to in MASS) return (value * MASS[unit]) / MASS[to];
    if (molarMass === null) throw new TradeError(`from ${unit} to ${to} the molar mass of the gas is needed`, "molar mass");
    if (unit in MASS) return throughput((value * MASS[unit]) / year, molarMass, temperature) / THROUGHPUT[to];
    return (massRate(value * THROUGHPUT[unit], molarMass, temperature) * year) / MASS[to];
  }

  // s until a leak (Pa m3/s) has blown a bubble: t = (pi/6) d^3 p / Q.
  function bubbleTime(throughputAtm, diameter = BUBBLE, outside = ATMOSPHERE) {
    const volume = (Math.PI / 6) * positive("diameter", diameter, "m") ** 3;
    return (volume * outside) / positive("leak rate", throughputAtm, "Pa m3/s");
  }

  // kg/(m2 s) of isentropic flow from rest to `outside` (Pa absolute), without the discharge coefficient.
  function orificeFlux(gas, outside = ATMOSPHERE) {
    const n = gas.exponent;
    const critical = criticalRatio(n);
    const ratio = require("outside pressure", outside, 0, gas.pressure, "Pa") / gas.pressure;
    const choked = ratio <= critical;
    const scale = gas.pressure * Math.sqrt(gas.molarMass / (gas.compressibility * R * gas.temperature));
    if (Math.abs(n - 1) < 1e-7) {
      const r = Math.max(ratio, critical);
      return { mass: scale * r * Math.sqrt(-2 * Math.log(r)), choked, critical };
    }
    const factor = choked
      ? Math.sqrt(n) * (2 / (n + 1)) ** ((n + 1) / (2 * (n - 1)))
      : Math.sqrt(((2 * n) / (n - 1)) * (ratio ** (2 / n) - ratio ** ((n + 1) / n)));
    return { mass: scale * factor, choked, critical };
  }

  // Equivalent sharp-edged round hole of a leak (kg/s): A = m / (Cd G).
  function hole(massPerSecond, gas, outside = ATMOSPHERE, discharge = DISCHARGE) {
    positive("leak rate", massPerSecond, "kg/s");
    require("discharge coefficient", discharge, 0.1, 1, "");
    const flux = orificeFlux(gas, outside);
    const area = massPerSecond / (discharge * positive("flux", flux.mass, "kg/(m2 s)"));
    const diameter = Math.sqrt((4 * area) / Math.PI);
    const knudsen = gas.meanFreePath / diameter;
    return { diameter, area, choked: flux.choked, knudsen, continuum: knudsen < CONTINUUM };
  }

  // kg/s through a round hole of `diameter` (m).
  function through(diameter, gas, outside = ATMOSPHERE, discharge = DISCHARGE) {
    positive("diameter", diameter, "m");
    require("discharge coefficient", discharge, 0.1, 1, "");
    return ((discharge * Math.PI) / 4) * diameter ** 2 * orificeFlux(gas, outside).mass;
  }

  // Number proportional to the mass rate by a law, for ratios between two gases or pressures.
  function lawFlux(law, gas, outside = ATMOSPHERE) {
    require("outside pressure", outside, 0, gas.pressure, "Pa");
    if (law === "orifice") return orificeFlux(gas, outside).mass;
    if (law === "laminar") {
      const perMole = gas.viscosity * gas.compressibility * R * gas.temperature;
      return ((gas.pressure ** 2 - outside ** 2) * gas.molarMass) / perMole;
    }
    return (gas.pressure - outside) * Math.sqrt(gas.molarMass / (R * gas.temperature));
  }

  // kg/s of another gas or pressure through the same leak, by each law.
  function sameHole(massPerSecond, gas, other, outside = ATMOSPHERE, otherOutside = ATMOSPHERE) {
    positive("leak rate", massPerSecond, "kg/s");
    const [orifice, laminar, molecular] = LAWS.map(
      (law) => massPerSecond * (lawFlux(law, other, otherOutside) / lawFlux(law, gas, outside)),
    );
    return { orifice, laminar, molecular, low: Math.min(orifice, laminar), high: Math.max(orifice, laminar) };
  }

  return {
    ...{ massRate, throughput, convert, bubbleTime, criticalRatio, orificeFlux, hole, through, lawFlux, sameHole },
    ...{ THROUGHPUT, MASS, DISCHARGE, BUBBLE, LAWS },
  };
}
