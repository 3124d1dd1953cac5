"""Before and after: each change of the company, held against the leaks that it should have made rarer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite
from typing import Any

from leaklore.analysis.patterns.changes import HORIZON, Change, Compared, Side
from leaklore.analysis.patterns.rates import Rate, Ratio, finite
from leaklore.language import gettext, later, ngettext
from leaklore.pages import display
from leaklore.pages.book import Book
from leaklore.pages.patterns.drawing import COPPER, INK, PAPER, draw
from leaklore.pages.patterns.tables import Column, Table, Value
from leaklore.pages.patterns.topic import Topic
from leaklore.pages.render import Templates

KEY = "changes"
TITLE = later("Before and after")
LEAD = later("What we changed, and whether the leaks that it should stop have become rarer since.")
WORDS = later(
    {
        "fewer": "Fewer leaks since",
        "fewer-as-all": "Fewer, but perhaps so has the rest",
        "more": "More leaks since",
        "more-as-all": "More, but perhaps so has the rest",
        "no-change": "No halving",
        "too-early": "Too early to tell",
        "too-small": "Too few leaks to tell",
        "too-few": "Too few leaks to tell",
        "nobody": "No system yet",
        "no-before": "Nothing to compare with",
    }
)
OPEN = ("too-early", "too-small", "too-few", "nobody", "no-before")
"""Verdicts on changes of which nothing can be said."""
SHAPES = {
    "fewer": "less",
    "more": "more",
    "fewer-as-all": "as-said",
    "more-as-all": "as-said",
    "no-change": "as-said",
}
WHERE = later(
    {
        "branch": "branch {shown}",
        "crew": "installs of crew {shown}",
        "kind": "{shown}",
        "family": "family {shown}",
        "refrigerant": "{shown}",
        "setting": "{shown}",
        "batch": "building batch {shown}",
        "line_route": "lines: {shown}",
        "site": "site {shown}",
    }
)
VOCABULARY = {"kind": "equipment_kinds", "setting": "settings", "line_route": "line_routes"}


@dataclass(frozen=True, slots=True)
class Told:
    """One change in words."""

    id: str
    what: str
    note: str
    word: str
    shape: str
    figure: str
    facts: tuple[str, ...]
    modes: tuple[str, ...]
    cases: tuple[str, ...]


def topic(book: Book, found: tuple[Change, ...], templates: Templates) -> Topic:
    """The topic; a company that wrote no change down is told how."""
    table, waits = _table(found), _waits(found)
    drawn = [c for c in found if c.group.before.rate and c.group.after.rate]
    sections = templates.render(
        "patterns_changes.html",
        f"patterns/{KEY}/",
        told=[_told(book, c) for c in found],
        chart=draw(_chart(drawn), gettext("Leaks before and after each change"), _says(found), table)
        if drawn
        else None,
        says=_says(found),
        table=table,
        waits=waits,
        horizon=HORIZON // 12,
    )
    return Topic(
        KEY, gettext(TITLE), gettext(LEAD), sections, (table, waits) if found else (), _headline(found)
    )


def short_name(change: Change) -> str:
    """The change's key as words."""
    return change.action.key.replace("-", " ").capitalize()


def _count(found: Sequence[Change], *verdicts: str) -> int:
    return sum(c.verdict in verdicts for c in found)


def _says(found: Sequence[Change]) -> str:
    """How many changes did what, in a form that is right for any number of them."""
    if not found:
        return gettext("No change is on record.")
    good, bad, unsaid = _count(found, "fewer"), _count(found, "more"), _count(found, *OPEN)
    none = len(found) - good - bad - unsaid
    out = gettext("Changes that we made: {n}; fewer leaks since: {k}").format(n=len(found), k=good)
    out += gettext("; more: {n}").format(n=bad) if bad else ""
    out += gettext("; no sign of an effect: {n}").format(n=none) if none else ""
    return out + (gettext("; can’t be told: {n}").format(n=unsaid) if unsaid else "") + "."


def _headline(found: Sequence[Change]) -> str:
    if not found:
        return gettext("No change of ours is on record, so none can be held against the leaks.")
    out = _says(found)
    best = next((c for c in found if c.verdict == "fewer" and c.group.ratio), None)
    if best and best.group.ratio:
        out += gettext(" {best}: {ratio} as many as before, per system and year.").format(
            best=short_name(best), ratio=_times(best.group.ratio)
        )
    return out


def _times(ratio: Ratio) -> str:
    """`0.13 times (0.03 to 0.60, 95 % sure)`."""
    high = display.number(ratio.high) if isfinite(ratio.high) else gettext("no upper bound")
    value = (
        gettext("{value} times").format(value=display.number(ratio.value))
        if isfinite(ratio.value)
        else gettext("many times")
    )
    return gettext("{value} ({low} to {high}, 95 % sure)").format(
        value=value, low=display.number(ratio.low), high=high
    )


