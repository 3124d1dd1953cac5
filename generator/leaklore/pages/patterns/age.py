"""Age at leak: when systems first leak, which failures come early in life and which with wear."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from leaklore.analysis.intervals import FEW
from leaklore.analysis.patterns.exposure import Leak
from leaklore.analysis.patterns.survival import (
    LEAST_AT_RISK,
    LEAST_FOR_SHAPE,
    STEPS,
    AgeAtLeak,
    Curve,
    Survival,
    thinned,
)
from leaklore.language import gettext, later
from leaklore.pages import display, links
from leaklore.pages.book import Book
from leaklore.pages.patterns.drawing import COPPER, INK_SOFT, PATINA, Make, draw, draw_small
from leaklore.pages.patterns.tables import Column, Table
from leaklore.pages.patterns.topic import Topic
from leaklore.pages.patterns.words import MANY, between, counted, few_cases, first_leaks, listed
from leaklore.pages.render import Templates

KEY = "age"
TITLE = later("Age at leak")
LEAD = later("How old systems are when they first leak, and which failures come early in life or with wear.")
LEAST_DRAWN = 8
"""First leaks from which a failure has a curve of its own."""
MOST_DRAWN = 12
"""Small pictures at most, of the commonest failures."""
TOLD = (5.0, 10.0, 15.0)
"""Years; ages in the table of failures."""
SMALL_STEPS = 100
"""Steps of a small picture at most."""
SCALE = 44
"""px; for the words of the upright scale of a small picture."""


def topic(book: Book, found: Survival, templates: Templates) -> Topic:
    """The topic; without enough systems it says what is missing."""
    curve = found.any.curve
    tables = [_ages(curve, found.any.leaks)] if curve else []
    modes = _modes(book, found)
    shapes = _shapes(found)
    settings = _settings(book, found)
    tables += [t for t in (modes, shapes, settings) if t.rows]
    drawn = [x for x in found.modes if x.curve and int(x.curve.leaks.sum()) >= LEAST_DRAWN][:MOST_DRAWN]
    early, worn = (_names(book, found, verdict) for verdict in ("early", "wear-out"))
    sections = templates.render(
        "patterns_age.html",
        f"patterns/{KEY}/",
        systems=found.any.systems,
        least=LEAST_AT_RISK,
        least_shape=LEAST_FOR_SHAPE,
        few=FEW,
        curve=curve,
        first=draw(_first(curve), gettext("Systems that have had a leak, by age"), _says(curve), tables[0])
        if curve
        else None,
        says=_says(curve) if curve else "",
        ages=tables[0] if curve else None,
        small=draw_small(_small(book, drawn), gettext("Systems that have had this leak, by age"), modes)
        if drawn
        else None,
        most_drawn=MOST_DRAWN,
        least_drawn=LEAST_DRAWN,
        modes=modes,
        shapes=shapes,
        fitted=sum(x.weibull is not None for x in found.modes),
        early=early,
        worn=worn,
        settings=settings,
        differ=found.by_setting is not None and found.by_setting.p < 0.05,
        settings_few=_few_by_setting(found),
        p_settings=_p(found.by_setting.p) if found.by_setting else "",
    )
    return Topic(KEY, gettext(TITLE), gettext(LEAD), sections, tuple(tables), _headline(curve, early, worn))


def _few_by_setting(found: Survival) -> str:
    """Why settings can't be compared; empty where they can."""
    n = sum(found.by_setting.observed) if found.by_setting else 0
    return first_leaks(n) + gettext(" on record: too few to tell.") if n < FEW else ""


def _p(p: float) -> str:
    return gettext("less than 0.001") if p < 0.001 else f"{p:.2g}"


def _names(book: Book, found: Survival, verdict: str) -> list[tuple[str, str]]:
    return [
        (x.mode, links.name_of("mode", x.mode, book.library)) for x in found.modes if x.verdict == verdict
    ]


def _says(curve: Curve) -> str:
    """What the curve says at 10 years, or at the last round age before it."""
    start, end = display.number(curve.start), display.number(curve.end)
    told = [r for r in curve.rows if r.age <= 10 and r.leaks]
    n = int(curve.leaks.sum())
    if curve.few:
        return first_leaks(n) + gettext(
            " on record between the ages {start} and {end}: too few to tell."
        ).format(start=start, end=end)
    if not told:
        return gettext("{n} systems had a first leak between the ages {start} and {end}.").format(
            n=n, start=start, end=end
        )
    row = told[-1]
    return gettext(
        "By age {age}, {share} of systems{since} have had a leak ({low}, 95 % sure; {leaks} first leaks)."
    ).format(
        age=display.number(row.age),
        share=display.percent(row.share),
        since=_since(curve),
        low=between(row.low, row.high),
        leaks=row.leaks,
    )


