"""The page that documents the data files."""

from __future__ import annotations

from leaklore.pages.book import Book
from leaklore.pages.data_fields import (
    AVOIDED_FIELDS,
    BENCH_FIELDS,
    CASE_FIELDS,
    COST_FIELDS,
    MODE_FIELDS,
    PATTERN_FIELDS,
    SURVIVAL_FIELDS,
    SYSTEM_FIELDS,
    TECHNIQUE_FIELDS,
    TRADE_FIELDS,
    VERSUS_FIELDS,
    WHAT,
)
from leaklore.pages.display import number
from leaklore.pages.render import Templates
from leaklore.pages.spec import DataFile, Page


def page(book: Book, templates: Templates, made: list[DataFile]) -> Page:
    """Files with their sizes, and every key."""
    sizes = {f.path: len(f.content) for f in made}
    shown = [
        {"path": path, "what": what, "size": f"{number(sizes[path] / 1000)} kB"}
        for path, what in WHAT.items()
        if path in sizes
    ]
    shown += [
        {"path": path, "what": "a table of the section Patterns", "size": f"{number(size / 1000)} kB"}
        for path, size in sorted(sizes.items())
        if path.startswith("data/patterns/") and path.endswith(".csv")
    ]
    body = templates.render(
        "data.html",
        "data/",
        files=shown,
        fields=[
            (
                "cases.json and cases.csv",
                [
                    *CASE_FIELDS,
                    (
                        "search, readings, also_found, follow_up",
                        "only in the JSON: as in the record, less notes",
                    ),
                ],
            ),
            ("failure-modes.json, key modes", MODE_FIELDS),
            (
                "groups.json",
                [
                    (
                        "technique, component, refrigerant, setting, branch, symptom",
                        "lists of figures, as for modes",
                    ),
                    ("key", "which component, refrigerant and so on"),
                ],
            ),
            ("techniques.json, key techniques", TECHNIQUE_FIELDS),
            ("techniques.json, key versus", VERSUS_FIELDS),
            ("techniques.json, key isolations_avoided", AVOIDED_FIELDS),
            ("systems.json, key systems", SYSTEM_FIELDS),
            ("patterns.json", PATTERN_FIELDS),
            ("survival.json", SURVIVAL_FIELDS),
            ("costs.json", COST_FIELDS),
            ("trade.json", TRADE_FIELDS),
            ("bench.json", BENCH_FIELDS),
        ],
    )
    return Page("data/", "Data", "Cases, figures and schemas as open files.", body, "data")
