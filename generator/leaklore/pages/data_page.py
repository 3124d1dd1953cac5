"""The page that documents the data files."""

from __future__ import annotations

from collections.abc import Mapping

from leaklore.language import gettext
from leaklore.pages import audience
from leaklore.pages.book import Book
from leaklore.pages.data_fields import (
    AVOIDED_FIELDS,
    BENCH_FIELDS,
    CASE_FIELDS,
    COST_FIELDS,
    GROUP_FIELDS,
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

URL = "data/"


def page(book: Book, templates: Templates, sizes: Mapping[str, int]) -> Page:
    """Files with their sizes, and every key. `sizes`: bytes by path."""
    shown = []
    for path, what in WHAT.items():
        found = [size for p, size in sizes.items() if p.startswith(path)] if path.endswith("/") else []
        if path in sizes:
            shown.append({"path": path, "what": gettext(what), "size": _kb(sizes[path])})
        elif found:
            size = gettext("{n} files, {size}").format(n=len(found), size=_kb(sum(found)))
            shown.append({"path": path, "what": gettext(what), "size": size})
    shown += [
        {"path": path, "what": gettext("a table of the section Patterns"), "size": _kb(size)}
        for path, size in sorted(sizes.items())
        if path.startswith("data/patterns/") and path.endswith(".csv") and path not in WHAT
    ]
    fields = [
        ("cases.json", gettext("cases.json and the pieces in cases/"), PIECE_FIELDS),
        ("cases.csv", gettext("Cases, in the pieces and in cases.csv"), CASE_FIELDS),
        ("failure-modes.json", gettext("failure-modes.json, key modes"), MODE_FIELDS),
        ("groups.json", "groups.json", GROUP_FIELDS),
        ("techniques.json", gettext("techniques.json, key techniques"), TECHNIQUE_FIELDS),
        ("techniques.json", gettext("techniques.json, key versus"), VERSUS_FIELDS),
        ("techniques.json", gettext("techniques.json, key isolations_avoided"), AVOIDED_FIELDS),
        ("systems.json", gettext("systems.json, key systems: keys once, then rows"), SYSTEM_FIELDS),
        ("patterns.json", "patterns.json", PATTERN_FIELDS),
        ("survival.json", "survival.json", SURVIVAL_FIELDS),
        ("costs.json", "costs.json", COST_FIELDS),
        ("trade.json", "trade.json", TRADE_FIELDS),
        ("bench.json", "bench.json", BENCH_FIELDS),
    ]
    whom = book.library.audience
    there = [
        (title, [(key, gettext(means)) for key, means in keys])
        for file, title, keys in fields
        if audience.shown(whom, f"data/{file}")
    ]
    body = templates.render("data.html", URL, files=shown, fields=there)
    lead = gettext("Cases, figures and schemas as open files.")
    return Page(URL, gettext("Data"), lead, body, "data")


def _kb(size: float) -> str:
    return f"{number(size / 1000)} kB"
