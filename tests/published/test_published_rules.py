"""Rules of the US and the EU: scope, thresholds, intervals and days."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from leaklore.trade import data, eu_rules, us_rules
from leaklore.trade.refrigerants import Component
from leaklore.trade.units import POUND
from leaklore.trade.us_rules import Appliance
from published import Check, R, Value, each

IPR, COMMERCIAL, COMFORT = (Appliance(k, False) for k in ("industrial-process", "commercial-refrigeration", "comfort-cooling"))  # fmt: skip
P82, P84 = "40 CFR 82.157(a)-(c), compliance text (copy read)", "40 CFR 84.106, summaries of 2024 and 2026"
TODAY = dt.date(2026, 11, 25)


def threshold(key: str, pounds: float, kind: Appliance, on: dt.date = TODAY) -> float | None:
    """% a year of the one rule that holds, None where none does."""
    held = [r.threshold for r in us_rules.rules(R[key], pounds * POUND, kind, on) if r.holds]
    assert len(held) <= 1
    return None if not held or held[0] is None else held[0] * 100


def over(percent: float, kind: Appliance = COMFORT) -> bool | None:
    held = [r.over for r in us_rules.rules(R["R-22"], 60 * POUND, kind, TODAY, percent / 100) if r.holds]
    return held[0]


def months(tonnes: float, detection: bool = False, **more: bool) -> int | None:
    gwp = R["R-134a"].gwp["eu-2024-573"]
    assert gwp is not None
    return eu_rules.leak_check(R["R-134a"], tonnes * 1000 / gwp, detection, **more).months


def day(found: us_rules.Deadline | None) -> Value:
    return None if found is None else found.day


EU = "Regulation (EU) 2024/573, Article 5(6) (copy read)"
CHECKS = [
    Check("R-22, 50 lb, comfort cooling", lambda: threshold("R-22", 50, COMFORT), 10.0, 1e-9, P82, "published", "%"),
    Check("R-22, 50 lb, commercial refrigeration", lambda: threshold("R-22", 50, COMMERCIAL), 20.0, 1e-9, P82, "published", "%"),
    Check("R-22, 50 lb, industrial process", lambda: threshold("R-22", 50, IPR), 30.0, 1e-9, P82, "published", "%"),
    Check("R-22, 49.9 lb is out", lambda: threshold("R-22", 49.9, COMFORT), None, 0, P82, "published"),
    Check("exactly 10.00 % is not over", lambda: over(10.0), False, 0, "40 CFR 82.157(c)(1): over", "published"),
    Check("10.01 % is over", lambda: over(10.01), True, 0, "40 CFR 82.157(c)(1): over", "published"),
    Check("R-410A, 200 lb, between April 2020 and 2026 is out", lambda: threshold("R-410A", 200, COMFORT, dt.date(2022, 1, 1)), None, 0, "85 FR 14150", "published"),
    Check("R-410A, 200 lb, in 2019", lambda: threshold("R-410A", 200, COMFORT, dt.date(2019, 6, 1)), 10.0, 1e-9, "81 FR 82272 (summary)", "published", "%"),
    Check("commercial threshold in 2018", lambda: threshold("R-22", 200, COMMERCIAL, dt.date(2018, 6, 1)), 35.0, 1e-9, "earlier 40 CFR 82.156(i)", "from-memory", "%"),
    Check("comfort threshold in 2018", lambda: threshold("R-22", 200, COMFORT, dt.date(2018, 6, 1)), 15.0, 1e-9, "earlier 40 CFR 82.156(i)", "from-memory", "%"),
    Check("R-404A, 15 lb, commercial, 1 January 2026", lambda: threshold("R-404A", 15, COMMERCIAL, dt.date(2026, 1, 1)), 20.0, 1e-9, P84, "published", "%"),
    Check("R-404A, 15 lb, 31 December 2025 is out", lambda: threshold("R-404A", 15, COMMERCIAL, dt.date(2025, 12, 31)), None, 0, P84, "published"),
    Check("R-404A, 14.9 lb is out", lambda: threshold("R-404A", 14.9, COMMERCIAL), None, 0, P84, "published"),
    Check("R-404A, transport unit", lambda: threshold("R-404A", 20, us_rules.appliance("transport-unit")), 10.0, 1e-9, P84, "published", "%"),
    Check("R-744, 500 lb is out (GWP 1)", lambda: threshold("R-744", 500, COMMERCIAL), None, 0, P84, "published"),
    Check("R-1234yf, 500 lb is out (GWP not above 53)", lambda: threshold("R-1234yf", 500, COMFORT), None, 0, P84, "published"),
    Check("R-454C, 20 lb is in (holds an HFC)", lambda: threshold("R-454C", 20, COMMERCIAL), 20.0, 1e-9, P84, "published", "%"),
    Check("a light commercial split with 20 lb is out", lambda: threshold("R-410A", 20, us_rules.appliance("ducted-split")), None, 0, P84, "published"),
    Check("repair after 1 March", lambda: us_rules.repair_by(dt.date(2026, 3, 1)).day, dt.date(2026, 3, 31), 0, "40 CFR 82.157(d), 30 days", "from-memory"),
    Check("follow-up test 10 days later", lambda: us_rules.follow_up_by(dt.date(2026, 3, 1)).day, dt.date(2026, 3, 11), 0, "40 CFR 82.157(e)(2)", "from-memory"),
    Check("inspections, process, 500 lb", lambda: us_rules.inspection_months("industrial-process", 500 * POUND)[0], 3, 0, "40 CFR 82.157(g)", "from-memory", "months"),
    Check("inspections, process, 499 lb", lambda: us_rules.inspection_months("industrial-process", 499 * POUND)[0], 12, 0, "40 CFR 82.157(g)", "from-memory", "months"),
    Check("inspections, comfort, 2000 lb", lambda: us_rules.inspection_months("comfort-cooling", 2000 * POUND)[0], 12, 0, "40 CFR 82.157(g)", "from-memory", "months"),
    Check("125.0 % in a year is reported", lambda: day(us_rules.chronic_report(125, 100, 2026)), dt.date(2027, 3, 1), 0, "40 CFR 82.157(j), (m): 125 % and 1 March as given on secondary pages", "published"),
    Check("125.0 % as 75 lb of 60 lb", lambda: day(us_rules.chronic_report(75 * POUND, 60 * POUND, 2026)), dt.date(2027, 3, 1), 0, "40 CFR 82.157(j)", "published"),
    Check("124.9 % in a year is not", lambda: day(us_rules.chronic_report(124.9, 100, 2026)), None, 0, "40 CFR 82.157(j)", "published"),
    Check("detection, 1500 lb rack of 2018", lambda: day(us_rules.detection_due("commercial-refrigeration", 1500 * POUND, dt.date(2018, 5, 1))), dt.date(2027, 1, 1), 0, "40 CFR 84.108", "from-memory"),
    Check("R-22, 200 lb, in 2019", lambda: threshold("R-22", 200, COMMERCIAL, dt.date(2019, 6, 1)), 20.0, 1e-9, "40 CFR 82.157(c), from 1 January 2019", "published", "%"),
    Check("R-744, 500 lb, in 2019 is out", lambda: threshold("R-744", 500, COMMERCIAL, dt.date(2019, 6, 1)), None, 0, "81 FR 82272 (summary)", "published"),
    Check("detection, 1499 lb rack is out", lambda: day(us_rules.detection_due("commercial-refrigeration", 1499 * POUND, dt.date(2018, 5, 1))), None, 0, "40 CFR 84.108", "from-memory"),
    Check("detection, comfort cooling is out", lambda: day(us_rules.detection_due("comfort-cooling", 2000 * POUND, dt.date(2018, 5, 1))), None, 0, "40 CFR 84.108", "from-memory"),
    Check("detection, a rack of 2016 is out", lambda: day(us_rules.detection_due("commercial-refrigeration", 1500 * POUND, dt.date(2016, 12, 31))), None, 0, "40 CFR 84.108", "from-memory"),
    Check("detection, a rack of 10 March 2026", lambda: day(us_rules.detection_due("commercial-refrigeration", 1500 * POUND, dt.date(2026, 3, 10))), dt.date(2026, 4, 9), 0, "40 CFR 84.108, 30 days", "from-memory"),
    Check("alarm loss of 300 lb", lambda: us_rules.alarm_loss(300 * POUND) / POUND, 30.0, 1e-9, "40 CFR 82.157(g)(4)", "from-memory", "lb"),
    Check("alarm loss of 800 lb", lambda: us_rules.alarm_loss(800 * POUND) / POUND, 50.0, 1e-6, "40 CFR 82.157(g)(4)", "from-memory", "lb"),
    Check("49.99 t", lambda: months(49.99), 12, 0, EU, "published", "months"),
    Check("50 t", lambda: months(50), 6, 0, EU, "published", "months"),
    Check("499.99 t", lambda: months(499.99), 6, 0, EU, "published", "months"),
    Check("500 t", lambda: months(500), 3, 0, EU, "published", "months"),
    Check("500 t with a detection system", lambda: months(500, True), 6, 0, EU, "published", "months"),
    Check("49.99 t with a detection system", lambda: months(49.99, True), 24, 0, EU, "published", "months"),
    Check("4.99 t", lambda: months(4.99), None, 0, "Regulation (EU) 2024/573, Article 5(1)", "from-memory"),
    Check("9.9 t, sealed and labelled", lambda: months(9.9, hermetic=True), None, 0, "Regulation (EU) 2024/573, Article 5(1) (copy read)", "published"),
    Check("10 t, sealed and labelled", lambda: months(10, hermetic=True), 12, 0, "Regulation (EU) 2024/573, Article 5(1) (copy read)", "published", "months"),
    Check("12 kg of R-1234yf", lambda: eu_rules.leak_check(R["R-1234yf"], 12).months, 6, 0, EU, "published", "months"),
    Check("100 kg of R-1234ze(E)", lambda: eu_rules.leak_check(R["R-1234ze(E)"], 100).months, 3, 0, EU, "published", "months"),
    Check("20 kg of R-410A", lambda: eu_rules.leak_check(R["R-410A"], 20).months, 12, 0, "compliance page on Regulation (EU) 517/2014 (host withheld)", "published", "months"),
    Check("500 t asks for a detection system", lambda: eu_rules.leak_check(R["R-404A"], 130).detection, True, 0, "Regulation (EU) 2024/573, Article 6; Article 5 of 517/2014 was read", "from-memory"),
    Check("first day of the check after a repair on 10 May", lambda: eu_rules.recheck_window(dt.date(2026, 5, 10))[0], dt.date(2026, 5, 11), 0, "Regulation (EU) 2024/573, Article 4 (copy read)", "published"),
    Check("first day of that check on a refrigerated truck", lambda: eu_rules.recheck_window(dt.date(2026, 5, 10), "transport-unit")[0], dt.date(2026, 5, 10), 0, "Regulation (EU) 2024/573, Article 4: mobile equipment directly after a repair (copy read)", "published"),
    Check("last day of the check after a repair on 10 May", lambda: eu_rules.recheck_window(dt.date(2026, 5, 10))[1], dt.date(2026, 6, 10), 0, "Regulation (EU) 2024/573, Article 4 (copy read)", "published"),
]  # fmt: skip
STATUTE = data.load("rules")["us"]["exchange_values"]
CHECKS += [
    Check(f"exchange value of {key}", lambda key=key: R[key].gwp["ar4"], STATUTE[key], 0, "42 U.S.C. 7675(c)(1), (e)(1)(D)", "published")
    for key in ("R-22", "R-32", "R-134a")
]  # fmt: skip


LISTED = {
    "hfc": "134 134a 143 245fa 365mfc 227ea 236cb 236ea 236fa 245ca 43-10mee 32 125 143a 41 152 152a 23",
    "ods": "21 22 123 124 141b 142b 11 12 113 114 115",
}
"""42 U.S.C. 7675(c)(1) and (e)(1)(D), tables 2 and 3 (copy read), but for HCFC-225ca and 225cb, which are solvents."""


@pytest.mark.parametrize("group", LISTED)
def test_the_substances_of_the_statute(group: str) -> None:
    assert set(data.load("rules")["us"][group]) == {f"R-{number}" for number in LISTED[group].split()}


def test_an_old_chiller_with_a_refrigerant_of_the_company_falls_under_part_82() -> None:
    """CFC-114 stands in table 3 of 42 U.S.C. 7675(e)(1)(D)."""
    own = replace(R["R-22"], key="R-114", composition=(Component("R-114", 1.0),))
    held = [r.key for r in us_rules.rules(own, 900 * POUND, COMFORT, TODAY) if r.holds]
    assert held == ["part-82"]


@pytest.mark.parametrize(
    ("key", "pounds", "kind", "rule", "because"),
    [
        ("R-404A", 14, COMMERCIAL, "part-84", "the full charge is below 15 lb (6.8 kg)"),
        ("R-22", 49, COMFORT, "part-82", "the full charge is below 50 lb (22.7 kg)"),
        ("R-404A", 14, COMMERCIAL, "part-82", "R-404A holds no ozone-depleting substance"),
        ("R-22", 60, COMFORT, "part-82", "R-22 holds ozone-depleting substance"),
        ("R-404A", 60, COMFORT, "part-82", "R-404A holds no ozone-depleting substance"),
        ("R-22", 60, COMFORT, "part-84", "R-22 holds no HFC; part 82 takes it"),
        ("R-404A", 60, COMFORT, "part-84", "R-404A holds an HFC"),
        ("R-744", 60, COMMERCIAL, "part-84", "R-744 holds no HFC and its GWP of 1 is not above 53"),
        ("R-410A", 60, us_rules.appliance("vrf"), "part-84", "residential and light commercial AC and heat pumps are excluded"),
    ],
)  # fmt: skip
def test_why_a_rule_holds_or_not_is_told(
    key: str, pounds: float, kind: Appliance, rule: str, because: str
) -> None:
    """Limits: 40 CFR 82.157(a), 84.106(a)."""
    told = {r.key: r.because for r in us_rules.rules(R[key], pounds * POUND, kind, TODAY)}
    assert told[rule] == because


@each(CHECKS)
def test_rules(check: Check) -> None:
    check.hold()


def test_last_day_of_a_short_month() -> None:
    assert eu_rules.recheck_window(dt.date(2027, 1, 31))[1] == dt.date(2027, 2, 28)
    assert eu_rules.recheck_window(dt.date(2026, 12, 15))[1] == dt.date(2027, 1, 15)


@pytest.mark.parametrize("key", ["R-22", "R-744", "R-717", "R-290", "R-600a"])
def test_gases_outside_the_eu_regulation(key: str) -> None:
    found = eu_rules.leak_check(R[key], 1000)
    assert found.months is None
    assert "regulation" in found.because.lower()


@pytest.mark.parametrize(
    ("key", "charge", "more", "months", "because"),
    [
        ("R-410A", 20.0, {}, 12, "41.75 t CO₂e"),
        ("R-410A", 20.0, {"detection_system": True}, 24, "41.75 t CO₂e with a detection system"),
        ("R-410A", 2.0, {}, None, "below 5 t CO₂e"),
        ("R-410A", 4.0, {"hermetic": True}, None, "sealed and below 10 t CO₂e"),
        ("R-404A", 2.9, {"hermetic": True, "residential": True}, None, "sealed, in a home and below 3 kg"),
        ("R-404A", 2.9, {"residential": True}, 12, "11.37 t CO₂e"),
        ("R-1234yf", 12.0, {}, 6, "12 kg"),
    ],
)
def test_why_a_check_is_asked_or_not_is_told(
    key: str, charge: float, more: dict[str, bool], months: int | None, because: str
) -> None:
    """20 kg times 2087.5 (half of 675 and 3500), 2.9 kg times 3922; Regulation (EU) 2024/573, Article 5 (residential: from memory)."""
    found = eu_rules.leak_check(R[key], charge, **more)
    assert (found.months, found.because) == (months, because)


def test_without_a_gwp_nobody_can_say() -> None:
    found = eu_rules.leak_check(replace(R["R-32"], gwp={**R["R-32"].gwp, "eu-2024-573": None}), 100.0)
    assert (found.months, found.tonnes) == (None, None)
    assert found.because == "no GWP for R-32 in the regulation's annexes"


@given(st.floats(0.01, 5000), st.booleans())
def test_a_detection_system_doubles_the_interval(charge: float, hermetic: bool) -> None:
    alone, detected = (eu_rules.leak_check(R["R-448A"], charge, d, hermetic).months for d in (False, True))
    assert detected == (None if alone is None else 2 * alone)


@given(st.sampled_from(sorted(R)), st.floats(0.1, 5000), st.dates(dt.date(1996, 1, 1), dt.date(2040, 1, 1)))
def test_at_most_one_us_rule_holds(key: str, charge: float, on: dt.date) -> None:
    assert sum(r.holds for r in us_rules.rules(R[key], charge, COMMERCIAL, on)) <= 1


def test_35_percent_is_no_longer_the_commercial_threshold() -> None:
    """Several public pages still give it "today"; it ended on 31 December 2018."""
    assert threshold("R-22", 200, COMMERCIAL) != 35
    assert threshold("R-404A", 200, COMMERCIAL) != 35


def test_hfcs_from_50_lb_are_not_under_part_82() -> None:
    """Public pages say so; since 10 April 2020 only ozone-depleting refrigerants are."""
    held = [r.key for r in us_rules.rules(R["R-404A"], 100 * POUND, COMMERCIAL, TODAY) if r.holds]
    assert held == ["part-84"]


@pytest.mark.parametrize(
    ("kind", "setting", "expected"),
    [("compressor-rack", "food-retail", "commercial-refrigeration"), ("chiller", "process", "industrial-process"), ("chiller", "light-commercial", "comfort-cooling"), ("condensing-unit", "cold-store", "commercial-refrigeration"), ("something", None, "other")],
)  # fmt: skip
def test_kinds_of_appliance(kind: str, setting: str | None, expected: str) -> None:
    assert us_rules.appliance(kind, setting).kind == expected


def test_every_figure_of_the_rules_has_source_and_mark() -> None:
    def walk(node: object) -> None:
        if isinstance(node, dict):
            if "mark" in node:
                assert node["mark"] in data.MARKS
                assert node["where"]
            for value in node.values():
                walk(value)
        elif isinstance(node, list):
            for value in node:
                walk(value)

    for name in ("rules", "techniques", "tubes", "practice"):
        walk(data.load(name))
        assert data.checked(name) >= dt.date(2026, 1, 1)
