"""company.yaml, checked."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from leaklore import language, own_words
from leaklore.errors import LeakloreError
from leaklore.problem import Finding, Pointer, Problem, pointer_text
from leaklore.records import convert, source
from leaklore.records.gather import Gathered, load
from leaklore.records.model import Company
from leaklore.records.parse import short
from leaklore.records.quantity import Quantity, currency
from leaklore.records.schema import Schemas

MOST_WORDS = 10_000_000
"""Bytes of a catalogue: the whole one has half a million."""


def company(root: Path, got: Gathered, schemas: Schemas, today: dt.date) -> Company | None:
    """The company's settings; None where they can't be read, which is noted in `got`."""
    file = root / "company.yaml"
    if not file.exists():
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
    loaded = load(file, root, got)
    if loaded is None:
        return None
    found, document = loaded
    if got.add(found.path, document, schemas.check("company", document.data)):
        return None
    made = convert.company(document.data)
    got.add(found.path, document, list(_company_findings(document.data, made, today)))
    own = root / "house" / "words.po"
    if own.exists() or own.is_symlink():
        words = source.read(own, root, MOST_WORDS)
        if isinstance(words, source.Unreadable):
            got.unreadable(words)
        else:
            got.problems += [
                Problem(words.path, fault.line, 1, fault.what, fault.instead, "words", fault.severity)
                for fault in own_words.faults(words.data, own, made.language)
            ]
    try:
        language.load(made.language, own)
    except language.Unreadable:
        pass  # told above, line by line
    except LeakloreError as fault:
        message = f"language: {str(fault).partition(';')[0]}"
        finding = Finding(("language",), message, language.instead(), "language")
        got.add(found.path, document, [finding])
    return made


def _company_findings(data: dict[str, Any], made: Company, today: dt.date) -> Iterator[Finding]:
    money: dict[Pointer, Quantity] = {("labour_rate",): made.labour_rate} if made.labour_rate else {}
    money |= {("refrigerant_price", key): price for key, price in made.refrigerant_price.items()}
    for pointer, amount in money.items():
        if currency(amount) != made.currency:
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
        for i, item in enumerate(data.get(group, ())):
            if item[name] in seen:
                yield Finding(
                    (group, i, name),
                    f'{group}[{i}].{name}: "{item[name]}" is used twice',
                    "give each its own",
                    "register/twice",
                )
            seen.add(item[name])
    for i, crew in enumerate(data.get("crews", ())):
        if crew["branch"] not in made.branches:
            yield Finding(
                ("crews", i, "branch"),
                f'crews[{i}].branch: "{short(crew["branch"])}" is no branch of the company',
                f"write one of {', '.join(made.branches)}",
                "register/site",
            )
