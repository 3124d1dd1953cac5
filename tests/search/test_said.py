"""What technicians type, country by country, and what it should give: which words mean what is our judgement (common
practice, no source).

Each query of said/*.yaml names findings as kind:key (`a|b`: either), an amount as kind:kg or kind:years, and in `not`
what must not be understood. A `must` one has to hold; of the others of a file a few may be missed.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import pytest

from analysis.builders import CASES
from leaklore.records.check import check
from leaklore.records.check_guide import read_guide
from leaklore.records.gather import Gathered
from leaklore.records.guide import vocabulary_of
from leaklore.search.lexicon import KINDS, Lexicon, phrases
from leaklore.search.make import make
from leaklore.search.negation import BACK
from leaklore.search.understand import understand

from .test_judged_files import folded, load

TODAY = dt.date(2026, 11, 26)
FILES = sorted(Path(__file__).with_name("said").glob("*.yaml"))
FLOOR = 0.9
"""Share of a file's queries of which everything has to be understood (own judgement)."""
NEAR = 0.02
"""How far an amount may be off, as a share of it."""
AMOUNTS = ("lost", "charge", "over", "age")


@pytest.fixture(scope="module")
def lexicons() -> dict[bool, Lexicon]:
    """That of the demo, and that of Spanish pages (True)."""
    guide = read_guide(Path("no-house"), Path("no-library"), Gathered(), "es-MX").guide
    return {
        False: make(check(CASES, today=TODAY).library).engine.lexicon,
        True: Lexicon(phrases(guide, vocabulary_of(guide, {}, {}))),
    }


def _given(q: str, lexicon: Lexicon) -> list[tuple[str, str | float]]:
    """(kind, key or value) of each finding."""
    found = understand(q, lexicon, TODAY).findings
    keys: list[tuple[str, str | float]] = [(f.kind, key) for f in found for key in f.keys]
    return [*keys, *((f.kind, f.value) for f in found if f.value is not None)]


def _fits(wanted: str, given: list[tuple[str, str | float]]) -> bool:
    for one in wanted.split("|"):
        kind, _, key = one.partition(":")
        for found, value in given:
            if found == kind and (not key or value == key):
                return True
            if found == kind and isinstance(value, float) and value == pytest.approx(float(key), rel=NEAR):
                return True
    return False


def _missed(entry: dict[str, Any], lexicon: Lexicon) -> list[str]:
    """What is not given, and with a `!` what is given and must not be."""
    given = _given(entry["q"], lexicon)
    wrong = [f"!{one}" for one in entry.get("not", ()) if _fits(one, given)]
    return [*(one for one in entry["gives"] if not _fits(one, given)), *wrong]


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_what_is_typed_is_understood(path: Path, lexicons: dict[bool, Lexicon]) -> None:
    lexicon = lexicons[path.stem == "spanish"]
    entries = load(path)
    told = []
    for entry in entries:
        if missed := _missed(entry, lexicon):
            got = " ".join(f"{kind}:{value}" for kind, value in _given(entry["q"], lexicon))
            told.append((entry.get("must", False), f"{entry['q']} | misses {' '.join(missed)} | got {got}"))
    share = 1 - len(told) / len(entries)
    report = "\n".join(line for _, line in told)
    print(f"{path.stem}: {share:.0%} of {len(entries)} understood\n{report}")

    assert [line for must, line in told if must] == []
    assert share >= FLOOR, report


def test_the_files_name_what_there_is(lexicons: dict[bool, Lexicon]) -> None:
    names = lexicons[False].names
    known = {f"{kind}:{key}" for kind, keys in names.items() for key in keys}
    known |= {f"{absent}:{key}" for absent, kind in BACK.items() for key in names[kind]}
    known |= {f"near:{key}" for key in names["place"]}
    entries = [entry for path in FILES for entry in load(path)]
    said = [one for e in entries for text in (*e["gives"], *e.get("not", ())) for one in text.split("|")]
    queries = [folded(e["q"]) for e in entries]

    assert len(FILES) == 4
    assert all({"q", "gives"} <= set(e) <= {"q", "gives", "not", "must"} and e["gives"] for e in entries)
    assert len(queries) == len(set(queries))
    assert [one for one in said if one.partition(":")[0] not in AMOUNTS and one not in known] == []
    assert {one.partition(":")[0] for one in said} >= {*KINDS, *BACK, "lost", "charge", "over", "age"}


def test_a_miss_is_told(lexicons: dict[bool, Lexicon]) -> None:
    entry = {"q": "no oil, lost 2 kg", "gives": ["symptom:oil-film", "lost:2"], "not": ["absent:oil-film"]}
    assert _missed(entry, lexicons[False]) == ["symptom:oil-film", "!absent:oil-film"]
    assert _missed({"q": "lost 2 kg", "gives": ["lost:3"]}, lexicons[False]) == ["lost:3"]
