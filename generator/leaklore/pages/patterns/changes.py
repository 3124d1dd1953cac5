"""Before and after: each change of the company, held against the leaks that it should have made rarer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite
from typing import Any

from leaklore.analysis.patterns.changes import HORIZON, Change, Compared, Side
from leaklore.analysis.patterns.rates import Rate, Ratio, finite
from leaklore.pages import display
from leaklore.pages.book import Book
from leaklore.pages.patterns.drawing import COPPER, INK, PAPER, draw
from leaklore.pages.patterns.tables import Column, Table, Value
from leaklore.pages.patterns.topic import Topic
from leaklore.pages.render import Templates

KEY = "changes"
TITLE = "Before and after"
LEAD = "What we changed, and whether the leaks that it should stop have become rarer since."
WORDS = {
    "fewer": "Fewer leaks since",
    "fewer-as-all": "Fewer, but so has the rest",
    "more": "More leaks since",
    "more-as-all": "More, but so has the rest",
    "no-change": "No halving",
    "too-early": "Too early to tell",
    "too-small": "Too early to tell",
    "too-few": "Too few leaks to tell",
    "nobody": "No system yet",
    "no-before": "Nothing to compare with",
}
SHAPES = {
    "fewer": "less",
    "more": "more",
    "fewer-as-all": "as-said",
    "more-as-all": "as-said",
    "no-change": "as-said",
}
WHERE = {
    "branch": "branch {}",
    "crew": "installs of crew {}",
    "kind": "{}",
    "family": "family {}",
    "refrigerant": "{}",
    "setting": "{}",
    "batch": "building batch {}",
    "line_route": "lines: {}",
    "site": "site {}",
}
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
        chart=draw(_chart(drawn), "Leaks before and after each change", _says(found), table)
        if drawn
        else None,
        says=_says(found),
        table=table,
        waits=waits,
        horizon=HORIZON // 12,
    )
    return Topic(KEY, TITLE, LEAD, sections, (table, waits) if found else (), _headline(found))


def short_name(change: Change) -> str:
    """The change's key as words."""
    return change.action.key.replace("-", " ").capitalize()


def _count(found: Sequence[Change], *verdicts: str) -> int:
    return sum(c.verdict in verdicts for c in found)


def _says(found: Sequence[Change]) -> str:
    if not found:
        return "No change is on record."
    good, bad = _count(found, "fewer"), _count(found, "more")
    plain = len(found) - good - bad
    parts = (
        [f"{good} of {len(found)} shows fewer leaks since"]
        if good == 1
        else [f"{good} of {len(found)} show fewer leaks since"]
    )
    if bad:
        parts.append(f"{bad} more")
    parts.append(f"for {plain} that can’t be told")
    return ", ".join(parts) + "."


def _headline(found: Sequence[Change]) -> str:
    if not found:
        return "No change of ours is on record, so none can be held against the leaks."
    out = f"Of {len(found)} changes that we made, {_says(found).replace(f' of {len(found)}', '')}"
    best = next((c for c in found if c.verdict == "fewer" and c.group.ratio), None)
    if best and best.group.ratio:
        out += f" {short_name(best)}: {_times(best.group.ratio)} as many as before, per system and year."
    return out


def _times(ratio: Ratio) -> str:
    """`0.13 times (0.03 to 0.60, 95 % sure)`."""
    high = display.number(ratio.high) if isfinite(ratio.high) else "no upper bound"
    value = f"{display.number(ratio.value)} times" if isfinite(ratio.value) else "many times"
    return f"{value} ({display.number(ratio.low)} to {high}, 95 % sure)"


def _side(side: Side) -> str:
    if side.rate is None:
        return "no system under watch"
    leaks = "no leak" if not side.leaks else "1 leak" if len(side.leaks) == 1 else f"{len(side.leaks)} leaks"
    return (
        f"{leaks} in {display.number(side.years, 3)} system-years: {display.number(side.rate.value)} a year in 100 systems "
        f"({display.number(side.rate.low)} to {display.number(side.rate.high)})"
    )


def _where(book: Book, change: Change) -> str:
    words = book.library.vocabulary
    if not change.action.where:
        return "all systems"
    parts = []
    for key, word in change.action.where.items():
        if key == "site":
            shown = book.library.sites[word].name
        else:
            shown = words.name(VOCABULARY[key], word) if key in VOCABULARY else word
        parts.append(WHERE[key].format(shown))
    return ", ".join(parts)


def _months(months: int) -> str:
    return f"{months} month{'' if months == 1 else 's'}" if months < 24 else display.years(months / 12)


def _wait(change: Change) -> str:
    """What it takes until something can be said."""
    wait, before = change.wait, len(change.group.before.leaks)
    halving = (
        "A halving would very likely have shown by now."
        if wait.halving == 0
        else f"If it halved them, that would show with a chance of 80 of 100 after {_months(wait.halving)} more."
        if wait.halving
        else f"With {before} before it, even a halving would not show within {HORIZON // 12} years."
    )
    silence = (
        f" If no such leak comes at all, that shows after {_months(wait.silence)} more."
        if wait.silence
        else ""
    )
    return halving + silence


