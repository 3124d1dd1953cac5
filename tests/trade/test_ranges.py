"""Every formula of `trade` refuses a value out of its range, and says which quantity it was and in what unit."""

from __future__ import annotations

import ast
import datetime as dt
import math
from collections.abc import Callable
from pathlib import Path

import pytest

from leaklore import trade
from leaklore.records import quantity
from leaklore.records.model import HoldTest
from leaklore.trade import (
    air,
    detectability,
    entry,
    eu_rules,
    flow,
    leak_rate,
    live,
    pressure_test,
    proof,
    refrigerants,
    tables,
    us_rules,
    vacuum,
    volume,
)
from leaklore.trade.air import Space
from leaklore.trade.units import OutOfRange
from leaklore.trade.vacuum import VacuumReading

GAS = refrigerants.shipped()["R-32"]
T = tables.shipped()
LIVE = live.CoolProp()
NITROGEN = T.nitrogen(293.15, 1e6)
DAY = dt.date(2026, 3, 1)
KIND = us_rules.Appliance("comfort", False)
FULL = 2e6
"""Pa; a test pressure."""


def hold(leak: float = 1e-7, size: float = 0.01, over: str = "24 h", start: str = "25 bar") -> proof.Proof:
    held = quantity.read(start, "pressure")
    return proof.hold(HoldTest("nitrogen", held, held, quantity.read(over, "duration")), GAS, leak, size, T)


