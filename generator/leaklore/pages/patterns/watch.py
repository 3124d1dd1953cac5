"""Systems to look at first: what each is expected to lose, how well such a list did, open leaks, legal thresholds."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

from leaklore.analysis.patterns.detection_duty import Wanted
from leaklore.analysis.patterns.legal import Due, Over, Rechecked
from leaklore.analysis.patterns.watch_list import TOP, Backtest, Line, WatchList, Yardstick
from leaklore.language import gettext, later, ngettext
from leaklore.pages import display
from leaklore.pages.book import Book
from leaklore.pages.patterns.cost import between, weight
from leaklore.pages.patterns.drawing import COPPER, INK, draw
from leaklore.pages.patterns.tables import Column, Table, cut
from leaklore.pages.patterns.topic import Topic
from leaklore.pages.render import Templates
from leaklore.trade import data
from leaklore.trade.data import Citation

KEY = "watch"
TITLE = later("Systems to look at first")
LEAD = later(
    "Which systems are expected to lose the most charge in the next year, and which are over a legal threshold."
)
DRAWN, LISTED = 20, 100
RANKINGS = later(
    {
        "list": "This list",
        "past-leaks": "Systems with most leaks so far",
        "charge": "Systems with the largest charge",
    }
)
WHY = later(
    {
        "leaking-again": "found leaking again, no later case",
        "other-leak": "another leak found at a later look, no case of it",
        "not-fixed": "never proven, no repair on record",
    }
)
STATES = later({"done": "done", "late": "done late", "due": "to come", "overdue": "past its day"})
EXCLUDED = later("; only if it is not residential or light commercial air conditioning: ask")
DUES = later(
    {
        "repair": "repair",
        "follow-up": "follow-up test",
        "inspection": "leak inspection",
        "chronic-report": "report of a chronic leak",
        "recheck": "look again",
        "leak-check": "leak check",
    }
)


def topic(book: Book, found: WatchList, templates: Templates) -> Topic:
    """The topic; the law is that of the company's units."""
    us = book.display.us_first
    expected, opened = _expected(book, found), _open(found)
    past = _past(found.backtest) if found.backtest else None
    law = _us(book, found.law.us) if us else _eu(book, found.law.eu)
    dues = _dues(book, found.law.us if us else found.law.eu)
    detection = _detection(book, found.law.detection_us if us else found.law.detection_eu)
    sections = templates.render(
        "patterns_watch.html",
        f"patterns/{KEY}/",
        found=found,
        listed=LISTED,
        top=round(100 * TOP),
        chart=draw(
            _bars(book, found.lines[:DRAWN]),
            gettext("Charge expected to be lost in a year"),
            _says(book, found),
            expected,
        )
        if found.lines
        else None,
        says=_says(book, found),
        expected=expected,
        past=past,
        past_says=_past_says(found.backtest),
        opened=cut(opened, gettext("newest")),
        law=cut(law, gettext("worst") if us else gettext("newest")),
        dues=cut(dues, gettext("first")),
        detection=cut(detection, gettext("first") if us else gettext("largest")),
        us=us,
        over=sum(not x.light for x in found.law.us),
        light=sum(x.light for x in found.law.us),
        overdue=_overdue(book, found),
        advice=str(data.load("rules")["advice"]),
        checked=data.load("rules")["checked"],
    )
    tables = [t for t in (expected, past, opened, law, dues, detection) if t is not None and t.rows]
    return Topic(KEY, gettext(TITLE), gettext(LEAD), sections, tuple(tables), _headline(book, found))


def _overdue(book: Book, found: WatchList) -> int:
    """Systems with something past its day, those left out that a rule may not take."""
    lines: Sequence[Over | Rechecked] = (
        [x for x in found.law.us if not x.light] if book.display.us_first else found.law.eu
    )
    return len({x.watched.system.id for x in lines if any(d.state(book.today) == "overdue" for d in x.dues)})


def _mass(book: Book, kg: float) -> str:
    return book.display.first(kg, "mass")


def _too_few(found: WatchList) -> str:
    n = found.losses
    so_few = (
        ngettext("Only {n} loss of charge is on record", "Only {n} losses of charge are on record", n).format(
            n=n
        )
        if n
        else gettext("No loss of charge is on record")
    )
    return gettext("{so_few}: too few to tell which systems will lose the most.").format(so_few=so_few)


