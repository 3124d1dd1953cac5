"""What it costs: failure modes by money and by charge, wrong first diagnoses, repairs that came back, techniques."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from leaklore.analysis.intervals import FEW
from leaklore.analysis.patterns.money import Bar, Costs
from leaklore.pages import display, links
from leaklore.pages.book import Book
from leaklore.pages.display import LB
from leaklore.pages.patterns.drawing import COPPER, INK, PAPER, PATINA, draw
from leaklore.pages.patterns.tables import Column, Kind, Table, cut
from leaklore.pages.patterns.topic import Topic
from leaklore.pages.render import Templates

KEY = "cost"
TITLE = "What it costs"
LEAD = "Which failures carry the money and the charge, and what was spent for nothing."
CLEAR = 0.9
"""A mode stands first for sure if it does in so many of the draws."""
MANY_CASES, FEW_CASES = f"{FEW} cases or more", f"fewer than {FEW}"
NAMES = {
    "money": "Money",
    "lost": "Charge lost",
    "co2e": "Warming",
    "hours": "Working hours",
    "cases": "Cases",
    "callbacks": "Repairs that came back",
}
"""Measures in the order of the page."""


def weight(book: Book) -> tuple[str, float]:
    """The company's unit of mass for tables, and how many kg it is."""
    return ("lb", LB) if book.display.us_first else ("kg", 1.0)


def between(low: float, high: float) -> str:
    """`5 to 18 %`."""
    return f"{round(100 * low)} to {display.percent(high)}"


def topic(book: Book, found: Costs, templates: Templates) -> Topic:
    """The topic; without a proven case it says what will stand there."""
    orders = {m: _order(book, found, m) for m in NAMES if m in found.bars}
    wrong, back, methods = _misread(found), _came_back(found), _techniques(book, found)
    isolation = found.isolation
    sections = templates.render(
        "patterns_cost.html",
        f"patterns/{KEY}/",
        found=found,
        few=FEW,
        charts={m: _chart(book, found, m, orders[m]) for m in ("money", "lost") if m in orders},
        says={m: _says(book, found, m) for m in ("money", "lost") if m in orders},
        orders=orders,
        names=NAMES,
        total=sum(row.sums["money"] for row in found.modes),
        whole=sum(row.told["money"] for row in found.modes),
        wrong=cut(wrong, "dearest"),
        wrong_cases=sum(len(x.cases) for x in found.misread),
        wrong_money=sum(x.money for x in found.misread),
        wrong_minutes=sum(x.minutes for x in found.misread),
        back=cut(back, "dearest"),
        back_money=sum((x.repair or 0) + (x.visit_money or 0) for x in found.came_back),
        visits=sum(x.visit is not None for x in found.came_back),
        techniques=methods,
        saved=sum(x.avoided_money or 0 for x in found.techniques),
        avoided=sum(len(x.avoided) for x in found.techniques),
        isolation=isolation,
        isolation_between=f"{display.minutes(isolation.low)} to {display.minutes(isolation.high)}"
        if isolation and isolation.low is not None and isolation.high is not None
        else "",
    )
    tables = [t for t in (*orders.values(), wrong, back, methods) if t.rows]
    return Topic(KEY, TITLE, LEAD, sections, tuple(tables), _headline(book, found))


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
        return f"{_so_few(found)}: too few to tell."
    top = bars[0]
    total = sum(b.value for b in bars)
    out = (
        f"{_name(book, top.mode)} took {display.percent(top.share)} of {_shown(book, measure, total)} "
        f"({between(top.low, top.high)}, 95 % sure)."
    )
    if top.first >= CLEAR:
        return f"{out} It stands first in {round(100 * top.first)} of 100 redraws of the cases."
    return (
        f"{out} In {round(100 * (1 - top.first))} of 100 redraws of the cases another one stands first, "
        "so don’t plan by the order of the first bars."
    )


def _so_few(found: Costs) -> str:
    if not found.cases:
        return "No proven case yet"
    return f"Only {found.cases} proven case{'' if found.cases == 1 else 's'}"


def _headline(book: Book, found: Costs) -> str:
    if found.cases < FEW:
        return f"{_so_few(found)}: too few to tell what leaks cost."
    bars = found.bars["money"]
    total = sum(b.value for b in bars)
    few = next(i for i, b in enumerate(bars, start=1) if b.running >= 0.5)
    half = bars[few - 1]
    return (
        f"{found.cases} proven leaks cost {book.display.money(total)}. {few} of {len(bars)} failures carry half of it "
        f"({display.percent(half.running)}; {between(half.running_low, half.running_high)}, 95 % sure)."
    )


