"""Money, changes and legal days held against what was computed or written elsewhere. Each check names its source."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd
import pytest
from scipy import optimize, stats

from analysis.builders import CASES, case, demo
from analysis.test_against_pandas import amount, gwps, load
from leaklore.analysis.patterns import legal as law
from leaklore.analysis.patterns.changes import months_needed
from leaklore.analysis.patterns.exposure import fleet
from leaklore.analysis.patterns.money import MEASURES, money
from leaklore.records.model import Fix
from leaklore.trade import refrigerants
from leaklore.trade.units import POUND

TODAY = dt.date(2026, 11, 26)
GUIDE = CASES.parent / "generator" / "leaklore" / "guide"
SHIFT = 480  # min; what ran longer ran on its own
R = refrigerants.shipped()


# ---------------------------------------------------------------- Pareto totals, from the YAML files by pandas


def front_matter(technique: str) -> Any:
    """The facts of a technique's page, by plain PyYAML."""
    import yaml

    text = (GUIDE / "techniques" / f"{technique}.md").read_text("utf-8")
    return yaml.load(text.split("---")[1], yaml.CSafeLoader)


def rows() -> pd.DataFrame:
    """One row a proven case: its mode and six measures, computed from the raw files without the generator."""
    company = load(CASES / "company.yaml")
    rate = amount(company["labour_rate"])
    assert rate is not None
    prices = {key: amount(text) for key, text in company["refrigerant_price"].items()}
    gear = {s["id"]: s for s in load(CASES / "systems.yaml")["systems"]}
    out = []
    for file in sorted((CASES / "records").rglob("*.yaml")):
        r = load(file)
        if r.get("withdrawn") or r["cause"]["proof"] not in ("point", "held"):
            continue
        fix, charge = r.get("fix", {}), r.get("charge", {})
        gas = {**gear.get(r.get("system"), {}), **r.get("equipment", {})}.get("refrigerant")
        lost = amount(charge.get("lost"))
        added = (amount(fix.get("charge_added")) or 0) + (amount(charge.get("topped_up")) or 0)
        minutes = sum(
            s["minutes"] if s["minutes"] <= SHIFT else front_matter(s["technique"])["minutes"]["set_up"]
            for s in r["search"]
        )
        hours = minutes / 60 + (amount(fix.get("labour")) or 0) / 3600
        material = sum(amount(s.get("cost")) or 0 for s in r["search"]) + (amount(fix.get("parts")) or 0)
        refrigerant = (added if lost is None else lost) * (prices.get(gas) or 0)
        out.append(
            {
                "mode": r["cause"]["mode"],
                "cases": 1,
                "lost": lost or 0,
                "co2e": (lost or 0) * gwps().get(gas, 0) / 1000,
                "hours": hours,
                "money": hours * rate + material + refrigerant,
                "callbacks": any(f["result"] == "leaking-again" for f in r.get("follow_up", ())),
            }
        )
    return pd.DataFrame(out)


@pytest.mark.parametrize("measure", MEASURES)
def test_the_order_of_failures_as_pandas_makes_it_from_the_files(measure: str) -> None:
    """Source: pandas, over plain PyYAML; nothing of the generator takes part in it."""
    lib = demo()
    ours = money(lib, fleet(lib, TODAY)).bars[measure]
    sums = rows().groupby("mode")[measure].sum()
    theirs = sums[sums > 0].sort_values(ascending=False, kind="stable")

    assert {b.mode: b.value for b in ours} == pytest.approx(theirs.to_dict(), rel=1e-9)
    assert [b.value for b in ours] == pytest.approx(theirs.tolist(), rel=1e-9)
    assert [b.running for b in ours] == pytest.approx((theirs.cumsum() / theirs.sum()).tolist(), rel=1e-9)


# ---------------------------------------------------------------- months needed, by simulation and by a formula


def shows(k_before: int, years_before: float, k: int, years: float) -> bool:
    """Does the interval of scipy.stats.binomtest (exact, Clopper and Pearson) put the later rate below the former?"""
    share = years / (years + years_before)
    bounds = stats.binomtest(k, k + k_before).proportion_ci(0.95, "exact")
    return bool(bounds.high < share)


def simulated_power(k_before: int, years_before: float, years: float, rng: np.random.Generator) -> float:
    """Share of simulated years-after, with half the rate, in which the halving shows."""
    counts = rng.poisson(0.5 * k_before / years_before * years, 20_000)
    values, times = np.unique(counts, return_counts=True)
    return float(
        sum(n for k, n in zip(values, times, strict=True) if shows(k_before, years_before, int(k), years))
        / 20_000
    )