def _since(curve: Curve) -> str:
    """Of which systems a curve speaks that does not begin with their life."""
    if curve.start <= 0:
        return ""
    return gettext(" that came to age {start} without one").format(start=display.number(curve.start))


def _headline(curve: Curve | None, early: Sequence[tuple[str, str]], worn: Sequence[tuple[str, str]]) -> str:
    if curve is None:
        return gettext(
            "Fewer than {least_at_risk} systems were under watch at one age: too few to tell at what "
            "age they leak."
        ).format(least_at_risk=LEAST_AT_RISK)
    median = curve.median
    if median is None or curve.few:
        out = _says(curve)
    else:
        doubt = (
            gettext(" ({low} to {high}, 95 % sure)").format(
                low=display.number(median.low), high=display.number(median.high)
            )
            if median.low is not None and median.high is not None
            else ""
        )
        out = gettext("Half of our systems{since} have had a leak by age {age} years{doubt}.").format(
            since=_since(curve), age=display.number(median.age), doubt=doubt
        )
    if early:
        out += gettext(" Early in life: {listed}.").format(listed=listed([name for _, name in early]))
    if worn:
        out += gettext(" With wear: {listed}.").format(listed=listed([name for _, name in worn]))
    return out


def _ages(curve: Curve, leaks: Sequence[Leak]) -> Table:
    rows = []
    since = curve.start
    for r in curve.rows:
        rows.append(
            (
                r.age,
                r.at_risk,
                r.leaks,
                r.share,
                r.low,
                r.high,
                few_cases([x for x in leaks if since < x.age <= r.age]),
            )
        )
        since = r.age
    return Table(
        "age-first-leak",
        gettext("Systems that have had a leak, by age"),
        (
            Column("age", gettext("Age, years"), "number"),
            Column("at_risk", gettext("Still without a leak and under watch"), "whole"),
            Column("leaks", gettext("First leaks so far"), "whole"),
            Column("share", gettext("Have had a leak"), "percent"),
            Column("low", gettext("At least"), "percent"),
            Column("high", gettext("At most"), "percent"),
            Column("cases", gettext("First leaks since the age above"), "case"),
        ),
        tuple(rows),
        gettext(
            "From age {start} to {end}, where at least {least_at_risk} systems without a leak were "
            "under watch. At least, at most: 95 % sure. More than {many} cases are not listed."
        ).format(
            start=display.number(curve.start),
            end=display.number(curve.end),
            least_at_risk=LEAST_AT_RISK,
            many=MANY,
        ),
    )


def _modes(book: Book, found: Survival) -> Table:
    columns = [Column("mode", gettext("Failure"), "mode"), Column("leaks", gettext("First leaks"), "whole")]
    for age in TOLD:
        columns += [
            Column(f"by_{age:.0f}", gettext("By age {age}").format(age=f"{age:.0f}"), "percent"),
            Column(f"low_{age:.0f}", gettext("By {age}, at least").format(age=f"{age:.0f}"), "percent"),
            Column(f"high_{age:.0f}", gettext("By {age}, at most").format(age=f"{age:.0f}"), "percent"),
        ]
    columns.append(Column("cases", gettext("Cases"), "case"))
    rows = []
    for x in found.modes:
        cells: list[Any] = [x.mode, len(x.leaks)]
        by_age = {r.age: r for r in x.curve.rows} if x.curve and not x.curve.few else {}
        for age in TOLD:
            row = by_age.get(age)
            cells += [row.share, row.low, row.high] if row else [None, None, None]
        rows.append((*cells, few_cases(x.leaks)))
    return Table(
        "age-by-failure",
        gettext("Systems that have had this leak, by failure"),
        tuple(columns),
        tuple(rows),
        gettext(
            "Share of systems, 95 % sure. No share is given from fewer than {few} first leaks. More "
            "than {many} cases are listed on the page of the failure."
        ).format(few=FEW, many=MANY),
    )


def _reading(x: AgeAtLeak) -> str:
    law = x.weibull
    if law is None:
        return gettext("Too few to tell")
    if x.verdict == "early":
        return gettext("Rarer with age: look at the installation")
    if x.verdict == "wear-out":
        return gettext("More often with age: wear")
    if law.verdict == "either":
        return gettext("Can’t tell")
    return gettext("Can’t tell: may be chance among so many looks")


