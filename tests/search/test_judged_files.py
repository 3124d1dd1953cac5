"""The judged queries: each names living cases, grades them 1 to 3, and no query is asked twice."""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from typing import Any

import pytest
import yaml

ROOT = Path(__file__).resolve().parents[2]
JUDGED = Path(__file__).with_name("judged")
FILES = sorted(JUDGED.glob("*.yaml"))
MIN_QUERIES = 120
"""Below this the means of nDCG and recall swing too much between two versions (own judgement, no source)."""


class _UniqueKeys(yaml.SafeLoader):
    """A loader that refuses a mapping which names a key twice; plain YAML keeps the last in silence."""


def _mapping(loader: _UniqueKeys, node: yaml.MappingNode) -> dict[Any, Any]:
    keys = [loader.construct_object(key) for key, _ in node.value]
    twice = [key for key, count in Counter(keys).items() if count > 1]
    if twice:
        raise yaml.constructor.ConstructorError(None, None, f"named twice: {twice}", node.start_mark)
    return loader.construct_mapping(node, deep=True)


_UniqueKeys.add_constructor(yaml.resolver.BaseResolver.DEFAULT_MAPPING_TAG, _mapping)


def load(path: Path) -> list[dict[str, Any]]:
    """The queries of one file."""
    queries = yaml.load(path.read_text(), _UniqueKeys)
    assert isinstance(queries, list)
    return queries


def folded(text: str) -> str:
    """A query without its case, marks and spacing, so that near-identical ones meet."""
    return " ".join("".join(c if c.isalnum() else " " for c in text.casefold()).split())


@pytest.fixture(scope="module")
def living() -> set[str]:
    """Numbers of the demo's records that are not withdrawn."""
    # BaseLoader: dates and numbers do not matter here, and it is quick
    records = [
        yaml.load(path.read_text(), yaml.BaseLoader) for path in (ROOT / "cases" / "records").glob("*/*.yaml")
    ]
    return {record["id"] for record in records if "withdrawn" not in record}


@pytest.fixture(scope="module")
def queries() -> list[dict[str, Any]]:
    return [query for path in FILES for query in load(path)]


def test_there_are_judged_files() -> None:
    assert FILES, f"no judged queries in {JUDGED}"


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_each_entry_has_its_three_keys(path: Path) -> None:
    for entry in load(path):
        assert set(entry) == {"q", "want", "judged"}, entry
        assert isinstance(entry["q"], str), entry
        assert entry["q"].strip() == entry["q"] != "", entry
        assert isinstance(entry["want"], str), entry
        assert entry["want"].strip(), entry


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_judged_cases_exist_and_are_not_withdrawn(path: Path, living: set[str]) -> None:
    assert living
    wrong = {entry["q"]: sorted(set(entry["judged"]) - living) for entry in load(path)}
    assert {q: ids for q, ids in wrong.items() if ids} == {}


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_grades_and_counts(path: Path) -> None:
    for entry in load(path):
        grades = list(entry["judged"].values())
        assert all(type(grade) is int and 1 <= grade <= 3 for grade in grades), entry
        assert max(grades) >= 2, entry
        assert 2 <= len(grades) <= 15, entry


def test_no_query_twice(queries: list[dict[str, Any]]) -> None:
    seen = Counter(folded(entry["q"]) for entry in queries)
    assert [q for q, count in seen.items() if count > 1] == []


def test_enough_queries(queries: list[dict[str, Any]]) -> None:
    assert len(queries) >= MIN_QUERIES