def _says(book: Book, found: WatchList) -> str:
    if not found.lines:
        return gettext("No system is under watch.")
    if found.few:
        return _too_few(found)
    top = max(1, round(TOP * len(found.lines)))
    share = sum(x.expected for x in found.lines[:top]) / found.total
    first = found.lines[0]
    form = book.display.like("mass", first.expected)
    return gettext(
        "{id} is expected to lose {expected} in the next year. That is the mean of what may come, and it lies "
        "between {low} and {high} (95 % sure); one year may bring nothing, or far more. Of {mass} expected in "
        "all, {share} is on the first {top} of {lines} systems."
    ).format(
        id=first.watched.system.id,
        expected=form(first.expected),
        low=form(first.low),
        high=form(first.high),
        top=top,
        lines=len(found.lines),
        share=display.percent(share),
        mass=_mass(book, found.total),
    )


def _headline(book: Book, found: WatchList) -> str:
    if not found.lines:
        return gettext("No system is under watch.")
    out = _too_few(found) if found.few else _expects(found)
    late = _overdue(book, found)
    if late:
        out += ngettext(
            " On {n} system something that the law asks for is past its day by the records.",
            " On {n} systems something that the law asks for is past its day by the records.",
            late,
        ).format(n=late)
    return out


def _expects(found: WatchList) -> str:
    """What the top of the list is expected to lose, and how such a list did."""
    top = max(1, round(TOP * len(found.lines)))
    share = sum(x.expected for x in found.lines[:top]) / found.total
    out = gettext(
        "{share} of the charge expected to be lost in the next year is on {top} of {lines} systems."
    ).format(top=top, lines=len(found.lines), share=display.percent(share))
    test = found.backtest
    if test and not test.few:
        ours, _, charge = test.yardsticks
        out += gettext(" In past years such a list held {ours}").format(ours=_held(ours))
        out += (
            "." if _beats(ours, charge) else gettext("; a list by the largest charge alone may do as well.")
        )
    return out


def _beats(ours: Yardstick, charge: Yardstick) -> bool:
    """Did the list do better than the largest charges alone, beyond chance?"""
    return ours.low > charge.share


def _held(y: Yardstick) -> str:
    return gettext("{share} ({low}, 95 % sure)").format(
        share=display.percent(y.share), low=between(y.low, y.high)
    )


def _past_says(test: Backtest | None) -> str:
    """How well it did, and whether that was better than the simple rankings."""
    if test is None:
        return gettext("There is not enough record before the last year to hold a list against it.")
    if test.few:
        return gettext("Only {reports} losses in the past years: too few to tell.").format(
            reports=test.reports
        )
    ours, past, charge = test.yardsticks
    out = gettext(
        "Of the charge lost in the years after, {ours} was lost by the top tenth of this list"
    ).format(ours=_held(ours))
    out += gettext(
        "; by the systems with most leaks so far {leaks}, by those with the largest charge {charge}."
    ).format(leaks=_held(past), charge=_held(charge))
    if _beats(ours, charge):
        return out
    return gettext("{out} It can’t be said to do better than the largest charge alone.").format(out=out)


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
                system.full_name,
                system.equipment.refrigerant,
                charge.si / kg if charge else None,
                x.watched.exit,
                100 * x.rate,
                x.each / kg,
                x.expected / kg,
                x.low / kg,
                x.high / kg,
                tuple(c.id for c in x.past) or None,
                gettext(WHY[x.open[0].why]) if x.open else None,
            )
        )
    return Table(
        f"{KEY}-expected",
        gettext("Charge expected to be lost in the next year"),
        (
            Column("place", gettext("Place"), "whole"),
            Column("system", gettext("System"), "system"),
            Column("name", gettext("Which"), "text"),
            Column("refrigerant", gettext("Refrigerant"), "text"),
            Column(f"charge_{unit}", gettext("Charge, {unit}").format(unit=unit), "number"),
            Column("age", gettext("Age, years"), "number"),
            Column("rate", gettext("Leaks a year in 100 such systems"), "number"),
            Column(f"each_{unit}", gettext("Lost a leak, {unit}").format(unit=unit), "number"),
            Column(f"expected_{unit}", gettext("Expected loss, {unit}").format(unit=unit), "number"),
            Column(f"low_{unit}", gettext("At least, {unit}").format(unit=unit), "number"),
            Column(f"high_{unit}", gettext("At most, {unit}").format(unit=unit), "number"),
            Column("cases", gettext("Its leaks so far"), "case"),
            Column("open", gettext("Open"), "text"),
        ),
        tuple(rows),
        gettext(
            "The first {listed} of {lines} systems in use. At least, at most: 95 % sure, of what is "
            "expected, not of what will come: most systems lose nothing in a year, and some all."
        ).format(listed=min(LISTED, len(found.lines)), lines=len(found.lines)),
    )


