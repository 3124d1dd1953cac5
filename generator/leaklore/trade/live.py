"""Properties computed with CoolProp; the only module that talks to it.

CoolProp names R-404A, R-407C, R-410A and R-507A as pseudo-pure fluids (fitted, like the published
tables); other blends are mixtures of their components (Helmholtz multi-fluid model, GERG mixing rules;
interaction parameters of some pairs with R-1234yf and R-1234ze(E) are estimates). Range -40 to 65 degC.

How far to trust it (checked in tests/published): R-22, R-32, R-134a, R-404A and R-410A agree with published
tables to the last digit printed (0.05 psi); other pure refrigerants with independent correlations to 0.15 %.
R-407C lies 1.3 to 1.7 % above an older maker's table. R-454B at its bubble point lies 0.4 to 1.1 % above a published
table, and its glide of 2.7 degF is larger than the 1.5 degF usually printed, so that its dew pressure may be 2 % low.
Take 2 % for blends without a fluid of their own.
"""

from __future__ import annotations

from functools import cache, lru_cache
from importlib import import_module
from typing import Any

from leaklore.errors import LeakloreError
from leaklore.trade.gas import GasState, NoSaturation, mixture_viscosity
from leaklore.trade.refrigerants import Component, Refrigerant
from leaklore.trade.units import R, require

COLDEST, WARMEST = 233.15, 338.15
"""K; -40 and 65 degC."""
NITROGEN_HIGHEST = 2e7
"""Pa; above the strength tests of carbon dioxide plant (143 bar)."""
_DILUTE = 1e3
"""Pa; a dilute gas."""
_STEP = 0.5
"""K; way of the continuation from a state that CoolProp finds by itself."""


class PropertiesMissing(LeakloreError):
    """CoolProp is not installed, or does not know a component."""


def library() -> Any:
    """CoolProp; imported when first needed because that takes about a second."""
    try:
        return import_module("CoolProp.CoolProp")
    except ImportError as error:
        raise PropertiesMissing("CoolProp is not installed: pip install CoolProp") from error


def version() -> str:
    """Version of CoolProp."""
    return str(import_module("CoolProp").__version__)


def _name(key: str) -> str:
    """CoolProp's name: R-1234ze(E) -> R1234ze(E)."""
    return key.replace("-", "", 1)


def _state(key: str, composition: tuple[Component, ...]) -> Any:
    """A new CoolProp state: the named fluid where it has one, else the mixture."""
    cp = library()
    try:
        return cp.AbstractState("HEOS", _name(key))
    except ValueError:
        pass
    try:
        state = cp.AbstractState("HEOS", "&".join(_name(c.of) for c in composition))
    except ValueError as error:
        raise PropertiesMissing(f"CoolProp does not know {key} or a component of it") from error
    if len(composition) > 1:
        state.set_mass_fractions([c.share for c in composition])
    return state


class CoolProp:
    """Provider of properties (see `gas.Properties`); temperatures K, pressures Pa absolute."""

    def critical_temperature(self, refrigerant: Refrigerant) -> float:
        """K. Of a mixture by Kay's rule, the mole-weighted mean (within 3 K for the blends of the guide)."""
        return _critical(refrigerant.key, refrigerant.composition)

    def bubble(self, refrigerant: Refrigerant, temperature: float) -> float | NoSaturation:
        """Pa absolute; pressure at which the first bubble forms, -40 to 65 degC."""
        return _saturation(refrigerant.key, refrigerant.composition, temperature, 0)

    def dew(self, refrigerant: Refrigerant, temperature: float) -> float | NoSaturation:
        """Pa absolute; pressure at which the first drop forms, -40 to 65 degC."""
        return _saturation(refrigerant.key, refrigerant.composition, temperature, 1)

    def vapour(self, refrigerant: Refrigerant, temperature: float, pressure: float) -> GasState:
        """Vapour of the nominal composition, at or below the dew pressure (1e-6 above it is let pass).

        Exponent n = rho c^2 / p and Z from the equation of state; viscosity of the dilute gas (that of
        the saturated vapour is up to 10 % higher), for a mixture by Wilke's rule.
        """
        dew = self.dew(refrigerant, temperature)
        limit = 7e6 if isinstance(dew, NoSaturation) else dew * (1 + 1e-6)
        require("pressure", pressure, 1e3, limit, "Pa")
        state = _state(refrigerant.key, refrigerant.composition)
        return _gas(
            state, temperature, pressure, _viscosity(refrigerant.key, refrigerant.composition, temperature)
        )

    def nitrogen(self, temperature: float, pressure: float) -> GasState:
        """Nitrogen, -40 to 65 degC, 1 kPa to 20 MPa."""
        require("temperature", temperature, COLDEST, WARMEST, "K")
        require("pressure", pressure, 1e3, NITROGEN_HIGHEST, "Pa")
        alone = (Component("Nitrogen", 1.0),)
        return _gas(
            _state("Nitrogen", alone), temperature, pressure, _viscosity("Nitrogen", alone, temperature)
        )

    def ideal_exponent(self, refrigerant: Refrigerant, temperature: float) -> float:
        """Ratio of specific heats of the ideal gas, cp0 / (cp0 - R)."""
        state = _state(refrigerant.key, refrigerant.composition)
        _update_gas(state, temperature, _DILUTE)
        cp0 = float(state.cp0molar())
        return cp0 / (cp0 - R)


