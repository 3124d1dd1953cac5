"""The browser's interpolated tables against CoolProp itself: within the error that each table states.

This is the other kind of twin: not the same formula twice, but what was fitted against what it was fitted to, at
states that the fit did not see.
"""

from __future__ import annotations

import random
from functools import cache
from typing import Any

import pytest

from leaklore.trade import live, refrigerants, tables
from leaklore.trade.gas import GasState, NoSaturation
from twins.browser import Answers, Browser

R = refrigerants.shipped()
T = tables.shipped()
LIVE = live.CoolProp()
ENTRIES = T.content["refrigerants"]
EACH = 12
"""States of each refrigerant: 240 in all of each kind."""
SLACK = 1.1
"""The stated error was the largest on a grid; between its points it may be a little larger."""


@cache
def _states() -> dict[str, list[list[float]]]:
    """Temperatures of saturation, of vapour, and the share of the dew pressure, by refrigerant."""
    rng = random.Random("live")
    found = {}
    for key in sorted(R):
        saturation, vapour = ENTRIES[key]["saturation"], ENTRIES[key]["vapour"]
        found[key] = [
            [
                rng.uniform(saturation["low"], saturation["high"]),
                rng.uniform(vapour["low"], vapour["high"]),
                rng.choice((1.0, rng.uniform(0.05, 1.0))),
            ]
            for _ in range(EACH)
        ]
    return found


def _pressure(found: float | NoSaturation) -> float:
    assert isinstance(found, float)
    return found


@cache
def _dew(key: str, kelvin: float) -> float:
    return _pressure(LIVE.dew(R[key], kelvin))


@pytest.fixture(scope="session")
def interpolated(content: dict[str, Any], browser: Browser) -> Answers:
    """The browser's answers at all states, in the order of the refrigerants."""
    states = [(key, *state) for key, each in _states().items() for state in each]

    def gas(key: str) -> dict[str, str]:
        return {"$refrigerant": key}

    rng = random.Random("nitrogen")
    nitrogen = [[rng.uniform(233.15, 338.15), rng.uniform(1e5, 2e7)] for _ in range(240)]
    found = browser.asked(
        content,
        {
            "tables.dew": [[gas(key), t] for key, t, _, _ in states],
            "tables.bubble": [[gas(key), t] for key, t, _, _ in states],
            "tables.vapour": [[gas(key), t, max(1e3, x * _dew(key, t))] for key, _, t, x in states],
            "tables.nitrogen": nitrogen,
        },
    )
    return {**found, "nitrogen": nitrogen}


def _of(answers: list[Any], key: str) -> list[Any]:
    place = sorted(R).index(key) * EACH
    return answers[place : place + EACH]


def _within(what: str, ours: float, theirs: float, error: float) -> None:
    assert abs(theirs / ours - 1) <= SLACK * error, f"{what}: {theirs} interpolated, {ours} by CoolProp"


def _gas_within(what: str, ours: GasState, theirs: dict[str, float], errors: dict[str, float]) -> None:
    for name, error in errors.items():
        _within(f"{what}, {name}", getattr(ours, name), theirs[name], error)


@pytest.mark.parametrize("key", sorted(R))
def test_interpolated_against_live(key: str, interpolated: Answers) -> None:
    """Saturation on both sides, and vapour up to its dew point."""
    one, entry = R[key], ENTRIES[key]
    error = entry["saturation"]["error"]
    states = zip(
        _states()[key],
        *(_of(interpolated[f"tables.{name}"], key) for name in ("dew", "bubble", "vapour")),
        strict=True,
    )
    for (hot, kelvin, share), dew, bubble, vapour in states:
        what = f"{key} at {hot:.2f} K"
        _within(f"{what}, dew", _dew(key, hot), dew, error)
        _within(f"{what}, bubble", _pressure(LIVE.bubble(one, hot)), bubble, error)
        pressure = max(1e3, share * _dew(key, kelvin))
        found = LIVE.vapour(one, kelvin, pressure)
        _gas_within(
            f"{key} vapour at {kelvin:.2f} K, {pressure:.0f} Pa", found, vapour, entry["vapour"]["error"]
        )


def test_nitrogen_interpolated_against_live(interpolated: Answers) -> None:
    """Up to 20 MPa."""
    errors = T.content["nitrogen"]["error"]
    for (kelvin, pressure), found in zip(
        interpolated["nitrogen"], interpolated["tables.nitrogen"], strict=True
    ):
        what = f"nitrogen at {kelvin:.2f} K, {pressure:.0f} Pa"
        _gas_within(what, LIVE.nitrogen(kelvin, pressure), found, errors)


def test_the_stated_errors_are_small() -> None:
    """As the tables' head says; a table that states 10 % would let anything pass."""
    for entry in ENTRIES.values():
        assert entry["saturation"]["error"] <= 1.1e-4
        assert entry["vapour"]["error"]["compressibility"] <= 4e-3
        assert entry["vapour"]["error"]["exponent"] <= 6e-4
        assert entry["vapour"]["error"]["viscosity"] <= 6e-4
