"""What comes back: leaks that systems gather with age, the same failure after its repair, repairs that did not hold."""

from __future__ import annotations

import textwrap
from typing import Any

from leaklore.analysis.intervals import FEW
from leaklore.analysis.patterns.recurrence import (
    LEAST_MODE,
    Again,
    MeanByAge,
    MeanCount,
    Recurrence,
    Returns,
)
from leaklore.analysis.patterns.signals import ALL
from leaklore.analysis.patterns.survival import LEAST_AT_RISK, ByAge, thinned
from leaklore.language import gettext, later
from leaklore.pages import display, links
from leaklore.pages.book import Book
from leaklore.pages.patterns.drawing import COPPER, EDGE, INK, PAPER, PATINA, draw
from leaklore.pages.patterns.tables import LONGEST, Column, Table, cut
from leaklore.pages.patterns.topic import Topic
from leaklore.pages.patterns.words import MANY, between, leaks, listed, repairs
from leaklore.pages.render import Templates

KEY = "again"
TITLE = later("What comes back")
LEAD = later(
    "Which failures return on the same system after their repair, and how many leaks a system gathers as it ages."
)
TOLD = (5.0, 10.0, 15.0)
"""Years; ages in the table of failures."""


MOST_DRAWN = 300
"""Marks of the picture of returns, the newest; more run into each other."""


def _newest(table: Table) -> Table:
    """The end of a long list."""
    return cut(table, gettext("newest"), table.rows[-LONGEST:])


def topic(book: Book, found: Recurrence, templates: Templates) -> Topic:
    """The topic; what there is too little of is said in its place."""
    count = found.counts.get(ALL)
    ages = _ages(count) if count else None
    by_mode, returns, pairs, held = _by_mode(found), _returns(found), _pairs(found), _not_held(found)
    kinds = _kinds(book, found)
    sections = templates.render(
        "patterns_again.html",
        f"patterns/{KEY}/",
        few=FEW,
        least=LEAST_AT_RISK,
        least_mode=LEAST_MODE,
        count=draw(_gathered(count), gettext("Leaks a system has had, by age"), _count_says(count), ages)
        if count and ages
        else None,
        count_says=_count_says(count) if count else "",
        ages=ages,
        by_mode=by_mode,
        overall=found.overall,
        expected=display.number(found.overall.expected)
        if found.overall.expected and found.overall.repairs >= FEW
        else "",
        within=_within(found.overall),
        returns=returns,
        pairs=_newest(pairs),
        undrawn=len(pairs.rows) > MOST_DRAWN,
        most_drawn=MOST_DRAWN,
        apart=draw(
            _apart(book, found.overall.again[-MOST_DRAWN:]),
            gettext("Days from the repair to the same failure"),
            gettext(
                "One mark for each of the newest {most_drawn} times that a failure came back on the same "
                "system."
            ).format(most_drawn=MOST_DRAWN)
            if len(found.overall.again) > MOST_DRAWN
            else gettext("One mark for each time that a failure came back on the same system."),
            pairs,
        )
        if pairs.rows
        else None,
        back=_named(book, [m for m in found.modes if m.comes_back]),
        few_returns=_named(book, [m for m in found.modes if m.again and m.few]),
        alone=_named(book, [m for m in found.modes if m.alone and not m.few]),
        held=_newest(held),
        kinds=kinds,
        kinds_say=_kinds_say(book, found),
        not_held=len(held.rows),
        looked_at=found.looked_at,
        repairs=found.repairs,
        seen=sum(n.seen for n in found.not_held),
        leaked_again=sum(bool(n.back) for n in found.not_held),
    )
    tables = [t for t in (ages, by_mode, returns, pairs, held, kinds) if t is not None and t.rows]
    return Topic(KEY, gettext(TITLE), gettext(LEAD), sections, tuple(tables), _headline(book, found))


def _named(book: Book, modes: list[Returns]) -> list[tuple[str, str, int]]:
    return [(m.mode, links.name_of("mode", m.mode, book.library), len(m.again)) for m in modes]


def _within(of: Returns) -> list[ByAge]:
    return list(of.within) if of.repairs >= FEW else []


