"""How often the bounds of an expected loss hold it, in libraries whose truth is known."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from leaklore.analysis.patterns.expected_loss import AGES, Report, fit
from leaklore.analysis.patterns.exposure import DAYS_A_YEAR, Watched
from leaklore.analysis.patterns.rates import Floats
from leaklore.records.model import Equipment, PartialDate, Site, System
from leaklore.records.quantity import Quantity

from ..builders import case

UNTIL = dt.date(2026, 11, 26)
SITE = Site("quay", "Quay", "Ketterwick", "food-retail")
BY_AGE = np.array([1.4, 0.9, 0.8, 1.1, 1.5])
"""True factors of the rate by age."""
WITHIN = 0.8
"""Standard deviation of ln(loss) of a leak on one system."""
CASE = case(1)


def watched(number: int, kind: int, charge: float, age: float, since: dt.date) -> Watched:
    installed = UNTIL - dt.timedelta(days=int(age * DAYS_A_YEAR))
    gear = Equipment(
        kind=f"kind-{kind}",
        charge=Quantity(f"{charge} kg", charge, "mass"),
        installed=PartialDate(str(installed), installed),
    )
    return Watched(System(f"S-{number:04}", SITE, "", gear), installed, max(since, installed), UNTIL)


def made(
    rng: np.random.Generator, n: int, rate: float, years: float, shape: float
) -> tuple[list[Watched], list[Report], dt.date, Floats]:
    """Systems of eight kinds, their reports, since when, and kg truly expected of each in the next year.

    Rates of kinds are log-normal about `rate` a year, those of systems within a kind gamma of this `shape`.
    """
    kind = rng.choice(8, n, p=rng.dirichlet(np.full(8, 2.0)))
    own = rate * rng.lognormal(-0.18, 0.6, 8)[kind] * rng.gamma(shape, 1 / shape, n)
    charge = rng.lognormal(2, 1, 8)[kind] * rng.lognormal(0, 0.6, n)
    loss = np.log(0.25) + 0.9 * np.log(charge) + rng.normal(0, 0.4, 8)[kind]
    since = UNTIL - dt.timedelta(days=round(years * DAYS_A_YEAR))
    age = rng.uniform(0.3, 22, n)
    systems = [watched(i, int(kind[i]), float(charge[i]), float(age[i]), since) for i in range(n)]
    reports = []
    for i, w in enumerate(systems):
        days = rng.uniform(0, w.years, rng.poisson(own[i] * BY_AGE.max() * w.years))
        for at in days[rng.uniform(size=days.size) < by_age(w.entry + days) / BY_AGE.max()]:
            day = w.start + dt.timedelta(days=int(at * DAYS_A_YEAR))
            lost = float(np.exp(rng.normal(loss[i], WITHIN))) if rng.uniform() < 0.9 else None
            reports.append(Report(CASE, day, w.system.id, lost))
    next_year = by_age(age[:, None] + np.linspace(0.025, 0.975, 20)).mean(axis=1)
    return systems, reports, since, own * next_year * np.exp(loss + WITHIN**2 / 2)


def by_age(age: Any) -> Any:
    return BY_AGE[np.searchsorted(AGES, age, side="right")]


@pytest.mark.parametrize(
    ("systems", "libraries", "rate", "years", "shape"),
    [
        (300, 40, 0.2, 5.0, 1.5),
        (300, 60, 0.06, 5.0, 1.5),  # about 90 reports
        (300, 60, 0.2, 2.5, 1.5),  # a young record
        (3000, 4, 0.2, 5.0, 1.5),
        (3000, 8, 0.2, 5.0, 10.0),  # systems of a kind are nearly alike
    ],
)
def test_the_bounds_hold_the_true_expectation_in_95_of_100(
    systems: int, libraries: int, rate: float, years: float, shape: float
) -> None:
    """Of all systems, and of the top tenth of the list: that a system stands there does not make it less true."""
    rng = np.random.default_rng(20261126)
    every, top = [], []
    for _ in range(libraries):
        watched_, reports, since, truth = made(rng, systems, rate, years, shape)
        found = fit(watched_, reports, since, UNTIL)
        held = (found.low <= truth) & (truth <= found.high)
        every.append(held.mean())
        top.append(held[np.argsort(-found.expected)[: systems // 10]].mean())

    assert 0.93 <= np.mean(every) <= 0.97
    assert 0.93 <= np.mean(top) <= 0.97


def test_the_mean_lies_between_its_bounds_where_next_to_nothing_is_known() -> None:
    rng = np.random.default_rng(1)
    for _ in range(150):
        watched_, reports, since, _ = made(rng, int(rng.integers(1, 40)), 0.05, 3.0, 0.5)
        wild = [replace(r, lost=r.lost and float(rng.lognormal(0, 3))) for r in reports]
        found = fit(watched_, wild, since, UNTIL)
        assert np.isfinite(found.high).all()
        assert ((found.low <= found.expected) & (found.expected <= found.high)).all()
