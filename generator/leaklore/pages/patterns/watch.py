"""Systems to look at first: what each is expected to lose, how well such a list did, open leaks, legal thresholds."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from leaklore.analysis.patterns.legal import Over, Rechecked
from leaklore.analysis.patterns.watch_list import TOP, Backtest, Line, WatchList, Yardstick
from leaklore.pages import display
from leaklore.pages.book import Book
from leaklore.pages.patterns.cost import between, weight
from leaklore.pages.patterns.drawing import COPPER, INK, draw
from leaklore.pages.patterns.tables import Column, Table, cut
from leaklore.pages.patterns.topic import Topic
from leaklore.pages.render import Templates
from leaklore.trade import data

KEY = "watch"
TITLE = "Systems to look at first"
LEAD = "Which systems are expected to lose the most charge in the next year, and which are over a legal threshold."
DRAWN, LISTED = 20, 100
RANKINGS = {
    "list": "This list",
    "past-leaks": "Systems with most leaks so far",
    "charge": "Systems with the largest charge",
}
WHY = {
    "leaking-again": "found leaking again, no later case",
    "not-fixed": "never proven, no repair on record",
}
STATES = {"done": "done", "late": "done late", "due": "to come", "overdue": "past its day"}
DUES = {
    "repair": "repair",
    "follow-up": "follow-up test",
    "inspection": "leak inspection",
    "chronic-report": "report of a chronic leak",
    "recheck": "look again",
    "leak-check": "leak check",
}


def topic(book: Book, found: WatchList, templates: Templates) -> Topic:
    """The topic; the law is that of the company's units."""
    us = book.display.us_first
    expected, opened = _expected(book, found), _open(found)
    past = _past(found.backtest) if found.backtest else None
    law = _us(book, found.law.us) if us else _eu(book, found.law.eu)
    dues = _dues(book, found.law.us if us else found.law.eu)
    sections = templates.render(
        "patterns_watch.html",
        f"patterns/{KEY}/",
        found=found,
        listed=LISTED,
        top=round(100 * TOP),
        chart=draw(
            _bars(book, found.lines[:DRAWN]),
            "Charge expected to be lost in a year",
            _says(book, found),
            expected,
        )
        if found.lines
        else None,
        says=_says(book, found),
        expected=expected,
        past=past,
        past_says=_past_says(found.backtest),
        opened=cut(opened, "newest"),
        law=cut(law, "worst" if us else "newest"),
        dues=cut(dues, "first"),
        us=us,
        over=sum(not x.light for x in found.law.us),
        light=sum(x.light for x in found.law.us),
        overdue=_overdue(book, found),
        advice=str(data.load("rules")["advice"]),
        checked=data.load("rules")["checked"],
    )
    tables = [t for t in (expected, past, opened, law, dues) if t is not None and t.rows]
    return Topic(KEY, TITLE, LEAD, sections, tuple(tables), _headline(book, found))


def _overdue(book: Book, found: WatchList) -> int:
    """Systems with something past its day."""
    lines: Sequence[Over | Rechecked] = found.law.us if book.display.us_first else found.law.eu
    return len({x.watched.system.id for x in lines if any(d.state(book.today) == "overdue" for d in x.dues)})


def _mass(book: Book, kg: float) -> str:
    return book.display.first(kg, "mass")


def _says(book: Book, found: WatchList) -> str:
    if not found.lines:
        return "No system is under watch."
    top = max(1, round(TOP * len(found.lines)))
    share = sum(x.expected for x in found.lines[:top]) / found.total
    first = found.lines[0]
    form = book.display.like("mass", first.expected)
    return (
        f"{first.watched.system.id} is expected to lose {form(first.expected)} in the next year ({form(first.low)} to "
        f"{form(first.high)}, 95 % sure); the first {top} of {len(found.lines)} systems {display.percent(share)} of "
        f"{_mass(book, found.total)} in all."
    )


def _headline(book: Book, found: WatchList) -> str:
    if not found.lines:
        return "No system is under watch."
    top = max(1, round(TOP * len(found.lines)))
    share = sum(x.expected for x in found.lines[:top]) / found.total
    out = f"{top} of {len(found.lines)} systems are expected to lose {display.percent(share)} of the charge in the next year."
    test = found.backtest
    if test and not test.few:
        ours = test.yardsticks[0]
        out += f" In past years such a list held {_held(ours)}."
    late = _overdue(book, found)
    if late:
        out += f" On {late} {'system' if late == 1 else 'systems'} something that the law asks for is past its day by the records."
    return out