def _headline(book: Book, found: Recurrence) -> str:
    """The figure that matters most."""
    all_ = found.overall
    if all_.repairs < FEW:
        return repairs(all_.repairs) + gettext(" on record: too few to tell what comes back.")
    out = gettext("After {again} of {repairs} repairs the same failure came back on the same system").format(
        again=len(all_.again), repairs=all_.repairs
    )
    if all_.within:
        first = all_.within[0]
        if first.low is None:
            out += gettext(", never within a year")
        else:
            out += gettext(", within a year after {share} of them").format(share=display.percent(first.share))
            out += gettext(" ({low}, 95 % sure)").format(low=between(first.low, first.high))
    back = _named(book, [m for m in found.modes if m.comes_back])
    if back:
        out += gettext(". More often than chance: {listed}").format(
            listed=listed([name for _, name, _ in back])
        )
    worse = any(k.worse for k in found.kinds)
    return f"{out}. {_kinds_say(book, found)}" if worse else f"{out}."


def _row(count: MeanCount) -> MeanByAge | None:
    known = [r for r in count.rows if r.age <= 10 and r.leaks]
    return known[-1] if known else None


def _count_says(count: MeanCount) -> str:
    row = _row(count)
    if row is None or row.low is None or row.high is None or count.few:
        return leaks(int(count.leaks.sum())) + gettext(" on record at these ages: too few to tell.")
    said = (
        gettext(
            "From age {start} to {age} a system has had {mean} leaks on average ({low} to {high}, 95 % sure; {leaks} leaks)."
        )
        if count.start > 0
        else gettext(
            "By age {age} a system has had {mean} leaks on average ({low} to {high}, 95 % sure; {leaks} leaks)."
        )
    )
    return said.format(
        start=display.number(count.start),
        age=display.number(row.age),
        mean=display.number(row.mean),
        low=display.number(row.low),
        high=display.number(row.high),
        leaks=row.leaks,
    )


def _ages(count: MeanCount) -> Table:
    return Table(
        "again-leaks-by-age",
        gettext("Leaks a system has had, by age"),
        (
            Column("age", gettext("Age, years"), "number"),
            Column("at_risk", gettext("Systems under watch"), "whole"),
            Column("leaks", gettext("Leaks so far"), "whole"),
            Column("mean", gettext("Leaks a system"), "number"),
            Column("low", gettext("At least"), "number"),
            Column("high", gettext("At most"), "number"),
        ),
        tuple((r.age, r.at_risk, r.leaks, r.mean, r.low, r.high) for r in count.rows),
        gettext(
            "From age {start} to {end}, where at least {least_at_risk} systems were under watch. At "
            "least, at most: 95 % sure, for systems that differ."
        ).format(
            start=display.number(count.start), end=display.number(count.end), least_at_risk=LEAST_AT_RISK
        ),
    )


def _by_mode(found: Recurrence) -> Table:
    columns = [Column("mode", gettext("Failure"), "mode"), Column("leaks", gettext("Leaks"), "whole")]
    for age in TOLD:
        columns += [
            Column(f"by_{age:.0f}", gettext("By age {age}").format(age=f"{age:.0f}"), "number"),
            Column(f"low_{age:.0f}", gettext("By {age}, at least").format(age=f"{age:.0f}"), "number"),
            Column(f"high_{age:.0f}", gettext("By {age}, at most").format(age=f"{age:.0f}"), "number"),
        ]
    rows = []
    for mode, count in found.counts.items():
        if mode == ALL:
            continue
        by_age = {r.age: r for r in count.rows}
        cells: list[Any] = [mode, int(count.leaks.sum())]
        for age in TOLD:
            row = by_age.get(age)
            told = (row.mean, row.low, row.high) if row else (None, None, None)
            cells += [None if value is None else 100 * value for value in told]
        rows.append(tuple(cells))
    return Table(
        "again-by-failure",
        gettext("Leaks of each failure that 100 systems have had, by age"),
        tuple(columns),
        tuple(rows),
        gettext("Failures with at least {least_mode} leaks. At least, at most: 95 % sure.").format(
            least_mode=LEAST_MODE
        ),
    )


def _verdict(x: Returns) -> str:
    if not x.again:
        return gettext("Has not come back")
    if x.few:
        return gettext("Too few returns to tell")
    if x.alone:
        return gettext("On one system alone")
    return gettext("Comes back") if x.comes_back else gettext("No more than chance")


