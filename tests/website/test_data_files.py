"""Files for machines: their shape stays, and feed and sitemap tell the truth."""

from __future__ import annotations

import csv
import io
import json
import tarfile
import xml.etree.ElementTree as ET
from typing import Any

import jsonschema
import pytest
import yaml

from site_fixture import EPOCH, Site, text_of

ATOM = "{http://www.w3.org/2005/Atom}"
MAP = "{http://www.sitemaps.org/schemas/sitemap/0.9}"
CASE_KEYS = [
    "id",
    "title",
    "reported",
    "closed",
    "branch",
    "crew",
    "system",
    "setting",
    "kind",
    "family",
    "refrigerant",
    "charge_kg",
    "installed",
    "age_years",
    "symptoms",
    "not_seen",
    "conditions",
    "ambient_k",
    "lost_kg",
    "lost_over_s",
    "lost_share",
    "leak_rate_g_per_year",
    "mode",
    "component",
    "proof",
    "contributing",
    "counted",
    "minutes_to_find",
    "search_minutes",
    "search_cost",
    "action",
    "repair_cost",
    "fix_held",
    "withdrawn",
    "url",
]
MODE_KEYS = [
    "mode",
    "cases",
    "counted",
    "by_proof",
    "n_lost",
    "median_lost_kg",
    "median_lost_low_kg",
    "median_lost_high_kg",
    "q1_lost_kg",
    "q3_lost_kg",
    "median_lost_share",
    "median_lost_share_low",
    "median_lost_share_high",
    "median_leak_rate_g_per_year",
    "median_leak_rate_low_g_per_year",
    "median_leak_rate_high_g_per_year",
    "median_minutes_to_find",
    "median_repair_cost",
    "held",
    "looked_at_again",
    "held_share_low",
    "held_share_high",
    "median_age_years",
    "finding",
    "case_ids",
]
TECHNIQUE_KEYS = [
    "technique",
    "used",
    "covered",
    "found",
    "missed",
    "false_alarms",
    "yield",
    "yield_low",
    "yield_high",
    "median_minutes",
    "found_case_ids",
    "missed_case_ids",
    "false_alarm_case_ids",
]


def records_of(site: Site) -> dict[str, str]:
    """Text of every record in the archives, by case number."""
    found = {}
    for file in sorted((site.folder / "data/records").iterdir()):
        with tarfile.open(file) as archive:
            for member in archive.getmembers():
                content = archive.extractfile(member)
                assert content is not None
                found[member.name.removesuffix(".yaml")] = content.read().decode()
    return found


def data(site: Site, name: str) -> Any:
    """A data file, read as strictly as JSON is defined: no NaN, no key twice."""

    def pairs(found: list[tuple[str, Any]]) -> dict[str, Any]:
        keys = [key for key, _ in found]
        assert len(set(keys)) == len(keys), f"{name}: a key is given twice"
        return dict(found)

    def refuse(word: str) -> None:
        raise AssertionError(f"{name}: {word} is no JSON")

    return json.loads(site.text(f"data/{name}.json"), object_pairs_hook=pairs, parse_constant=refuse)


def cases_of(site: Site) -> list[dict[str, Any]]:
    """Every case of all pieces that the index names, by number."""
    found = []
    for piece in data(site, "cases")["pieces"]:
        told = data(site, f"cases/{piece}")["cases"]
        found += [dict(zip(told["keys"], row, strict=True)) for row in told["rows"]]
    return sorted(found, key=lambda r: str(r["id"]))


@pytest.mark.parametrize(
    ("name", "version"),
    [
        *(("cases", 2), ("cases/KW-2025-0", 2), ("systems", 2), ("groups", 2)),
        *(("failure-modes", 1), ("techniques", 1)),
    ],
)
def test_a_data_file_says_its_version_and_its_day(demo: Site, name: str, version: int) -> None:
    found = data(demo, name)
    assert found["version"] == version
    assert found["edition"] == "2026-12-31"
    assert EPOCH == "1798718400"


