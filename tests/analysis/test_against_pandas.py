"""The demo library's statistics computed a second time, from the raw YAML and from the published JSON.

Nothing of the generator takes part in the second computation: records are read with plain PyYAML, units are
converted here, tables are made with pandas, intervals with scipy's own functions or with whole numbers.
"""

from __future__ import annotations

import datetime as dt
import json
import math
import re
from collections.abc import Iterable, Iterator, Mapping
from functools import cache
from itertools import combinations
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
import yaml
from scipy import stats

from leaklore.analysis.summary import Summary, summarize
from leaklore.pages import data, data_cases
from leaklore.pages.book import Book

from .builders import CASES

CLOSE = 1e-9
GUIDE = CASES.parent / "generator" / "leaklore" / "guide"
YEAR_S = 365.25 * 86_400
# kg, s and USD of one unit as written; a pound is 0.45359237 kg by definition, an ounce its sixteenth
UNITS = {
    "lb": 0.45359237,
    "oz": 0.45359237 / 16,
    "kg": 1.0,
    "g": 0.001,
    "min": 60.0,
    "h": 3600.0,
    "days": 86_400.0,
    "day": 86_400.0,
    "weeks": 604_800.0,
    "week": 604_800.0,
    "months": YEAR_S / 12,
    "month": YEAR_S / 12,
    "years": YEAR_S,
    "year": YEAR_S,
    "USD": 1.0,
}
FOUND = {"lead", "section", "pinpointed", "confirmed"}
COUNTED = {"point", "held"}
KINDS = ("mode", "technique", "component", "refrigerant", "setting", "branch", "symptom")


def published_cases(book: Book) -> list[dict[str, Any]]:
    """Every case of the data files."""
    tables = [json.loads(data_cases.cases_json(piece, book))["cases"] for piece in data_cases.pieces(book)]
    found = [dict(zip(t["keys"], row, strict=True)) for t in tables for row in t["rows"]]
    nested = {
        "search": ("technique", "at", "minutes", "result"),
        "also_found": ("mode", "component", "proof"),
        "follow_up": ("date", "result"),
    }
    for record in found:
        for key, names in nested.items():
            record[key] = [dict(zip(names, row, strict=True)) for row in record[key]]
    return found


def load(file: Path) -> Any:
    """Plain PyYAML: no rules of ours."""
    return yaml.load(file.read_text("utf-8"), yaml.CSafeLoader)


def amount(written: str | None) -> float | None:
    """Value of `9 lb 8 oz`, `0.75 h` or `6 USD` in kg, s or USD."""
    if written is None:
        return None
    parts = re.findall(r"([0-9.]+)\s*([A-Za-z]+)", written)
    assert parts, written
    return math.fsum(float(number) * UNITS[unit] for number, unit in parts)


def middle(written: str | None) -> dt.date | None:
    """A day that stands for `2022` or `2022-06`."""
    if written is None:
        return None
    text = str(written)
    return dt.date.fromisoformat({4: f"{text}-07-01", 7: f"{text}-15"}.get(len(text), text))


def areas_above() -> dict[str, set[str]]:
    """Component -> every area around it, climbing upwards from the part."""
    files = [GUIDE / "components.yaml", CASES / "house" / "components.yaml"]
    entries = {e["key"]: e for f in files if f.is_file() for e in load(f)}
    around: dict[str, set[str]] = {}
    for key in entries:
        seen: set[str] = set()
        open_ = list(entries[key].get("within") or ())
        while open_:
            area = open_.pop()
            if area not in seen:
                seen.add(area)
                open_ += entries[area].get("within") or ()
        around[key] = seen
    return around


AROUND = areas_above()


@cache
def gwps() -> dict[str, float]:
    """GWP by IPCC AR4 of each refrigerant that has one."""
    files = [GUIDE / "refrigerants.yaml", CASES / "house" / "refrigerants.yaml"]
    entries = {e["key"]: e for f in files if f.is_file() for e in load(f)}
    return {key: float(e["gwp_ar4"]) for key, e in entries.items() if e.get("gwp_ar4") is not None}


@cache
def raw_rows() -> tuple[dict[str, Any], ...]:
    """All records, read once."""
    return tuple(from_yaml())


