"""Where it recurs: groups of installs that leak more than the rest, and whether that can be chance."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf
from typing import Any

import numpy as np

from leaklore.analysis.patterns.exposure import APART
from leaklore.analysis.patterns.findings import Findings
from leaklore.analysis.patterns.rates import PER, Ratio, finite, funnel_limits
from leaklore.analysis.patterns.signals import (
    ALL,
    BANDS,
    EQUIPMENT,
    FALSE_SHARE,
    LEAST_LEAKS,
    LEAST_SYSTEMS,
    LEAST_YEARS,
    Group,
    Signal,
)
from leaklore.language import gettext, later
from leaklore.pages import display, links
from leaklore.pages.book import Book
from leaklore.pages.patterns import names
from leaklore.pages.patterns.drawing import COPPER, EDGE, INK, INK_SOFT, PAPER, draw
from leaklore.pages.patterns.tables import Column, Table, Value, cut
from leaklore.pages.patterns.topic import Topic
from leaklore.pages.patterns.words import MANY, few_cases
from leaklore.pages.render import Templates

KEY = "where"
TITLE = later("Where it recurs")
LEAD = later(
    "Crews, batches, places and equipment that leak more often than the rest, for their time under watch."
)
FUNNEL = ("crew", "batch", "line-route", "branch", "setting", "kind")
"""Ways of sorting whose groups are drawn; the others stand in the tables."""
FAR = 0.998
MOST_STORIES = 12
"""Told at length of each sort; the table has all."""
MOST_GROUPS, MOST_MARKS = 150, 500
"""Groups in the table on the page, and in the picture; the file has all."""


@dataclass(frozen=True, slots=True)
class Story:
    """A signal in words; `also` tells how many of its leaks show in other groups, `cases` and `systems` are their numbers."""

    title: str
    text: str
    figure: str
    word: str
    shape: str
    also: tuple[str, ...]
    cases: tuple[str, ...]
    systems: tuple[str, ...]
    link: str


def topic(book: Book, found: Findings, templates: Templates) -> Topic:
    """The topic; a library without a register is told what is missing."""
    told = found.signals
    own, other = stories(book, found, own=True), stories(book, found, own=False)
    installs = [s for s, signal in own if signal.by not in EQUIPMENT]
    equipment = [s for s, signal in own if signal.by in EQUIPMENT]
    signals = _signals(book, told.found)
    groups, rates = _groups(book, found), _rates(book, found)
    drawn = [g for by in FUNNEL for g in told.groups.get((by, ALL), ())]
    worst = sorted(groups.rows, key=_drawn_in, reverse=True)
    sections = templates.render(
        "patterns_where.html",
        f"patterns/{KEY}/",
        installs=installs[:MOST_STORIES],
        equipment=equipment[:MOST_STORIES],
        other=[s for s, _ in other][:MOST_STORIES],
        more=sum(max(0, len(x) - MOST_STORIES) for x in (installs, equipment, other)),
        many=MANY,
        signals=cut(signals, gettext("first")),
        fleet=found.fleet,
        looks=told.looks,
        groups_looked_at=told.groups_looked_at,
        too_small=told.too_small,
        false_share=FALSE_SHARE,
        least=(LEAST_SYSTEMS, LEAST_YEARS, LEAST_LEAKS),
        bands=", ".join(map(str, BANDS)),
        funnel=draw(
            _funnel(book, drawn, told.overall[ALL].value / PER),
            gettext("Leaks against what the rate of all would give"),
            gettext(
                "Each mark is a group of systems. Outside the dotted lines lie groups that chance seldom "
                "makes."
            ),
            groups,
        )
        if drawn and told.overall[ALL].leaks
        else None,
        groups=cut(groups, gettext("highest drawn-in"), worst, MOST_GROUPS),
        unmarked=max(0, len(drawn) - MOST_MARKS),
        most_marks=MOST_MARKS,
        rates=rates,
        by_sort=[gettext(names.SORTS[by]) for by in FUNNEL if told.groups.get((by, ALL))],
        apart=[
            (gettext(APART[key]), [c.id for c in cases]) for key, cases in found.fleet.apart.items() if cases
        ],
        undated=[s.id for s in found.fleet.undated],
    )
    tables = tuple(t for t in (signals, groups, rates) if t.rows)
    return Topic(KEY, gettext(TITLE), gettext(LEAD), sections, tables, headline(book, found))


def _drawn_in(row: Sequence[Value]) -> float:
    """The drawn-in ratio of a row of the table of groups."""
    value = row[8]
    assert isinstance(value, float)
    return value


def headline(book: Book, found: Findings) -> str:
    """The two strongest stories of installs, or that there is none."""
    strongest = [s for s, signal in stories(book, found, own=True) if signal.by not in EQUIPMENT][:2]
    looked = gettext("{n} groups were looked at").format(n=found.signals.groups_looked_at)
    if not found.signals.groups_looked_at:
        return gettext("No group of systems is large enough yet to be compared with the rest.")
    if not strongest:
        return gettext(
            "No crew, batch or way of installing leaks more than its like beyond chance; {looked}."
        ).format(looked=looked)
    return " ".join(s.text for s in strongest) + f" {looked[0].upper()}{looked[1:]}."


def stories(book: Book, found: Findings, own: bool) -> list[tuple[Story, Signal]]:
    """Signals that stand for themselves, with those that show the same leaks behind them."""
    out = []
    for number, signal in enumerate(found.signals.found):
        if signal.within is None and signal.own is own:
            also = [s for s in found.signals.found if s.within == number]
            out.append((_story(book, signal, also), signal))
    return out


def times(ratio: Ratio) -> str:
    """`12.9 times (4.9 to 32.1)`; where the rest has none, what is at least true."""
    if ratio.value == inf:
        return gettext(
            "the others have none (at least {low} times, 95 % sure if it were the only look)"
        ).format(low=display.number(ratio.low))
    high = (
        gettext("to {high}").format(high=display.number(ratio.high, 3))
        if ratio.high < inf
        else gettext("upwards")
    )
    return gettext("{value} times the rest ({low} {high}, 95 % sure if it were the only look)").format(
        value=display.number(ratio.value, 3), low=display.number(ratio.low), high=high
    )


def sentence(book: Book, s: Signal) -> str:
    """`Osmere, crew O3, homes: 9 flare joint leaks in 77 system-years, 12.9 times the rest (4.9 to 32.1, 95 % sure if it were the only look).`"""
    lib = book.library
    what = names.leak(s.mode, lib)
    return gettext("{by}: {leaks} {what} in {years} system-years, {ratio}.").format(
        by=names.group(s.by, s.key, lib),
        leaks=s.rate.leaks,
        what=what,
        years=f"{s.rate.years:.0f}",
        ratio=times(s.ratio),
    )


def _story(book: Book, s: Signal, also: Sequence[Signal]) -> Story:
    lib = book.library
    like = (
        gettext("the same kind of place") if s.like_by == "setting" else gettext("the same kind of equipment")
    )
    if s.like is None:
        held = gettext("There is too little of {like} to hold it against.").format(like=like)
    elif s.like.value == inf:
        held = gettext("Others of {like} have none (at least {low} times, likewise).").format(
            like=like, low=display.number(s.like.low)
        )
    else:
        held = gettext("Among {like}: {value} times ({low} to {upto}, likewise).").format(
            like=like,
            value=display.number(s.like.value),
            low=display.number(s.like.low),
            upto=_upto(s.like),
        )
    spots = gettext("{leaking_systems} of {systems} systems had one.").format(
        leaking_systems=s.leaking_systems, systems=s.systems
    )
    return Story(
        title=gettext("{by}: {mode}").format(
            by=names.group(s.by, s.key, lib), mode=names.leak(s.mode, lib, many=False)
        ),
        text=sentence(book, s),
        figure=gettext("{ratio} times the average").format(ratio=display.number(s.shrunk)),
        word=" ".join(filter(None, (held, _of_its_age(s), spots))),
        shape="more" if s.own else "as-said",
        also=tuple(_shared(s, x, names.group(x.by, x.key, lib)) for x in also),
        cases=tuple(dict.fromkeys(leak.case.id for leak in s.leaks)),
        systems=tuple(dict.fromkeys(leak.watched.system.id for leak in s.leaks)),
        link=links.address("mode", s.mode) if s.mode != ALL else "",
    )


def _upto(ratio: Ratio) -> str:
    return display.number(ratio.high) if ratio.high < inf else gettext("any number")


def _of_its_age(s: Signal) -> str:
    """How it stands among its like of the same age; nothing where its like alone already may be chance."""
    if s.like is None or s.like.low <= 1:
        return ""
    if s.aged is None:
        return gettext("There is too little of the same age to hold it against.")
    if s.aged.value == inf:
        said = gettext("Of the same age, too, others have none (at least {low} times, likewise).").format(
            low=display.number(s.aged.low)
        )
    else:
        said = gettext("Of the same age, too: {value} times ({low} to {upto}, likewise).").format(
            value=display.number(s.aged.value), low=display.number(s.aged.low), upto=_upto(s.aged)
        )
    return said if s.aged.low > 1 else f"{said} {gettext('So much can be chance: age may be behind it.')}"


def _shared(s: Signal, other: Signal, group: str) -> str:
    """How many of a signal's leaks show in another group."""
    mine, theirs = ({(leak.case.id, leak.mode) for leak in x.leaks} for x in (s, other))
    return gettext("{n} in {group}").format(n=len(mine & theirs), group=group)