def test_cases_have_their_keys(demo: Site) -> None:
    cases = cases_of(demo)
    assert len(cases) > 200
    for case in cases:
        assert set(CASE_KEYS) <= set(case), case["id"]
        assert case["search"], case["id"]
        assert demo.page(f"{case['url']}index.html")
        assert case["counted"] == (case["proof"] in ("point", "held") and not case["withdrawn"]), case["id"]
    assert len({c["id"] for c in cases}) == len(cases)
    assert set(records_of(demo)) == {c["id"] for c in cases}


def test_the_table_of_cases_says_the_same_as_the_json(demo: Site) -> None:
    raw = (demo.folder / "data/cases.csv").read_bytes()
    assert raw.count(b"\r\n") == raw.count(b"\n"), "lines end as RFC 4180 has it"
    rows = list(csv.DictReader(io.StringIO(raw.decode("utf-8"), newline="")))
    cases = cases_of(demo)
    assert list(rows[0]) == CASE_KEYS
    assert len(rows) == len(cases)

    def cell(value: Any) -> str:
        if value is None:
            return ""
        if isinstance(value, bool):
            return str(value).lower()
        return " ".join(value) if isinstance(value, list) else str(value)

    for row, case in zip(sorted(rows, key=lambda r: r["id"]), cases, strict=True):
        assert row == {key: cell(case[key]) for key in CASE_KEYS}
        assert not any(value[:1] in ("=", "+", "-", "@", "\t") for value in row.values())


def test_failure_modes_have_their_keys_and_their_page_says_the_same(demo: Site) -> None:
    modes = data(demo, "failure-modes")["modes"]
    cases = cases_of(demo)
    assert len(modes) > 15
    for mode in modes:
        assert set(MODE_KEYS) <= set(mode), mode["mode"]
        counted = [c for c in cases if c["counted"] and c["mode"] == mode["mode"]]
        assert mode["counted"] == len(counted)
        assert sorted(mode["case_ids"]) == sorted(c["id"] for c in counted)
        assert mode["cases"] == sum(mode["by_proof"].values())
        assert mode["finding"] == (mode["counted"] >= 5)
        if mode["median_lost_kg"] is not None and mode["median_lost_low_kg"] is not None:
            assert mode["median_lost_low_kg"] <= mode["median_lost_kg"] <= mode["median_lost_high_kg"]
        page = demo.page(f"guide/failure-modes/{mode['mode']}/index.html")
        rows = [e.get("id") for e in page.find("tr") if (e.get("id") or "").startswith("row-")]
        assert len(rows) == mode["cases"], mode["mode"]
        assert {f"row-{i}" for i in mode["case_ids"]} <= set(rows)


def test_techniques_have_their_keys(demo: Site) -> None:
    found = data(demo, "techniques")
    assert {"techniques", "versus", "isolations_avoided"} <= set(found)
    assert len(found["techniques"]) >= 10
    for technique in found["techniques"]:
        assert set(TECHNIQUE_KEYS) <= set(technique), technique["technique"]
        assert technique["covered"] == technique["found"] + technique["missed"]
        if technique["covered"]:
            assert technique["yield"] == pytest.approx(technique["found"] / technique["covered"], rel=1e-6)
            assert technique["yield_low"] <= technique["yield"] <= technique["yield_high"]
        assert f"guide/techniques/{technique['technique']}/index.html" in demo.files


def test_systems_name_their_cases(demo: Site) -> None:
    told = data(demo, "systems")["systems"]
    records = [dict(zip(told["keys"], row, strict=True)) for row in told["rows"]]
    systems = {s["system"]: s for s in records}
    cases = cases_of(demo)
    assert len(systems) > 200
    for case in cases:
        if case["system"] is not None:
            assert case["id"] in systems[case["system"]]["case_ids"]
    assert sum(len(s["case_ids"]) for s in systems.values()) == sum(c["system"] is not None for c in cases)


