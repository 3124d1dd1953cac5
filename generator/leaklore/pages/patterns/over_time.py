"""Over time: leaks by quarter, which quarters chance would not make, and whether anything changes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import isfinite
from typing import Any

from leaklore.analysis.intervals import FEW
from leaklore.analysis.patterns.over_time import OverTime, Point, Series, Trend
from leaklore.analysis.patterns.rates import PER
from leaklore.language import gettext, later
from leaklore.pages import display, links
from leaklore.pages.book import Book
from leaklore.pages.patterns.age import MOST_DRAWN
from leaklore.pages.patterns.drawing import COPPER, EDGE, INK, INK_SOFT, PAPER, TUBE, Make, draw, draw_small
from leaklore.pages.patterns.tables import Column, Table, cut
from leaklore.pages.patterns.topic import Topic
from leaklore.pages.patterns.words import MANY, counted, few_cases, leaks, listed
from leaklore.pages.render import Templates

KEY = "over-time"
TITLE = later("Over time")
LEAD = later("Leaks by quarter for the systems then under watch, and whether they become more or fewer.")
LEAST_DRAWN = 8
"""Leaks from which a failure has a picture of its own."""
WORDS = later(
    {
        "within": "within chance",
        "high": "high",
        "low": "low",
        "far-high": "far too high for chance",
        "far-low": "far too low for chance",
    }
)
SHAPES = {
    "within": "circle",
    "high": "triangle-up",
    "low": "triangle-down",
    "far-high": "diamond",
    "far-low": "diamond",
}


def topic(book: Book, found: OverTime, templates: Templates) -> Topic:
    """The topic."""
    quarters, modes, unusual = _quarters(found.all), _modes(found), _unusual(found)
    drawn = [s for s in found.modes if s.leaks >= LEAST_DRAWN][:MOST_DRAWN]
    changing = [s for s in found.modes if s.changes]
    by_quarter = _by_quarter(book, drawn)
    enough = found.all.trend is not None
    sections = templates.render(
        "patterns_over_time.html",
        f"patterns/{KEY}/",
        few=FEW,
        all=found.all,
        enough=enough,
        first=draw(
            _rates(found.all),
            gettext("Leaks per 100 system-years, by quarter"),
            gettext("Each mark is a quarter. A hollow one is not whole."),
            quarters,
        )
        if enough
        else None,
        quarters=quarters,
        says=_says(found.all),
        trend=_trend(found.all.trend),
        outside=len(found.all.outside),
        by_chance=display.number(0.05 * len(found.quarters)),
        uneven=found.all.uneven is not None and found.all.uneven < 0.05,
        parts=[q.name for q in found.quarters if not q.whole],
        small=draw_small(_small(book, drawn), gettext("Leaks by quarter, by failure"), by_quarter)
        if drawn
        else None,
        by_quarter=by_quarter,
        least_drawn=LEAST_DRAWN,
        most_drawn=MOST_DRAWN,
        modes=modes,
        unusual=cut(unusual, gettext("first")),
        outside_of_failures=len(unusual.rows),
        changing=[(s.mode, links.name_of("mode", s.mode, book.library), _trend(s.trend)) for s in changing],
        looked_at=found.looked_at,
        looks=len(found.quarters) * len(found.modes),
    )
    tables = [t for t in (quarters, by_quarter, unusual, modes) if t.rows]
    return Topic(KEY, gettext(TITLE), gettext(LEAD), sections, tuple(tables), _headline(book, found))


def _trend(found: Trend | None) -> str:
    """`3 % fewer a year (between 11 % fewer and 6 % more, 95 % sure)`."""
    if found is None:
        return ""

    def told(factor: float) -> str:
        if not isfinite(factor) or factor > 10:
            return gettext("more than ten times as many")
        if factor >= 2:
            return gettext("{factor} times as many").format(factor=display.number(factor))
        change = round(100 * (factor - 1))
        share = f"{abs(change)}{display.NARROW}%"
        return (gettext("{share} fewer") if change < 0 else gettext("{share} more")).format(share=share)

    return gettext("{factor} a year (between {low} and {high}, 95 % sure)").format(
        factor=told(found.factor), low=told(found.low), high=told(found.high)
    )


def _headline(book: Book, found: OverTime) -> str:
    every = found.all
    if every.trend is None or every.overall is None:
        return leaks(every.leaks) + gettext(" on record: too few to tell whether they become more or fewer.")
    rate = display.number(every.overall.value, 3)
    if every.changes:
        out = gettext("Leaks change: {trend}").format(trend=_trend(every.trend))
    else:
        out = gettext(
            "{rate} leaks per 100 system-years, with no trend that chance could not make: {trend}"
        ).format(rate=rate, trend=_trend(every.trend))
    names = listed([links.name_of("mode", s.mode, book.library) for s in found.modes if s.changes])
    return gettext("{out}. By failure: {names}.").format(out=out, names=names) if names else f"{out}."


def _says(every: Series) -> str:
    if every.overall is None:
        return gettext("No system was under watch.")
    r = every.overall
    return gettext(
        "{leaks} leaks in {years} system-years: {value} per 100 ({low} to {high}, 95 % sure)."
    ).format(
        leaks=every.leaks,
        years=display.number(r.years, 4),
        value=display.number(r.value, 3),
        low=display.number(r.low, 3),
        high=display.number(r.high, 3),
    )


def _limits(p: Point) -> tuple[float, float] | None:
    """95 % limits as rates per 100 system-years."""
    years = p.quarter.years
    return (PER * p.near[0] / years, PER * p.near[1] / years) if years > 0 else None


def _quarters(every: Series) -> Table:
    rows = []
    for p in every.points:
        limits = _limits(p)
        rows.append(
            (
                _name(p),
                p.quarter.years,
                len(p.leaks),
                p.expected,
                p.near[0],
                p.near[1],
                p.rate.value if p.rate else None,
                limits[0] if limits else None,
                limits[1] if limits else None,
                gettext(WORDS[p.standing]),
                few_cases(p.leaks),
            )
        )
    return Table(
        "over-time-quarters",
        gettext("Leaks by quarter"),
        (
            Column("quarter", gettext("Quarter"), "text"),
            Column("years", gettext("System-years"), "number"),
            Column("leaks", gettext("Leaks"), "whole"),
            Column("expected", gettext("At the rate of all quarters"), "number"),
            Column("least", gettext("By chance, at least"), "whole"),
            Column("most", gettext("By chance, at most"), "whole"),
            Column("rate", gettext("Per 100 system-years"), "number"),
            Column("rate_least", gettext("By chance per 100, at least"), "number"),
            Column("rate_most", gettext("By chance per 100, at most"), "number"),
            Column("standing", gettext("So it is"), "text"),
            Column("cases", gettext("Cases"), "case"),
        ),
        tuple(rows),
        gettext(
            "By chance: the range in which 95 of 100 quarters lie if all leak alike. More than "
            "{many} cases are not listed."
        ).format(many=MANY),
    )


def _modes(found: OverTime) -> Table:
    rows = []
    for s in found.modes:
        t = s.trend
        rows.append(
            (
                s.mode,
                s.leaks,
                s.overall.value if s.overall else None,
                s.overall.low if s.overall else None,
                s.overall.high if s.overall else None,
                t.factor if t else None,
                t.low if t else None,
                t.high if t and isfinite(t.high) else None,
                gettext("Too few to tell")
                if t is None
                else (gettext("Changes") if s.changes else gettext("No trend that chance could not make")),
            )
        )
    return Table(
        "over-time-failures",
        gettext("Each failure over time"),
        (
            Column("mode", gettext("Failure"), "mode"),
            Column("leaks", gettext("Leaks"), "whole"),
            Column("rate", gettext("Per 100 system-years"), "number"),
            Column("rate_low", gettext("Rate, at least"), "number"),
            Column("rate_high", gettext("Rate, at most"), "number"),
            Column("factor", gettext("Times as many each year"), "number"),
            Column("low", gettext("Times, at least"), "number"),
            Column("high", gettext("Times, at most"), "number"),
            Column("reading", gettext("What it means"), "text"),
        ),
        tuple(rows),
        gettext(
            "At least, at most: 95 % sure, each failure by itself. What it means allows for the "
            "number of failures looked at."
        ),
    )


def _by_quarter(book: Book, drawn: Sequence[Series]) -> Table:
    """Leaks behind the small pictures."""
    names = [links.name_of("mode", s.mode, book.library) for s in drawn]
    return Table(
        "over-time-by-failure",
        gettext("Leaks by quarter, by failure"),
        (
            Column("quarter", gettext("Quarter"), "text"),
            *(Column(s.mode, name, "whole") for s, name in zip(drawn, names, strict=True)),
        ),
        tuple(
            (_name(points[0]), *(len(p.leaks) for p in points))
            for points in zip(*(s.points for s in drawn), strict=True)
        ),
        gettext("Failures with at least {least_drawn} leaks, the {most_drawn} commonest at most.").format(
            least_drawn=LEAST_DRAWN, most_drawn=MOST_DRAWN
        ),
    )


def _name(p: Point) -> str:
    return (
        p.quarter.name if p.quarter.whole else gettext("{quarter}, not whole").format(quarter=p.quarter.name)
    )


def _unusual(found: OverTime) -> Table:
    rows = [
        (
            _name(p),
            s.mode,
            len(p.leaks),
            p.expected,
            gettext(WORDS[p.standing]),
            few_cases(p.leaks),
        )
        for s in found.modes
        for p in s.outside
    ]
    return Table(
        "over-time-unusual",
        gettext("Quarters outside their range"),
        (
            Column("quarter", gettext("Quarter"), "text"),
            Column("mode", gettext("Failure"), "mode"),
            Column("leaks", gettext("Leaks"), "whole"),
            Column("expected", gettext("At the rate of all quarters"), "number"),
            Column("standing", gettext("So it is"), "text"),
            Column("cases", gettext("Cases"), "case"),
        ),
        tuple(rows),
    )


def _axis(names: Sequence[str], width_px: int) -> Any:
    """Quarters across, a year written at its first."""
    import altair as alt

    years = max(1, len(names) // 4)
    each = max(1, -(-years * 50 // width_px))
    shown = [n for n in names if n.endswith("Q1") and int(n[:4]) % each == 0] or list(names[:1])
    return alt.X(
        "quarter:O",
        title=None,
        scale=alt.Scale(domain=list(names), paddingOuter=0.3),
        axis=alt.Axis(values=shown, labelExpr="slice(datum.label, 0, 4)", labelAngle=0, ticks=True),
    )


def _rates(every: Series) -> Any:
    points = [p for p in every.points if p.rate]
    rows = []
    for p in points:
        near, years = _limits(p), p.quarter.years
        assert p.rate is not None
        assert near is not None
        rows.append(
            {
                "quarter": p.quarter.name,
                "rate": round(p.rate.value, 3),
                "least": round(near[0], 3),
                "most": round(near[1], 3),
                "far_least": round(PER * p.far[0] / years, 3),
                "far_most": round(PER * p.far[1] / years, 3),
                "standing": p.standing,
                "whole": p.quarter.whole,
                "label": "" if p.standing == "within" else f"{p.quarter.name}: {len(p.leaks)}",
            }
        )
    data, head = tuple(rows), tuple(rows[:1])
    level = every.overall.value if every.overall else 0.0
    names = [p.quarter.name for p in points]

    def make(width_px: int) -> Any:
        import altair as alt  # late: it is slow

        x = _axis(names, width_px)
        base = alt.Chart({"values": data})
        y_title = gettext("Leaks per 100 system-years")

        def limit(field: str, dash: list[int]) -> Any:
            return base.mark_line(
                interpolate="step", color=INK_SOFT, strokeWidth=1.5, strokeDash=dash
            ).encode(x=x, y=alt.Y(f"{field}:Q", title=y_title, axis=alt.Axis(tickCount=5)))

        middle = alt.Chart({"values": [{"level": round(level, 3)}]}).mark_rule(color=EDGE, strokeWidth=1.5)
        shape = alt.Shape(
            "standing:N", legend=None, scale=alt.Scale(domain=list(SHAPES), range=list(SHAPES.values()))
        )
        path = base.mark_line(color=TUBE, strokeWidth=1.5).encode(x=x, y=alt.Y("rate:Q"))
        marks = base.mark_point(filled=True, size=100, stroke=COPPER, strokeWidth=2).encode(
            x=x,
            y=alt.Y("rate:Q"),
            shape=shape,
            fill=alt.FillValue(PAPER, condition={"test": "datum.whole", "value": COPPER}),
        )
        first = alt.Chart({"values": head})
        named = [
            first.mark_text(align="left", dy=-18, color=INK_SOFT, text=text).encode(
                x=x, y=alt.Y(f"{field}:Q")
            )
            for field, text in (("most", gettext("95 of 100")), ("far_most", gettext("998 of 1000")))
        ]
        words = base.mark_text(dy=-14, color=INK).encode(x=x, y=alt.Y("rate:Q"), text=alt.Text("label:N"))
        layers = [
            limit("least", [6, 5]),
            limit("most", [6, 5]),
            limit("far_least", [2, 4]),
            limit("far_most", [2, 4]),
        ]
        return alt.layer(middle.encode(y=alt.Y("level:Q")), *layers, *named, path, marks, words).properties(
            height=300 if width_px > 500 else 260
        )

    return make


def _small(book: Book, drawn: Sequence[Series]) -> list[tuple[str, str, str, Make]]:
    top = max(max(len(p.leaks), p.near[1]) for s in drawn for p in s.points)
    return [
        (s.mode, links.name_of("mode", s.mode, book.library), counted(s.leaks), _panel(_by_rows(s), top))
        for s in drawn
    ]


def _by_rows(of: Series) -> list[dict[str, Any]]:
    return [
        {
            "quarter": p.quarter.name,
            "leaks": len(p.leaks),
            "most": p.near[1],
            "standing": p.standing,
            "whole": p.quarter.whole,
        }
        for p in of.points
    ]


def _panel(rows: Sequence[Mapping[str, Any]], top: int) -> Make:
    """One small picture, its scale up to so many leaks."""
    extent = 16 + 10 * len(str(top + 1))  # px; for the words of the upright scale

    def make(width_px: int) -> Any:
        import altair as alt  # late: it is slow

        x = _axis([row["quarter"] for row in rows], width_px - extent)
        y = alt.Y(
            "leaks:Q",
            title=None,
            scale=alt.Scale(domain=[0, top + 1], nice=False),
            axis=alt.Axis(
                values=list(range(0, top + 2, max(1, (top + 1) // 3))),
                format="d",
                minExtent=extent,
                maxExtent=extent,
            ),
        )
        base = alt.Chart({"values": rows})
        limit = base.mark_line(interpolate="step", color=INK_SOFT, strokeWidth=1.5, strokeDash=[4, 4]).encode(
            x=x, y=alt.Y("most:Q", title=None)
        )
        some = alt.Chart({"values": [row for row in rows if row["leaks"]]})
        stems = some.mark_rule(color=TUBE, strokeWidth=2).encode(x=x, y=y, y2=alt.Y2Datum(0))
        marks = some.mark_point(filled=True, size=40, stroke=COPPER, strokeWidth=1.5).encode(
            x=x,
            y=alt.Y("leaks:Q"),
            shape=alt.Shape(
                "standing:N",
                legend=None,
                scale=alt.Scale(domain=list(SHAPES), range=list(SHAPES.values())),
            ),
            fill=alt.FillValue(PAPER, condition={"test": "datum.whole", "value": COPPER}),
        )
        return alt.layer(stems, limit, marks).properties(height=90)

    return make
