"""Data files beside the pages: JSON, CSV, schemas with their vocabularies filled in, records as YAML."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator
from copy import deepcopy
from typing import Any

from leaklore.analysis import costs, leaks
from leaklore.analysis.intervals import Share, Spread
from leaklore.analysis.summary import Summary
from leaklore.pages import bench, links, record_data
from leaklore.pages.book import Book
from leaklore.pages.data_fields import CASE_FIELDS
from leaklore.pages.figures import grams_a_year
from leaklore.pages.spec import DataFile
from leaklore.pages.trade_data import trade_json
from leaklore.records import schema
from leaklore.records.model import YEAR, Case

VERSION = 1


def _case(case: Case, book: Book) -> dict[str, Any]:
    gear, company = case.equipment, book.library.company
    return {
        "id": case.id,
        "title": case.title,
        "reported": case.reported.isoformat(),
        "closed": case.closed.isoformat() if case.closed else None,
        "branch": case.branch,
        "crew": case.crew,
        "system": case.system.id if case.system else None,
        "setting": gear.setting,
        "kind": gear.kind,
        "family": gear.family,
        "refrigerant": gear.refrigerant,
        "charge_kg": _round(gear.charge.si if gear.charge else None),
        "installed": gear.installed.written if gear.installed else None,
        "age_years": _round(case.age_at_leak),
        "symptoms": list(case.symptoms),
        "not_seen": list(case.not_seen),
        "conditions": list(case.conditions),
        "ambient_k": _round(case.ambient.si if case.ambient else None),
        "lost_kg": _round(case.lost.si if case.lost else None),
        "lost_over_s": _round(case.lost_over.si if case.lost_over else None),
        "lost_share": _round(case.lost_share),
        "leak_rate_g_per_year": _round(None if case.leak_rate is None else grams_a_year(case.leak_rate)),
        "mode": case.cause.mode,
        "component": case.cause.component,
        "proof": case.cause.proof,
        "contributing": list(case.cause.contributing),
        "counted": case.counted,
        "minutes_to_find": costs.minutes_to_find(case),
        "search_minutes": sum(s.minutes for s in case.search),
        "search_cost": _round(costs.search_cost(case, company, book.library.guide)),
        "action": case.fix.action if case.fix else None,
        "repair_cost": _round(costs.repair_cost(case, company)),
        "fix_held": case.fix_held,
        "withdrawn": case.withdrawn is not None,
        "url": links.address("case", case.id),
    }


def _search(case: Case) -> dict[str, Any]:
    """What only the JSON carries: the search, readings and further leaks."""
    return {
        "search": [
            {"technique": s.technique, "at": list(s.at), "minutes": s.minutes, "result": s.result}
            for s in case.search
        ],
        "readings": [
            {
                "at": r.at,
                "by": r.by,
                "value": r.value.written,
                "background": r.background.written if r.background else None,
            }
            for r in case.readings
        ],
        "also_found": [{"mode": c.mode, "component": c.component, "proof": c.proof} for c in case.also_found],
        "follow_up": [{"date": f.date.isoformat(), "result": f.result} for f in case.follow_up],
    }


def _round(value: float | None) -> float | None:
    """Twelve significant figures: whoever computes with them gets our figures, and they stay short."""
    return None if value is None else float(f"{value:.12g}")


def _median(name: str, found: Spread | None, unit: str = "", scale: float = 1.0) -> dict[str, Any]:
    def at(value: float | None) -> float | None:
        return None if value is None else _round(value * scale)

    return {
        f"median_{name}{unit}": at(found.median if found else None),
        f"median_{name}_low{unit}": at(found.low if found else None),
        f"median_{name}_high{unit}": at(found.high if found else None),
    }


def _share(name: str, found: Share | None) -> dict[str, Any]:
    return {
        f"{name}_low": _round(found.low if found else None),
        f"{name}_high": _round(found.high if found else None),
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
        "q1_lost_kg": _round(found.lost.q1 if found.lost else None),
        "q3_lost_kg": _round(found.lost.q3 if found.lost else None),
        **_median("lost_share", found.lost_share),
        **_median("leak_rate", found.leak_rate, "_g_per_year", per_year),
        **_median("annual_share", found.annual_share),
        **_median("co2e", found.co2e, "_t"),
        "total_co2e_t": _round(found.total_co2e),
        **_median("minutes_to_find", found.minutes),
        **_median("repair_cost", found.cost),
        "held": found.held.k if found.held else 0,
        "looked_at_again": found.held.n if found.held else 0,
        **_share("held_share", found.held),
        **_median("age", found.age, "_years"),
        "finding": len(found.counted) >= 5,
        "case_ids": [c.id for c in found.counted],
    }


def as_json(data: dict[str, Any], book: Book) -> bytes:
    """A data file: its version, the day of the edition, then `data`."""
    whole = {"version": VERSION, "edition": book.today.isoformat(), **data}
    return (json.dumps(whole, ensure_ascii=False, separators=(",", ":")) + "\n").encode()


def cases_json(book: Book) -> bytes:
    """Every case, withdrawn ones marked."""
    return as_json({"cases": [{**_case(c, book), **_search(c)} for c in book.library.cases]}, book)


def cell(value: Any) -> Any:
    """A cell that no spreadsheet takes for a formula."""
    if isinstance(value, list):
        value = " ".join(value)
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str) and value[:1] in ("=", "+", "-", "@", "\t", "\r"):
        return "'" + value
    return value


def cases_csv(book: Book) -> bytes:
    """One line a case, CRLF line ends, UTF-8 (RFC 4180)."""
    out = io.StringIO()
    names = [name for name, _ in CASE_FIELDS]
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(names)
    for case in book.library.cases:
        record = _case(case, book)
        writer.writerow([cell(record[name]) for name in names])
    return out.getvalue().encode()


def modes_json(book: Book) -> bytes:
    """One record a failure mode."""
    guide = book.library.guide
    records = [
        {"mode": key, "name": guide.modes[key].name, **summary_record(s)} for key, s in book.modes.items()
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
                "yield": _round(t.yield_.value if t.yield_ else None),
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
            "p": _round(v.p),
            "finding": not v.few,
        }
        for v in book.versus
    ]
    avoided = {
        "case_ids": [c.id for c in book.avoided.cases],
        **_median("cost", book.avoided.cost),
        "saved": _round(book.avoided.saved),
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
                "charge_kg": _round(gear.charge.si if gear.charge else None),
                "installed": gear.installed.written if gear.installed else None,
                "removed": s.removed.written if s.removed else None,
                "line_set_route": lines.route if lines else None,
                "line_set_length_m": _round(lines.length.si if lines and lines.length else None),
                "line_set_liquid": lines.liquid if lines else None,
                "line_set_suction": lines.suction if lines else None,
                "circuit_guess_m3": _round(leaks.circuit_volume(gear)),
                "case_ids": [c.id for c in lib.by_system.get(s.id, ())],
                "url": links.address("system", s.id),
            }
        )
    return as_json({"systems": records}, book)


def groups_json(book: Book) -> bytes:
    """Summaries of components, refrigerants, settings and branches."""
    data = {
        kind: [{"key": key, **summary_record(s)} for key, s in book.groups[kind].items()]
        for kind in ("technique", "component", "refrigerant", "setting", "branch", "symptom")
    }
    return as_json(data, book)


def schema_files(book: Book) -> Iterator[DataFile]:
    """The schemas, each vocabulary written out as the words it allows."""
    terms = book.library.vocabulary.terms

    def fill(node: Any) -> Any:
        if isinstance(node, list):
            return [fill(item) for item in node]
        if not isinstance(node, dict):
            return node
        node = {key: fill(value) for key, value in node.items()}
        kind = node.get("x-vocabulary")
        if kind and kind not in ("branches", "crews"):
            node["enum"] = list(terms.get(kind, {}))
        return node

    for kind in ("common", *schema.KINDS):
        text = json.dumps(fill(deepcopy(schema.load(kind))), indent=1, ensure_ascii=False)
        yield DataFile(f"data/schema/{kind}.schema.json", (text + "\n").encode())


def files(book: Book) -> list[DataFile]:
    """All data files."""
    made = [
        DataFile("data/cases.json", cases_json(book)),
        DataFile("data/cases.csv", cases_csv(book)),
        DataFile("data/failure-modes.json", modes_json(book)),
        DataFile("data/techniques.json", techniques_json(book)),
        DataFile("data/groups.json", groups_json(book)),
        DataFile("data/systems.json", systems_json(book)),
        DataFile("data/trade.json", as_json(trade_json(book.library.guide), book)),
        *bench.files(book),
        *record_data.files(book),
    ]
    made += schema_files(book)
    for case in book.library.cases:
        source = book.library.root.parent / case.path
        made.append(DataFile(f"{links.address('case', case.id)}{case.id}.yaml", source.read_bytes()))
    return made
