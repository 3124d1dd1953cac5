"""What it costs: failure modes by money and by charge, wrong first diagnoses, repairs that came back, techniques."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from statistics import median
from typing import Any

from leaklore.analysis.intervals import FEW
from leaklore.analysis.patterns.money import Bar, Costs
from leaklore.language import gettext, later, ngettext
from leaklore.pages import display, links
from leaklore.pages.book import Book
from leaklore.pages.display import LB
from leaklore.pages.patterns.drawing import COPPER, INK, PAPER, PATINA, draw
from leaklore.pages.patterns.tables import Column, Kind, Table, cut
from leaklore.pages.patterns.topic import Topic
from leaklore.pages.render import Templates

KEY = "cost"
TITLE = later("What it costs")
LEAD = later("Which failures carry the money and the charge, and what was spent for nothing.")
LETTERS = 20
"""Letters of a name in the narrow picture; a longer one is broken into lines."""
MIDDLE = 3
"""Whole years from which on it is told between what they cost."""
CLEAR = 0.9
"""A mode stands first for sure if it does in so many of the draws."""
NAMES = later(
    {
        "money": "Money",
        "lost": "Charge lost",
        "co2e": "Warming",
        "hours": "Working hours",
        "cases": "Cases",
        "callbacks": "Repairs that came back",
    }
)
"""Measures in the order of the page."""


def weight(book: Book) -> tuple[str, float]:
    """The company's unit of mass for tables, and how many kg it is."""
    return ("lb", LB) if book.display.us_first else ("kg", 1.0)


def between(low: float, high: float) -> str:
    """`5 to 18 %`."""
    return gettext("{low} to {high}").format(low=round(100 * low), high=display.percent(high))


def topic(book: Book, found: Costs, templates: Templates) -> Topic:
    """The topic; without a proven case it says what will stand there."""
    orders = {m: _order(book, found, m) for m in NAMES if m in found.bars}
    wrong, back, methods = _misread(found), _came_back(found), _techniques(book, found)
    years = _by_year(book, found)
    isolation = found.isolation
    sections = templates.render(
        "patterns_cost.html",
        f"patterns/{KEY}/",
        found=found,
        few=FEW,
        charts={m: _chart(book, found, m, orders[m]) for m in ("money", "lost") if m in orders},
        says={m: _says(book, found, m) for m in ("money", "lost") if m in orders},
        orders=orders,
        years=years,
        spans=_spans(book, found),
        total=sum(row.sums["money"] for row in found.modes),
        whole=sum(row.told["money"] for row in found.modes),
        looked_at=sum(row.told["callbacks"] for row in found.modes),
        wrong=cut(wrong, gettext("dearest")),
        wrong_cases=sum(len(x.cases) for x in found.misread),
        wrong_money=sum(x.money for x in found.misread),
        wrong_hours=display.number(sum(x.minutes for x in found.misread) / 60),
        back=cut(back, gettext("dearest")),
        back_money=sum((x.repair or 0) + (x.visit_money or 0) for x in found.came_back),
        visits=sum(x.visit is not None for x in found.came_back),
        techniques=methods,
        saved=_saved(found),
        avoided=sum(len(x.avoided) for x in found.techniques),
        isolation=isolation,
        isolation_between=gettext("{low} to {high}").format(
            low=display.minutes(isolation.low), high=display.minutes(isolation.high)
        )
        if isolation and isolation.low is not None and isolation.high is not None
        else "",
    )
    tables = [t for t in (*orders.values(), years, wrong, back, methods) if t.rows]
    return Topic(KEY, gettext(TITLE), gettext(LEAD), sections, tuple(tables), _headline(book, found))


def _saved(found: Costs) -> float | None:
    """What all tests that were made unnecessary would have taken; None where one of them has no like on record."""
    each = [x.avoided_money for x in found.techniques if x.avoided]
    told = [money for money in each if money is not None]
    return sum(told) if len(told) == len(each) else None


def _name(book: Book, mode: str) -> str:
    return links.name_of("mode", mode, book.library)


def _shown(book: Book, measure: str, value: float) -> str:
    """A sum of a measure in words."""
    if measure == "money":
        return book.display.money(value)
    if measure == "lost":
        return book.display.first(value, "mass")
    return display.number(value)


