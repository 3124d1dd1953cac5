"""Saturation pressures against published tables and independent correlations."""

from __future__ import annotations

import math
from functools import partial
from importlib import import_module

import pytest
from hypothesis import given
from hypothesis import strategies as st

from leaklore.trade import live, tables
from leaklore.trade.gas import NoSaturation
from leaklore.trade.units import ATMOSPHERE, OutOfRange
from published import Check, R, T, celsius, each, fahrenheit, psig, saturation

NIST_TABLE = (
    "web pressure-temperature table in steps of 10 degF, stated to come from NIST data (host withheld)"
)
ROUNDING = 0.06
"""psi; the tables print one decimal, 0.01 for the standard atmosphere they took."""

# degF: psig, bubble point for blends
TABLE = {
    "R-410A": {-40: 10.8, -20: 26.3, 0: 48.4, 20: 78.7, 40: 118.8, 60: 170.7, 70: 201.7, 80: 236.5, 100: 318.5, 120: 419.5, 140: 542.6},
    "R-22": {-40: 0.6, -20: 10.2, 0: 24.0, 20: 43.1, 40: 68.6, 60: 101.6, 70: 121.4, 80: 143.6, 100: 195.9, 120: 260.0, 140: 337.4},
    "R-134a": {-10: 1.9, 0: 6.5, 20: 18.4, 40: 35.0, 60: 57.4, 70: 71.1, 80: 86.7, 100: 124.2, 120: 171.2, 140: 229.2},
    "R-404A": {-40: 4.9, -20: 16.8, 0: 33.7, 20: 56.6, 40: 86.9, 60: 126.0},
}  # fmt: skip
R32 = {-20: 26.8, 0: 49.3, 20: 80.0, 40: 121.0, 60: 174.1, 70: 205.8, 80: 241.5, 100: 325.7, 120: 429.3}
R454B = {0: 45.3, 20: 74.0, 40: 111.9, 70: 190.4, 100: 300.8, 120: 395.9, 140: 512.0}
R407C = {36: 500, 40: 544, 50: 664, 60: 801, 70: 954, 100: 1532, 110: 1769, 120: 2029}  # kPa gauge
R744 = {-20: 1.9696, -15: 2.2908, -10: 2.6487, -5: 3.0459, 0: 3.4851, 2: 3.6733}  # degC: MPa


def in_psig(key: str, degf: float, side: tables.Side = "bubble") -> float:
    return psig(saturation(R[key], fahrenheit(degf), side))


TABLE_CHECKS = [
    Check(f"{key} at {t} degF", partial(in_psig, key, t), p, ROUNDING, NIST_TABLE, "published", "psig")
    for key, rows in TABLE.items()
    for t, p in rows.items()
]
TABLE_CHECKS += [
    Check(f"R-32 at {t} degF", partial(in_psig, "R-32", t), p, ROUNDING, "R-32 chart of a trade calculator (host withheld)", "published", "psig")
    for t, p in R32.items()
]  # fmt: skip
TABLE_CHECKS += [
    Check("R-404A liquid at 85 degF", partial(in_psig, "R-404A", 85), 189.5, 0.06, "second pressure-temperature table (host withheld)", "published", "psig"),
    Check("R-404A vapour at 85 degF", partial(in_psig, "R-404A", 85, "dew"), 187.5, 0.06, "second pressure-temperature table (host withheld)", "published", "psig"),
]  # fmt: skip
TABLE_CHECKS += [
    Check(
        f"R-744 at {t} degC",
        lambda t=t: saturation(R["R-744"], celsius(t)) / 1e6,
        p,
        1.5e-4,
        "university property table for R744, data of the NIST Chemistry WebBook",
        "published",
        "MPa",
        relative=True,
    )
    for t, p in R744.items()
]


@each(TABLE_CHECKS)
def test_agrees_with_published_tables(check: Check) -> None:
    check.hold()


def share(ours: float, theirs: float) -> float:
    return ours / theirs - 1


@pytest.mark.parametrize(("degf", "published"), R454B.items())
def test_r454b_bubble_lies_up_to_1_1_percent_above_a_published_chart(degf: float, published: float) -> None:
    """Chart of an air-conditioning contractor, stated to be the maker's bubble-point data (host withheld)."""
    found = share(in_psig("R-454B", degf) + 14.696, published + 14.696)

    assert 0.003 < found < 0.0115  # the multi-fluid model is 0.4 to 1.1 % high, always to one side


@pytest.mark.parametrize(("degf", "kilopascal"), R407C.items())
def test_r407c_bubble_lies_up_to_1_7_percent_above_an_older_table(degf: float, kilopascal: float) -> None:
    """Table for liquid measurements in a cooling unit's manual (maker withheld), kPa gauge."""
    found = share(saturation(R["R-407C"], fahrenheit(degf)), kilopascal * 1e3 + ATMOSPHERE)

    assert 0.010 < found < 0.018