def from_yaml() -> Iterator[dict[str, Any]]:
    """Base facts of each record, as written by people."""
    register = load(CASES / "systems.yaml")
    sites = {s["key"]: s for s in register["sites"]}
    systems = {s["id"]: {**s, "setting": sites[s["site"]]["setting"]} for s in register["systems"]}
    company = load(CASES / "company.yaml")
    rate = amount(company["labour_rate"])
    assert rate is not None
    for file in sorted((CASES / "records").glob("*/*.yaml")):
        r = load(file)
        gear = {**systems.get(r.get("system"), {}), **r.get("equipment", {})}
        fix = r.get("fix", {})
        parts, labour = amount(fix.get("parts")), amount(fix.get("labour"))
        yield {
            "id": r["id"],
            "reported": dt.date.fromisoformat(str(r["reported"])),
            "branch": r["branch"],
            "setting": gear.get("setting"),
            "refrigerant": gear.get("refrigerant"),
            "installed": middle(gear.get("installed")),
            "charge": amount(gear.get("charge")),
            "lost": amount(r.get("charge", {}).get("lost")),
            "over": amount(r.get("charge", {}).get("over")),
            "cost": None if parts is None and labour is None else (parts or 0) + (labour or 0) / 3600 * rate,
            "search_cost": math.fsum(paid(s, rate) for s in r["search"]),
            "isolations": [paid(s, rate) for s in r["search"] if s["technique"] == "section-isolation"],
            "causes": [r["cause"], *r.get("also_found", [])],
            "symptoms": r["symptoms"],
            "search": r["search"],
            "looks": [f["result"] for f in r.get("follow_up", [])],
            "avoided": r.get("avoided"),
            "withdrawn": "withdrawn" in r,
        }


def paid(step: dict[str, Any], rate: float) -> float:
    """Money for a search step; of more than eight hours only the setting up is work."""
    minutes = step["minutes"]
    if minutes > 480:
        text = (GUIDE / "techniques" / f"{step['technique']}.md").read_text("utf-8")
        minutes = min(minutes, yaml.safe_load(text.split("---")[1])["minutes"]["set_up"])
    return float(minutes / 60 * rate + (amount(step.get("cost")) or 0))


def from_json(book: Book) -> Iterator[dict[str, Any]]:
    """The same facts from the published file."""
    for r in published_cases(book):
        yield {
            **{
                k: r[k] for k in ("id", "branch", "setting", "refrigerant", "symptoms", "search", "withdrawn")
            },
            "reported": dt.date.fromisoformat(r["reported"]),
            "installed": middle(r["installed"]),
            "charge": r["charge_kg"],
            "lost": r["lost_kg"],
            "over": r["lost_over_s"],
            "cost": r["repair_cost"],
            "search_cost": r["search_cost"],
            "causes": [
                {"mode": r["mode"], "component": r["component"], "proof": r["proof"]},
                *r["also_found"],
            ],
            "looks": [f["result"] for f in r["follow_up"]],
        }


def minutes_to_find(row: Mapping[str, Any]) -> int | None:
    """Minutes up to the first step that pinpoints or confirms the main cause's component."""
    minutes = 0
    for step in row["search"]:
        minutes += step["minutes"]
        if step["result"] in ("pinpointed", "confirmed") and row["causes"][0]["component"] in step["at"]:
            return minutes
    return None


def frame_of(rows: Iterable[dict[str, Any]]) -> pd.DataFrame:
    """One line a case with what follows from its facts."""
    frame = pd.DataFrame(rows)
    main = frame.causes.str[0]
    for key in ("mode", "component", "proof"):
        frame[key] = main.map(lambda cause, key=key: cause[key])
    for key in ("charge", "lost", "over", "cost"):
        frame[key] = frame[key].astype(float)
    frame["technique"] = frame.search.map(lambda steps: sorted({s["technique"] for s in steps}))
    frame["symptom"] = frame.symptoms
    frame["counted"] = frame.proof.isin(COUNTED) & ~frame.withdrawn
    frame["share"] = frame.lost / frame.charge.where(frame.charge > 0)
    frame["rate"] = frame.lost / frame.over.where(frame.over > 0)
    frame["yearly"] = frame.rate * YEAR_S / frame.charge.where(frame.charge > 0)
    frame["warming"] = frame.lost * frame.refrigerant.map(gwps()) / 1000
    frame["minutes"] = [minutes_to_find(row) for row in frame.to_dict("records")]
    frame["minutes"] = frame.minutes.astype(float)
    frame["age"] = [
        (reported - installed).days / 365.25 if isinstance(installed, dt.date) else math.nan
        for reported, installed in zip(frame.reported, frame.installed, strict=True)
    ]
    frame["held"] = frame.looks.map(lambda looks: float("leaking-again" not in looks) if looks else math.nan)
    return frame