def _signals(book: Book, found: Sequence[Signal]) -> Table:
    lib = book.library
    rows = tuple(
        (
            names.group(s.by, s.key, lib),
            gettext(names.SORTS[s.by]),
            names.leak(s.mode, lib, many=False),
            s.rate.leaks,
            s.rate.years,
            s.expected,
            finite(s.ratio.value),
            s.ratio.low,
            finite(s.ratio.high),
            s.shrunk,
            finite(s.like.value) if s.like else None,
            s.like.low if s.like else None,
            finite(s.aged.value) if s.aged else None,
            s.aged.low if s.aged else None,
            s.q,
            gettext("yes")
            if s.own
            else gettext("not beyond chance")
            if s.like
            else gettext("no like to compare"),
            few_cases(s.leaks),
        )
        for s in found
    )
    return Table(
        "where-signals",
        gettext("Every group that stands out"),
        (
            Column("group", gettext("Group"), "text"),
            Column("by", gettext("Sorted by"), "text"),
            Column("mode", gettext("Leaks"), "text"),
            Column("leaks", gettext("How many"), "whole"),
            Column("years", gettext("System-years"), "number"),
            Column("expected", gettext("At the rate of the rest"), "number"),
            Column("ratio", gettext("Times the rest"), "number"),
            Column("low", gettext("At least"), "number"),
            Column("high", gettext("At most"), "number"),
            Column("drawn_in", gettext("Drawn in"), "number"),
            Column("like", gettext("Times its like"), "number"),
            Column("like_low", gettext("Its like, at least"), "number"),
            Column("aged", gettext("Times its like of its age"), "number"),
            Column("aged_low", gettext("Its like of its age, at least"), "number"),
            Column("q", gettext("Share of false alarms"), "number"),
            Column("own", gettext("More than its like"), "text"),
            Column("cases", gettext("Cases"), "case"),
        ),
        rows,
        gettext(
            "At least and at most: 95 % interval of each group as if it were the only look. Drawn in: the ratio "
            "against all systems, small groups drawn towards 1. An empty cell is a rest without a leak. Its like: systems of "
            "the same kind of equipment, for a kind those of the same kind of place. Of its age: each band of age "
            "by itself, reckoned where its like leaks less beyond chance."
        ),
    )