def _side(side: Side) -> str:
    if side.rate is None:
        return gettext("no system under watch")
    n = len(side.leaks)
    leaks = ngettext("{n} leak", "{n} leaks", n).format(n=n) if n else gettext("no leak")
    return gettext("{leaks} in {years} system-years: {value} a year in 100 systems ({low} to {high})").format(
        leaks=leaks,
        years=display.number(side.years, 3),
        value=display.number(side.rate.value),
        low=display.number(side.rate.low),
        high=display.number(side.rate.high),
    )


def _where(book: Book, change: Change) -> str:
    words = book.library.vocabulary
    if not change.action.where:
        return gettext("all systems")
    parts = []
    for key, word in change.action.where.items():
        if key == "site":
            shown = book.library.sites[word].name
        else:
            shown = words.name(VOCABULARY[key], word) if key in VOCABULARY else word
        parts.append(gettext(WHERE[key]).format(shown=shown))
    return ", ".join(parts)


def _months(months: int) -> str:
    if months >= 24:
        return display.years(months / 12)
    return ngettext("{n} month", "{n} months", months).format(n=months)


def _wait(change: Change) -> str:
    """What it takes until something can be said."""
    wait, before = change.wait, len(change.group.before.leaks)
    halving = (
        gettext("A halving would very likely have shown by now.")
        if wait.halving == 0
        else gettext(
            "If it halved them, that would show with a chance of 80 of 100 after {halving} more."
        ).format(halving=_months(wait.halving))
        if wait.halving
        else gettext("With {before} before it, even a halving would not show within {x} years.").format(
            before=before, x=HORIZON // 12
        )
    )
    silence = (
        gettext(" If no such leak comes at all, that shows after {silence} more.").format(
            silence=_months(wait.silence)
        )
        if wait.silence
        else ""
    )
    return halving + silence


def _beyond(change: Change) -> str:
    rest = (
        gettext("The systems that it does not concern")
        if change.rest_is == "systems"
        else gettext("Other leaks of these systems")
    )
    if change.rest.ratio is None:
        return gettext("{rest}: too few leaks for a yardstick.").format(rest=rest)
    ratio = _times(change.rest.ratio)
    if change.action.applies_to == "installs-after":
        return gettext("{rest}, at the same ages: {ratio}.").format(rest=rest, ratio=ratio)
    out = gettext("{rest}, in the same time: {ratio}.").format(rest=rest, ratio=ratio)
    if change.beyond:
        out += gettext(" Against them: {beyond}.").format(beyond=_times(change.beyond))
    return out


def _told(book: Book, change: Change) -> Told:
    group, late = change.group, change.action.applies_to == "installs-after"
    shown = group.ratio is not None and change.verdict not in ("too-few", "nobody", "no-before")
    first, then = (
        (gettext("Installed before"), gettext("Installed since"))
        if late
        else (gettext("Before"), gettext("Since"))
    )
    facts = [f"{first}: {_side(group.before)}.", f"{then}: {_side(group.after)}."]
    if late and group.after.rate:
        facts.append(gettext("Both at the same ages, as old as the new ones are by now."))
    plain = change.verdict in ("fewer", "more")
    if shown and group.ratio:
        if not plain:
            since = (
                gettext("Since, {ratio} as many. That it went further than the rest can be chance.")
                if change.verdict.endswith("-as-all")
                else gettext("Since, {ratio} as many: chance alone could do that.")
            )
            facts.append(since.format(ratio=_times(group.ratio)))
        facts.append(_beyond(change))
    if change.verdict in ("too-early", "too-small", "no-change"):
        facts.append(_wait(change))
    leaks = (*group.before.leaks, *group.after.leaks)
    where = _where(book, change)
    scope = gettext("{where}, only those installed since").format(where=where) if late else where
    return Told(
        f"{KEY}-{change.action.key}",
        change.action.what,
        change.action.note or "",
        gettext(WORDS[change.verdict]),
        SHAPES.get(change.verdict, "few"),
        gettext("{ratio} as many").format(ratio=_times(group.ratio)) if plain and group.ratio else "",
        (f"{display.day(change.action.date)}; {scope}.", *facts),
        change.action.modes,
        tuple(dict.fromkeys(x.case.id for x in leaks)),
    )


def _rate(rate: Rate | None) -> tuple[Value, ...]:
    return (rate.value, rate.low, rate.high) if rate else (None, None, None)


def _ratio(of: Compared) -> tuple[Value, ...]:
    if of.ratio is None:
        return (None, None, None)
    return (finite(of.ratio.value), of.ratio.low, finite(of.ratio.high))