def _beyond(change: Change) -> str:
    rest = (
        "The systems that it does not concern"
        if change.rest_is == "systems"
        else "Other leaks of these systems"
    )
    if change.rest.ratio is None:
        return f"{rest}: too few leaks for a yardstick."
    out = f"{rest}, in the same time: {_times(change.rest.ratio)}."
    if change.beyond:
        out += f" Against them: {_times(change.beyond)}."
    return out


def _told(book: Book, change: Change) -> Told:
    group, late = change.group, change.action.applies_to == "installs-after"
    shown = group.ratio is not None and change.verdict not in ("too-few", "nobody", "no-before")
    first, then = ("Installed before", "Installed since") if late else ("Before", "Since")
    facts = [f"{first}: {_side(group.before)}.", f"{then}: {_side(group.after)}."]
    if late and group.after.rate:
        facts.append("Both at the same ages, as old as the new ones are by now.")
    plain = change.verdict in ("fewer", "more")
    if shown and group.ratio:
        if not plain:
            facts.append(f"Since, {_times(group.ratio)} as many: chance alone could do that.")
        facts.append(_beyond(change))
    if change.verdict in ("too-early", "too-small", "no-change"):
        facts.append(_wait(change))
    leaks = (*group.before.leaks, *group.after.leaks)
    scope = f"{_where(book, change)}{', only those installed since' if late else ''}"
    return Told(
        f"{KEY}-{change.action.key}",
        change.action.what,
        change.action.note or "",
        WORDS[change.verdict],
        SHAPES.get(change.verdict, "few"),
        f"{_times(group.ratio)} as many" if plain and group.ratio else "",
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
        Column("change", "Change", "text"),
        Column("date", "From", "date"),
        Column("modes", "Failures", "mode"),
        Column("verdict", "What it shows", "text"),
    ]
    for key, title in (("before", "Before"), ("after", "After")):
        columns += [
            Column(f"{key}_leaks", f"{title}: leaks", "whole"),
            Column(f"{key}_years", f"{title}: system-years", "number"),
            Column(f"{key}_rate", f"{title}: a year in 100 systems", "number"),
            Column(f"{key}_low", f"{title}: at least", "number"),
            Column(f"{key}_high", f"{title}: at most", "number"),
        ]
    columns += [
        Column("ratio", "After over before", "number"),
        Column("low", "Ratio at least", "number"),
        Column("high", "Ratio at most", "number"),
        Column("cases", "Cases", "case"),
    ]
    rows = []
    for c in found:
        cells: list[Value] = [short_name(c), c.action.date, c.action.modes, WORDS[c.verdict]]
        for side in (c.group.before, c.group.after):
            cells += [len(side.leaks), side.years, *_rate(side.rate)]
        leaks = (*c.group.before.leaks, *c.group.after.leaks)
        rows.append((*cells, *_ratio(c.group), tuple(dict.fromkeys(x.case.id for x in leaks)) or None))
    return Table(
        f"{KEY}-before-after",
        "Leaks before and after each change",
        tuple(columns),
        tuple(rows),
        "At least, at most: 95 % sure, exact. No upper bound where there was no leak before.",
    )


def _waits(found: Sequence[Change]) -> Table:
    return Table(
        f"{KEY}-waits",
        "The rest in the same time, and how long until it can be told",
        (
            Column("change", "Change", "text"),
            Column("rest", "Held against", "text"),
            Column("rest_before", "Its leaks before", "whole"),
            Column("rest_after", "Its leaks after", "whole"),
            Column("rest_ratio", "Its ratio", "number"),
            Column("rest_low", "Its ratio, at least", "number"),
            Column("rest_high", "Its ratio, at most", "number"),
            Column("halving", "Months until a halving would show", "whole"),
            Column("silence", "Months without any, until that would show", "whole"),
        ),
        tuple(
            (
                short_name(c),
                "systems that it does not concern"
                if c.rest_is == "systems"
                else "other leaks of the same systems",
                len(c.rest.before.leaks),
                len(c.rest.after.leaks),
                *_ratio(c.rest),
                c.wait.halving,
                c.wait.silence,
            )
            for c in found
        ),
        f"0: it would show by now. Empty: not within {HORIZON // 12} years. With 80 of 100 chances, if the rate before is as "
        "it was counted, and as many systems as today stay under watch.",
    )


def _chart(found: Sequence[Change]) -> Any:
    rows = []
    for c in found:
        for when, side in (("before", c.group.before), ("after", c.group.after)):
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
        offset = alt.YOffset("when:N", sort=["before", "after"])
        x = alt.X(
            "rate:Q",
            title="Leaks a year in 100 systems",
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
                sort=["before", "after"],
                scale=alt.Scale(domain=["before", "after"], range=["circle", "triangle-up"]),
            ),
            fill=alt.Fill(
                "when:N", title=None, scale=alt.Scale(domain=["before", "after"], range=[PAPER, COPPER])
            ),
        )
        return alt.layer(bars, dots).properties(height=62 * len(order))

    return make