def _groups(book: Book, found: Findings) -> Table:
    lib = book.library
    rows = []
    for by in names.SORTS:
        for g in found.signals.groups.get((by, ALL), ()):
            rows.append(
                (
                    names.group(by, g.key, lib),
                    gettext(names.SORTS[by]),
                    g.systems,
                    g.rate.leaks,
                    g.rate.years,
                    g.rate.value,
                    g.rate.low,
                    g.rate.high,
                    g.shrunk,
                    gettext("yes") if g.q <= FALSE_SHARE else gettext("no"),
                )
            )
    return Table(
        "where-groups",
        gettext("All leaks by group"),
        (
            Column("group", gettext("Group"), "text"),
            Column("by", gettext("Sorted by"), "text"),
            Column("systems", gettext("Systems"), "whole"),
            Column("leaks", gettext("Leaks"), "whole"),
            Column("years", gettext("System-years"), "number"),
            Column("rate", gettext("Per 100 system-years"), "number"),
            Column("low", gettext("At least"), "number"),
            Column("high", gettext("At most"), "number"),
            Column("drawn_in", gettext("Against all, drawn in"), "number"),
            Column("stands_out", gettext("More than chance"), "text"),
        ),
        tuple(rows),
        gettext(
            "At least and at most: exact 95 % interval of the rate. Each way of sorting is in the "
            "order of the drawn-in ratio, so that a small group with one bad year does not lead the "
            "list."
        ),
    )