@pytest.mark.parametrize(
    ("k_before", "years_before", "years", "a_month"),
    [(20, 1000.0, 50.0, 25.0), (40, 500.0, 0.0, 8.0), (100, 2000.0, 300.0, 30.0), (300, 900.0, 10.0, 5.0)],
)
def test_months_needed_as_a_simulation_with_scipy_has_them(
    k_before: int, years_before: float, years: float, a_month: float
) -> None:
    """Source: simulation, judged by scipy.stats.binomtest; four standard errors of 20 000 draws are 0.011."""
    rng = np.random.default_rng(11)
    months = months_needed(k_before, years_before, 0, years, a_month).halving

    assert months is not None
    assert months > 0
    reached = simulated_power(k_before, years_before, years + months * a_month, rng)
    month_before = simulated_power(k_before, years_before, years + (months - 1) * a_month, rng)
    assert reached >= 0.80 - 0.012
    assert month_before <= 0.80 + 0.012


@pytest.mark.parametrize(("k_before", "years_before"), [(20, 40.0), (30, 100.0), (40, 150.0), (60, 200.0)])
def test_months_needed_near_the_square_root_formula(k_before: int, years_before: float) -> None:
    """Source: roots of counts have variance 1/4 (Huffman 1984; Gu, Ng, Tang and Schucany 2008, Biom. J. 50, 283-298;
    from memory): sqrt(d k0) - 1.96/2 sqrt(1 + d) = sqrt(d k0 / 2) + 0.8416/2 with d = time after / time before.

    The exact test is the stricter one: up to a third longer, never shorter by more than a month.
    """
    first, second = stats.norm.ppf(0.975) / 2, stats.norm.ppf(0.8) / 2

    def gap(d: float) -> float:
        return float((d * k_before) ** 0.5 * (1 - 0.5**0.5) - first * (1 + d) ** 0.5 - second)

    months = years_before * optimize.brentq(gap, 1e-3, 100)  # at one system-year a month

    ours = months_needed(k_before, years_before, 0, 0.0, 1.0).halving
    assert ours is not None
    assert months - 1 <= ours <= 1.34 * months + 1


@pytest.mark.parametrize(("k", "years"), [(0, 80.0), (3, 200.0), (7, 400.0)])
def test_silence_is_the_first_month_that_scipy_calls_lower(k: int, years: float) -> None:
    """Source: scipy.stats.binomtest month by month."""
    months = months_needed(12, 300.0, k, years, 5.0).silence

    assert months is not None
    assert shows(12, 300.0, k, years + 5.0 * months)
    assert months == 0 or not shows(12, 300.0, k, years + 5.0 * (months - 1))


# ---------------------------------------------------------------- legal rates and days (trade-facts 1.1 to 1.3)


def dues(kind: str, pounds: float, *losses: tuple[str, float], gas: str = "R-404A") -> dict[str, dt.date]:
    """Days due on a system of that charge after losses in lb by day of report, the last of them over the threshold."""
    found = over(kind, pounds, losses, gas)
    assert found is not None
    return {d.what: d.day for d in found.dues}


def over(
    kind: str, pounds: float, losses: Sequence[tuple[str, float]], gas: str = "R-404A"
) -> law.Over | None:
    """As `legal` judges it on 31 December 2026."""
    from leaklore.analysis.patterns.exposure import Watched
    from leaklore.records.model import Equipment, Site, System
    from leaklore.records.quantity import read

    gear = Equipment(kind=kind, refrigerant=gas, charge=read(f"{pounds} lb", "mass"), setting="food-retail")
    system = System("S-0001", Site("a", "A", "B", "food-retail"), "Unit", gear)
    w = Watched(system, dt.date(2010, 1, 1), dt.date(2021, 1, 1), dt.date(2026, 12, 31))
    history = [
        case(
            i,
            reported=dt.date.fromisoformat(day),
            closed=dt.date.fromisoformat(day),
            lost=f"{lb} lb",
            fix=Fix("remake"),
            system=system,
        )
        for i, (day, lb) in enumerate(losses)
    ]
    return law._over(w, R[gas], pounds * POUND, history, history, w.end)


