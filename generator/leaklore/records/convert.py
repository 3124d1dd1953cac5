"""Schema-checked data -> frozen records. Units are converted here, once."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping
from functools import lru_cache
from hashlib import blake2b
from sys import intern
from typing import Any

from leaklore import language
from leaklore.records import model as m
from leaklore.records.quantity import Quantity, read

Data = Mapping[str, Any]


def _same(word: Any) -> Any:
    """A word of a fixed list, whose type the schema vouches for, held in memory once."""
    return intern(word)


def _word(data: Data, key: str) -> str | None:
    """A word of a vocabulary, held in memory once for all records."""
    return intern(data[key]) if key in data else None


def _words(data: Data, key: str) -> tuple[str, ...]:
    return tuple(map(intern, data[key])) if key in data else ()


def _q(data: Data, key: str, dimension: str) -> Quantity | None:
    return read(data[key], dimension) if key in data else None


def _whole(data: Data, key: str) -> int | None:
    return int(data[key]) if key in data else None  # the schema lets 6.0 pass as a whole number


def _day(data: Data, key: str) -> dt.date | None:
    return _date(data[key]) if key in data else None


_date = lru_cache(maxsize=20_000)(dt.date.fromisoformat)


@lru_cache(maxsize=20_000)
def partial_date(written: str) -> m.PartialDate:
    """`2022`, `2022-06` or `2022-06-14`; the middle of the year or month stands for computing."""
    parts = [int(p) for p in written.split("-")]
    if len(parts) == 1:
        return m.PartialDate(written, dt.date(parts[0], 7, 1))
    if len(parts) == 2:
        return m.PartialDate(written, dt.date(parts[0], parts[1], 15))
    return m.PartialDate(written, dt.date(*parts))


def _line_set(data: Data | None) -> m.LineSet | None:
    if data is None:
        return None
    return m.LineSet(
        _word(data, "route"), _q(data, "length", "length"), _word(data, "liquid"), _word(data, "suction")
    )


def equipment(data: Data, base: m.Equipment | None = None) -> m.Equipment:
    """Equipment of a record over what the register says."""
    if base is not None and not data:
        return base
    old = base or m.Equipment()
    return m.Equipment(
        setting=_word(data, "setting") or old.setting,
        kind=_word(data, "kind") or old.kind,
        family=_word(data, "family") if "family" in data else old.family,
        refrigerant=_word(data, "refrigerant") or old.refrigerant,
        charge=_q(data, "charge", "mass") or old.charge,
        installed=partial_date(data["installed"]) if "installed" in data else old.installed,
        line_set=_line_set(data.get("line_set")) or old.line_set,
    )


def site(data: Data) -> m.Site:
    """One site of the register."""
    return m.Site(
        data["key"],
        data["name"],
        intern(data["branch"]),
        intern(data["setting"]),
        data.get("batch"),
        data.get("note"),
    )


def system(data: Data, at: m.Site) -> m.System:
    """One system of the register at its site."""
    return m.System(
        id=data["id"],
        site=at,
        name=data["name"],
        equipment=equipment({**data, "setting": at.setting}),
        crew=_word(data, "crew"),
        removed=partial_date(data["removed"]) if "removed" in data else None,
        note=data.get("note"),
    )


def _cause(data: Data) -> m.Cause:
    return m.Cause(
        intern(data["mode"]), intern(data["component"]), _same(data["proof"]), _words(data, "contributing")
    )


def _step(data: Data) -> m.SearchStep:
    return m.SearchStep(
        technique=intern(data["technique"]),
        at=_words(data, "at"),
        minutes=int(data["minutes"]),
        result=_same(data["result"]),
        running=data.get("running"),
        pressure=_q(data, "pressure", "pressure"),
        cost=_q(data, "cost", "money"),
        note=data.get("note"),
    )


def _reading(data: Data) -> m.Reading:
    value = read(data["value"], "reading")
    return m.Reading(
        intern(data["at"]), intern(data["by"]), value, _q(data, "background", "reading"), data.get("note")
    )


def _fix(data: Data | None) -> m.Fix | None:
    if data is None:
        return None
    hold = data.get("hold_test")
    return m.Fix(
        action=intern(data["action"]),
        parts=_q(data, "parts", "money"),
        labour=_q(data, "labour", "duration"),
        charge_added=_q(data, "charge_added", "mass"),
        hold_test=m.HoldTest(
            medium=intern(hold["medium"]),
            start=read(hold["start"], "pressure"),
            end=read(hold["end"], "pressure"),
            over=read(hold["over"], "duration"),
            start_temp=_q(hold, "start_temp", "temperature"),
            end_temp=_q(hold, "end_temp", "temperature"),
        )
        if hold
        else None,
    )


PROSE = ("story", "advice", "photos")
"""Keys of a record that no statistic and no list shows."""


def facts_of(data: Data) -> str:
    """Digest of a record without its prose."""
    told = json.dumps({k: v for k, v in data.items() if k not in PROSE}, sort_keys=True)
    return blake2b(told.encode(), digest_size=12).hexdigest()


def case(data: Data, path: str, digest: str, systems: Mapping[str, m.System]) -> m.Case:
    """One case; an unknown system is left out here and told by the rules."""
    registered = systems.get(data.get("system", ""))
    around = data.get("environment", {})
    charge = data.get("charge", {})
    reading = data.get("reading", {})
    first = data.get("first_diagnosis")
    gone = data.get("withdrawn")
    avoided = data.get("avoided")
    return m.Case(
        id=data["id"],
        facts=facts_of(data),
        title=data["title"],
        reported=_date(data["reported"]),
        closed=_day(data, "closed"),
        branch=intern(data["branch"]),
        crew=_word(data, "crew"),
        system=registered,
        equipment=equipment(data.get("equipment", {}), registered.equipment if registered else None),
        symptoms=_words(data, "symptoms"),
        not_seen=_words(data, "not_seen"),
        ambient=_q(around, "ambient", "temperature"),
        conditions=_words(around, "conditions"),
        lost=_q(charge, "lost", "mass"),
        lost_over=_q(charge, "over", "duration"),
        topped_up=_q(charge, "topped_up", "mass"),
        readings=tuple(_reading(r) for r in data.get("readings", ())),
        instruments=tuple(
            m.Instrument(
                intern(i["technique"]),
                _word(i, "set_for"),
                _q(i, "alarm_at", "reading"),
                _word(i, "verified"),
                i.get("warmed_up"),
            )
            for i in data.get("instruments", ())
        ),
        search=tuple(_step(s) for s in data["search"]),
        avoided=m.Avoided(avoided["technique"], avoided["because"]) if avoided else None,
        first_diagnosis=m.FirstDiagnosis(
            intern(first["mode"]), _whole(first, "minutes"), _q(first, "cost", "money")
        )
        if first
        else None,
        cause=_cause(data["cause"]),
        also_found=tuple(_cause(c) for c in data.get("also_found", ())),
        fix=_fix(data.get("fix")),
        follow_up=tuple(
            m.FollowUp(_date(f["date"]), _same(f["result"]), f.get("note")) for f in data.get("follow_up", ())
        ),
        related=tuple(m.Related(r["case"], intern(r["as"])) for r in data.get("related", ())),
        advice=data.get("advice"),
        lesson=data.get("lesson"),
        story=data["story"],
        photos=tuple(m.Photo(p["file"], p["caption"]) for p in data.get("photos", ())),
        level=_word(reading, "level"),
        topics=_words(reading, "topics"),
        withdrawn=m.Withdrawn(_date(gone["date"]), gone["why"]) if gone else None,
        was=tuple(data.get("was", ())),
        path=path,
        digest=digest,
    )


def _item(data: Data) -> m.ReadingItem:
    kind, _, key = data["read"].partition(":")
    return m.ReadingItem(kind, key, data["why"])


NEWEST = 12
"""Cases that a reading list takes by itself where it does not say how many."""


def _taken(data: Data) -> m.Taken:
    return m.Taken(
        newest=int(data.get("newest", NEWEST)),
        modes=tuple(data.get("modes", ())),
        techniques=tuple(data.get("techniques", ())),
        settings=tuple(data.get("settings", ())),
        level=data.get("level"),
        at_least_proof=data.get("at_least_proof", "suspected"),
    )


def reading_list(data: Data) -> m.ReadingList:
    """One reading list as written; records/reading.py adds what `from` takes."""
    return m.ReadingList(
        key=data["key"],
        title=data["title"],
        audience=data["for"],
        level=data["level"],
        items=tuple(_item(i) for i in data.get("items", ())),
        due_days=_whole(data, "due_days"),
        able_to=tuple(data.get("able_to", ())),
        taken=_taken(data["from"]) if "from" in data else None,
    )


def company(data: Data) -> m.Company:
    """The company's settings."""
    return m.Company(
        name=data["name"],
        about=data.get("about", ""),
        units=data["units"],
        currency=data["currency"],
        labour_rate=read(data["labour_rate"], "money"),
        site_url=data.get("site_url"),
        branches={b["key"]: b["prefix"] for b in data["branches"]},
        crews={c["key"]: c["branch"] for c in data.get("crews", ())},
        records_since=_day(data, "records_since"),
        refrigerant_price={k: read(v, "money") for k, v in data.get("refrigerant_price", {}).items()},
        language=data.get("language", language.SOURCE),
    )


def action(data: Data) -> m.Action:
    """One change that the company made."""
    return m.Action(
        key=data["key"],
        date=_date(data["date"]),
        what=data["what"],
        modes=tuple(data["modes"]),
        where=dict(data.get("where", {})),
        applies_to=data.get("applies_to", "all"),
        note=data.get("note"),
    )
