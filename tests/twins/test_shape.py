"""The browser's modules as such: whole, documented, without knowledge of their own; and the data that they read."""

from __future__ import annotations

import copy
import datetime as dt
import inspect
import json
import re
from dataclasses import replace
from types import ModuleType
from typing import Any

import pytest

from analysis.builders import demo
from leaklore.pages import trade_data
from leaklore.records.guide import Entry
from leaklore.trade import (
    air,
    data,
    detectability,
    entry,
    eu_rules,
    flow,
    gas,
    leak_rate,
    pressure_test,
    proof,
    refrigerants,
    tables,
    units,
    us_rules,
    vacuum,
    volume,
)
from twins.browser import JS, Browser
from twins.codec import camel, differences, encoded, for_browser
from twins.every import TWINS

MODULES: dict[str, ModuleType] = {
    "data": data,
    "units": units,
    "refrigerants": refrigerants,
    "gas": gas,
    "tables": tables,
    "flow": flow,
    "leakRate": leak_rate,
    "pressureTest": pressure_test,
    "volume": volume,
    "vacuum": vacuum,
    "air": air,
    "entry": entry,
    "usRules": us_rules,
    "euRules": eu_rules,
    "detectability": detectability,
    "proof": proof,
}
"""Parts of the browser's `t` and the modules that they repeat."""

OTHERWISE = {
    "data.citation": "seen in every answer that has a source",
    "data.version": "the version of the data, tested below",
    "refrigerants.of": "made by `all` and `get` from the data; the facts are in SI there",
    "refrigerants.all": "compared by refrigerants.keys and refrigerants.get",
    "detectability.reason": "compared by detectability.reasons",
    "detectability.name": "compared by detectability.reasons",
    "detectability.defaults": "the data's own",
    "format.general": "numbers as text have no module in Python",
    "format.fixed": "numbers as text have no module in Python",
    "format.grouped": "numbers as text have no module in Python",
    "detectability.reasons": "judge and reason together",
    "refrigerants.keys": "the keys of `all`",
}
"""Names on one side only that other tests cover, or that need none."""

PYTHON_ONLY = {
    "data.load": "the browser gets the content",
    "refrigerants.shipped": "`all` and `get`",
    "tables.scaled": "a step of the interpolation",
    "tables.shipped": "the browser gets the content",
}

SPACE = {"with_changes": "spaceWithChanges"}
METHODS: dict[str, tuple[type, dict[str, str]]] = {
    "tables": (tables.Tables, {}),
    "air": (air.Space, SPACE),
    "gas": (gas.GasState, {}),
    "volume": (volume.Tube, {"volume": "tubeVolume"}),
}
STRINGS = re.compile(r'"(?:[^"\\\n]|\\.)*"|`(?:[^`\\]|\\.)*`')
COMMENTS = re.compile(r"^\s*//.*$|\s//\s.*$", re.MULTILINE)
SOURCES = {file.name: file.read_text("utf-8") for file in sorted((JS / "trade").glob("*.mjs"))}


@pytest.fixture(scope="session")
def shape(content: dict[str, Any], browser: Browser) -> dict[str, Any]:
    """Names of each part, and the constants."""
    found = browser.asked(content, {"parts": [[]], "constants": [[]]})
    return {name: answers[0] for name, answers in found.items()}


def public(module: ModuleType) -> set[str]:
    """Functions that a module defines for others."""
    functions = inspect.getmembers(module, lambda one: inspect.isfunction(inspect.unwrap(one)))
    return {
        name
        for name, one in functions
        if not name.startswith("_") and inspect.unwrap(one).__module__ == module.__name__
    }


@pytest.mark.parametrize("part", MODULES)
def test_every_function_has_a_twin(part: str, shape: dict[str, Any]) -> None:
    """What Python computes, the browser computes under the same name; and both were compared."""
    wanted = {camel(name) for name in public(MODULES[part]) if f"{part}.{name}" not in PYTHON_ONLY}
    if part in METHODS:
        kind, renamed = METHODS[part]
        methods = inspect.getmembers(kind, lambda one: inspect.isfunction(one) or inspect.ismethod(one))
        wanted |= {renamed.get(name, camel(name)) for name, _ in methods if not name.startswith("_")}
    names = set(shape["parts"][part])
    assert wanted <= names
    compared = {name for name in names if f"{part}.{name}" in {*TWINS, *OTHERWISE} or name.isupper()}
    assert names - compared == set()