REFUSED: list[tuple[str, str, str, Callable[[], object]]] = [
    ("air.density", "concentration", "mol/mol", lambda: air.density(1.01, 0.05)),
    ("air.density", "temperature", "K", lambda: air.density(0.5, 0.05, 77.0)),
    ("air.density", "pressure", "Pa", lambda: air.density(0.5, 0.05, pressure=0.0)),
    ("air.fraction", "molar mass", "kg/mol", lambda: air.fraction(0.1, 0.0)),
    ("air.fraction", "concentration", "kg/m3", lambda: air.fraction(2.2, 0.052)),
    ("air.vapour_flow", "leak rate", "kg/s", lambda: air.vapour_flow(-1e-9, 0.05)),
    ("air.vapour_flow", "temperature", "K", lambda: air.vapour_flow(1e-6, 0.05, 20.0)),
    ("air.Space.with_changes", "air changes", "1/h", lambda: Space.with_changes(50.0, -0.1)),
    ("air.Space.with_changes", "volume", "m3", lambda: Space.with_changes(0.0, 1.0)),
    ("air.Space.after", "volume", "m3", lambda: Space(0.0).after(1e-6, 60.0)),
    ("air.Space.after", "vapour flow", "m3/s", lambda: Space(50.0).after(-1e-6, 60.0)),
    ("air.Space.after", "time", "s", lambda: Space(50.0).after(1e-6, -1.0)),
    ("air.Space.steady", "vapour flow", "m3/s", lambda: Space(50.0, 1.0).steady(-1e-6)),
    ("air.Space.time_to", "concentration", "mol/mol", lambda: Space(50.0).time_to(1.01, 1e-6)),
    ("air.Space.purge_time", "end concentration", "mol/mol", lambda: Space(50.0, 1.0).purge_time(0.1, 0.2)),
    ("air.above_background", "reading", "mol/mol", lambda: air.above_background(1.01, 0.0, 1e-6)),
    ("air.above_background", "resolution", "mol/mol", lambda: air.above_background(1e-5, 0.0, 0.0)),
    ("air.above_background", "accuracy", "", lambda: air.above_background(1e-5, 0.0, 1e-6, 1.01)),
    ("air.above_background", "background", "mol/mol", lambda: air.above_background(1e-5, -1e-6, 1e-6)),
    ("detectability.flows", "leak rate", "kg/s", lambda: detectability.flows(detectability.Situation(0.0, GAS), T)),
    ("entry.displaced", "concentration", "mol/mol", lambda: entry.displaced(1.01)),
    ("entry.check", "reading", "mol/mol", lambda: entry.check(GAS, 1.01)),
    ("entry.check", "oxygen", "mol/mol", lambda: entry.check(GAS, 0.0, 20.9)),
    ("entry.release", "charge", "kg", lambda: entry.release(GAS, 0.0, 25.0)),
    ("entry.release", "volume", "m3", lambda: entry.release(GAS, 2.0, 0.0)),
    ("eu_rules.leak_check", "charge", "kg", lambda: eu_rules.leak_check(GAS, 0.0)),
    ("flow.mass_rate", "temperature", "K", lambda: flow.mass_rate(1e-3, 0.05, 20.0)),
    ("flow.throughput", "temperature", "K", lambda: flow.throughput(1e-9, 0.05, 20.0)),
    ("flow.convert", "leak rate", "g/yr", lambda: flow.convert(-1.0, "g/yr", "oz/yr")),
    ("flow.bubble_time", "diameter", "m", lambda: flow.bubble_time(1e-4, 0.0)),
    ("flow.bubble_time", "leak rate", "Pa m3/s", lambda: flow.bubble_time(0.0)),
    ("flow.critical_ratio", "isentropic exponent", "", lambda: flow.critical_ratio(2.1)),
    ("flow.orifice_flux", "outside pressure", "Pa", lambda: flow.orifice_flux(NITROGEN, 1.1e6)),
    ("flow.hole", "leak rate", "kg/s", lambda: flow.hole(0.0, NITROGEN)),
    ("flow.hole", "discharge coefficient", "", lambda: flow.hole(1e-6, NITROGEN, discharge=1.1)),
    ("flow.hole", "flux", "kg/(m2 s)", lambda: flow.hole(1e-6, NITROGEN, NITROGEN.pressure)),
    ("flow.through", "diameter", "m", lambda: flow.through(0.0, NITROGEN)),
    ("flow.through", "discharge coefficient", "", lambda: flow.through(1e-5, NITROGEN, discharge=0.05)),
    ("flow.law_flux", "outside pressure", "Pa", lambda: flow.law_flux("laminar", NITROGEN, 1.1e6)),
    ("flow.same_hole", "leak rate", "kg/s", lambda: flow.same_hole(0.0, NITROGEN, NITROGEN)),
    ("leak_rate.loss", "charge lost", "kg", lambda: leak_rate.loss(-0.1, 3600.0)),
    ("leak_rate.loss", "time", "s", lambda: leak_rate.loss(1.0, 0.0)),
    ("leak_rate.loss", "full charge", "kg", lambda: leak_rate.loss(1.0, 3600.0, 0.0)),
    ("leak_rate.annualizing", "refrigerant added", "kg", lambda: leak_rate.annualizing(-1.0, 10.0, 90.0)),
    ("leak_rate.annualizing", "full charge", "kg", lambda: leak_rate.annualizing(1.0, 0.0, 90.0)),
    ("leak_rate.annualizing", "days since the last addition", "d", lambda: leak_rate.annualizing(1.0, 10.0, 0.0)),
    ("leak_rate.rolling_average", "full charge", "kg", lambda: leak_rate.rolling_average([], 0.0, DAY)),
    ("leak_rate.rolling_average", "refrigerant added", "kg", lambda: leak_rate.rolling_average([leak_rate.Addition(DAY, -1.0)], 10.0, DAY)),
    ("leak_rate.tonnes_co2e", "mass", "kg", lambda: leak_rate.tonnes_co2e(-1.0, 675.0)),
    ("leak_rate.tonnes_co2e", "GWP", "", lambda: leak_rate.tonnes_co2e(1.0, -1.0)),
    ("leak_rate.cost", "mass", "kg", lambda: leak_rate.cost(-1.0, 20.0)),
    ("leak_rate.cost", "price", "/kg", lambda: leak_rate.cost(1.0, -20.0)),
    ("live.CoolProp.vapour", "pressure", "Pa", lambda: LIVE.vapour(GAS, 293.15, 1.6e6)),
    ("live.CoolProp.nitrogen", "temperature", "K", lambda: LIVE.nitrogen(70.0, 1e6)),
    ("live.CoolProp.nitrogen", "pressure", "Pa", lambda: LIVE.nitrogen(293.15, 2.1e7)),
    ("live._saturation", "temperature", "K", lambda: LIVE.dew(GAS, 70.0)),
    ("pressure_test.expected_pressure", "pressure", "Pa", lambda: pressure_test.expected_pressure(400.0, 297.0, 290.0)),
    ("pressure_test.expected_pressure", "temperature", "K", lambda: pressure_test.expected_pressure(FULL, 75.0, 290.0)),
    ("pressure_test.expected_pressure", "later temperature", "K", lambda: pressure_test.expected_pressure(FULL, 297.0, 60.0)),
    ("pressure_test.expected_nitrogen", "pressure", "Pa", lambda: pressure_test.expected_nitrogen(T, 400.0, 297.0, 290.0)),
    ("pressure_test.nitrogen_leak", "end pressure", "Pa", lambda: pressure_test.nitrogen_leak(T, 0.01, 600.0, 2e6, 400.0, 297.0, 290.0)),
    ("pressure_test.leak", "volume", "m3", lambda: pressure_test.leak(0.0, 3600.0, FULL, FULL)),
    ("pressure_test.leak", "time", "s", lambda: pressure_test.leak(0.01, 0.0, FULL, FULL)),
    ("pressure_test.leak", "start temperature", "K", lambda: pressure_test.leak(0.01, 3600.0, FULL, FULL, 75.0)),
    ("pressure_test.leak", "end temperature", "K", lambda: pressure_test.leak(0.01, 3600.0, FULL, FULL, 297.0, 60.0)),
    ("pressure_test.leak", "end pressure", "Pa", lambda: pressure_test.leak(0.01, 3600.0, FULL, 380.0)),
    ("pressure_test.leak", "start pressure", "Pa", lambda: pressure_test.leak(0.01, 3600.0, 400.0, FULL)),
    ("pressure_test.smallest_drop", "resolution", "Pa", lambda: pressure_test.smallest_drop(0.0, FULL, 293.0, 1.0)),
    ("pressure_test.smallest_drop", "pressure", "Pa", lambda: pressure_test.smallest_drop(7e3, 400.0, 293.0, 1.0)),
    ("pressure_test.smallest_drop", "temperature", "K", lambda: pressure_test.smallest_drop(7e3, FULL, 20.0, 1.0)),
    ("pressure_test.smallest_drop", "temperature uncertainty", "K", lambda: pressure_test.smallest_drop(7e3, FULL, 293.0, -1.0)),
    ("pressure_test.smallest_leak", "volume", "m3", lambda: pressure_test.smallest_leak(0.0, 3600.0, 7e3, FULL)),
    ("pressure_test.smallest_leak", "time", "s", lambda: pressure_test.smallest_leak(0.01, 0.0, 7e3, FULL)),
    ("pressure_test.time_to_see", "leak rate", "Pa m3/s", lambda: pressure_test.time_to_see(0.0, 0.01, 7e3, FULL)),
    ("pressure_test.time_to_see", "volume", "m3", lambda: pressure_test.time_to_see(1e-4, 0.0, 7e3, FULL)),
    ("proof.hold", "test pressure", "Pa", lambda: hold(start="0 bar")),
    ("proof.hold", "leak rate", "kg/s", lambda: hold(leak=0.0)),
    ("proof.hold", "volume", "m3", lambda: hold(size=0.0)),
    ("proof.hold", "time", "s", lambda: hold(over="0 h")),
    ("tables.Tables._saturation_of", "temperature", "K", lambda: T.dew(GAS, 70.0)),
    ("tables.Tables._saturation_of", "temperature", "K", lambda: T.dew(refrigerants.shipped()["R-744"], 340.0)),
    ("tables.Tables.temperature", "pressure", "Pa", lambda: T.temperature(GAS, 1e5, "dew")),
    ("tables.Tables._vapour_of", "temperature", "K", lambda: T.vapour(GAS, 70.0, 1e5)),
    ("tables.Tables._vapour_of", "pressure", "Pa", lambda: T.vapour(GAS, 293.15, 1.6e6)),
    ("tables.Tables._nitrogen_of", "temperature", "K", lambda: T.nitrogen(70.0, 1e6)),
    ("tables.Tables._nitrogen_of", "pressure", "Pa", lambda: T.nitrogen(293.15, 2.1e7)),
    ("us_rules.rules", "full charge", "kg", lambda: us_rules.rules(GAS, 0.0, KIND, DAY)),
    ("us_rules.rules", "leak rate", "", lambda: us_rules.rules(GAS, 50.0, KIND, DAY, -0.1)),
    ("us_rules.inspection_months", "full charge", "kg", lambda: us_rules.inspection_months("commercial", 0.0)),
    ("us_rules.chronic_report", "charge lost", "kg", lambda: us_rules.chronic_report(-1.0, 50.0, 2026)),
    ("us_rules.chronic_report", "full charge", "kg", lambda: us_rules.chronic_report(1.0, 0.0, 2026)),
    ("us_rules.alarm_loss", "full charge", "kg", lambda: us_rules.alarm_loss(0.0)),
    ("vacuum.rise_leak", "volume", "m3", lambda: vacuum.rise_leak(0.0, 10.0, 60.0)),
    ("vacuum.rise_leak", "time", "s", lambda: vacuum.rise_leak(0.01, 10.0, 0.0)),
    ("vacuum.rise_leak", "rise", "Pa", lambda: vacuum.rise_leak(0.01, -10.0, 60.0)),
    ("vacuum.water_vapour_pressure", "temperature", "K", lambda: vacuum.water_vapour_pressure(20.0)),
    ("vacuum.judge", "time of a reading", "s", lambda: vacuum.judge([VacuumReading(60.0, 50.0), VacuumReading(60.0, 60.0)])),
    ("vacuum.judge", "pressure", "Pa", lambda: vacuum.judge([VacuumReading(0.0, -1.0)])),
    ("vacuum.limits", "start pressure", "Pa", lambda: vacuum.limits(1.2e5, 60.0, 600.0)),
    ("vacuum.limits", "end pressure", "Pa", lambda: vacuum.limits(60.0, 1.2e5, 600.0)),
    ("vacuum.limits", "time", "s", lambda: vacuum.limits(60.0, 60.0, 0.0)),
    ("volume.Tube.volume", "length", "m", lambda: volume.tube("3/8 in").volume(-1.0)),
    ("volume.circuit_guess", "filled share", "", lambda: volume.circuit_guess(2.0, 1100.0, 0.95)),
    ("volume.circuit_guess", "charge", "kg", lambda: volume.circuit_guess(0.0, 1100.0)),
    ("volume.circuit_guess", "density", "kg/m3", lambda: volume.circuit_guess(2.0, 1.1)),
]  # fmt: skip
"""Where the check stands, what the error names, its unit, and a call with that one value out of range."""