def _past(test: Backtest) -> Table:
    return Table(
        f"{KEY}-past",
        gettext("Charge lost by the top tenth of a list made before"),
        (
            Column("ranking", gettext("List"), "text"),
            Column("share", gettext("Of the charge lost"), "percent"),
            Column("low", gettext("At least"), "percent"),
            Column("high", gettext("At most"), "percent"),
        ),
        tuple((gettext(RANKINGS[y.name]), y.share, y.low, y.high) for y in test.yardsticks),
        ngettext(
            "{losses} losses in {n} year up to {day}. "
            "Each year’s list was made with what was on record before it. A list by lot would hold a tenth.",
            "{losses} losses in {n} years up to {day}. "
            "Each year’s list was made with what was on record before it. A list by lot would hold a tenth.",
            len(test.ends),
        ).format(losses=test.reports, n=len(test.ends), day=display.day(test.ends[0])),
    )


def _open(found: WatchList) -> Table:
    return Table(
        f"{KEY}-open",
        gettext("Leaks that the records leave open"),
        (
            Column("case", gettext("Case"), "case"),
            Column("system", gettext("System"), "system"),
            Column("mode", gettext("Failure"), "mode"),
            Column("why", gettext("Why"), "text"),
            Column("since", gettext("Since"), "date"),
        ),
        tuple(
            (
                x.case.id,
                x.case.system.id if x.case.system else None,
                x.case.cause.mode,
                gettext(WHY[x.why]),
                x.since,
            )
            for x in found.open
        ),
    )


def _paragraph(source: Citation) -> str:
    memory = f" ({gettext('from memory')})" if source.mark == "from-memory" else ""
    return source.where + memory


def _urgency(x: Over | Rechecked, due: Due, today: dt.date) -> tuple[int, bool, int]:
    """Past its day first, of that what the rule may not take last; then what is to come; then what is done, newest first."""
    state = due.state(today)
    place = ("overdue", "due", "late", "done").index(state)
    day = (due.done or due.day).toordinal()
    return place, state == "overdue" and _may_be_excluded(x), day if due.done is None else -day


def _may_be_excluded(x: Over | Rechecked) -> bool:
    """Does the rule hold only if the system is not of the excluded subsector?"""
    return isinstance(x, Over) and x.light


def _dues(book: Book, lines: Sequence[Over | Rechecked]) -> Table:
    found = sorted(
        ((x, d) for x in lines for d in x.dues), key=lambda pair: _urgency(pair[0], pair[1], book.today)
    )
    rows = tuple(
        (
            x.watched.system.id,
            x.watched.system.full_name,
            gettext(DUES[d.what]),
            d.start,
            d.day,
            gettext(STATES[d.state(book.today)]),
            d.done,
            _paragraph(d.source) + (gettext(EXCLUDED) if _may_be_excluded(x) else ""),
            x.case.id,
        )
        for x, d in found
    )
    return Table(
        f"{KEY}-dues",
        gettext("What is due on them, and by which paragraph"),
        (
            Column("system", gettext("System"), "system"),
            Column("name", gettext("Which"), "text"),
            Column("what", gettext("What"), "text"),
            Column("start", gettext("Not before"), "date"),
            Column("day", gettext("By"), "date"),
            Column("state", gettext("By the records"), "text"),
            Column("done", gettext("Done"), "date"),
            Column("paragraph", gettext("Paragraph"), "text"),
            Column("case", gettext("From"), "case"),
        ),
        rows,
        gettext(
            "What is past its day stands first, then what is to come, by its day. A repair that was found "
            "leaking again is not done. From memory: the paragraph was not read in the text."
        ),
    )