def test_nothing_is_excused_that_does_not_exist(shape: dict[str, Any]) -> None:
    """The lists of exceptions hold no leftovers."""
    there = {f"{part}.{name}" for part, names in shape["parts"].items() for name in names}
    assert {name for name in OTHERWISE if name not in there | set(TWINS)} == set()
    python = {f"{part}.{name}" for part, module in MODULES.items() for name in public(module)}
    assert set(PYTHON_ONLY) <= python
    assert set(shape["parts"]) == set(MODULES)


def test_constants_are_pythons(shape: dict[str, Any]) -> None:
    """Every constant of the browser stands in the Python module of the part, with the same value."""
    found = shape["constants"]
    ours = {part: {n: encoded(getattr(MODULES[part], n)) for n in names} for part, names in found.items()}
    assert list(differences(ours, found, within=1e-15)) == []
    assert {n for part in found.values() for n in part} >= {
        "R",
        "DISCHARGE",
        "RULE_YEAR",
        "ENRICHED",
        "LAWS",
        "RANK",
    }


def test_the_head_of_index_names_everything(shape: dict[str, Any]) -> None:
    """Who writes a bench page reads the list at its head; a name on it exists, and none is missing."""
    head = SOURCES["index.mjs"].split("\nimport ")[0]
    blocks = dict(re.findall(r"^// (\w+) {2,}((?:.*\n(?://  .*(?:\n|$))*))", head, re.MULTILINE))
    assert set(blocks) == set(MODULES)
    for part, text in blocks.items():
        missing = [n for n in shape["parts"][part] if not re.search(rf"(?<![\w$]){n}(?!\w)", text)]
        assert missing == [], part
        called = set(re.findall(r"(?<![\w$.])([a-z]\w*)\(", text))
        assert called <= set(shape["parts"][part]), part


@pytest.mark.parametrize("name", SOURCES)
def test_modules_are_small_and_pure(name: str) -> None:
    """Neither page nor network, nothing from outside the folder, and not a word of the trade."""
    source = SOURCES[name]
    assert len(source.splitlines()) <= 200
    code = COMMENTS.sub("", source)
    assert not re.search(r"\b(document|window|fetch|localStorage|navigator|Date\.now|Math\.random)\b", code)
    assert all(re.fullmatch(r"\./\w+\.mjs", path) for path in re.findall(r'from "([^"]+)"', code))
    strings = " ".join(STRINGS.findall(code))
    assert not re.search(
        r"R-\d|CFR|\(EU\)|ASHRAE|NIOSH|IPCC|Article \d|\bpublished\b|common practice", strings
    )


