"""Charge lost as a rate: the rule's two methods, t CO2e and plain rates."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from leaklore.trade import leak_rate
from leaklore.trade.leak_rate import Addition, annualizing, rolling_average
from leaklore.trade.units import DAY, POUND, YEAR, OutOfRange
from published import Check, each

METHOD = "40 CFR 82.152, leak rate (1), formula as given on two secondary guides"
DAY_0 = dt.date(2026, 6, 1)


def three_additions() -> float:
    """5 + 7 + 9 lb in 365 days, 150 lb charge; one older and one seasonal addition don't count."""
    additions = [
        Addition(dt.date(2025, 5, 1), 30 * POUND),
        Addition(dt.date(2025, 8, 1), 5 * POUND),
        Addition(dt.date(2025, 11, 1), 12 * POUND, counts=False),
        Addition(dt.date(2026, 1, 5), 7 * POUND),
        Addition(DAY_0, 9 * POUND),
    ]
    return rolling_average(additions, 150 * POUND, DAY_0) * 100


CHECKS = [
    Check("annualizing, 10 lb in 100 lb, 180 d", lambda: annualizing(10, 100, 180) * 100, 20.27, 0.01, "worked example on a calculator's page (host withheld), printed by truncation", "published", "%"),
    Check("annualizing, 10 lb in 100 lb, 180 d, exact", lambda: annualizing(10, 100, 180) * 100, 20.27778, 1e-5, METHOD, "derived", "%"),
    Check("annualizing, 30 lb in 200 lb, 120 d", lambda: annualizing(30, 200, 120) * 100, 45.625, 1e-9, METHOD, "derived", "%"),
    Check("annualizing, 50 lb in 500 lb, 365 d", lambda: annualizing(50, 500, 365) * 100, 10.0, 1e-9, METHOD, "derived", "%"),
    Check("annualizing, 20 lb in 500 lb, 400 d", lambda: annualizing(20, 500, 400) * 100, 4.0, 1e-9, METHOD, "derived", "%"),
    Check("annualizing, 5 lb in 50 lb, 30 d", lambda: annualizing(5, 50, 30) * 100, 121.66667, 1e-5, METHOD, "derived", "%"),
    Check("first addition under part 84, 5 lb in 50 lb", lambda: annualizing(5, 50, 365) * 100, 10.0, 1e-9, "40 CFR 84.106(b)", "from-memory", "%"),
    Check("rolling average, 5 + 7 + 9 lb in 150 lb", three_additions, 14.0, 1e-9, "40 CFR 82.152, leak rate (2), formula as given on secondary guides", "derived", "%"),
    Check("20 kg of R-410A at GWP 2088", lambda: leak_rate.tonnes_co2e(20, 2088), 41.76, 0.005, "compliance page on Regulation (EU) 517/2014 (host withheld)", "published", "t"),
]  # fmt: skip


@each(CHECKS)
def test_rates(check: Check) -> None:
    check.hold()


def test_a_verified_repair_starts_the_rolling_average_anew() -> None:
    additions = [Addition(dt.date(2026, 1, 10), 10.0), Addition(dt.date(2026, 5, 1), 3.0)]
    assert rolling_average(additions, 100, DAY_0) == pytest.approx(0.13)
    assert rolling_average(additions, 100, DAY_0, verified=dt.date(2026, 2, 1)) == pytest.approx(0.03)
    assert rolling_average(additions, 100, DAY_0, verified=dt.date(2020, 2, 1)) == pytest.approx(0.13)


def test_day_365_before_does_not_count() -> None:
    edge = DAY_0 - dt.timedelta(days=365)
    assert rolling_average([Addition(edge, 1.0)], 10, DAY_0) == 0
    assert rolling_average([Addition(edge + dt.timedelta(days=1), 1.0)], 10, DAY_0) == pytest.approx(0.1)


@given(st.floats(0.01, 50), st.floats(1, 500), st.floats(1, 900))
def test_one_addition_annualized_is_never_below_its_rolling_average(
    added: float, charge: float, days: float
) -> None:
    rolling = rolling_average([Addition(DAY_0, added)], charge, DAY_0)
    assert annualizing(added, charge, days) >= rolling * (1 - 1e-12)


@given(st.floats(0.01, 50), st.floats(1, 500), st.floats(1, 365))
def test_annualizing_is_the_plain_rate_of_a_365_day_year(added: float, charge: float, days: float) -> None:
    plain = leak_rate.loss(added, days * DAY, charge)
    assert plain.share is not None
    assert annualizing(added, charge, days) == pytest.approx(plain.share * 365 / 365.25, rel=1e-12)


def test_rate_and_share_of_one_loss() -> None:
    found = leak_rate.loss(0.4, 14 / 12 * YEAR, 1.1)
    assert found.rate * YEAR == pytest.approx(0.342857, abs=1e-6)
    assert found.share == pytest.approx(0.311688, abs=1e-6)


@pytest.mark.parametrize("bad", [0.0, -3.0, float("nan"), float("inf")])
def test_no_days_no_rate(bad: float) -> None:
    with pytest.raises(OutOfRange):
        annualizing(1, 10, bad)


def test_truncation_is_an_error() -> None:
    """A public example prints 10/100 x 365/180 = 20.27 %; to two decimals it is 20.28."""
    assert round(annualizing(10, 100, 180) * 100, 2) == 20.28
