"""What `serve` shows when records have problems: the site without them, and the list on every page."""

from __future__ import annotations

from collections.abc import Sequence

from markupsafe import Markup

from leaklore.problem import Problem

MOST = 20


def banner(problems: Sequence[Problem]) -> str:
    """A list of problems as HTML; empty without any."""
    if not problems:
        return ""
    rows = Markup("").join(
        Markup('<li><span class="banner__place">{}:{}:{}</span> {}{}</li>').format(
            p.path, p.line, p.column, p.message, f"; {p.instead}" if p.instead else ""
        )
        for p in problems[:MOST]
    )
    more = Markup("<li>and {} more</li>").format(len(problems) - MOST) if len(problems) > MOST else ""
    n = len(problems)
    title = f"{n} problem{'s' if n != 1 else ''} in the records; what is wrong is left out here"
    return str(
        Markup(
            '<aside class="banner" aria-label="Problems in the records"><h2 class="banner__title">{}</h2>'
            '<ul class="banner__list">{}{}</ul></aside>'
        ).format(title, rows, more)
    )
