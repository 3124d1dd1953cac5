"""Air readings and entry limits against published equations and limits."""

from __future__ import annotations

import math
import re
from functools import partial
from importlib import import_module

import pytest
import yaml
from hypothesis import assume, given
from hypothesis import strategies as st

from leaklore.records.guide import SHIPPED
from leaklore.trade import air, entry
from leaklore.trade.air import Space, above_background
from leaklore.trade.units import DAY, GRAM_PER_YEAR, OutOfRange
from published import Check, R, each

BOOK = "Basic Concepts of Industrial Hygiene, p. 163, eqs. 3-5, citing Burgess 1989"
PPM = 1e-6
ROOM = Space(100.0, 2.0)
"""m3 and m3/s (the equation takes any one unit of time)."""


def milligrams(key: str) -> float:
    return air.density(PPM, R[key].molar_mass) * 1e6


CHECKS = [
    Check("growing concentration, G 0.5, Q 2, V 100, t 10", lambda: ROOM.after(0.5, 10), 0.045317, 1e-6, BOOK, "derived"),
    Check("growing concentration, t 50", lambda: ROOM.after(0.5, 50), 0.158030, 1e-6, BOOK, "derived"),
    Check("growing concentration, t 150", lambda: ROOM.after(0.5, 150), 0.237553, 1e-6, BOOK, "derived"),
    Check("steady concentration", lambda: ROOM.steady(0.5), 0.25, 1e-12, BOOK, "derived"),
    Check("time to half at 9.9 m3/h in 20 m3", lambda: Space(20, 9.9 / 3600).purge_time(1.0, 0.5) / 3600, 1.4, 0.005, "exposure-assessment page of an industrial hygienist, 2013: 0.693 x 20 / 1.4 = 9.9", "published", "h"),
    Check("left after 1.4 h at 9.9 m3/h in 20 m3", lambda: Space(20, 9.9 / 3600).after(0.0, 1.4 * 3600, 0.01), 0.005, 1e-5, "exposure-assessment page of an industrial hygienist, 2013: a half-life of 1.4 h", "published"),
    Check("1 ppm of R-134a", partial(milligrams, "R-134a"), 102.03 / 24.45, 0.001, "NIOSH and ACGIH convention, M / 24.45", "from-memory", "mg/m3", relative=True),
    Check("1 ppm of R-32", partial(milligrams, "R-32"), 52.02 / 24.45, 0.001, "NIOSH and ACGIH convention, M / 24.45", "from-memory", "mg/m3", relative=True),
    Check("1 ppm of R-410A", partial(milligrams, "R-410A"), 72.58 / 24.45, 0.001, "NIOSH and ACGIH convention, M / 24.45", "from-memory", "mg/m3", relative=True),
    Check("1 ppm of ammonia", partial(milligrams, "R-717"), 0.6965, 0.001, "NIOSH and ACGIH convention, M / 24.45", "from-memory", "mg/m3", relative=True),
    Check("2 kg of R-410A in 25 m3", lambda: entry.release(R["R-410A"], 2, 25).density * 1e3, 80.0, 1e-9, "ASHRAE 15 quantity limit: m / V", "derived", "g/m3"),
    Check("oxygen left at 10 % vapour", lambda: entry.displaced(0.1) * 100, 18.855, 0.001, "dilution", "derived", "%"),
    Check("25 % of the LFL of R-32", lambda: limit("R-32", "flammable"), 36_000, 1e-6, "IEC 60335-2-40 wording (reprinted): 25 % of the LFL; LFL from memory", "from-memory", "ppm"),
    Check("RCL of R-410A", lambda: limit("R-410A", "rcl"), 140_000, 1e-6, "ASHRAE 34-2019/2022", "from-memory", "ppm"),
    Check("IDLH of ammonia", lambda: limit("R-717", "immediate"), 300, 1e-9, "NIOSH pocket guide", "from-memory", "ppm"),
    Check("vapour that brings oxygen to 19.5 %", lambda: limit("R-410A", "oxygen"), 69_212, 1.0, "29 CFR 1910.146(b) (laboratory safety pages) and 20.95 % in dry air", "derived", "ppm"),
]  # fmt: skip


def limit(key: str, name: str) -> float:
    """ppm"""
    return next(found.fraction for found in entry.limits(R[key]) if found.key == name) * 1e6


@each(CHECKS)
def test_air(check: Check) -> None:
    check.hold()


def test_room_equation_agrees_with_the_differential_equation() -> None:
    scipy = import_module("scipy.integrate")
    space, vapour, start = Space.with_changes(50, 0.7), 3e-6, 40 * PPM
    hours = [600.0, 3600.0, 20_000.0]

    def change(_: float, c: list[float]) -> list[float]:
        return [(vapour - space.air * c[0]) / space.volume]

    solved = scipy.solve_ivp(change, (0, hours[-1]), [start], t_eval=hours, rtol=1e-10, atol=1e-14)
    for time, value in zip(solved.t, solved.y[0], strict=True):
        assert space.after(vapour, float(time), start) == pytest.approx(float(value), rel=1e-6)


def test_a_plant_room_as_the_guide_works_it_out() -> None:
    """50 m3, half an air change an hour, 100 g of R-410A a day: about 56 ppm (our own guide page)."""
    space = Space.with_changes(50, 0.5)
    vapour = air.vapour_flow(0.1 / DAY, R["R-410A"].molar_mass)
    assert space.steady(vapour) / PPM == pytest.approx(56, abs=0.5)


