"""Molar masses, densities, GWPs and limits of refrigerants against published values."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import partial
from importlib import import_module

import pytest

from leaklore.trade import live, refrigerants
from leaklore.trade.refrigerants import Component
from leaklore.trade.units import ATMOSPHERE
from published import Check, R, each

ATOMS = {"H": 1.008, "C": 12.011, "N": 14.007, "O": 15.999, "F": 18.998403, "Cl": 35.45}
"""IUPAC standard atomic weights 2021 (abridged), g/mol."""
FORMULA = {
    "R-22": {"C": 1, "H": 1, "Cl": 1, "F": 2},
    "R-32": {"C": 1, "H": 2, "F": 2},
    "R-125": {"C": 2, "H": 1, "F": 5},
    "R-134a": {"C": 2, "H": 2, "F": 4},
    "R-143a": {"C": 2, "H": 3, "F": 3},
    "R-1234yf": {"C": 3, "H": 2, "F": 4},
    "R-1234ze(E)": {"C": 3, "H": 2, "F": 4},
    "R-290": {"C": 3, "H": 8},
    "R-600a": {"C": 4, "H": 10},
    "R-744": {"C": 1, "O": 2},
    "R-717": {"N": 1, "H": 3},
}
MASSES = {key: sum(ATOMS[a] * n for a, n in atoms.items()) / 1000 for key, atoms in FORMULA.items()}
TABLE_A1 = {
    "R-32": 675,
    "R-125": 3500,
    "R-134a": 1430,
    "R-143a": 4470,
    "R-1234yf": 4,
    "R-1234ze(E)": 7,
    "R-744": 1,
}
"""AR4 values: 40 CFR part 98 Table A-1 before the 2024 revision (read), except R-1234yf and R-1234ze(E) (memory)."""
AR5 = {
    "R-32": 677,
    "R-125": 3170,
    "R-134a": 1300,
    "R-143a": 4800,
    "R-1234yf": 1,
    "R-1234ze(E)": 1,
    "R-744": 1,
}
"""IPCC AR5 WG1 table 8.A.1 (memory); < 1 taken as 1."""
EU = {
    "R-32": 675,
    "R-125": 3500,
    "R-134a": 1430,
    "R-143a": 4470,
    "R-1234yf": 0.501,
    "R-1234ze(E)": 1.37,
    "R-744": 1,
}
"""Regulation (EU) 2024/573, Annexes I and II (read), CO2 by definition."""


def blend_gwp(composition: Iterable[Component], gwps: Mapping[str, float]) -> float:
    """The sum weighted by mass (Regulation (EU) 2024/573, Annex VI; the US rules do the same)."""
    return sum(part.share * gwps[part.of] for part in composition)


@pytest.mark.parametrize("key", sorted(FORMULA.keys() & R.keys()))
def test_molar_mass_of_pure_refrigerants_follows_from_the_formula(key: str) -> None:
    assert R[key].molar_mass * 1000 == pytest.approx(MASSES[key] * 1000, abs=0.004)


@pytest.mark.parametrize(
    ("key", "flammable"),
    [
        ("R-22", False),
        ("R-410A", False),
        ("R-744", False),
        ("R-32", True),
        ("R-454B", True),
        ("R-717", True),
        ("R-290", True),
    ],
)
def test_groups_2l_2_and_3_burn(key: str, flammable: bool) -> None:
    """ASHRAE 34: A1, A1, A1, A2L, A2L, B2L, A3 (from memory)."""
    assert R[key].flammable is flammable


@pytest.mark.parametrize("key", sorted(k for k, r in R.items() if not r.pure))
def test_molar_mass_of_blends_follows_from_the_composition(key: str) -> None:
    shares = {part.of: part.share for part in R[key].composition}
    assert sum(shares.values()) == pytest.approx(1, abs=1e-3)
    moles = sum(share / MASSES[of] for of, share in shares.items())
    assert R[key].molar_mass * 1000 == pytest.approx(1000 / moles, abs=0.01)


MOLAR = [
    Check("molar mass of R-410A", lambda: R["R-410A"].molar_mass * 1000, 72.58, 0.01, "property page of R-410A (host withheld)", "published", "g/mol"),
    Check("molar mass of R-134a", lambda: R["R-134a"].molar_mass * 1000, 102.03, 0.005, "maker's thermodynamic tables (host withheld)", "published", "g/mol"),
    Check("molar mass of R-290", lambda: R["R-290"].molar_mass * 1000, 44.095, 0.002, "Lemmon and McLinden 2009, J. Chem. Eng. Data 54, 3141, as given in a property library's help", "published", "g/mol"),
]  # fmt: skip
PRINTED_AR4 = {"R-404A": 3922, "R-407A": 2107, "R-407C": 1774, "R-407F": 1825, "R-410A": 2088, "R-448A": 1387, "R-449A": 1397, "R-452A": 2140, "R-452B": 698, "R-454B": 466, "R-454C": 148, "R-455A": 148, "R-507A": 3985, "R-513A": 631}  # fmt: skip
SEEN_GWP = {"R-410A", "R-449A"}
GWP = [
    Check(
        f"GWP (AR4) of {key} from its composition",
        partial(blend_gwp, R[key].composition, TABLE_A1),
        value,
        0.51,
        "printed integers of the trade's tables; components: 40 CFR part 98 Table A-1",
        "published" if key in SEEN_GWP else "from-memory",
    )
    for key, value in PRINTED_AR4.items()
]


@each([*MOLAR, *GWP])
def test_composition(check: Check) -> None:
    check.hold()


@pytest.mark.parametrize("key", sorted(k for k, r in R.items() if not r.pure))
@pytest.mark.parametrize(("name", "values"), [("ar4", TABLE_A1), ("ar5", AR5), ("eu-2024-573", EU)])
def test_gwp_of_blends_is_the_sum_of_the_guide(
    key: str, name: refrigerants.GwpSet, values: dict[str, float]
) -> None:
    assert R[key].gwp[name] == pytest.approx(blend_gwp(R[key].composition, values), abs=0.06)


# kg/m3 at 25 degC and 1 atm, air 1.184
REAL_DENSITY = {"R-22": 3.587, "R-32": 2.153, "R-134a": 4.258, "R-404A": 4.058, "R-407C": 3.581, "R-410A": 3.006, "R-290": 1.832, "R-600a": 2.440, "R-744": 1.808, "R-717": 0.704, "R-1234yf": 4.766, "R-1234ze(E)": 4.774}  # fmt: skip
DENSITY = [
    Check("R-717 vapour against air", lambda: R["R-717"].relative_density, 0.597, 0.02, "ammonia safety page (host withheld), 1 atm and 32 degF, real gas", "published", relative=True),
    Check("R-744 vapour against air", lambda: R["R-744"].relative_density, 1.52, 0.005, "common figure", "from-memory"),
    Check("R-290 vapour against air", lambda: R["R-290"].relative_density, 1.52, 0.005, "common figure", "from-memory"),
]  # fmt: skip


@each(DENSITY)
def test_vapour_density(check: Check) -> None:
    check.hold()


@pytest.mark.parametrize(("key", "density"), REAL_DENSITY.items())
def test_real_vapour_is_up_to_3_percent_heavier_than_the_ideal_ratio(key: str, density: float) -> None:
    """Reference values computed with an equation of state beforehand."""
    assert 0.003 < density / 1.184 / R[key].relative_density - 1 < 0.030


@pytest.mark.parametrize("key", REAL_DENSITY)
def test_vapour_density_of_the_provider(key: str) -> None:
    import_module("CoolProp")
    assert live.CoolProp().vapour(R[key], 298.15, ATMOSPHERE).density == pytest.approx(
        REAL_DENSITY[key], abs=0.0006
    )


# ppm, g/m3 as tabled: ASHRAE 34-2019/2022, from memory
RCL = {"R-22": (59_000, 210), "R-32": (36_000, 77), "R-134a": (50_000, 210), "R-404A": (130_000, 500), "R-407A": (83_000, 300), "R-407C": (81_000, 290), "R-407F": (95_000, 320), "R-410A": (140_000, 420), "R-448A": (110_000, 390), "R-449A": (100_000, 370), "R-452A": (100_000, 440), "R-452B": (30_000, 77), "R-454C": (19_000, 71), "R-455A": (22_000, 79), "R-507A": (130_000, 520), "R-513A": (72_000, 320), "R-1234yf": (16_000, 75), "R-290": (5_300, 9.5), "R-600a": (4_000, 9.6), "R-744": (30_000, 54), "R-717": (320, 0.22)}  # fmt: skip
LIMITS = [
    Check(
        f"RCL of {key} as a density",
        lambda key=key: (R[key].rcl_density or 0) * 1000,
        grams,
        0.04,
        "ASHRAE 34-2019/2022 tables 4-1 and 4-2",
        "from-memory",
        "g/m3",
        relative=True,
    )
    for key, (_, grams) in RCL.items()
]


@each(LIMITS)
def test_concentration_limits(check: Check) -> None:
    check.hold()


@pytest.mark.parametrize(("key", "ppm"), [("R-32", 36_000), ("R-290", 5_250), ("R-600a", 4_000)])
def test_rcl_of_flammables_is_a_quarter_of_the_lfl(key: str, ppm: float) -> None:
    """ASHRAE 34 section 7 (from memory); R-290 is tabled as 5 300, rounded to two figures."""
    lfl, rcl = R[key].lfl, R[key].rcl
    assert lfl is not None
    assert rcl is not None
    assert 0.25 * lfl * 1e6 == pytest.approx(ppm)
    assert rcl * 1e6 == pytest.approx(ppm, rel=0.011)