def test_records_published_fit_the_schema_published(demo: Site) -> None:
    """What a reader takes away can be checked with what a reader takes away."""
    folder = demo.folder / "data/schema"
    schemas = {p.name: json.loads(p.read_text("utf-8")) for p in sorted(folder.glob("*.schema.json"))}
    assert {"case.schema.json", "common.schema.json", "system.schema.json"} <= set(schemas)
    for schema in schemas.values():
        jsonschema.Draft202012Validator.check_schema(schema)
    from referencing import Registry, Resource

    registry = Registry().with_resources(
        [(s["$id"], Resource.from_contents(s)) for s in schemas.values() if "$id" in s]
    )
    validator = jsonschema.Draft202012Validator(schemas["case.schema.json"], registry=registry)
    texts = list(records_of(demo).values())
    assert len(texts) > 200
    for text in texts[::7]:
        record = yaml.load(text, Loader=yaml.CBaseLoader)
        wrong = [
            e for e in validator.iter_errors(record) if e.validator not in ("type", "minimum", "maximum")
        ]
        assert not wrong, f"{record['id']}: {wrong[0].message}"  # base loader: numbers come as text
    record = {**yaml.load(texts[0], Loader=yaml.CBaseLoader), "symptoms": ["oil-fim"]}
    assert not validator.is_valid(record)


def test_the_data_page_names_every_file_and_every_key(demo: Site) -> None:
    page = demo.page("data/index.html")
    named = {a.get("href") for a in page.find("a")}
    for file in [f for f in demo.files if f.startswith("data/") and f.endswith((".json", ".csv"))]:
        inner = file.startswith(
            (
                "data/search/",
                "data/cases/",
                "data/learn/unknown/",
                "data/learn/questions",
                "data/offline",
                "data/shell",
            )
        )  # told in words
        if not inner and file not in ("data/schema/common.schema.json", "data/schema/company.schema.json"):
            assert f"../{file}" in named, file
    words = page.text
    for folder in ("data/search/", "data/cases/", "data/records/"):
        assert folder in words
    for key in CASE_KEYS:
        assert key in words, key


def test_every_page_stands_in_the_sitemap_and_the_sitemap_names_no_other(demo: Site) -> None:
    root = ET.fromstring(demo.text("sitemap.xml"))
    assert root.tag == f"{MAP}urlset"
    places = [e.text or "" for e in root.iter(f"{MAP}loc")]
    assert len(set(places)) == len(places)
    listed = {f"{place}index.html" for place in places}
    moved = {
        url
        for url in demo.urls
        if any((m.get("http-equiv") or "").lower() == "refresh" for m in demo.page(url).find("meta"))
    }
    assert moved, "the demo has a moved case"
    assert listed - set(demo.files) == set()
    assert set(demo.urls) - listed == moved | {"404.html", "offline/index.html"}
    assert [f for f in demo.files if f.startswith("sitemap")] == ["sitemap.xml"]


def test_the_feed_is_atom_with_the_newest_cases(demo: Site) -> None:
    root = ET.fromstring(demo.text("feed.xml"))
    assert root.tag == f"{ATOM}feed"
    for tag in ("title", "id", "updated", "author", "link"):
        assert root.find(ATOM + tag) is not None, tag
    entries = root.findall(f"{ATOM}entry")
    assert len(entries) == 30
    ids, days = [], []
    for entry in entries:
        for tag in ("title", "id", "updated", "summary", "link"):
            assert entry.find(ATOM + tag) is not None, tag
        link = entry.find(f"{ATOM}link")
        assert link is not None
        assert f"{link.get('href')}index.html" in demo.files
        ids.append(entry.findtext(f"{ATOM}id"))
        days.append(entry.findtext(f"{ATOM}published"))
        for tag in ("updated", "published"):
            assert len(entry.findtext(ATOM + tag) or "") == len("2026-01-01T00:00:00Z")
    assert len(set(ids)) == len(ids)
    assert days == sorted(days, reverse=True)
    newest = max(c["reported"] for c in cases_of(demo) if not c["withdrawn"])
    assert days[0] == f"{newest}T00:00:00Z"
    title = text_of(demo.page("index.html").find("title")[0])
    assert (root.findtext(f"{ATOM}title") or "").startswith(title)