def _held(y: Yardstick) -> str:
    return f"{display.percent(y.share)} ({between(y.low, y.high)}, 95 % sure)"


def _past_says(test: Backtest | None) -> str:
    """How well it did, and whether that was better than the simple rankings."""
    if test is None:
        return "There is not enough record before the last year to hold a list against it."
    if test.few:
        return f"Only {test.reports} losses in the past years: too few to tell."
    ours, leaks, charge = test.yardsticks
    out = f"Of the charge lost in the years after, {_held(ours)} was lost by the top tenth of this list"
    out += f"; by the systems with most leaks so far {_held(leaks)}, by those with the largest charge {_held(charge)}."
    if ours.low > charge.share:
        return out
    return f"{out} It can’t be said to do better than the largest charge alone."


def _expected(book: Book, found: WatchList) -> Table:
    unit, kg = weight(book)
    rows = []
    for place, x in enumerate(found.lines[:LISTED], start=1):
        system = x.watched.system
        charge = system.equipment.charge
        rows.append(
            (
                place,
                system.id,
                f"{system.site.name}, {system.name}",
                system.equipment.refrigerant,
                charge.si / kg if charge else None,
                x.watched.exit,
                100 * x.rate,
                x.each / kg,
                x.expected / kg,
                x.low / kg,
                x.high / kg,
                tuple(c.id for c in x.past) or None,
                WHY[x.open[0].why] if x.open else None,
            )
        )
    return Table(
        f"{KEY}-expected",
        "Charge expected to be lost in the next year",
        (
            Column("place", "Place", "whole"),
            Column("system", "System", "system"),
            Column("name", "Which", "text"),
            Column("refrigerant", "Refrigerant", "text"),
            Column(f"charge_{unit}", f"Charge, {unit}", "number"),
            Column("age", "Age, years", "number"),
            Column("rate", "Leaks a year in 100 such systems", "number"),
            Column(f"each_{unit}", f"Lost a leak, {unit}", "number"),
            Column(f"expected_{unit}", f"Expected loss, {unit}", "number"),
            Column(f"low_{unit}", f"At least, {unit}", "number"),
            Column(f"high_{unit}", f"At most, {unit}", "number"),
            Column("cases", "Its leaks so far", "case"),
            Column("open", "Open", "text"),
        ),
        tuple(rows),
        f"The first {min(LISTED, len(found.lines))} of {len(found.lines)} systems in use. At least, at most: 95 % sure, of what "
        "is expected, not of what will come: most systems lose nothing in a year, and some all.",
    )


def _past(test: Backtest) -> Table:
    return Table(
        f"{KEY}-past",
        "Charge lost by the top tenth of a list made before",
        (
            Column("ranking", "List", "text"),
            Column("share", "Of the charge lost", "percent"),
            Column("low", "At least", "percent"),
            Column("high", "At most", "percent"),
        ),
        tuple((RANKINGS[y.name], y.share, y.low, y.high) for y in test.yardsticks),
        f"{test.reports} losses in {len(test.ends)} year{'s' if len(test.ends) != 1 else ''} up to {display.day(test.ends[0])}. "
        "Each year’s list was made with what was on record before it. A list by lot would hold a tenth.",
    )


def _open(found: WatchList) -> Table:
    return Table(
        f"{KEY}-open",
        "Leaks that the records leave open",
        (
            Column("case", "Case", "case"),
            Column("system", "System", "system"),
            Column("mode", "Failure", "mode"),
            Column("why", "Why", "text"),
            Column("since", "Since", "date"),
        ),
        tuple(
            (x.case.id, x.case.system.id if x.case.system else None, x.case.cause.mode, WHY[x.why], x.since)
            for x in found.open
        ),
    )