def _order(book: Book, found: Costs, measure: str) -> Table:
    """Failure modes by one measure, the greatest first."""
    unit, kg = weight(book)
    kind: Kind = "money" if measure == "money" else "whole" if measure in ("cases", "callbacks") else "number"
    titles = {
        "money": f"Money, {found.currency}",
        "lost": f"Lost, {unit}",
        "co2e": "t CO₂e",
        "hours": "Hours",
        "cases": "Cases",
        "callbacks": "Came back",
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
        f"Failures by {NAMES[measure].lower()}",
        (
            Column("mode", "Failure", "mode"),
            Column(f"lost_{unit}" if measure == "lost" else f"{measure}_sum", titles[measure], kind),
            Column("share", "Share", "percent"),
            Column("low", "At least", "percent"),
            Column("high", "At most", "percent"),
            Column("running", "With all above", "percent"),
            Column("running_low", "With all above, at least", "percent"),
            Column("running_high", "With all above, at most", "percent"),
            Column("first", "Stands first in so many redraws", "percent"),
            Column("told", "Cases that tell it in full", "whole"),
            Column("cases", "Proven cases", "whole"),
        ),
        tuple(lines),
        "At least, at most: 95 % sure. The cases of each failure are listed on its page.",
    )


def _chart(book: Book, found: Costs, measure: str, table: Table) -> Any:
    name = NAMES[measure]
    return draw(
        _pareto(book, found.bars[measure], _few(found)),
        f"{name} by failure, and all down to it",
        _says(book, found, measure),
        table,
    )


def _pareto(book: Book, bars: Sequence[Bar], few: frozenset[str]) -> Any:
    """`few` modes have too few cases for a finding; their bars are hollow."""
    rows = [
        {
            "mode": _name(book, b.mode),
            "share": round(b.share, 4),
            "cases": FEW_CASES if b.mode in few else MANY_CASES,
            "running": round(b.running, 4),
            "low": round(b.running_low, 4),
            "high": round(b.running_high, 4),
        }
        for b in bars
    ]
    order = [_name(book, b.mode) for b in bars]
    hollow = any(b.mode in few for b in bars)

    def make(width_px: int) -> Any:
        import altair as alt  # late: it is slow

        base = alt.Chart({"values": tuple(rows)})
        y = alt.Y("mode:N", title=None, sort=order, axis=alt.Axis(labelLimit=0 if width_px > 500 else 150))
        x = alt.X(
            "share:Q",
            title="Share of the total",
            scale=alt.Scale(domain=[0, 1]),
            axis=alt.Axis(format=".0%", tickCount=5 if width_px > 500 else 3),
        )
        columns = base.mark_bar(stroke=COPPER, strokeWidth=1.5, height={"band": 0.62}).encode(
            y=y,
            x=x,
            fill=alt.Fill(
                "cases:N",
                title=None,
                scale=alt.Scale(domain=[MANY_CASES, FEW_CASES], range=[COPPER, PAPER]),
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
        return alt.layer(columns, band, line).properties(height=28 * len(rows))

    return make


def _misread(found: Costs) -> Table:
    return Table(
        f"{KEY}-wrong-first",
        "Wrong first diagnoses",
        (
            Column("taken_for", "Taken for", "mode"),
            Column("was", "It was", "mode"),
            Column("count", "Cases", "whole"),
            Column("minutes", "Minutes", "whole"),
            Column("money", f"Money, {found.currency}", "money"),
            Column("cases", "Which", "case"),
        ),
        tuple(
            (x.taken_for, x.was, len(x.cases), round(x.minutes), x.money, tuple(c.id for c in x.cases))
            for x in found.misread
        ),
        "Money: the minutes at our rate, and parts and refrigerant spent on the wrong repair.",
    )


def _came_back(found: Costs) -> Table:
    return Table(
        f"{KEY}-came-back",
        "Repairs that did not hold, and the next visit",
        (
            Column("case", "Repair", "case"),
            Column("mode", "Failure", "mode"),
            Column("repair", f"The repair, {found.currency}", "money"),
            Column("visit", "Next visit", "case"),
            Column("visit_money", f"The next visit, {found.currency}", "money"),
        ),
        tuple(
            (x.case.id, x.case.cause.mode, x.repair, x.visit.id if x.visit else None, x.visit_money)
            for x in found.came_back
        ),
        "The next visit with its search, repair and refrigerant. An empty cell: it has no record of its own.",
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
        "What each technique took, and what for",
        (
            Column("technique", "Technique", "text"),
            Column("steps", "Steps", "whole"),
            Column("minutes", "Working minutes", "whole"),
            Column("money", f"Money{money_of}", "money"),
            Column("found", f"Found the leak or led to it{money_of}", "money"),
            Column("narrowed", f"Ruled a place out{money_of}", "money"),
            Column("misled", f"Misled{money_of}", "money"),
            Column("unknown", f"Can’t be told{money_of}", "money"),
            Column("avoided", "Tests that it made unnecessary", "whole"),
            Column("avoided_money", f"What these would have taken{money_of}", "money"),
        ),
        tuple(rows),
        "Misled: a false alarm, or clean at the place that leaked. Can’t be told: the cause was never proven.",
    )