def _detection(book: Book, wanted: Sequence[Wanted]) -> Table:
    """By when, or of how many tonnes, as the law counts."""
    us = book.display.us_first
    unit, kg = weight(book)
    counted = (
        (
            Column("by", gettext("By"), "date"),
            Column(f"alarm_{unit}", gettext("Tells a loss of, {unit}").format(unit=unit), "number"),
        )
        if us
        else (Column("tonnes", gettext("Charge, t CO₂e"), "number"),)
    )
    rows = []
    for x in wanted:
        gear = x.system.equipment
        assert gear.charge is not None
        law = (x.day, x.alarm / kg if x.alarm is not None else None) if us else (x.tonnes,)
        rows.append(
            (
                x.system.id,
                x.system.full_name,
                gear.refrigerant,
                gear.charge.si / kg,
                *law,
                _paragraph(x.source),
            )
        )
    return Table(
        f"{KEY}-detection",
        gettext("Systems on which the law asks for automatic leak detection"),
        (
            Column("system", gettext("System"), "system"),
            Column("name", gettext("Which"), "text"),
            Column("refrigerant", gettext("Refrigerant"), "text"),
            Column(f"charge_{unit}", gettext("Charge, {unit}").format(unit=unit), "number"),
            *counted,
            Column("paragraph", gettext("Paragraph"), "text"),
        ),
        tuple(rows),
        gettext(
            "Tells a loss of: what detection that reckons from pressures, temperatures or levels has to notice; "
            "what measures the air, {ppm} ppm. Of a month or year of installation the middle counts."
        ).format(ppm=data.load("rules")["us"]["detection_alarm"]["alarm_ppm"])
        if us
        else gettext("Such detection is itself checked at least once in twelve months."),
    )


def _us(book: Book, over: Sequence[Over]) -> Table:
    return Table(
        f"{KEY}-law",
        gettext("Systems over the leak rate of the US rules"),
        (
            Column("system", gettext("System"), "system"),
            Column("name", gettext("Which"), "text"),
            Column("refrigerant", gettext("Refrigerant"), "text"),
            Column("rate", gettext("Leak rate"), "percent"),
            Column("threshold", gettext("Threshold"), "percent"),
            Column("on", gettext("On"), "date"),
            Column("rule", gettext("Rule"), "text"),
            Column("cases", gettext("From"), "case"),
        ),
        tuple(
            (
                x.watched.system.id,
                x.watched.system.full_name,
                x.watched.system.equipment.refrigerant,
                x.rate,
                x.rule.threshold,
                x.case.reported,
                "; ".join((gettext(x.rule.name), x.rule.source.where))
                + (gettext(EXCLUDED) if x.light else ""),
                tuple(c.id for c in x.counted),
            )
            for x in over
        ),
        gettext(
            "Leak rate: what was lost in the 365 days up to that day, or since the last repair that "
            "was found holding, as a share of the full charge (rolling average). Under part 84 nothing before "
            "1 January 2026 counts. With an industrial process shutdown the repair has 120 days."
        ),
    )


def _eu(book: Book, repaired: Sequence[Rechecked]) -> Table:
    return Table(
        f"{KEY}-law",
        gettext("Repairs that ask for another look, Regulation (EU) 2024/573"),
        (
            Column("system", gettext("System"), "system"),
            Column("name", gettext("Which"), "text"),
            Column("refrigerant", gettext("Refrigerant"), "text"),
            Column("tonnes", gettext("Charge, t CO₂e"), "number"),
            Column("months", gettext("Months between leak checks"), "whole"),
            Column("repaired", gettext("Repaired"), "date"),
            Column("cases", gettext("From"), "case"),
        ),
        tuple(
            (
                x.watched.system.id,
                x.watched.system.full_name,
                x.watched.system.equipment.refrigerant,
                x.check.tonnes,
                x.check.months,
                x.case.closed,
                x.case.id,
            )
            for x in repaired
        ),
        gettext(
            "The next leak check is counted from the last day on which the records say that somebody "
            "was there; checks that found nothing are not in these records. No detection system is "
            "assumed."
        ),
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
        x = alt.X(
            "expected:Q",
            title=gettext("Expected loss in a year, {unit}").format(unit=unit),
            axis=alt.Axis(tickCount=5),
        )
        bars = base.mark_bar(color=COPPER, height={"band": 0.6}).encode(y=y, x=x)
        spans = base.mark_rule(color=INK, strokeWidth=2).encode(y=y, x=alt.X("low:Q"), x2=alt.X2("high:Q"))
        return alt.layer(bars, spans).properties(height=27 * len(rows))

    return make