def _dues(book: Book, lines: Sequence[Over | Rechecked]) -> Table:
    rows = []
    for x in lines:
        for d in x.dues:
            memory = " (from memory)" if d.source.mark == "from-memory" else ""
            state = STATES[d.state(book.today)]
            rows.append(
                (
                    x.watched.system.id,
                    DUES[d.what],
                    d.start,
                    d.day,
                    state,
                    d.done,
                    d.source.where + memory,
                    x.case.id,
                )
            )
    return Table(
        f"{KEY}-dues",
        "What is due on them, and by which paragraph",
        (
            Column("system", "System", "system"),
            Column("what", "What", "text"),
            Column("start", "Not before", "date"),
            Column("day", "By", "date"),
            Column("state", "By the records", "text"),
            Column("done", "Done", "date"),
            Column("paragraph", "Paragraph", "text"),
            Column("case", "From", "case"),
        ),
        tuple(rows),
        "A repair that was found leaking again is not done. From memory: the paragraph was not read in the text.",
    )


def _us(book: Book, over: Sequence[Over]) -> Table:
    return Table(
        f"{KEY}-law",
        "Systems over the leak rate of the US rules",
        (
            Column("system", "System", "system"),
            Column("name", "Which", "text"),
            Column("refrigerant", "Refrigerant", "text"),
            Column("rate", "Leak rate", "percent"),
            Column("threshold", "Threshold", "percent"),
            Column("on", "On", "date"),
            Column("rule", "Rule", "text"),
            Column("cases", "From", "case"),
        ),
        tuple(
            (
                x.watched.system.id,
                f"{x.watched.system.site.name}, {x.watched.system.name}",
                x.watched.system.equipment.refrigerant,
                x.rate,
                x.rule.threshold,
                x.case.reported,
                f"{x.rule.name}; {x.rule.source.where}"
                + (
                    "; only if it is not residential or light commercial air conditioning: ask"
                    if x.light
                    else ""
                ),
                tuple(c.id for c in x.counted),
            )
            for x in over
        ),
        "Leak rate: what was lost in the 365 days up to that day, or since the last repair that was found holding, as a share of "
        "the full charge (rolling average). With an industrial process shutdown the repair has 120 days.",
    )


def _eu(book: Book, repaired: Sequence[Rechecked]) -> Table:
    return Table(
        f"{KEY}-law",
        "Repairs that ask for another look, Regulation (EU) 2024/573",
        (
            Column("system", "System", "system"),
            Column("name", "Which", "text"),
            Column("refrigerant", "Refrigerant", "text"),
            Column("tonnes", "Charge, t CO₂e", "number"),
            Column("months", "Months between leak checks", "whole"),
            Column("repaired", "Repaired", "date"),
            Column("cases", "From", "case"),
        ),
        tuple(
            (
                x.watched.system.id,
                f"{x.watched.system.site.name}, {x.watched.system.name}",
                x.watched.system.equipment.refrigerant,
                x.check.tonnes,
                x.check.months,
                x.case.closed,
                x.case.id,
            )
            for x in repaired
        ),
        "The next leak check is counted from the last day on which the records say that somebody was there; checks that found "
        "nothing are not in these records. No detection system is assumed.",
    )


def _bars(book: Book, lines: Sequence[Line]) -> Any:
    unit, kg = weight(book)
    rows = [
        {
            "system": x.watched.system.id,
            "long": f"{x.watched.system.id}, {x.watched.system.site.name}",
            "expected": round(x.expected / kg, 3),
            "low": round(x.low / kg, 3),
            "high": round(x.high / kg, 3),
        }
        for x in lines
    ]

    def make(width_px: int) -> Any:
        import altair as alt  # late: it is slow

        field = "long" if width_px > 500 else "system"
        base = alt.Chart({"values": tuple(rows)})
        y = alt.Y(f"{field}:N", title=None, sort=[str(r[field]) for r in rows], axis=alt.Axis(labelLimit=300))
        x = alt.X("expected:Q", title=f"Expected loss in a year, {unit}", axis=alt.Axis(tickCount=5))
        bars = base.mark_bar(color=COPPER, height={"band": 0.6}).encode(y=y, x=x)
        spans = base.mark_rule(color=INK, strokeWidth=2).encode(y=y, x=alt.X("low:Q"), x2=alt.X2("high:Q"))
        return alt.layer(bars, spans).properties(height=27 * len(rows))

    return make
