"""Data files beside the pages: JSON, CSV, schemas with their vocabularies filled in."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from copy import deepcopy
from typing import Any

from leaklore.analysis import leaks
from leaklore.analysis.intervals import Share, Spread
from leaklore.analysis.summary import Summary
from leaklore.pages import bench, data_cases, record_data
from leaklore.pages.book import Book
from leaklore.pages.data_form import as_json, rounded, table
from leaklore.pages.spec import DataFile
from leaklore.pages.trade_data import trade_json
from leaklore.records import schema
from leaklore.records.model import YEAR

SLIM = 2
"""Version of the register as a table, and of groups that name no cases."""


def _median(name: str, found: Spread | None, unit: str = "", scale: float = 1.0) -> dict[str, Any]:
    def at(value: float | None) -> float | None:
        return None if value is None else rounded(value * scale)

    return {
        f"median_{name}{unit}": at(found.median if found else None),
        f"median_{name}_low{unit}": at(found.low if found else None),
        f"median_{name}_high{unit}": at(found.high if found else None),
    }


def _share(name: str, found: Share | None) -> dict[str, Any]:
    return {
        f"{name}_low": rounded(found.low if found else None),
        f"{name}_high": rounded(found.high if found else None),
    }


def summary_record(found: Summary) -> dict[str, Any]:
    """A summary in SI for machines."""
    per_year = YEAR * 1000
    return {
        "cases": len(found.cases),
        "counted": len(found.counted),
        "by_proof": dict(found.by_proof),
        "n_lost": found.lost.n if found.lost else 0,
        **_median("lost", found.lost, "_kg"),
        "q1_lost_kg": rounded(found.lost.q1 if found.lost else None),
        "q3_lost_kg": rounded(found.lost.q3 if found.lost else None),
        **_median("lost_share", found.lost_share),
        **_median("leak_rate", found.leak_rate, "_g_per_year", per_year),
        **_median("annual_share", found.annual_share),
        **_median("co2e", found.co2e, "_t"),
        "total_co2e_t": rounded(found.total_co2e),
        **_median("minutes_to_find", found.minutes),
        **_median("repair_cost", found.cost),
        "held": found.held.k if found.held else 0,
        "looked_at_again": found.held.n if found.held else 0,
        **_share("held_share", found.held),
        **_median("age", found.age, "_years"),
        "finding": len(found.counted) >= 5,
    }


def modes_json(book: Book) -> bytes:
    """One record a failure mode."""
    guide = book.library.guide
    records = [
        {
            "mode": key,
            "name": guide.modes[key].name,
            **summary_record(s),
            "case_ids": [c.id for c in s.counted],
        }
        for key, s in book.modes.items()
    ]
    return as_json({"modes": records}, book)


def techniques_json(book: Book) -> bytes:
    """One record a technique, the pairs, the isolations avoided."""
    records = []
    for key, t in book.techniques.items():
        records.append(
            {
                "technique": key,
                "name": book.library.guide.techniques[key].name,
                "used": t.used,
                "covered": t.covered,
                "found": t.found,
                "leads": t.leads,
                "pinpointed": t.pinpointed,
                "missed": t.missed,
                "false_alarms": t.false_alarms,
                "yield": rounded(t.yield_.value if t.yield_ else None),
                **_share("yield", t.yield_),
                **_median("minutes", t.minutes),
                "finding": bool(t.yield_ and not t.yield_.few),
                "found_case_ids": [c.id for c in t.found_cases],
                "missed_case_ids": [c.id for c in t.missed_cases],
                "false_alarm_case_ids": [c.id for c in t.false_alarm_cases],
            }
        )
    pairs = [
        {
            "first": v.first,
            "second": v.second,
            "both": v.both,
            "only_first": v.only_first,
            "only_second": v.only_second,
            "neither": v.neither,
            "p": rounded(v.p),
            "finding": not v.few,
        }
        for v in book.versus
    ]
    avoided = {
        "case_ids": [c.id for c in book.avoided.cases],
        **_median("cost", book.avoided.cost),
        "saved": rounded(book.avoided.saved),
        "because_of": dict(book.avoided.by),
    }
    return as_json({"techniques": records, "versus": pairs, "isolations_avoided": avoided}, book)


def systems_json(book: Book) -> bytes:
    """The register with the cases of each system."""
    lib = book.library
    records = []
    for s in lib.systems.values():
        gear, lines = s.equipment, s.equipment.line_set
        records.append(
            {
                "system": s.id,
                "name": s.name,
                "site": s.site.key,
                "site_name": s.site.name,
                "branch": s.site.branch,
                "setting": s.site.setting,
                "batch": s.site.batch,
                "crew": s.crew,
                "kind": gear.kind,
                "family": gear.family,
                "refrigerant": gear.refrigerant,
                "charge_kg": rounded(gear.charge.si if gear.charge else None),
                "installed": gear.installed.written if gear.installed else None,
                "removed": s.removed.written if s.removed else None,
                "line_set_route": lines.route if lines else None,
                "line_set_length_m": rounded(lines.length.si if lines and lines.length else None),
                "line_set_liquid": lines.liquid if lines else None,
                "line_set_suction": lines.suction if lines else None,
                "circuit_guess_m3": rounded(leaks.circuit_volume(gear)),
                "case_ids": [c.id for c in lib.by_system.get(s.id, ())],
            }
        )
    return as_json({"systems": table(records)}, book, SLIM)


def groups_json(book: Book) -> bytes:
    """Summaries of techniques, components, refrigerants, settings, branches and symptoms.

    They name no cases, which would say six times what the files of cases say once.
    """
    data = {
        kind: [{"key": key, **summary_record(s)} for key, s in book.groups[kind].items()]
        for kind in ("technique", "component", "refrigerant", "setting", "branch", "symptom")
    }
    return as_json(data, book, SLIM)


def schema_files(book: Book) -> Iterator[DataFile]:
    """The schemas, each vocabulary written out as the words it allows; who sees what stays in the company."""
    terms = book.library.vocabulary.terms

    def fill(node: Any) -> Any:
        if isinstance(node, list):
            return [fill(item) for item in node]
        if not isinstance(node, dict):
            return node
        node = {key: fill(value) for key, value in node.items() if key != "x-audience"}
        kind = node.get("x-vocabulary")
        if kind and kind not in ("branches", "crews"):
            node["enum"] = list(terms.get(kind, {}))
        return node

    for kind in ("common", *schema.KINDS):
        text = json.dumps(fill(deepcopy(schema.load(kind))), indent=1, ensure_ascii=False)
        yield DataFile(f"data/schema/{kind}.schema.json", (text + "\n").encode())


WHOLE: Mapping[str, Callable[[Book], Iterable[DataFile]]] = {
    "cases": lambda book: [DataFile("data/cases.json", data_cases.index_json(book))],
    "table": lambda book: [DataFile("data/cases.csv", data_cases.cases_csv(book))],
    "modes": lambda book: [DataFile("data/failure-modes.json", modes_json(book))],
    "techniques": lambda book: [DataFile("data/techniques.json", techniques_json(book))],
    "groups": lambda book: [DataFile("data/groups.json", groups_json(book))],
    "systems": lambda book: [DataFile("data/systems.json", systems_json(book))],
    "trade": lambda book: [DataFile("data/trade.json", as_json(trade_json(book.library.guide), book))],
    "bench": bench.files,
    "record": record_data.files,
    "schema": schema_files,
}
"""Units that every library has; beside them each piece of its cases is one."""


def units(book: Book) -> list[str]:
    """What can be made by itself, in any order: the names of WHOLE, and the pieces of cases."""
    return [*WHOLE, *data_cases.pieces(book)]


def unit_files(book: Book, unit: str) -> Iterator[DataFile]:
    """The files of one unit."""
    if unit in WHOLE:
        yield from WHOLE[unit](book)
    else:
        yield from data_cases.piece_files(unit, book)


def files(book: Book) -> list[DataFile]:
    """All data files."""
    return [file for unit in units(book) for file in unit_files(book, unit)]