def _update_gas(state: Any, temperature: float, pressure: float) -> None:
    cp = library()
    state.specify_phase(cp.iphase_gas)
    state.update(cp.PT_INPUTS, pressure, temperature)


def _gas(state: Any, temperature: float, pressure: float, viscosity: float) -> GasState:
    _update_gas(state, temperature, pressure)
    density = float(state.rhomass())
    molar_mass = float(state.molar_mass())
    return GasState(
        molar_mass=molar_mass,
        temperature=temperature,
        pressure=pressure,
        exponent=density * float(state.speed_sound()) ** 2 / pressure,
        compressibility=pressure * molar_mass / (density * R * temperature),
        viscosity=viscosity,
    )


@cache
def _critical(key: str, composition: tuple[Component, ...]) -> float:
    state = _state(key, composition)
    names = state.fluid_names()
    if len(names) == 1:
        return float(state.T_critical())
    cp = library()
    shares = state.get_mole_fractions()
    return sum(float(x) * float(cp.PropsSI("Tcrit", name)) for x, name in zip(shares, names, strict=True))


@lru_cache(maxsize=100_000)
def _saturation(
    key: str, composition: tuple[Component, ...], temperature: float, quality: int
) -> float | NoSaturation:
    temperature = require("temperature", temperature, COLDEST, WARMEST, "K")
    critical = _critical(key, composition)
    if temperature >= critical:
        return NoSaturation(temperature, critical)
    cp = library()
    state = _state(key, composition)
    try:
        state.update(cp.QT_INPUTS, quality, temperature)
    except ValueError:
        _continue_to(state, temperature, quality)
    return float(state.p())


def _continue_to(state: Any, temperature: float, quality: int) -> None:
    """Leads a mixture to a temperature at which CoolProp's own first guess fails, from one where it works."""
    cp = library()
    start = temperature
    while start > COLDEST:
        start -= 5.0
        try:
            state.update(cp.QT_INPUTS, quality, start)
            break
        except ValueError:
            continue
    steps = int((temperature - start) / _STEP) + 1
    for i in range(1, steps + 1):
        guess = cp.PyGuessesStructure()
        guess.T, guess.p = state.T(), state.p()
        guess.rhomolar_liq = state.saturated_liquid_keyed_output(cp.iDmolar)
        guess.rhomolar_vap = state.saturated_vapor_keyed_output(cp.iDmolar)
        guess.x, guess.y = list(state.mole_fractions_liquid()), list(state.mole_fractions_vapor())
        state.update_with_guesses(cp.QT_INPUTS, quality, start + (temperature - start) * i / steps, guess)


@lru_cache(maxsize=20_000)
def _viscosity(key: str, composition: tuple[Component, ...], temperature: float) -> float:
    """Pa s of the dilute gas."""
    cp = library()
    state = _state(key, composition)
    names = state.fluid_names()
    if len(composition) > 1 and len(names) == 1:  # a pseudo-pure fluid: its components are known better
        state = cp.AbstractState("HEOS", "&".join(_name(c.of) for c in composition))
        state.set_mass_fractions([c.share for c in composition])
        names = state.fluid_names()
    shares = [float(x) for x in state.get_mole_fractions()] if len(names) > 1 else [1.0]
    each = [float(cp.PropsSI("V", "T|gas", temperature, "P", _DILUTE, name)) for name in names]
    masses = [float(cp.PropsSI("M", name)) for name in names]
    return mixture_viscosity(shares, each, masses)