def _table(found: Sequence[Change]) -> Table:
    columns = [
        Column("change", gettext("Change"), "text"),
        Column("date", gettext("From"), "date"),
        Column("modes", gettext("Failures"), "mode"),
        Column("verdict", gettext("What it shows"), "text"),
    ]
    for key, title in (("before", gettext("Before")), ("after", gettext("After"))):
        columns += [
            Column(f"{key}_leaks", gettext("{title}: leaks").format(title=title), "whole"),
            Column(f"{key}_years", gettext("{title}: system-years").format(title=title), "number"),
            Column(f"{key}_rate", gettext("{title}: a year in 100 systems").format(title=title), "number"),
            Column(f"{key}_low", gettext("{title}: at least").format(title=title), "number"),
            Column(f"{key}_high", gettext("{title}: at most").format(title=title), "number"),
        ]
    columns += [
        Column("ratio", gettext("After over before"), "number"),
        Column("low", gettext("Ratio at least"), "number"),
        Column("high", gettext("Ratio at most"), "number"),
        Column("cases", gettext("Cases"), "case"),
    ]
    rows = []
    for c in found:
        cells: list[Value] = [short_name(c), c.action.date, c.action.modes, gettext(WORDS[c.verdict])]
        for side in (c.group.before, c.group.after):
            cells += [len(side.leaks), side.years, *_rate(side.rate)]
        leaks = (*c.group.before.leaks, *c.group.after.leaks)
        rows.append((*cells, *_ratio(c.group), tuple(dict.fromkeys(x.case.id for x in leaks)) or None))
    return Table(
        f"{KEY}-before-after",
        gettext("Leaks before and after each change"),
        tuple(columns),
        tuple(rows),
        gettext("At least, at most: 95 % sure, exact. No upper bound where there was no leak before."),
    )


def _waits(found: Sequence[Change]) -> Table:
    return Table(
        f"{KEY}-waits",
        gettext("The rest in the same time, and how long until it can be told"),
        (
            Column("change", gettext("Change"), "text"),
            Column("rest", gettext("Held against"), "text"),
            Column("rest_before", gettext("Its leaks before"), "whole"),
            Column("rest_after", gettext("Its leaks after"), "whole"),
            Column("rest_ratio", gettext("Its ratio"), "number"),
            Column("rest_low", gettext("Its ratio, at least"), "number"),
            Column("rest_high", gettext("Its ratio, at most"), "number"),
            Column("halving", gettext("Months until a halving would show"), "whole"),
            Column("silence", gettext("Months without any, until that would show"), "whole"),
        ),
        tuple(
            (
                short_name(c),
                gettext("systems that it does not concern")
                if c.rest_is == "systems"
                else gettext("other leaks of the same systems"),
                len(c.rest.before.leaks),
                len(c.rest.after.leaks),
                *_ratio(c.rest),
                c.wait.halving,
                c.wait.silence,
            )
            for c in found
        ),
        gettext(
            "0: it would show by now. Empty: not within {x} years. With 80 of 100 chances, if the "
            "rate before is as it was counted, and as many systems as today stay under watch."
        ).format(x=HORIZON // 12),
    )


def _chart(found: Sequence[Change]) -> Any:
    sides = [gettext("before"), gettext("after")]
    rows = []
    for c in found:
        for when, side in zip(sides, (c.group.before, c.group.after), strict=True):
            assert side.rate is not None
            rows.append(
                {
                    "change": short_name(c),
                    "when": when,
                    "rate": round(side.rate.value, 3),
                    "low": round(side.rate.low, 3),
                    "high": round(side.rate.high, 3),
                    "leaks": str(len(side.leaks)),
                }
            )
    order = [short_name(c) for c in found]

    def make(width_px: int) -> Any:
        import altair as alt  # late: it is slow

        base = alt.Chart({"values": tuple(rows)})
        y = alt.Y("change:N", title=None, sort=order, axis=alt.Axis(labelLimit=0, grid=True))
        offset = alt.YOffset("when:N", sort=sides)
        x = alt.X(
            "rate:Q",
            title=gettext("Leaks a year in 100 systems"),
            scale=alt.Scale(type="sqrt", zero=True, nice=True),
            axis=alt.Axis(values=[0, 1, 5, 20, 50, 100] if width_px > 500 else [0, 5, 50]),
        )
        bars = base.mark_rule(color=INK, strokeWidth=2).encode(
            y=y, yOffset=offset, x=alt.X("low:Q"), x2=alt.X2("high:Q")
        )
        dots = base.mark_point(filled=True, size=130, stroke=INK, strokeWidth=1.5).encode(
            y=y,
            yOffset=offset,
            x=x,
            shape=alt.Shape(
                "when:N",
                title=None,
                sort=sides,
                scale=alt.Scale(domain=sides, range=["circle", "triangle-up"]),
            ),
            fill=alt.Fill("when:N", title=None, scale=alt.Scale(domain=sides, range=[PAPER, COPPER])),
        )
        return alt.layer(bars, dots).properties(height=62 * len(order))

    return make