BOILING = [
    Check("R-134a boils at 1 atm", lambda: T.temperature(R["R-134a"], ATMOSPHERE, "dew") - 273.15, -26.06, 0.03, "thermodynamic tables of R-134a, maker's, based on NIST data (host withheld)", "published", "degC"),
    Check("R-717 boils at 1 atm", lambda: T.temperature(R["R-717"], ATMOSPHERE, "dew") - 273.15, -33.33, 0.03, "NIST Chemistry WebBook", "from-memory", "degC"),
    Check("R-600a boils at 1 atm", lambda: T.temperature(R["R-600a"], ATMOSPHERE, "dew") - 273.15, -11.75, 0.03, "NIST Chemistry WebBook", "from-memory", "degC"),
    Check("R-1234yf boils at 1 atm", lambda: T.temperature(R["R-1234yf"], ATMOSPHERE, "dew") - 273.15, -29.45, 0.05, "Richter, McLinden, Lemmon 2011, J. Chem. Eng. Data 56, 3254", "from-memory", "degC"),
    Check("R-1234ze(E) boils at 1 atm", lambda: T.temperature(R["R-1234ze(E)"], ATMOSPHERE, "dew") - 273.15, -18.97, 0.03, "Thol and Lemmon 2016, Int. J. Thermophys. 37, 28", "from-memory", "degC"),
]  # fmt: skip
GLIDE = [
    Check("glide of R-404A at 70 degF", lambda: T.glide(R["R-404A"], saturation(R["R-404A"], fahrenheit(70))) * 1.8, 0.9, 0.2, NIST_TABLE, "published", "degF"),
    Check("glide of R-410A at 70 degF", lambda: T.glide(R["R-410A"], saturation(R["R-410A"], fahrenheit(70))) * 1.8, 0.2, 0.05, NIST_TABLE, "published", "degF"),
    Check("glide of R-407C at 70 degF, 8 to 12", lambda: T.glide(R["R-407C"], saturation(R["R-407C"], fahrenheit(70))) * 1.8, 10.0, 2.0, "cooling unit's manual (maker withheld): 8 to 12 degF", "published", "degF"),
]  # fmt: skip


@each([*BOILING, *GLIDE])
def test_boiling_points_and_glides(check: Check) -> None:
    check.hold()


def test_glide_of_r454b_is_larger_than_printed() -> None:
    """Printed: about 1.5 degF (contractor's chart). CoolProp's estimate is 2.7: the weakest blend we have."""
    glide = T.glide(R["R-454B"], saturation(R["R-454B"], fahrenheit(70))) * 1.8

    assert 1.0 < glide - 1.5 < 1.4


# Independent correlations of pure refrigerants: Wagner and extended Antoine fits of handbooks.
CAS = {
    "R-22": ("75-45-6", "VDI_PPDS_3", 1.0e-3),
    "R-32": ("75-10-5", "VDI_PPDS_3", 5e-4),
    "R-134a": ("811-97-2", "AntoineExtended", 2.0e-3),
    "R-290": ("74-98-6", "WagnerPoling", 5e-4),
    "R-600a": ("75-28-5", "VDI_PPDS_3", 1.0e-3),
    "R-744": ("124-38-9", "VDI_PPDS_3", 2e-4),
    "R-717": ("7664-41-7", "VDI_PPDS_3", 1.0e-3),
}


def handbook(cas: str, table: str, kelvin: float) -> float:
    """Pa by the handbook correlation that the `chemicals` library holds."""
    vapour = import_module("chemicals.vapor_pressure")
    vapour.load_vapor_pressure_dfs()
    row = getattr(vapour, f"Psat_data_{table}").loc[cas]
    if table == "WagnerMcGarry":
        return float(vapour.Wagner_original(kelvin, *(row[k] for k in ("Tc", "Pc", "A", "B", "C", "D"))))
    if table == "AntoineExtended":
        names = ("Tc", "to", "A", "B", "C", "n", "E", "F")
        return float(vapour.TRC_Antoine_extended(kelvin, *(row[k] for k in names)))
    return float(vapour.Wagner(kelvin, *(row[k] for k in ("Tc", "Pc", "A", "B", "C", "D"))))


@pytest.mark.parametrize(
    ("key", "degc"),
    [
        (key, degc) for key in CAS for degc in (-20, 0, 20, 50) if key != "R-744" or degc < 31
    ],  # critical point
)
def test_agrees_with_handbook_correlations(key: str, degc: float) -> None:
    """VDI Heat Atlas, McGarry 1983, Poling et al. 2001 and TRC fits, by way of the chemicals library."""
    cas, table, tolerance = CAS[key]

    assert saturation(R[key], celsius(degc)) == pytest.approx(
        handbook(cas, table, celsius(degc)), rel=tolerance
    )