@pytest.mark.parametrize(("key", "grams", "ppm"), [("R-134a", 1, 27), ("R-134a", 5, 137), ("R-410A", 5, 192)])
def test_a_bag_as_the_guide_works_it_out(key: str, grams: float, ppm: float) -> None:
    """Tight bag of 1 L after an hour (our own guide page)."""
    vapour = air.vapour_flow(grams * GRAM_PER_YEAR, R[key].molar_mass)
    assert Space(1e-3).after(vapour, 3600) / PPM == pytest.approx(ppm, abs=0.5)


spaces = st.builds(Space, st.floats(0.5, 1000), st.floats(1e-6, 1.0))
leaks = st.floats(1e-10, 1e-7)


@given(spaces, leaks, st.floats(1, 1e6), st.floats(0, 0.01))
def test_concentration_lies_between_start_and_end(space: Space, g: float, t: float, start: float) -> None:
    low, high = sorted((start, space.steady(g)))
    assert low * (1 - 1e-9) <= space.after(g, t, start) <= high * (1 + 1e-9)


@given(spaces, leaks, st.floats(0.01, 0.99))
def test_time_to_is_the_inverse(space: Space, g: float, share: float) -> None:
    target = share * space.steady(g)
    assume(target > 1e-15)
    assert space.after(g, space.time_to(target, g)) == pytest.approx(target, rel=1e-6)


@given(st.floats(0, 1), st.floats(0.01, 0.12), st.floats(240, 320))
def test_ppm_to_grams_and_back(x: float, molar_mass: float, kelvin: float) -> None:
    assert air.fraction(air.density(x, molar_mass, kelvin), molar_mass, kelvin) == pytest.approx(x, abs=1e-12)


def test_never_more_than_pure_vapour() -> None:
    with pytest.raises(OutOfRange):
        air.fraction(5.0, R["R-134a"].molar_mass)
    assert Space(1.0).steady(1e-9) == 1.0
    assert Space(1.0).time_to(1e-4, 0.0) == math.inf
    assert ROOM.time_to(0.3, 0.5) == math.inf


@pytest.mark.parametrize(
    ("reading", "background", "step", "expected"),
    [
        (85, 1, 1, True),
        (3, 1, 1, False),
        (4, 1, 1, True),
        (1, 1, 1, False),
        (0, 3, 1, False),
        (85, None, 1, None),
    ],
)
def test_above_background(
    reading: float, background: float | None, step: float, expected: bool | None
) -> None:
    base = None if background is None else background * PPM
    assert above_background(reading * PPM, base, step * PPM).above is expected


@given(st.floats(0, 1e-3), st.floats(0, 1e-3), st.floats(1e-7, 1e-5))
def test_rounding_of_the_display_never_makes_a_finding(true: float, drift: float, step: float) -> None:
    """Two displays of one concentration differ by one step at most."""
    shown = [round((true + d * 0.0) / step) * step for d in (0.0, drift)]
    assert above_background(shown[0], min(shown[1], 1.0), step).above is False


@pytest.mark.parametrize(
    ("key", "ppm", "verdict"),
    [("R-410A", 100, "below-limits"), ("R-410A", 1_000, "ventilate"), ("R-410A", 70_000, "stay-out"), ("R-32", 36_000, "stay-out"), ("R-290", 5_250, "stay-out"), ("R-290", 5_000, "ventilate"), ("R-717", 20, "below-limits"), ("R-717", 60, "ventilate"), ("R-717", 300, "stay-out"), ("R-744", 800, "below-limits"), ("R-744", 6_000, "ventilate"), ("R-744", 30_000, "stay-out")],
)  # fmt: skip
def test_entry(key: str, ppm: float, verdict: str) -> None:
    assert entry.check(R[key], ppm * PPM).verdict == verdict


@pytest.mark.parametrize(
    ("oxygen", "verdict"), [(0.195, "below-limits"), (0.1949, "stay-out"), (0.236, "stay-out")]
)
def test_oxygen_decides_too(oxygen: float, verdict: str) -> None:
    """29 CFR 1910.146(b): below 19.5 % deficient, above 23.5 % enriched (laboratory safety pages)."""
    assert entry.check(R["R-22"], 0.0, oxygen).verdict == verdict


def test_the_rcl_of_many_a1_refrigerants_leaves_too_little_oxygen_to_go_in() -> None:
    for key in ("R-404A", "R-410A", "R-507A", "R-448A"):
        assert (R[key].rcl or 0) > entry.oxygen_limit()
        assert entry.limits(R[key])[0].key == "oxygen"


def test_oxygen_alone_does_not_tell_whether_to_go_in() -> None:
    """Air that still has 19.5 % oxygen can burn or poison: the guide's cautions must send for the gas's own meter."""
    sooner = {key for key, r in R.items() if entry.limits(r)[0].key != "oxygen"}
    assert {"R-744", "R-717", "R-290", "R-32", "R-1234yf"} <= sooner
    listed = yaml.safe_load((SHIPPED / "cautions.yaml").read_text(encoding="utf-8"))
    said = {c["key"]: c for c in listed}
    for form in ("short", "text"):
        assert re.search(r"Measure oxygen and the (gas|refrigerant)", said["confined-space"][form])
        assert "wear a CO2 meter" in said["carbon-dioxide"][form]


@given(st.sampled_from(sorted(R)), st.floats(0, 0.2), st.floats(0, 0.2))
def test_more_vapour_is_never_safer(key: str, one: float, other: float) -> None:
    order = ("below-limits", "ventilate", "stay-out")
    low, high = (order.index(entry.check(R[key], x).verdict) for x in sorted((one, other)))
    assert low <= high
