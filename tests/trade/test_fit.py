"""Making the tables: what is a polynomial comes back as it was, and the shipped file is as the maker writes it."""

from __future__ import annotations

import json

import numpy as np
import pytest

from leaklore.trade import fit, live, refrigerants, tables
from leaklore.trade.gas import GasState

LOW, HIGH = 250.0, 320.0


def made_up(temperature: float, y: float) -> GasState:
    """A gas whose figures are polynomials of low degree in x (-1..1 over the temperatures) and y."""
    x = (temperature - 285.0) / 35.0
    return GasState(
        molar_mass=0.05,
        temperature=temperature,
        pressure=1e5,
        exponent=1.1 + 0.02 * x + 0.03 * x * y**2,
        compressibility=0.9 - 0.05 * y - 0.01 * x**3 * y,
        viscosity=1.2e-5 * (1 + 0.1 * x - 0.01 * x**2),
    )


def test_a_surface_of_low_degree_is_fitted_without_error_and_read_back_by_the_tables() -> None:
    found = fit._surfaces(made_up, LOW, HIGH, fit.nodes(14, -1.0, 1.0), np.array([-0.9, 0.1, 1.0]))
    assert (found["low"], found["high"]) == (LOW, HIGH)
    assert all(error < 1e-8 for error in found["error"].values())
    for t, y in ((250.0, -1.0), (271.3, 0.37), (320.0, 1.0)):
        x, true = tables.scaled(t, LOW, HIGH), made_up(t, y)
        assert tables.chebyshev2(found["exponent"], x, y) == pytest.approx(true.exponent, rel=1e-8)
        assert tables.chebyshev2(found["compressibility"], x, y) == pytest.approx(
            true.compressibility, rel=1e-8
        )
        assert tables.chebyshev(found["viscosity"], x) == pytest.approx(true.viscosity, rel=1e-8)


def test_a_surface_that_the_fit_cannot_follow_says_how_far_it_is_off() -> None:
    """A step of 1 % in the exponent in the middle of the temperatures."""

    def broken(temperature: float, y: float) -> GasState:
        whole = made_up(temperature, y)
        step = 0.011 if temperature > 285.0 else 0.0
        return GasState(
            whole.molar_mass,
            temperature,
            whole.pressure,
            whole.exponent + step,
            whole.compressibility,
            whole.viscosity,
        )

    found = fit._surfaces(broken, LOW, HIGH, fit.nodes(14, -1.0, 1.0), np.array([-0.9, 0.1, 1.0]))
    assert 0.001 < found["error"]["exponent"] < 0.01
    assert found["error"]["compressibility"] < 1e-8


def test_the_shipped_file_is_just_what_the_maker_writes() -> None:
    shipped = tables.FILE.read_text(encoding="utf-8")
    assert fit.text(json.loads(shipped)) == shipped


def test_a_mixture_led_from_a_colder_state_ends_where_coolprop_goes_by_itself() -> None:
    gas = refrigerants.shipped()["R-454B"]
    state = live._state(gas.key, gas.composition)
    live._continue_to(state, 293.15, 1)
    assert state.T() == pytest.approx(293.15)
    assert state.p() == pytest.approx(live.CoolProp().dew(gas, 293.15), rel=1e-6)