def _few(found: Costs) -> frozenset[str]:
    return frozenset(row.mode for row in found.modes if len(row.cases) < FEW)


def _says(book: Book, found: Costs, measure: str) -> str:
    """Who stands first, and how sure that is."""
    bars = found.bars[measure]
    if found.cases < FEW:
        return gettext("{so_few}: too few to tell.").format(so_few=_so_few(found))
    top = bars[0]
    total = sum(b.value for b in bars)
    out = gettext("{name} took {share} of {shown} ({low}, 95 % sure).").format(
        name=_name(book, top.mode),
        share=display.percent(top.share),
        shown=_shown(book, measure, total),
        low=between(top.low, top.high),
    )
    if top.first >= CLEAR:
        return gettext("{out} It stands first in {round} of 100 redraws of the cases.").format(
            out=out, round=round(100 * top.first)
        )
    return gettext(
        "{out} In {round} of 100 redraws of the cases another one stands first, so don’t plan by "
        "the order of the first bars."
    ).format(out=out, round=round(100 * (1 - top.first)))


def _so_few(found: Costs) -> str:
    if not found.cases:
        return gettext("No proven case yet")
    return ngettext("Only {n} proven case", "Only {n} proven cases", found.cases).format(n=found.cases)


def _headline(book: Book, found: Costs) -> str:
    if found.cases < FEW:
        return gettext("{so_few}: too few to tell what leaks cost.").format(so_few=_so_few(found))
    bars = found.bars.get("money", ())
    if not bars:
        return gettext("{cases} cases with a proven cause, and no cost of any is on record.").format(
            cases=found.cases
        )
    whole = sum(row.told["money"] for row in found.modes) == found.cases
    out = (
        gettext("{cases} cases with a proven cause cost {total}.")
        if whole
        else gettext("{cases} cases with a proven cause cost {total} as far as they tell it.")
    ).format(cases=found.cases, total=book.display.money(sum(b.value for b in bars)))
    if len(bars) == 1:
        return out
    few = next(i for i, b in enumerate(bars, start=1) if b.running >= 0.5)
    half = bars[few - 1]
    return out + gettext(
        " {few} of {bars} failures carry half of it ({running}; {running_low}, 95 % sure)."
    ).format(
        few=few,
        bars=len(bars),
        running=display.percent(half.running),
        running_low=between(half.running_low, half.running_high),
    )


def _order(book: Book, found: Costs, measure: str) -> Table:
    """Failure modes by one measure, the greatest first."""
    unit, kg = weight(book)
    kind: Kind = "money" if measure == "money" else "whole" if measure in ("cases", "callbacks") else "number"
    titles = {
        "money": gettext("Money, {currency}").format(currency=found.currency),
        "lost": gettext("Lost, {unit}").format(unit=unit),
        "co2e": "t CO₂e",
        "hours": gettext("Hours"),
        "cases": gettext("Cases"),
        "callbacks": gettext("Came back"),
    }
    rows = {row.mode: row for row in found.modes}
    scale = kg if measure == "lost" else 1.0
    lines = []
    for b in found.bars[measure]:
        value: float = round(b.value) if kind == "whole" else b.value / scale
        cells = (b.mode, value, b.share, b.low, b.high, b.running, b.running_low, b.running_high, b.first)
        lines.append((*cells, rows[b.mode].told[measure], len(rows[b.mode].cases)))
    return Table(
        f"{KEY}-by-{measure}",
        gettext("Failures by {lower}").format(lower=gettext(NAMES[measure]).lower()),
        (
            Column("mode", gettext("Failure"), "mode"),
            Column(f"lost_{unit}" if measure == "lost" else f"{measure}_sum", titles[measure], kind),
            Column("share", gettext("Share"), "percent"),
            Column("low", gettext("At least"), "percent"),
            Column("high", gettext("At most"), "percent"),
            Column("running", gettext("With all above"), "percent"),
            Column("running_low", gettext("With all above, at least"), "percent"),
            Column("running_high", gettext("With all above, at most"), "percent"),
            Column("first", gettext("Stands first in so many redraws"), "percent"),
            Column("told", gettext("Cases that tell it in full"), "whole"),
            Column("cases", gettext("Proven cases"), "whole"),
        ),
        tuple(lines),
        gettext("At least, at most: 95 % sure. The cases of each failure are listed on its page."),
    )