@pytest.mark.parametrize(
    ("field", "unit", "call"),
    [row[1:] for row in REFUSED],
    ids=[f"{where} {field}" for where, field, *_ in REFUSED],
)
def test_a_value_out_of_range_is_refused_by_its_name_and_unit(
    field: str, unit: str, call: Callable[[], object]
) -> None:
    with pytest.raises(OutOfRange) as caught:
        call()
    error = caught.value
    assert (error.field, error.unit) == (field, unit)
    tail = f" {unit}" if unit else ""
    limits = f"is outside {error.low:.6g} to {error.high:.6g}{tail}"
    if error.high == math.inf:
        limits = f"must be above {error.low:.6g}{tail}" if error.low else "must be above 0"
    assert str(error) == f"{field} {error.value:.6g}{tail} {limits}"
    assert not error.low < error.value < error.high, "the value told is the one that was wrong"


def _checks(node: ast.AST, inside: tuple[str, ...]) -> list[tuple[str, str]]:
    """(function, quantity) of every check of a range below a node of source."""
    found = []
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.Call) and isinstance(child.func, ast.Name):
            name, first = child.func.id, child.args[:1]
            if name in ("require", "positive", "absolute_temperature", "absolute_pressure"):
                assert isinstance(first[0], ast.Constant), ast.unparse(child)
                found.append((".".join(inside), str(first[0].value)))
        named = isinstance(child, (ast.FunctionDef, ast.ClassDef))
        found += _checks(child, (*inside, child.name) if named else inside)  # type: ignore[attr-defined]
    return found


def test_no_check_of_a_range_goes_untried() -> None:
    """What the sources check, against the table above: a new check needs its line there."""
    written = set()
    for path in Path(trade.__file__).parent.glob("*.py"):
        if path.stem != "units":
            written |= set(_checks(ast.parse(path.read_text(encoding="utf-8")), (path.stem,)))
    assert written == {(where, field) for where, field, *_ in REFUSED}