def _returns(found: Recurrence) -> Table:
    rows = []
    for x in found.modes:
        year = next((r for r in x.within if r.age == 1), None) if x.again else None
        rows.append(
            (
                x.mode,
                x.repairs,
                len(x.again),
                x.expected or None,
                round(x.days.median) if x.days else None,
                year.share if year else None,
                year.low if year else None,
                year.high if year else None,
                _verdict(x),
            )
        )
    return Table(
        "again-returns",
        gettext("The same failure on the same system after its repair"),
        (
            Column("mode", gettext("Failure"), "mode"),
            Column("repairs", gettext("Repairs"), "whole"),
            Column("again", gettext("Came back"), "whole"),
            Column("expected", gettext("If repaired systems leaked like all others"), "number"),
            Column("days", gettext("Days in the middle"), "whole"),
            Column("year", gettext("Within a year"), "percent"),
            Column("low", gettext("At least"), "percent"),
            Column("high", gettext("At most"), "percent"),
            Column("verdict", gettext("What it means"), "text"),
        ),
        tuple(rows),
        gettext(
            "Within a year: of the repairs still under watch then, 95 % sure; not given where the "
            "failure has not come back or fewer than {few} repairs were watched for so long."
        ).format(few=FEW),
    )


def _pairs(found: Recurrence) -> Table:
    return Table(
        "again-pairs",
        gettext("Each time that a failure came back"),
        (
            Column("mode", gettext("Failure"), "mode"),
            Column("system", gettext("System"), "system"),
            Column("repaired", gettext("Repaired in"), "case"),
            Column("back", gettext("Came back in"), "case"),
            Column("days", gettext("Days after the repair"), "whole"),
            Column("part", gettext("Where"), "text"),
        ),
        tuple(
            (
                a.back.mode,
                a.back.watched.system.id,
                a.repaired.case.id,
                a.back.case.id,
                a.days,
                gettext("same part") if a.same_part else gettext("another part"),
            )
            for a in found.overall.again
        ),
    )


def _not_held(found: Recurrence) -> Table:
    rows = []
    for n in found.not_held:
        how = []
        if n.seen:
            how.append(gettext("found leaking at a later look"))
        if n.back:
            how.append(gettext("same part leaked again in the same way"))
        rows.append(
            (
                n.case.id,
                n.modes,
                n.case.reported,
                "; ".join(how),
                tuple(a.back.case.id for a in n.back) or None,
                min((a.days for a in n.back), default=None),
            )
        )
    return Table(
        "again-not-held",
        gettext("Repairs that did not hold"),
        (
            Column("case", gettext("Repaired in"), "case"),
            Column("modes", gettext("Failure"), "mode"),
            Column("reported", gettext("Reported"), "date"),
            Column("how", gettext("How we know"), "text"),
            Column("back", gettext("Came back in"), "case"),
            Column("days", gettext("Days after the repair"), "whole"),
        ),
        tuple(rows),
    )


def _kinds(book: Book, found: Recurrence) -> Table:
    """Repairs by kind: how many were looked at again, and how many of these were found leaking."""
    name = book.library.vocabulary.name
    return Table(
        "again-by-repair",
        gettext("Which kind of repair holds"),
        (
            Column("repair", gettext("Repair"), "text"),
            Column("repairs", gettext("Repairs"), "whole"),
            Column("looked_at", gettext("Looked at again"), "whole"),
            Column("failed", gettext("Found leaking"), "whole"),
            Column("share", gettext("Share"), "percent"),
            Column("low", gettext("At least"), "percent"),
            Column("high", gettext("At most"), "percent"),
            Column("cases", gettext("Cases found leaking"), "case"),
        ),
        tuple(
            (
                name("actions", k.action),
                k.repairs,
                k.failed.n if k.failed else 0,
                len(k.back),
                *(
                    (k.failed.value, k.failed.low, k.failed.high)
                    if k.failed and not k.failed.few
                    else (None, None, None)
                ),
                tuple(c.id for c in k.back) if 0 < len(k.back) <= MANY else None,
            )
            for k in found.kinds
        ),
        gettext(
            "At least, at most: 95 % sure, of those looked at again (Wilson); not given for fewer than {few}."
        ).format(few=FEW),
    )