temperatures = st.floats(-40, 65).map(celsius)
blends = st.sampled_from(sorted(R))


@given(blends, temperatures)
def test_bubble_is_never_below_dew(key: str, kelvin: float) -> None:
    bubble, dew = (T.saturation(R[key], kelvin, side) for side in ("bubble", "dew"))
    if isinstance(bubble, NoSaturation) or isinstance(dew, NoSaturation):
        assert key == "R-744"
    else:
        assert bubble >= dew * (1 - 2 * T.saturation_error(R[key]))


@given(blends, st.floats(-40, 30).map(celsius), st.floats(0.01, 0.9))
def test_pressure_rises_with_temperature(key: str, kelvin: float, step: float) -> None:
    assert saturation(R[key], kelvin + step, "dew") > saturation(R[key], kelvin, "dew")


@given(blends, st.floats(-40, 30).map(celsius), st.sampled_from(["bubble", "dew"]))
def test_temperature_is_the_inverse(key: str, kelvin: float, side: tables.Side) -> None:
    assert T.temperature(R[key], saturation(R[key], kelvin, side), side) == pytest.approx(kelvin, abs=1e-6)


@pytest.mark.parametrize("key", ["R-410A", "R-507A", "R-513A"])
def test_near_azeotropes_glide_less_than_half_a_degree(key: str) -> None:
    assert abs(T.glide(R[key], saturation(R[key], fahrenheit(70)))) * 1.8 < 0.5


@pytest.mark.parametrize("degf", [100, 120])
def test_carbon_dioxide_has_no_saturation_above_87_8_degf(degf: float) -> None:
    """Critical temperature 304.13 K = 87.8 degF (Span and Wagner 1996; university table: 30.978 degC)."""
    for side in ("bubble", "dew"):
        found = T.saturation(R["R-744"], fahrenheit(degf), side)
        assert isinstance(found, NoSaturation)
        assert found.critical - 273.15 == pytest.approx(30.978, abs=0.001)


@pytest.mark.parametrize("degc", [-41, 66, math.nan])
def test_outside_the_range_is_told(degc: float) -> None:
    with pytest.raises(OutOfRange) as error:
        T.dew(R["R-134a"], celsius(degc))
    assert error.value.field == "temperature"


# Errors met in public tables: our values must not agree with them.
def test_a_public_r407c_table_has_its_columns_swapped() -> None:
    """It prints dew 167.5 and bubble 139.7 psig at 68 degF (host withheld)."""
    assert in_psig("R-407C", 68, "bubble") > in_psig("R-407C", 68, "dew")
    assert in_psig("R-407C", 68, "dew") < 139.7 < 167.5


def test_a_public_guide_gives_r410a_103_psig_at_40_degf() -> None:
    assert abs(in_psig("R-410A", 40) - 103) > 15


@pytest.mark.parametrize(("degf", "printed"), [(-30, -5.4), (-20, -2.9)])
def test_a_public_r134a_table_is_wrong_below_its_boiling_point(degf: float, printed: float) -> None:
    """The table that is right elsewhere prints -5.4 and -2.9; its own neighbours -7.3 and 1.9 leave no room for it."""
    assert abs(in_psig("R-134a", degf) - printed) > 0.5


# What CoolProp computes and what the tables say.
@pytest.mark.parametrize("key", sorted(R))
def test_tables_keep_to_their_stated_error(key: str) -> None:
    import_module("CoolProp")
    computed, error = live.CoolProp(), T.saturation_error(R[key])
    low, high = T.saturation_range(R[key])
    for i in range(12):
        kelvin = low + (high - low) * (i + 0.37) / 12
        for side in ("bubble", "dew"):
            exact = getattr(computed, side)(R[key], kelvin)
            assert saturation(R[key], kelvin, side) == pytest.approx(exact, rel=error * 1.05 + 1e-9)


def test_tables_have_a_useful_error() -> None:
    assert max(T.saturation_error(r) for r in R.values()) < 1.2e-4


@pytest.mark.parametrize("key", ["R-454B", "R-452B", "R-448A", "R-513A"])
def test_blends_from_composition_equal_the_predefined_mixtures(key: str) -> None:
    coolprop = import_module("CoolProp.CoolProp")
    state = coolprop.AbstractState("HEOS", f"{key.replace('-', '')}.mix")
    for quality, side in ((0, "bubble"), (1, "dew")):
        state.update(coolprop.QT_INPUTS, quality, 293.15)
        assert getattr(live.CoolProp(), side)(R[key], 293.15) == pytest.approx(state.p(), rel=1e-5)