@pytest.fixture(scope="module", params=["yaml", "json"])
def frame(request: pytest.FixtureRequest, demo_book: Book) -> pd.DataFrame:
    """The cases, by way of the raw records and by way of the published file."""
    return frame_of(raw_rows() if request.param == "yaml" else from_json(demo_book))


@pytest.fixture(scope="module")
def raw() -> pd.DataFrame:
    """The cases by way of the raw records."""
    return frame_of(raw_rows())


def same(told: float | None, computed: float | None, what: object) -> None:
    """Both unknown, or equal to a billionth."""
    missing = computed is None or math.isnan(computed)
    assert (told is None) == missing, (what, told, computed)
    if told is not None and computed is not None:
        assert math.isclose(told, computed, rel_tol=CLOSE, abs_tol=1e-15), (what, told, computed)


@cache
def rank(n: int) -> int:
    """The innermost k with 1 - 2 P(B < k) >= 95 %, B binomial(n, 1/2), in whole numbers; 0 where there is none."""
    best, below = 0, 0
    for k in range(1, n // 2 + 1):
        below += math.comb(n, k - 1)
        if 40 * below <= 2**n:
            best = k
    return best


def interval(values: pd.Series[float]) -> tuple[float, float] | None:
    """The pair of order statistics that bounds the median."""
    k = rank(len(values))
    ordered = sorted(values)
    return (ordered[k - 1], ordered[-k]) if k else None


def check_spread(told: Any, column: pd.Series[float], what: object) -> None:
    """A Spread against its values."""
    values = column.dropna()
    if values.empty:
        assert told is None, what
        return
    assert told is not None, what
    assert told.n == len(values), what
    same(told.median, values.median(), (what, "median"))
    same(told.q1, values.quantile(0.25), (what, "q1"))
    same(told.q3, values.quantile(0.75), (what, "q3"))
    bounds = interval(values)
    same(told.low, bounds[0] if bounds else None, (what, "low"))
    same(told.high, bounds[1] if bounds else None, (what, "high"))
    assert told.few == (len(values) < 5)


def check_share(told: Any, k: int, n: int, what: object) -> None:
    """A Share against scipy's own Wilson interval."""
    if n == 0:
        assert told is None, what
        return
    assert (told.k, told.n) == (k, n), what
    ci = stats.binomtest(k, n).proportion_ci(method="wilson")
    same(told.low, ci.low, what)
    same(told.high, ci.high, what)


def check_summary(told: Summary, group: pd.DataFrame, what: object) -> None:
    """Every figure of a group."""
    active = group[~group.withdrawn]
    counted = group[group.counted]
    assert sorted(c.id for c in told.cases) == sorted(active.id), what
    assert sorted(c.id for c in told.counted) == sorted(counted.id), what
    levels = active.proof.value_counts()
    assert dict(told.by_proof) == {p: levels.get(p, 0) for p in ("suspected", "section", "point", "held")}
    for name in ("lost", "minutes", "cost", "age"):
        check_spread(getattr(told, name), counted[name], (what, name))
    check_spread(told.lost_share, counted.share, (what, "share"))
    check_spread(told.leak_rate, counted.rate, (what, "rate"))
    check_spread(told.annual_share, counted.yearly, (what, "yearly"))
    check_spread(told.co2e, counted.warming, (what, "warming"))
    same(told.total_co2e, math.fsum(counted.warming.dropna()), (what, "warming"))
    held = counted.held.dropna()
    check_share(told.held, int(held.sum()), len(held), (what, "held"))
    for name, column in (
        ("modes", "mode"),
        ("components", "component"),
        ("symptoms", "symptoms"),
        ("refrigerants", "refrigerant"),
        ("settings", "setting"),
    ):
        tally = counted.explode(column)[column].value_counts().to_dict()
        assert dict(getattr(told, name)) == tally, (what, name)


def test_the_whole_library(frame: pd.DataFrame, demo_book: Book) -> None:
    """All cases together."""
    lib = demo_book.library
    assert len(frame) == len(lib.cases) > 100
    assert int(frame.counted.sum()) == len(lib.counted) > 50
    check_summary(summarize(lib.cases, lib.company, lib.guide), frame, "all")


@pytest.mark.parametrize("kind", KINDS)
def test_every_group(kind: str, frame: pd.DataFrame, demo_book: Book) -> None:
    """Each failure mode, technique, component, refrigerant, setting, branch and symptom."""
    groups = demo_book.groups[kind]
    apart = frame.explode(kind)
    used = set(apart[kind].dropna()[~apart.withdrawn])
    assert used <= set(groups)
    for key, told in groups.items():
        check_summary(told, apart[apart[kind] == key], (kind, key))
    assert sum(bool(told.counted) for told in groups.values()) > 1


@pytest.mark.parametrize("kind", ["mode", "component", "refrigerant", "setting", "branch", "symptom"])
def test_published_figures(kind: str, frame: pd.DataFrame, demo_book: Book) -> None:
    """failure-modes.json and groups.json, number by number."""
    if kind == "mode":
        records = json.loads(data.modes_json(demo_book))["modes"]
    else:
        records = json.loads(data.groups_json(demo_book))[kind]
    apart = frame.explode(kind)
    for record in records:
        key = record[kind if kind == "mode" else "key"]
        group = apart[(apart[kind] == key) & ~apart.withdrawn]
        counted = group[group.counted]
        what = (kind, key)
        assert record["cases"] == len(group), what
        assert record["counted"] == len(counted), what
        assert record["finding"] == (len(counted) >= 5), what
        if kind == "mode":
            assert sorted(record["case_ids"]) == sorted(counted.id), what
        assert record["n_lost"] == counted.lost.count(), what
        same(record["q1_lost_kg"], counted.lost.quantile(0.25), what)
        same(record["q3_lost_kg"], counted.lost.quantile(0.75), what)
        for stem, unit, values in (
            ("lost", "_kg", counted.lost),
            ("lost_share", "", counted.share),
            ("leak_rate", "_g_per_year", counted.rate * 1000 * YEAR_S),
            ("minutes_to_find", "", counted.minutes),
            ("repair_cost", "", counted.cost),
            ("age", "_years", counted.age),
            ("annual_share", "", counted.yearly),
            ("co2e", "_t", counted.warming),
        ):
            values = values.dropna()
            bounds = interval(values) or (None, None)
            same(record[f"median_{stem}{unit}"], values.median(), (what, stem))
            same(record[f"median_{stem}_low{unit}"], bounds[0], (what, stem))
            same(record[f"median_{stem}_high{unit}"], bounds[1], (what, stem))
        same(record["total_co2e_t"], math.fsum(counted.warming.dropna()), what)
        held = counted.held.dropna()
        assert (record["held"], record["looked_at_again"]) == (held.sum(), len(held)), what
        ci = stats.binomtest(int(held.sum()), len(held)).proportion_ci(method="wilson") if len(held) else None
        same(record["held_share_low"], ci.low if ci else None, what)
        same(record["held_share_high"], ci.high if ci else None, what)


def test_what_each_published_case_says_follows_from_its_record(raw: pd.DataFrame, demo_book: Book) -> None:
    """Units, share, rate, minutes, costs, age and whether the fix held, case by case."""
    published = {r["id"]: r for r in published_cases(demo_book)}
    assert sorted(published) == sorted(raw.id)
    for row in raw.to_dict("records"):
        told = published[row["id"]]
        for name, value in (
            ("charge_kg", row["charge"]),
            ("lost_kg", row["lost"]),
            ("lost_over_s", row["over"]),
            ("lost_share", row["share"]),
            ("leak_rate_g_per_year", row["rate"] * 1000 * YEAR_S),
            ("minutes_to_find", row["minutes"]),
            ("search_minutes", float(sum(s["minutes"] for s in row["search"]))),
            ("search_cost", row["search_cost"]),
            ("repair_cost", row["cost"]),
            ("age_years", row["age"]),
        ):
            same(told[name], value, (row["id"], name))
        assert told["fix_held"] == (None if math.isnan(row["held"]) else bool(row["held"]))
        assert told["counted"] == row["counted"]
        assert told["withdrawn"] == row["withdrawn"]
        assert told["reported"] == row["reported"].isoformat()
        for name in ("branch", "setting", "refrigerant", "mode", "component", "proof", "symptoms"):
            assert told[name] == row[name], (row["id"], name)


def steps_of(frame: pd.DataFrame) -> pd.DataFrame:
    """One line a search step of the active cases, with the proven leaks that it covered."""
    lines = []
    for row in frame[~frame.withdrawn].to_dict("records"):
        proven = {c["component"] for c in row["causes"] if c["proof"] in COUNTED}
        for step in row["search"]:
            places = set(step["at"])
            hit = {p for p in proven if p in places or AROUND[p] & places} if row["counted"] else set()
            lines.append(
                {**{k: step[k] for k in ("technique", "minutes", "result")}, "id": row["id"], "hit": hit}
            )
    return pd.DataFrame(lines)


def test_techniques(frame: pd.DataFrame, demo_book: Book) -> None:
    """Used, covered, found, missed, leads, spots, false alarms, minutes and yield of each technique."""
    steps = steps_of(frame)
    steps["told"] = steps.hit.map(bool) & (steps.result != "false-alarm")
    records = {r["technique"]: r for r in json.loads(data.techniques_json(demo_book))["techniques"]}
    assert set(steps.technique) <= set(records) == set(demo_book.techniques)
    for key, told in demo_book.techniques.items():
        mine = steps[steps.technique == key]
        covering = mine[mine.told]
        found = covering[covering.result.isin(FOUND)]
        missed = covering[covering.result == "clean"]
        alarms = mine[mine.result == "false-alarm"]
        expected = {
            "used": len(mine),
            "covered": len(covering),
            "found": len(found),
            "missed": len(missed),
            "leads": int((found.result == "lead").sum()),
            "pinpointed": int(found.result.isin(["pinpointed", "confirmed"]).sum()),
            "false_alarms": len(alarms),
        }
        for name, value in expected.items():
            assert getattr(told, name) == records[key][name] == value, (key, name)
        check_spread(told.minutes, mine.minutes.astype(float), key)
        check_share(told.yield_, len(found), len(covering), key)
        same(records[key]["yield"], len(found) / len(covering) if len(covering) else None, key)
        for name, rows in (("found", found), ("missed", missed), ("false_alarm", alarms)):
            assert sorted(records[key][f"{name}_case_ids"]) == sorted(set(rows.id)), (key, name)
    assert steps.told.sum() > 100, "the demo library tells something"


def test_technique_against_technique(frame: pd.DataFrame, demo_book: Book) -> None:
    """The table of every pair, and McNemar's exact p as a plain binomial tail."""
    steps = steps_of(frame)
    steps = steps[steps.result != "false-alarm"].explode("hit").dropna(subset=["hit"])
    steps["ok"] = steps.result.isin(FOUND)
    leaks = steps.groupby(["id", "hit", "technique"]).ok.any().unstack()
    order = list(demo_book.techniques)
    pairs = {(v.first, v.second): v for v in demo_book.versus}
    published = {(v["first"], v["second"]): v for v in json.loads(data.techniques_json(demo_book))["versus"]}
    seen = 0
    for a, b in combinations(order, 2):
        both = leaks[[a, b]].dropna().astype(bool)
        if both.empty:
            assert (a, b) not in pairs
            continue
        seen += 1
        told = pairs[a, b]
        table = pd.crosstab(both[a], both[b]).reindex(
            index=[True, False], columns=[True, False], fill_value=0
        )
        only_a, only_b = int(table.loc[True, False]), int(table.loc[False, True])
        assert (told.both, told.only_first, told.only_second, told.neither) == (
            table.loc[True, True],
            only_a,
            only_b,
            table.loc[False, False],
        ), (a, b)
        tail = 2 * stats.binom.cdf(min(only_a, only_b), only_a + only_b, 0.5) if only_a + only_b else 1.0
        same(told.p, min(1.0, float(tail)), (a, b))
        same(published[a, b]["p"], told.p, (a, b))
        assert sorted(c.id for c in told.only_first_cases) == sorted(
            both[both[a] & ~both[b]].index.get_level_values("id")
        )
        assert sorted(c.id for c in told.only_second_cases) == sorted(
            both[~both[a] & both[b]].index.get_level_values("id")
        )
    assert seen == len(pairs) == len(published) > 10


def test_isolations_avoided(raw: pd.DataFrame, demo_book: Book) -> None:
    """The cases, the median price of our own isolations, the sum."""
    costs = raw[~raw.withdrawn].isolations.explode().dropna().astype(float)
    avoided = raw[raw.counted & raw.avoided.notna()]
    avoided = avoided[avoided.avoided.map(lambda a: a["technique"] == "section-isolation")]
    told = json.loads(data.techniques_json(demo_book))["isolations_avoided"]
    assert sorted(told["case_ids"]) == sorted(avoided.id)
    assert told["because_of"] == avoided.avoided.map(lambda a: a["because"]).value_counts().to_dict()
    same(told["median_cost"], costs.median(), "median")
    same(told["saved"], costs.median() * len(avoided), "saved")
    bounds = interval(costs) or (None, None)
    same(told["median_cost_low"], bounds[0], "low")
    same(told["median_cost_high"], bounds[1], "high")


def test_the_second_computation_reads_every_record() -> None:
    """No record is left out because it lies elsewhere."""
    inside = {f.stem for f in (CASES / "records").rglob("*.y*ml")}
    assert inside == {row["id"] for row in raw_rows()}