def _chart(book: Book, found: Costs, measure: str, table: Table) -> Any:
    name = gettext(NAMES[measure])
    return draw(
        _pareto(book, found.bars[measure], _few(found)),
        gettext("{name} by failure, and all down to it").format(name=name),
        _says(book, found, measure),
        table,
    )


def _pareto(book: Book, bars: Sequence[Bar], few: frozenset[str]) -> Any:
    """`few` modes have too few cases for a finding; their bars are hollow."""
    many_cases = gettext("{few} cases or more").format(few=FEW)
    few_cases = gettext("fewer than {few}").format(few=FEW)
    rows: list[dict[str, Any]] = [
        {
            "mode": _name(book, b.mode),
            "share": round(b.share, 4),
            "cases": few_cases if b.mode in few else many_cases,
            "running": round(b.running, 4),
            "low": round(b.running_low, 4),
            "high": round(b.running_high, 4),
        }
        for b in bars
    ]
    order = [_name(book, b.mode) for b in bars]
    classes = [many_cases, few_cases]
    hollow = any(b.mode in few for b in bars)

    def make(width_px: int) -> Any:
        import altair as alt  # late: it is slow

        names = {name: name if width_px > 500 else "\n".join(textwrap.wrap(name, LETTERS)) for name in order}
        lines = max(name.count("\n") for name in names.values()) + 1
        base = alt.Chart({"values": tuple({**row, "mode": names[row["mode"]]} for row in rows)})
        y = alt.Y(
            "mode:N",
            title=None,
            sort=list(names.values()),
            axis=alt.Axis(labelExpr="split(datum.label, '\\n')"),
        )
        x = alt.X(
            "share:Q",
            title=gettext("Share of the total"),
            scale=alt.Scale(domain=[0, 1]),
            axis=alt.Axis(format=".0%", tickCount=5 if width_px > 500 else 3),
        )
        columns = base.mark_bar(stroke=COPPER, strokeWidth=1.5, height={"band": 0.62}).encode(
            y=y,
            x=x,
            fill=alt.Fill(
                "cases:N",
                title=None,
                scale=alt.Scale(domain=classes, range=[COPPER, PAPER]),
                legend=alt.Legend(
                    symbolType="square", direction="horizontal" if width_px > 500 else "vertical"
                )
                if hollow
                else None,
            ),
        )
        band = base.mark_area(color=PATINA, opacity=0.25, orient="horizontal").encode(
            y=y, x=alt.X("low:Q"), x2=alt.X2("high:Q")
        )
        line = base.mark_line(color=INK, strokeWidth=2, point={"color": INK, "size": 40}).encode(
            y=y, x=alt.X("running:Q"), order=alt.Order("running:Q")
        )
        return alt.layer(columns, band, line).properties(height=(10 + 18 * lines) * len(rows))

    return make


def _spans(book: Book, found: Costs) -> str:
    """Between what the whole years cost, and in the middle; nothing before there are MIDDLE of them."""
    told = sorted(x.sums["money"] for x in found.years if x.whole)
    if len(told) < MIDDLE or not told[-1]:
        return ""
    return gettext("The {n} whole years cost from {low} to {high}, {middle} in the middle.").format(
        n=len(told),
        low=book.display.money(told[0]),
        high=book.display.money(told[-1]),
        middle=book.display.money(median(told)),
    )