def _shapes(found: Survival) -> Table:
    rows = tuple(
        (
            x.mode,
            len(x.leaks),
            x.weibull.shape if x.weibull else None,
            x.weibull.shape_low if x.weibull else None,
            x.weibull.shape_high if x.weibull else None,
            _reading(x),
        )
        for x in found.modes
        if x.weibull
    )
    return Table(
        "age-early-or-wear",
        gettext("Early failure or wear"),
        (
            Column("mode", gettext("Failure"), "mode"),
            Column("leaks", gettext("First leaks"), "whole"),
            Column("shape", gettext("Shape"), "number"),
            Column("low", gettext("At least"), "number"),
            Column("high", gettext("At most"), "number"),
            Column("reading", gettext("What it means"), "text"),
        ),
        rows,
        gettext(
            "Shape of a Weibull law, with late entry and censoring; interval of the likelihood, 95 % sure."
        ),
    )


def _settings(book: Book, found: Survival) -> Table:
    test = found.by_setting
    rows = (
        tuple(
            (links.name_of("setting", key, book.library), observed, expected)
            for key, observed, expected in zip(found.settings, test.observed, test.expected, strict=True)
        )
        if test
        else ()
    )
    return Table(
        "age-by-setting",
        gettext("First leaks by setting, age for age"),
        (
            Column("setting", gettext("Setting"), "text"),
            Column("leaks", gettext("First leaks"), "whole"),
            Column("expected", gettext("If all settings leaked alike"), "number"),
        ),
        rows,
        gettext(
            "Each leak is dealt to the settings by how many systems of that age were under watch in each."
        ),
    )


def _steps(curve: Curve, most: int = STEPS) -> tuple[dict[str, float], ...]:
    """Points of the rising curve: a level start, its steps, a level end."""
    kept = thinned(curve.ages, most)
    columns = (curve.ages[kept], 1 - curve.still[kept], 1 - curve.high[kept], 1 - curve.low[kept])
    rows = [
        {
            "age": round(float(a), 3),
            "share": round(float(s), 4),
            "low": round(float(b), 4),
            "high": round(float(t), 4),
        }
        for a, s, b, t in zip(*columns, strict=True)
    ]
    start = {"age": round(curve.start, 3), "share": 0.0, "low": 0.0, "high": 0.0}
    return (start, *rows, {**(rows[-1] if rows else start), "age": round(curve.end, 3)})


def _picture(
    steps: Sequence[Mapping[str, float]], top: float, last: float, titles: tuple[str | None, str | None]
) -> Any:
    """Curve and band; `steps` as from `_steps`."""
    import altair as alt

    extent = SCALE if titles[1] is None else 0
    base = alt.Chart({"values": steps})
    x = alt.X(
        "age:Q", title=titles[0], scale=alt.Scale(domain=[0, last], nice=False), axis=alt.Axis(tickCount=4)
    )
    y = alt.Y(
        "low:Q",
        title=titles[1],
        scale=alt.Scale(domain=[0, top], nice=False),
        axis=alt.Axis(format=".0%", tickCount=4, minExtent=extent),
    )
    band = base.mark_area(interpolate="step-after", color=PATINA, opacity=0.25).encode(
        x=x, y=y, y2=alt.Y2("high:Q")
    )
    line = base.mark_line(interpolate="step-after", color=COPPER, strokeWidth=2).encode(
        x=x, y=alt.Y("share:Q")
    )
    return alt.layer(band, line)


def _first(curve: Curve) -> Any:
    """With a tick for the systems that left the watch without a leak."""
    steps, end = _steps(curve), curve.end
    gone = tuple({"age": float(a)} for a in np.unique(np.round(curve.gone * 5) / 5))

    def make(width_px: int) -> Any:
        import altair as alt  # late: it is slow

        made = _picture(steps, 1.0, end, (gettext("Age of the system, years"), gettext("Have had a leak")))
        ticks = alt.Chart({"values": gone}).mark_rule(color=INK_SOFT, strokeWidth=1)
        rug = ticks.encode(x=alt.X("age:Q"), y=alt.YDatum(0), y2=alt.Y2Datum(0.025))
        return alt.layer(made, rug).properties(height=300 if width_px > 500 else 240)

    return make


def _small(book: Book, drawn: Sequence[AgeAtLeak]) -> list[tuple[str, str, str, Make]]:
    curves = [(x.mode, x.curve) for x in drawn if x.curve]
    last = max(curve.end for _, curve in curves)
    top = min(1.0, max(float(1 - curve.low.min()) for _, curve in curves))
    return [
        (
            mode,
            links.name_of("mode", mode, book.library),
            counted(int(curve.leaks.sum())),
            _panel(_steps(curve, SMALL_STEPS), top, last),
        )
        for mode, curve in curves
    ]


def _panel(steps: Sequence[Mapping[str, float]], top: float, last: float) -> Make:
    return lambda width_px: _picture(steps, top, last, (None, None)).properties(height=110)