def test_rolling_average_of_the_worked_row() -> None:
    """Source: 40 CFR 82.152, rolling average; trade-facts 1.1.7: 5 + 7 + 9 lb in 365 days in 150 lb are 14.0 %."""
    found = over("chiller", 150, [("2026-02-01", 5), ("2026-06-01", 7), ("2026-10-01", 9)])
    history = [
        case(i, reported=dt.date(2026, m, 1), lost=f"{lb} lb")
        for i, (m, lb) in enumerate([(2, 5), (6, 7), (10, 9)])
    ]

    rate, counted = law.rolling_rate(history, 150 * POUND, dt.date(2026, 10, 1))

    assert rate == pytest.approx(0.14, abs=1e-6)
    assert len(counted) == 3
    assert found is None  # a chiller in a food shop is commercial refrigeration: 20 %


def test_thresholds_are_passed_and_not_reached() -> None:
    """Source: 40 CFR 84.106(c)(2); trade-facts 1.1.3 and 1.2.3: exactly at the threshold is not over it."""
    assert over("computer-room-unit", 100, [("2026-03-01", 10)]) is None
    assert over("computer-room-unit", 100, [("2026-03-01", 10.01)]) is not None


def test_scope_of_the_rule_by_day_and_charge() -> None:
    """Source: 40 CFR 84.106(a); trade-facts 1.2.2: 15 lb of R-404A on 1 January 2026 is in; 14.9 lb, or a day before, is not."""
    assert over("condensing-unit", 15, [("2026-01-01", 10)]) is not None
    assert over("condensing-unit", 14.9, [("2026-01-01", 10)]) is None
    assert over("condensing-unit", 15, [("2025-12-31", 10)]) is None


def test_what_was_added_before_the_rule_does_not_count() -> None:
    """Source: 40 CFR 84.106(b) (from memory; secondary pages); trade-facts 1.2.5: HFCs count from 1 January 2026 on."""
    losses = [("2025-11-01", 15.0), ("2026-01-01", 4.0), ("2026-02-01", 6.0)]
    assert over("computer-room-unit", 100, losses) is None
    found = over("computer-room-unit", 100, [*losses, ("2026-03-01", 1.0)])
    assert found is not None
    assert found.rate == pytest.approx(0.11)
    assert [c.reported.month for c in found.counted] == [1, 2, 3]
    ozone = over("computer-room-unit", 100, losses, gas="R-22")
    assert ozone is not None
    assert ozone.rate == pytest.approx(0.25)


def test_repair_and_follow_up_days() -> None:
    """Source: 40 CFR 82.157(d), (e)(2); trade-facts 1.1.10 and 1.1.12: 1 March + 30 days = 31 March; test + 10 days."""
    found = dues("condensing-unit", 100, ("2026-03-01", 30))
    assert found["repair"] == dt.date(2026, 3, 31)
    assert found["follow-up"] == dt.date(2026, 3, 11)


@pytest.mark.parametrize(
    ("kind", "pounds", "next_look"),
    [
        ("compressor-rack", 500, dt.date(2026, 6, 1)),
        ("compressor-rack", 499, dt.date(2027, 3, 1)),
        ("computer-room-unit", 2000, dt.date(2027, 3, 1)),
    ],
)
def test_inspections(kind: str, pounds: float, next_look: dt.date) -> None:
    """Source: 40 CFR 82.157(g); trade-facts 1.1.13: 3 months from 500 lb of refrigeration, else once a year."""
    assert dues(kind, pounds, ("2026-03-01", 0.4 * pounds))["inspection"] == next_look


def test_chronic_leakers() -> None:
    """Source: 40 CFR 82.157(j), (m); trade-facts 1.1.16: 125.0 % in a calendar year is reported by 1 March, 124.9 % is not."""
    first = ("2026-02-01", 60.0)
    assert dues("condensing-unit", 100, first, ("2026-08-01", 65.0))["chronic-report"] == dt.date(2027, 3, 1)
    assert "chronic-report" not in dues("condensing-unit", 100, first, ("2026-08-01", 64.9))


def test_the_look_after_a_repair_in_the_union() -> None:
    """Source: Regulation (EU) 2024/573, Article 4; trade-facts 1.3.5: repaired 10 May, 11 May to 10 June."""
    from leaklore.trade import eu_rules

    first, last, _ = eu_rules.recheck_window(dt.date(2026, 5, 10))
    due = law.Due("recheck", last, eu_rules.leak_check(R["R-404A"], 10.0).source, None, first)

    assert (due.start, due.day) == (dt.date(2026, 5, 11), dt.date(2026, 6, 10))
    assert (due.state(dt.date(2026, 6, 10)), due.state(dt.date(2026, 6, 11))) == ("due", "overdue")
