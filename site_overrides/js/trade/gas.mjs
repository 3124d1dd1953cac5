// State of a gas as the flow formulas need it.

const sum = (numbers) => numbers.reduce((total, one) => total + one, 0);

export function isNoSaturation(found) {
  return found !== null && typeof found === "object" && found.noSaturation === true;
}

export function make(content, { units }) {
  const { R } = units;

  // kg/mol, K, Pa absolute, isentropic exponent n = rho c^2 / p, Z = p M / (rho R T), Pa s at low pressure.
  function state(molarMass, temperature, pressure, exponent, compressibility, viscosity) {
    return {
      molarMass,
      temperature,
      pressure,
      exponent,
      compressibility,
      viscosity,
      density: (pressure * molarMass) / (compressibility * R * temperature),
      meanFreePath: (viscosity / pressure) * Math.sqrt((Math.PI * R * temperature) / (2 * molarMass)),
    };
  }

  // The same state taken as an ideal gas with a constant ratio of specific heats.
  function asIdeal(gas, exponent) {
    return state(gas.molarMass, gas.temperature, gas.pressure, exponent, 1, gas.viscosity);
  }

  // Pa s of a mixture at low pressure by Wilke's rule; `fractions` mol/mol.
  function mixtureViscosity(fractions, viscosities, molarMasses) {
    const phi = (i, j) => {
      const way = 1 + Math.sqrt(viscosities[i] / viscosities[j]) * (molarMasses[j] / molarMasses[i]) ** 0.25;
      return way ** 2 / Math.sqrt(8 * (1 + molarMasses[i] / molarMasses[j]));
    };
    return sum(fractions.map((x, i) => (x * viscosities[i]) / sum(fractions.map((y, j) => y * phi(i, j)))));
  }

  // Vapour inside a circuit at rest that still holds liquid, at the dew pressure of the nominal composition.
  function standstill(properties, refrigerant, temperature) {
    const pressure = properties.dew(refrigerant, temperature);
    return isNoSaturation(pressure) ? pressure : properties.vapour(refrigerant, temperature, pressure);
  }

  return { state, asIdeal, isNoSaturation, mixtureViscosity, standstill, NITROGEN: content.constants.gas.NITROGEN };
}