def _rates(book: Book, found: Findings) -> Table:
    overall = found.signals.overall
    rows = tuple(
        (mode, r.leaks, r.value, r.low, r.high)
        for mode, r in sorted(overall.items(), key=lambda x: (-x[1].leaks, x[0]))
        if mode != ALL
    )
    return Table(
        "where-rates",
        gettext("Each failure per 100 system-years"),
        (
            Column("mode", gettext("Failure"), "mode"),
            Column("leaks", gettext("Leaks"), "whole"),
            Column("rate", gettext("Per 100 system-years"), "number"),
            Column("low", gettext("At least"), "number"),
            Column("high", gettext("At most"), "number"),
        ),
        rows,
        gettext("At least and at most: exact 95 % interval (Poisson)."),
    )


def _funnel(book: Book, groups: Sequence[Group], each: float) -> Any:
    """Leaks over expected leaks against expected leaks, within the limits of chance; `each` leaks a system-year of all."""
    lib = book.library
    marks: list[dict[str, Any]] = []
    for g in groups:
        e = g.rate.years * each
        low, high = funnel_limits(np.array([e]), FAR)
        near_low, near_high = funnel_limits(np.array([e]), 0.95)
        k = g.rate.leaks
        standing = (
            "far above"
            if k > high[0]
            else "above"
            if k > near_high[0]
            else "below"
            if k < near_low[0]
            else "within"
        )
        if k < low[0]:
            standing = "far below"
        marks.append(
            {
                "expected": round(e, 3),
                "ratio": round(k / e, 3),
                "name": names.group(g.by, g.key, lib),
                "standing": standing,
            }
        )
    if len(marks) > MOST_MARKS:  # those that stand out, then the largest
        marks = sorted(marks, key=lambda m: (m["standing"] == "within", -m["expected"]))[:MOST_MARKS]
    top = max(m["expected"] for m in marks) * 1.05
    across = np.geomspace(max(0.5, min(m["expected"] for m in marks) * 0.8), top, 80)
    named = [gettext("95 in 100"), gettext("998 in 1000")]
    lines = []
    for level, name in zip((0.95, FAR), named, strict=True):
        low, high = funnel_limits(across, level)
        for side, values in (("low", low), ("high", high)):
            lines += [
                {"expected": round(float(e), 3), "ratio": round(float(v / e), 3), "limit": name, "side": side}
                for e, v in zip(across, values, strict=True)
            ]
    most = max([m["ratio"] for m in marks] + [2.0]) * 1.1
    first, points, limits_drawn = float(across[0]), tuple(marks), tuple(lines)

    def make(width: int) -> Any:
        import altair as alt  # late: it is slow

        x = alt.X(
            "expected:Q",
            title=gettext("Leaks at the rate of all"),
            scale=alt.Scale(type="log", domain=[first, top]),
        )
        x = x.axis(values=[1, 2, 5, 10, 20, 50, 100, 200, 500], grid=False, format="~g")
        y = alt.Y("ratio:Q", title=gettext("Times the rate of all"), scale=alt.Scale(domain=[0, most]))
        limits = (
            alt.Chart({"values": limits_drawn})
            .mark_line(interpolate="step-after", color=EDGE, strokeWidth=1.5, clip=True)
            .encode(
                x=x,
                y=y,
                detail=alt.Detail("side:N"),
                strokeDash=alt.StrokeDash(
                    "limit:N",
                    scale=alt.Scale(domain=named, range=[[6, 4], [2, 3]]),
                    legend=alt.Legend(title=gettext("By chance")),
                ),
            )
        )
        one = alt.Chart(alt.Data(values=[{"ratio": 1}])).mark_rule(color=INK_SOFT, strokeWidth=1).encode(y=y)
        groups_drawn = alt.Chart({"values": points})
        dots = groups_drawn.mark_point(filled=True, size=80, stroke=PAPER, strokeWidth=1).encode(
            x=x,
            y=y,
            shape=alt.Shape(
                "standing:N",
                scale=alt.Scale(
                    domain=["far above", "above", "within", "below", "far below"],
                    range=["diamond", "triangle-up", "circle", "triangle-down", "diamond"],
                ),
                legend=None,
            ),
            color=alt.ColorValue(COPPER, condition={"test": "datum.standing == 'within'", "value": INK_SOFT}),
        )
        words = (
            groups_drawn.transform_filter("datum.standing == 'far above' || datum.standing == 'far below'")
            .mark_text(align="right", dx=-9, color=INK)
            .encode(x=x, y=y, text=alt.Text("name:N"))
        )
        return alt.layer(limits, one, dots, words).properties(height=380 if width > 400 else 340)

    return make