def test_the_data_is_plain_and_small(content: dict[str, Any]) -> None:
    """JSON without days or infinities, below 120 kB, the same every time, with all of the guide's refrigerants."""
    text = json.dumps(content, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    assert len(text.encode()) < 120_000
    assert json.loads(text) == content
    assert text == json.dumps(
        trade_data.trade_json(demo().guide), ensure_ascii=False, separators=(",", ":"), allow_nan=False
    )
    assert [one["key"] for one in content["refrigerants"]] == list(demo().guide.refrigerants)
    assert content["rules"]["us"]["rules"][0]["from"] == "2020-04-10"


@pytest.mark.parametrize(
    ("part", "version", "words"),
    [
        ("", 0, "holds figures of version 0 and reads version 1. The figures on this device are older"),
        ("", 2, "holds figures of version 2 and reads version 1. The page on this device is older"),
        ("", None, "did not arrive whole"),
        ("tables", 9, "holds tables of version 9 and reads version 1. The page on this device is older"),
        ("", 1, ""),
    ],
)
def test_unknown_versions_are_refused(
    content: dict[str, Any], part: str, version: int | None, words: str, browser: Browser
) -> None:
    """In words that tell what to do."""
    other: dict[str, Any] = {"$raw": copy.deepcopy(content)}
    (other["$raw"][part] if part else other["$raw"])["version"] = version
    answer = browser.asked(content, {"version": [[other]]})["version"][0]
    if not words:
        assert answer == 1
        return
    assert answer["$refused"] == "TradeError"
    assert words in answer["message"]


def test_the_companys_own_refrigerant(browser: Browser) -> None:
    """It is among the others with its facts; there is no table for it, which both sides say alike."""
    guide = demo().guide
    facts = {**guide.refrigerants["R-32"].facts, "key": "R-999X", "name": "R-999X (ours)"}
    own = replace(guide.refrigerants["R-32"], key="R-999X", facts=facts)
    added: dict[str, Entry] = {**guide.refrigerants, "R-999X": own}
    made = trade_data.trade_json(replace(guide, refrigerants=added))
    gas_of_it = {"$refrigerant": "R-999X"}
    found = browser.asked(
        made,
        {
            "refrigerants.get": [["R-999X"], ["R-998"]],
            "tables.has": [[gas_of_it]],
            "tables.dew": [[gas_of_it, 290.0]],
        },
    )
    ours = refrigerants.of(facts)
    assert list(differences({"name": "R-999X (ours)", **encoded(ours)}, found["refrigerants.get"][0])) == []
    assert found["refrigerants.get"][1]["message"] == '"R-998" is not among our refrigerants'
    assert found["tables.has"] == [False]
    with pytest.raises(tables.NotInTables) as refused:
        tables.shipped().dew(ours, 290.0)
    assert found["tables.dew"][0] == {"$refused": "TradeError", "message": str(refused.value)}


@pytest.mark.parametrize("of", ["R-32", "R-290", "R-1234yf"])
def test_a_refrigerant_without_gwp(of: str, browser: Browser) -> None:
    """What the rules say of it, and both sides alike; none of the shipped ones lacks its figures."""
    guide = demo().guide
    facts = {**guide.refrigerants[of].facts, "key": "R-999X", "gwp_ar4": None, "gwp_eu_2024_573": None}
    own = replace(guide.refrigerants[of], key="R-999X", facts=facts)
    made = trade_data.trade_json(replace(guide, refrigerants={"R-999X": own}))
    one, kind = {"$refrigerant": "R-999X"}, {"kind": "comfort-cooling", "light": False}
    found = browser.asked(
        made, {"euRules.leakCheck": [[one, 40.0]], "usRules.rules": [[one, 40.0, kind, "2026-06-01"]]}
    )
    ours = refrigerants.of(facts)
    rules = us_rules.rules(ours, 40.0, us_rules.Appliance(**kind), dt.date(2026, 6, 1))
    assert list(differences(encoded(eu_rules.leak_check(ours, 40.0)), found["euRules.leakCheck"][0])) == []
    assert list(differences(encoded(rules), found["usRules.rules"][0])) == []


@pytest.mark.parametrize("written", ["2026-02-30", "2026-2-3", "30.1.2026", "", None, "2026-13-01"])
def test_what_is_no_day_is_refused(written: str | None, content: dict[str, Any], browser: Browser) -> None:
    """Only the browser gets days as text."""
    names = ("usRules.repairBy", "usRules.followUpBy", "euRules.recheckWindow")
    found = browser.asked(content, {name: [[written]] for name in names})
    told = {
        "$refused": "TradeError",
        "message": f'day "{written or ""}" is not a day; write it as 2026-03-31',
    }
    assert found == {name: [told] for name in names}


def test_words_in_place_of_numbers_are_refused(content: dict[str, Any], browser: Browser) -> None:
    """A page that forgets to read its input as a number hears of it."""
    calls = for_browser([["12", 3600.0], [None, 3600.0], [1.0, "3600"]])
    found = browser.asked(content, {"leakRate.loss": calls})["leakRate.loss"]
    assert [(one["$refused"], one["field"]) for one in found] == [
        ("OutOfRange", "charge lost"),
        ("OutOfRange", "charge lost"),
        ("OutOfRange", "time"),
    ]
