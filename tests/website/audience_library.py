"""A small library with a word of its own in every text that a schema lets a company write."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from itertools import count
from pathlib import Path
from typing import Any

import yaml

from site_fixture import ROOT, copy_library

from .libraries import NOTE, PHOTO, write_case, write_yaml

LETTERS = "bcdfghjklmnprt"
OTHERS = {
    "actions/where/batch": "the register's own word",
    "actions/where/crew": "a crew's own key",
    "actions/where/family": "the register's own word",
    "actions/where/site": "the register's own key",
    "crews/branch": "the branch's own key",
    "systems/site": "the site's own key",
    "read": "names a page",
    "items/read": "names a page",
}
"""Texts that repeat what is planted elsewhere."""
WORD = re.compile(r"[Zz]qv[a-z]{2}x")
Where = tuple[str, str]
"""Schema, and place in it: ("case", "search/note")."""


def word(n: int) -> str:
    """A word that nobody writes; none is part of another, and no stemmer shortens it."""
    return f"zqv{LETTERS[n // len(LETTERS)]}{LETTERS[n % len(LETTERS)]}x"


def schema(kind: str) -> dict[str, Any]:
    """A schema as it lies on the disk."""
    told: dict[str, Any] = json.loads((ROOT / "schema" / f"{kind}.schema.json").read_text("utf-8"))
    return told


def _resolved(node: Mapping[str, Any]) -> Mapping[str, Any]:
    if "$ref" not in node:
        return node
    return {**schema("common")["$defs"][node["$ref"].rsplit("/", 1)[1]], **node}


def _form(node: Mapping[str, Any]) -> str | None:
    """How a word is written here so that the schema takes it; None where it takes no word of ours."""
    if node.get("type") != "string" or "enum" in node or "format" in node:
        return None
    if node.get("x-vocabulary") not in (None, "crews") or node.get("x-quantity") not in (None, "money"):
        return None
    if "x-quantity" in node:
        return "money"
    for form in ("{}", "{}.jpg", "https://{}.example/"):
        if re.search(node.get("pattern", ""), form.format(word(0))):
            return form
    return None


def texts(kind: str) -> dict[str, str]:
    """Every text that a schema lets a company write, by place, and how a word of ours is written there."""

    def walk(node: Mapping[str, Any], place: str) -> Iterator[tuple[str, str]]:
        node = _resolved(node)
        if place and (form := _form(node)):
            yield place, form
        for name, below in node.get("properties", {}).items():
            yield from walk(below, f"{place}/{name}" if place else name)
        for name in ("items", "additionalProperties"):
            if isinstance(node.get(name), Mapping):
                yield from walk(node[name], place)

    return {place: form for place, form in walk(schema(kind), "") if place not in OTHERS}


@dataclass
class Planted:
    """Where each word was planted; amounts of money are planted as six digits."""

    words: dict[Where, list[str]] = field(default_factory=dict)
    numbers: Iterator[int] = field(default_factory=count)

    def into(self, kind: str, data: Any, place: str = "") -> Any:
        """`data` with a word of ours in every text of it that is no reference."""
        forms = texts(kind)
        if isinstance(data, Mapping):
            steps = {key: place if place in forms else f"{place}/{key}" if place else key for key in data}
            return {key: self.into(kind, value, steps[key]) for key, value in data.items()}
        if isinstance(data, list):
            return [self.into(kind, item, place) for item in data]
        if place not in forms:
            return data
        n = next(self.numbers)
        told = str(700_003 + 1009 * n) if forms[place] == "money" else word(n)
        self.words.setdefault((kind, place), []).append(told)
        if forms[place] == "money":
            return f"{told} USD"
        prose = {
            "title": "{} weeps again",
            "story": "Here {} frothed.\n\nSee [[S-0001]] and [[KW-2025-002]].\n",
        }
        return prose.get(place, forms[place]).format(told)


def make(folder: Path) -> tuple[Path, Planted]:
    """`folder`/cases with two whole cases, one of them withdrawn, a register, a list, a change and a note of the house."""
    library, planted = copy_library(folder), Planted()
    company = yaml.safe_load((library / "company.yaml").read_text("utf-8"))
    company |= {"site_url": "", "refrigerant_price": {"R-32": "1 USD"}, "records_since": "2021-01-01"}
    company["branches"] = company["branches"][:1]
    company["crews"] = company["crews"][:1]
    company = planted.into("company", company)
    branch = company["branches"][0]["key"]
    company["crews"][0]["branch"] = branch

    case = yaml.safe_load((ROOT / "tests/records/valid/every-field-us.yaml").read_text("utf-8"))
    case |= {"reported": "2025-02-03", "closed": "2025-02-05", "branch": branch}
    case["equipment"]["installed"] = "2022-06-14"
    for look, day in zip(case["follow_up"], ("2025-05-10", "2025-11-02"), strict=True):
        look["date"] = day
    case["withdrawn"]["date"] = "2025-12-01"
    whole = planted.into("case", case)
    gone = whole | {"id": "KW-2025-015", "withdrawn": whole["withdrawn"]}
    del whole["withdrawn"], gone["was"], gone["photos"]
    for one in (whole, gone):
        write_case(library, one)
        company["crews"].append({"key": one["crew"], "branch": branch})
    company["crews"].pop()
    photo = library / "photos" / whole["id"] / whole["photos"][0]["file"]
    photo.parent.mkdir(parents=True, exist_ok=True)
    photo.write_bytes(PHOTO)

    site = {"key": "a", "name": "b", "branch": branch, "setting": "residential", "batch": "c", "note": "d"}
    register = yaml.safe_load((library / "systems.yaml").read_text("utf-8"))
    system = next(s for s in register["systems"] if s["id"] == "S-0005")
    register = planted.into("system", {"sites": [site], "systems": [system | {"id": "S-0001"}]})
    register["systems"][0]["site"] = register["sites"][0]["key"]
    del register["systems"][0]["removed"]
    company["crews"].append({"key": register["systems"][0]["crew"], "branch": branch})
    plain = {"id": "S-0002", "site": "plain", "name": "Plain", "kind": "condensing-unit"}
    plain |= {"refrigerant": "R-448A", "charge": "14 lb 8 oz", "installed": "2018"}
    register["sites"].append({"key": "plain", "name": "Plain", "branch": branch, "setting": "process"})
    register["systems"].append(plain)
    write_yaml(library / "systems.yaml", register)
    write_yaml(library / "company.yaml", company)

    for old in ("2024/OS-2024-007", "2025/KW-2025-002"):
        file = library / "records" / f"{old}.yaml"
        if old.startswith("2024"):
            file.unlink()
        else:
            write_case(library, _moved(yaml.safe_load(file.read_text("utf-8")), branch))
    (library / "reading/first-week.yaml").unlink()
    items = [{"read": f"case:{whole['id']}", "why": "a"}]
    reading = planted.into(
        "reading",
        {
            "key": "a",
            "title": "b",
            "for": "c",
            "level": "lead",
            "due_days": 7,
            "able_to": ["d"],
            "items": items,
        },
    )
    write_yaml(library / "reading" / f"{reading['key']}.yaml", reading)
    action = {"key": "a", "date": "2025-01-01", "what": "b", "modes": ["flare-joint"], "note": "c"}
    write_yaml(library / "house/actions.yaml", planted.into("actions", {"actions": [action]}))
    (library / "house/cylinders.md").write_text(
        NOTE.replace("the other note](pump.md)", "it](cylinders.md)"), "utf-8"
    )
    return library, planted


def _moved(case: dict[str, Any], branch: str) -> dict[str, Any]:
    """A shipped case in our branch, without a crew."""
    case.pop("crew", None)
    days = {key: str(case[key]) for key in ("reported", "closed") if key in case}
    looks = [look | {"date": str(look["date"])} for look in case.get("follow_up", ())]
    return case | days | {"branch": branch} | ({"follow_up": looks} if looks else {})
