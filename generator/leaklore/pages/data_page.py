"""The page that documents the data files."""

from __future__ import annotations

from collections.abc import Mapping

from leaklore.pages import audience
from leaklore.pages.book import Book
from leaklore.pages.data_fields import (
    AVOIDED_FIELDS,
    BENCH_FIELDS,
    CASE_FIELDS,
    COST_FIELDS,
    MODE_FIELDS,
    PATTERN_FIELDS,
    PIECE_FIELDS,
    SURVIVAL_FIELDS,
    SYSTEM_FIELDS,
    TECHNIQUE_FIELDS,
    TRADE_FIELDS,
    VERSUS_FIELDS,
    WHAT,
)
from leaklore.pages.display import number
from leaklore.pages.render import Templates
from leaklore.pages.spec import Page


def page(book: Book, templates: Templates, sizes: Mapping[str, int]) -> Page:
    """Files with their sizes, and every key. `sizes`: bytes by path."""
    shown = []
    for path, what in WHAT.items():
        found = [size for p, size in sizes.items() if p.startswith(path)] if path.endswith("/") else []
        if path in sizes:
            shown.append({"path": path, "what": what, "size": f"{number(sizes[path] / 1000)} kB"})
        elif found:
            size = f"{len(found)} files, {number(sum(found) / 1000)} kB"
            shown.append({"path": path, "what": what, "size": size})
    shown += [
        {"path": path, "what": "a table of the section Patterns", "size": f"{number(size / 1000)} kB"}
        for path, size in sorted(sizes.items())
        if path.startswith("data/patterns/") and path.endswith(".csv")
    ]
    fields = [
        ("cases.json and the pieces in cases/", PIECE_FIELDS),
        ("Cases, in the pieces and in cases.csv", CASE_FIELDS),
        ("failure-modes.json, key modes", MODE_FIELDS),
        (
            "groups.json",
            [
                (
                    "technique, component, refrigerant, setting, branch, symptom",
                    "lists of figures, as for modes but without case_ids",
                ),
                ("key", "which component, refrigerant and so on"),
            ],
        ),
        ("techniques.json, key techniques", TECHNIQUE_FIELDS),
        ("techniques.json, key versus", VERSUS_FIELDS),
        ("techniques.json, key isolations_avoided", AVOIDED_FIELDS),
        ("systems.json, key systems: keys once, then rows", SYSTEM_FIELDS),
        ("patterns.json", PATTERN_FIELDS),
        ("survival.json", SURVIVAL_FIELDS),
        ("costs.json", COST_FIELDS),
        ("trade.json", TRADE_FIELDS),
        ("bench.json", BENCH_FIELDS),
    ]
    whom = book.library.audience
    there = [
        (title, keys) for title, keys in fields if audience.shown(whom, f"data/{title.partition(',')[0]}")
    ]
    body = templates.render("data.html", "data/", files=shown, fields=there)
    return Page("data/", "Data", "Cases, figures and schemas as open files.", body, "data")