def _by_year(book: Book, found: Costs) -> Table:
    """What the cases of each year cost, proven or not."""
    unit, kg = weight(book)
    currency = found.currency
    rows = tuple(
        (
            str(x.year) if x.whole else gettext("{year}, not whole").format(year=x.year),
            len(x.cases),
            x.sums["money"] or None,
            x.search or None,
            x.repair or None,
            x.refrigerant or None,
            x.sums["hours"] or None,
            x.sums["lost"] / kg or None,
            x.sums["co2e"] or None,
            round(x.sums["callbacks"]),
        )
        for x in found.years
    )
    return Table(
        f"{KEY}-by-year",
        gettext("What the cases of each year cost"),
        (
            Column("year", gettext("Year"), "text"),
            Column("cases", gettext("Cases"), "whole"),
            Column("money", gettext("Money, {currency}").format(currency=currency), "money"),
            Column("search", gettext("Search, {currency}").format(currency=currency), "money"),
            Column("repair", gettext("Repair, {currency}").format(currency=currency), "money"),
            Column("refrigerant", gettext("Refrigerant, {currency}").format(currency=currency), "money"),
            Column("hours", gettext("Hours"), "number"),
            Column(f"lost_{unit}", gettext("Lost, {unit}").format(unit=unit), "number"),
            Column("co2e", "t CO₂e", "number"),
            Column("callbacks", gettext("Repairs that came back"), "whole"),
        ),
        rows,
        gettext(
            "By the day of the report. Money is search, repair and refrigerant as far as told; a repair that "
            "came back counts in the year of the repair."
        ),
    )


def _misread(found: Costs) -> Table:
    return Table(
        f"{KEY}-wrong-first",
        gettext("Wrong first diagnoses"),
        (
            Column("taken_for", gettext("Taken for"), "mode"),
            Column("was", gettext("It was"), "mode"),
            Column("count", gettext("Cases"), "whole"),
            Column("minutes", gettext("Minutes"), "whole"),
            Column("money", gettext("Money, {currency}").format(currency=found.currency), "money"),
            Column("cases", gettext("Which"), "case"),
        ),
        tuple(
            (x.taken_for, x.was, len(x.cases), round(x.minutes), x.money, tuple(c.id for c in x.cases))
            for x in found.misread
        ),
        gettext("Money: the minutes at our rate, and parts and refrigerant spent on the wrong repair."),
    )


def _came_back(found: Costs) -> Table:
    return Table(
        f"{KEY}-came-back",
        gettext("Repairs that did not hold, and the next visit"),
        (
            Column("case", gettext("Repair"), "case"),
            Column("mode", gettext("Failure"), "mode"),
            Column("repair", gettext("The repair, {currency}").format(currency=found.currency), "money"),
            Column("visit", gettext("Next visit"), "case"),
            Column(
                "visit_money", gettext("The next visit, {currency}").format(currency=found.currency), "money"
            ),
        ),
        tuple(
            (x.case.id, x.case.cause.mode, x.repair, x.visit.id if x.visit else None, x.visit_money)
            for x in found.came_back
        ),
        gettext(
            "The next visit with its search, repair and refrigerant. An empty cell: it has no record "
            "of its own."
        ),
    )


def _techniques(book: Book, found: Costs) -> Table:
    guide = book.library.guide.techniques
    rows = []
    for x in sorted(found.techniques, key=lambda t: (-sum(t.money.values()), t.technique)):
        money, minutes = sum(x.money.values()), sum(x.minutes.values())
        rows.append(
            (
                guide[x.technique].name,
                x.steps,
                round(minutes),
                money,
                *(x.money[key] for key in ("found", "narrowed", "misled", "unknown")),
                len(x.avoided) or None,
                x.avoided_money,
            )
        )
    money_of = f", {found.currency}"
    return Table(
        f"{KEY}-by-technique",
        gettext("What each technique took, and what for"),
        (
            Column("technique", gettext("Technique"), "text"),
            Column("steps", gettext("Steps"), "whole"),
            Column("minutes", gettext("Working minutes"), "whole"),
            Column("money", gettext("Money{money_of}").format(money_of=money_of), "money"),
            Column(
                "found", gettext("Found the leak or led to it{money_of}").format(money_of=money_of), "money"
            ),
            Column("narrowed", gettext("Ruled a place out{money_of}").format(money_of=money_of), "money"),
            Column("misled", gettext("Misled{money_of}").format(money_of=money_of), "money"),
            Column("unknown", gettext("Can’t be told{money_of}").format(money_of=money_of), "money"),
            Column("avoided", gettext("Tests that it made unnecessary"), "whole"),
            Column(
                "avoided_money",
                gettext("What these would have taken{money_of}").format(money_of=money_of),
                "money",
            ),
        ),
        tuple(rows),
        gettext(
            "Misled: a false alarm, or clean at the place that leaked. Can’t be told: the cause was "
            "never proven."
        ),
    )
