"""company.yaml, checked."""

from __future__ import annotations

import datetime as dt
import os
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from leaklore import language, own_words
from leaklore.errors import LeakloreError
from leaklore.problem import Finding, Pointer, Problem, pointer_text
from leaklore.records import convert, gather, parse, source
from leaklore.records.gather import Gathered
from leaklore.records.model import Company
from leaklore.records.parse import short
from leaklore.records.quantity import Quantity, currency
from leaklore.records.schema import Schemas
from leaklore.records.vocabulary import NOUNS, Vocabulary, as_address

MOST_WORDS = 10_000_000
"""Bytes of a catalogue: the whole one has half a million."""

_GROUPS = ("branches", "crews")
"""Vocabularies whose words stand in company.yaml."""
_STAND_IN: Mapping[str, Any] = {
    "name": "no name",
    "units": "us",
    "currency": "XXX",
    "labour_rate": "1 XXX",
    "branches": [{"key": "none", "prefix": "XX"}],
}
"""In place of what must be there and is missing or wrong: the others are checked all the same, and nothing is built."""


@dataclass(frozen=True)
class Settings:
    """company.yaml as far as it is right; `whole` is False where something in it is not as the schema wants it.

    Then `company` is only there to check the other files by: what is wrong is left out, and a currency that is not
    known is empty. `unsure` are the vocabularies of which words may be missing for that reason.
    """

    company: Company
    whole: bool
    unsure: frozenset[str]
    path: str
    document: parse.Document


def settings(root: Path, got: Gathered, schemas: Schemas, today: dt.date) -> Settings | None:
    """The company's settings; None where the file can't be read at all. What is wrong is noted in `got`."""
    file = root / "company.yaml"
    if not os.path.lexists(file):
        got.problems.append(
            Problem(
                source.shown(file, root),
                1,
                1,
                "there is no company.yaml",
                "write one with name:, units:, currency:, labour_rate: and branches:",
                "file",
            )
        )
        return None
    made_of = gather.read(file, root, got, lambda data: schemas.check("company", data))
    if made_of is None:
        return None
    found, read = made_of
    faults = read if isinstance(read, parse.Faults) else None
    document = (read.document or parse.nothing()) if isinstance(read, parse.Faults) else read
    whole = faults is None and not got.add(found.path, document, schemas.check("company", document.data))
    if not isinstance(document.data, dict):
        document, faults = parse.nothing(), parse.Faults([])
    right = document.data if whole else _right(document.data, schemas)
    made = convert.company({**_STAND_IN, **right})
    if "currency" not in right:
        made = replace(made, currency="")
    if "branches" not in right:
        made = replace(made, branches={})
    unsure = frozenset(
        group
        for group in _GROUPS
        if not whole and (faults is not None or _unsure(group, document.data, right))
    )
    told = list(_company_findings(document.data, right, made, unsure, today))
    got.add(found.path, document, told if faults is None else faults.beside(told))
    _check_words(root, got, found.path, document, made.language)
    return Settings(made, whole, unsure, found.path, document)


def _check_words(root: Path, got: Gathered, path: str, document: parse.Document, tag: str) -> None:
    """Are there words for the language of the pages, and are the company's own ones right?"""
    own = root / "house" / "words.po"
    if own.exists() or own.is_symlink():
        words = source.read(own, root, MOST_WORDS)
        if isinstance(words, source.Unreadable):
            got.unreadable(words)
        else:
            got.problems += [
                Problem(words.path, fault.line, 1, fault.what, fault.instead, "words", fault.severity)
                for fault in own_words.faults(words.data, own, tag)
            ]
    try:
        language.load(tag, own)
    except language.Unreadable:
        pass  # told above, line by line
    except LeakloreError as fault:
        message = f"language: {str(fault).partition(';')[0]}"
        finding = Finding(("language",), message, language.instead(), "language")
        got.add(path, document, [finding])


def check_prices(settings: Settings, vocabulary: Vocabulary, got: Gathered) -> None:
    """Every refrigerant that has a price is one of the guide."""
    prices = settings.document.data.get("refrigerant_price")
    findings = [
        Finding(
            ("refrigerant_price", key),
            f'refrigerant_price: "{short(key)}" is not {NOUNS["refrigerants"]}',
            vocabulary.suggest("refrigerants", key),
            "reference",
            on_key=True,
        )
        for key in (prices if isinstance(prices, dict) else ())
        if not vocabulary.has("refrigerants", key)
    ]
    got.add(settings.path, settings.document, findings)


def _right(data: Mapping[str, Any], schemas: Schemas) -> dict[str, Any]:
    """The settings without what the schema finds wrong: of lists and blocks the entry, else the whole key."""
    right = dict(data)
    while wrong := schemas.check("company", {**_STAND_IN, **right}):
        places = {finding.pointer[:2] for finding in wrong if finding.pointer}
        for key in {place[0] for place in places}:
            inside = {place[1] for place in places if place[0] == key and len(place) > 1}
            held = right[str(key)]
            if (key,) in places or not inside:
                del right[str(key)]
            elif isinstance(held, list):
                right[str(key)] = [item for i, item in enumerate(held) if i not in inside]
            else:
                right[str(key)] = {name: value for name, value in held.items() if name not in inside}
    return right


def _unsure(group: str, data: Mapping[str, Any], right: Mapping[str, Any]) -> bool:
    """May the company have more of these than could be read? A key that is unknown may have been meant for them."""
    if group in data:
        return group not in right or bool(right[group] != data[group])
    return group in _STAND_IN or not data.keys() <= {*right}


def _entries(data: Mapping[str, Any], group: str) -> Iterator[tuple[int, Mapping[str, Any]]]:
    """Blocks of a list with their place in it; of other things the schema tells."""
    listed = data.get(group)
    for i, item in enumerate(listed if isinstance(listed, list) else ()):
        if isinstance(item, dict):
            yield i, item


def _company_findings(
    data: Mapping[str, Any], right: Mapping[str, Any], made: Company, unsure: frozenset[str], today: dt.date
) -> Iterator[Finding]:
    money: dict[Pointer, Quantity] = {}
    if made.labour_rate and "labour_rate" in right:
        money[("labour_rate",)] = made.labour_rate
    money |= {("refrigerant_price", key): price for key, price in made.refrigerant_price.items()}
    for pointer, amount in money.items():
        if made.currency and currency(amount) != made.currency:
            yield Finding(
                pointer,
                f'{pointer_text(pointer)}: "{amount.written}" is not in {made.currency}',
                "write it in the currency of the line currency:",
                "money/currency",
            )
    if made.records_since and made.records_since > today:
        yield Finding(
            ("records_since",),
            f"records_since: {made.records_since} is after today, {today}",
            "write the first day from which every leak was put on record",
            "date/future",
        )
    for group, name in (("branches", "key"), ("branches", "prefix"), ("crews", "key")):
        seen: set[str] = set()
        addressed = as_address if group == "branches" else str
        for i, item in _entries(data, group):
            if not isinstance(item.get(name), str):
                continue
            if addressed(item[name]) in seen:
                yield Finding(
                    (group, i, name),
                    f'{group}[{i}].{name}: "{short(item[name])}" is used twice',
                    "give each its own",
                    "register/twice",
                )
            seen.add(addressed(item[name]))
    for i, crew in _entries(data, "crews"):
        branch = crew.get("branch")
        if isinstance(branch, str) and branch not in made.branches and "branches" not in unsure:
            yield Finding(
                ("crews", i, "branch"),
                f'crews[{i}].branch: "{short(branch)}" is no branch of the company',
                f"write one of {', '.join(made.branches)}",
                "register/site",
            )