def _kinds_say(book: Book, found: Recurrence) -> str:
    """The kinds that fail more often than the others, or that none does beyond chance."""
    worse = [k for k in found.kinds if k.worse]
    if not worse:
        return gettext("No kind of repair is found leaking more often than the others beyond chance.")
    said = []
    for k in worse:
        assert k.failed is not None
        assert k.others is not None
        said.append(
            gettext(
                "{repair}: {k} of {n} that were looked at again were found leaking ({share}; {low}, 95 % sure); of "
                "all other repairs {others} of {of} ({rest})."
            ).format(
                repair=book.library.vocabulary.name("actions", k.action),
                k=k.failed.k,
                n=k.failed.n,
                share=display.percent(k.failed.value),
                low=between(k.failed.low, k.failed.high),
                others=k.others.k,
                of=k.others.n,
                rest=display.percent(k.others.value),
            )
        )
    return " ".join(said)


def _gathered(count: MeanCount) -> Any:
    kept, end = thinned(count.ages), count.end
    rows = [
        {
            "age": round(float(a), 3),
            "mean": round(float(x), 4),
            "low": round(float(b), 4),
            "high": round(float(t), 4),
        }
        for a, x, b, t in zip(
            count.ages[kept], count.mean[kept], count.low[kept], count.high[kept], strict=True
        )
    ]
    start = {"age": round(count.start, 3), "mean": 0.0, "low": 0.0, "high": 0.0}
    points = (start, *rows, {**(rows[-1] if rows else start), "age": round(end, 3)})

    def make(width_px: int) -> Any:
        import altair as alt  # late: it is slow

        steps = alt.Chart({"values": points})
        x = alt.X(
            "age:Q",
            title=gettext("Age of the system, years"),
            scale=alt.Scale(domain=[0, end], nice=False),
            axis=alt.Axis(tickCount=4),
        )
        band = steps.mark_area(interpolate="step-after", color=PATINA, opacity=0.25).encode(
            x=x,
            y=alt.Y("low:Q", title=gettext("Leaks a system"), axis=alt.Axis(tickCount=5)),
            y2=alt.Y2("high:Q"),
        )
        line = steps.mark_line(interpolate="step-after", color=COPPER, strokeWidth=2.5).encode(
            x=x, y=alt.Y("mean:Q")
        )
        even = alt.Chart({"values": [points[0], points[-1]]}).mark_line(
            color=EDGE, strokeWidth=1.5, strokeDash=[6, 5]
        )
        return alt.layer(band, even.encode(x=alt.X("age:Q"), y=alt.Y("mean:Q")), line).properties(
            height=300 if width_px > 500 else 240
        )

    return make


def _apart(book: Book, again: tuple[Again, ...]) -> Any:
    longest = max(365, *(a.days for a in again))
    modes = len({a.back.mode for a in again})
    parts = [gettext("same part"), gettext("another part")]
    found = [
        (a.days, links.name_of("mode", a.back.mode, book.library), parts[not a.same_part]) for a in again
    ]

    def make(width_px: int) -> Any:
        import altair as alt  # late: it is slow

        wide = width_px > 500
        rows: tuple[dict[str, Any], ...] = tuple(
            {
                "days": days,
                "mode": "\n".join(textwrap.wrap(name, 40 if wide else 16)),
                "part": part,
            }
            for days, name, part in found
        )
        most = max(row["mode"].count("\n") for row in rows) + 1
        x = alt.X(
            "days:Q",
            title=gettext("Days after the repair"),
            scale=alt.Scale(domain=[0, longest], nice=True),
            axis=alt.Axis(tickCount=8 if wide else 3),
        )
        y = alt.Y(
            "mode:N",
            title=None,
            sort=alt.EncodingSortField("days", op="min"),
            axis=alt.Axis(grid=True, labelExpr="split(datum.label, '\\n')"),
        )
        legend = alt.Legend(columns=2 if wide else 1)
        marks = alt.Chart({"values": rows}).mark_point(filled=True, size=110, stroke=INK, strokeWidth=1.5)
        return marks.encode(
            x=x,
            y=y,
            shape=alt.Shape(
                "part:N",
                title=None,
                legend=legend,
                scale=alt.Scale(domain=parts, range=["circle", "triangle-up"]),
            ),
            fill=alt.Fill(
                "part:N", title=None, legend=legend, scale=alt.Scale(domain=parts, range=[COPPER, PAPER])
            ),
        ).properties(height=(14 + 20 * most) * modes + 10)

    return make
