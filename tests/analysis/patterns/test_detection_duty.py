"""On which systems the law asks for automatic leak detection: 40 CFR 84.108 and Regulation (EU) 2024/573, Article 6.

Thresholds and days: trade/rules.yaml, from memory but for what its notes say was read. Charges in t CO2e are worked out here
with the GWP of the regulation's Annex I (AR4): R-404A 44 % of 3500, 52 % of 4470, 4 % of 1430, 3921.6.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any

import pytest

from leaklore.analysis.patterns import detection_duty as duty
from leaklore.analysis.patterns.legal import legal
from leaklore.pages.patterns import watch as watch_page

from .test_watch_list import TODAY, of, system

LARGE: dict[str, Any] = {"kind": "compressor-rack", "charge": "1500 lb", "installed": "2017-01-01"}


def wanted(**gear: Any) -> list[dt.date | None]:
    lib, _ = of([system(1, **{**LARGE, **gear})])
    return [x.day for x in duty.in_the_us(lib, TODAY)]


@pytest.mark.parametrize(
    ("gear", "day"),
    [
        ({}, "2027-01-01"),
        ({"installed": "2025-12-31"}, "2027-01-01"),
        ({"installed": "2026-01-01"}, "2026-01-31"),
        ({"kind": "chiller", "setting": "process"}, "2027-01-01"),
    ],
)
def test_large_refrigeration_of_an_hfc_has_its_day(gear: dict[str, Any], day: str) -> None:
    assert wanted(**gear) == [dt.date.fromisoformat(day)]


@pytest.mark.parametrize(
    "gear",
    [
        {"charge": "1499 lb"},
        {"charge": None},
        {"installed": "2016-12-31"},
        {"kind": "chiller", "setting": "office"},  # comfort cooling
        {"refrigerant": "R-744"},  # no HFC, and a GWP of 1
        {"refrigerant": "R-22"},  # part 82 takes it
        {"refrigerant": "R-unknown"},
        {"removed": "2026-11-01"},
    ],
)
def test_others_have_none(gear: dict[str, Any]) -> None:
    assert wanted(**gear) == []


def test_of_a_system_to_be_removed_later_it_is_still_asked() -> None:
    assert wanted(removed="2026-12-24") == [dt.date(2027, 1, 1)]


def test_the_first_day_comes_first_and_each_tells_the_loss_that_must_be_noticed() -> None:
    """50 lb, for a tenth of 1,500 lb is more."""
    systems = [system(1, **LARGE), system(2, **{**LARGE, "installed": "2026-06-01"})]
    found = duty.in_the_us(of(systems)[0], TODAY)
    assert [x.system.id for x in found] == ["S-0002", "S-0001"]
    assert [x.alarm for x in found] == pytest.approx([50 * 0.45359237] * 2)


def test_the_union_counts_tonnes_and_names_the_largest_first() -> None:
    """R-404A: 500 t are 127.499 kg."""
    systems = [system(1, charge="127.49 kg"), system(2, charge="127.5 kg"), system(3, charge="300 kg")]
    found = duty.in_the_eu(of(systems)[0], TODAY)
    assert [x.system.id for x in found] == ["S-0003", "S-0002"]
    assert [x.tonnes for x in found] == pytest.approx([300 * 3.9216, 127.5 * 3.9216])
    assert all(x.day is None and "Article 6" in x.source.where for x in found)


def test_a_system_needs_no_leak_to_be_judged() -> None:
    made = legal(*of([system(1, **LARGE)]))
    assert (made.judged, len(made.detection_us), len(made.detection_eu)) == (0, 1, 1)


def test_a_system_without_day_of_installation_is_asked_in_the_union_only() -> None:
    at = system(1, **LARGE)
    made = legal(*of([replace(at, equipment=replace(at.equipment, installed=None))]))
    assert (len(made.detection_us), len(made.detection_eu)) == (0, 1)


def test_the_page_has_columns_of_the_law_that_it_follows() -> None:
    assert {"by", "alarm_lb"} <= set(_columns("us"))
    assert "tonnes" in _columns("si")


def _columns(units: str) -> list[str]:
    from leaklore.analysis.patterns.watch_list import watch_list
    from leaklore.pages.book import Book
    from leaklore.pages.render import Templates

    lib, fleet = of([system(1, **LARGE)])
    lib = replace(lib, company=replace(lib.company, units=units))
    book = Book(lib, TODAY)
    made = watch_page.topic(book, watch_list(lib, fleet), Templates(book))
    return next([c.key for c in t.columns] for t in made.tables if t.key == "watch-detection")
