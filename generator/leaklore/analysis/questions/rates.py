"""Questions on how much is lost, and on what the rules ask."""

from __future__ import annotations

import datetime as dt

from leaklore.analysis.questions.question import CLEAR, REASON, Maker, Question, apart, capital, fill
from leaklore.trade import eu_rules, leak_rate, us_rules
from leaklore.trade.data import Citation
from leaklore.trade.units import DAY, YEAR
from leaklore.trade.us_rules import Appliance

BENCH = "bench:leak-rate"
_MONTH = YEAR / 12
_MOST_LOST = 0.9
"""Share of a charge that a loss in a question may be."""


def per_year(m: Maker) -> Question | None:
    """A loss over months as a loss a year."""
    lost, over = m.one("losses"), m.one("months")
    months = over / _MONTH
    right = lost * YEAR / over
    wrong = m.chance.shuffled([lost, lost * months / 12, right * 2, right / 2, right * 1.5, lost / months])
    slots = {"lost": m.write(lost, "mass"), "over": m.write(over, "span"), "right": m.write(right, "mass")}
    return m.measured(right, wrong, "mass", BENCH, slots)


def share_a_year(m: Maker) -> Question | None:
    """A loss over months as a share of the charge a year."""
    charge, lost, over = m.one("charges"), m.one("losses"), m.one("months")
    plain = lost / charge
    found = leak_rate.loss(lost, over, charge).share
    if found is None or not CLEAR / 3 < plain < _MOST_LOST:
        return None
    wrong = m.chance.shuffled([plain, plain * over / YEAR, found * 2, found / 2, found * 1.5])
    slots = {
        "charge": m.write(charge, "mass"),
        "lost": m.write(lost, "mass"),
        "over": m.write(over, "span"),
        "plain": m.write(plain, "share"),
        "right": m.write(found, "share"),
    }
    return m.measured(found, wrong, "share", BENCH, slots)


def co2e(m: Maker) -> Question | None:
    """A mass in tonnes of CO2 equivalent."""
    gas, mass = m.gas("weighed"), m.one("losses")
    gwp = gas.gwp["ar4"]
    if gwp is None:
        return None
    right, slip = leak_rate.tonnes_co2e(mass, gwp), m.fixed("slip")
    wrong = m.chance.shuffled([right * slip, right / slip, right * 10, right / 10, right * 1000])
    slots = {
        "gas": gas.key,
        "mass": m.write(mass, "mass"),
        "gwp": m.write(gwp, "count"),
        "kg": m.write(mass, "kilogram"),
        "right": m.write(right, "co2e"),
    }
    return m.measured(right, wrong, "co2e", BENCH, slots)


def explains(m: Maker) -> Question | None:
    """Does the leak that was found explain the loss?"""
    loss = m.one("rates")
    whole = m.chance.below(3) == 0
    part = m.one("parts")
    found = loss * (m.chance.share(0.9, 1.1) if whole else part)
    slots = {
        "loss": m.write(loss, "leak-rate"),
        "found": m.write(found, "leak-rate"),
        "share": m.write(found / loss, "rough-share"),
    }
    everything, little = m.say("all"), m.say("none")
    if whole:
        others = [m.say("part", share=m.write(p, "rough-share")) for p in (part, part * 2)]
        return m.asked([everything], [*others, little], "bench:leak-flow", slots, "why-all")
    other = part * 3 if m.chance.below(2) else part / 3
    false = m.say("part", share=m.write(other, "rough-share"))
    right = m.say("part", share=slots["share"])
    return m.asked([right], [everything, false, little], "bench:leak-flow", slots, "why-part")


def annualized(m: Maker) -> Question | None:
    """The annualizing method of 40 CFR 82.152."""
    charge, added, over = m.one("ruled-charges"), m.one("added"), m.one("days")
    days, plain = over / DAY, added / charge
    if not 0.02 < plain < _MOST_LOST:
        return None
    right = leak_rate.annualizing(added, charge, days)
    whole = leak_rate.RULE_YEAR
    wrong = m.chance.shuffled(
        [plain, plain * days / whole, plain * whole / days, right * 2, right / 2, right * 1.5]
    )
    slots = {
        "charge": m.write(charge, "mass"),
        "added": m.write(added, "mass"),
        "days": m.write(over, "days"),
        "plain": m.write(plain, "share"),
        "right": m.write(right, "share"),
        "source": m.material["sources"]["method"],
    }
    return m.measured(right, wrong, "share", BENCH, slots)


def _source(m: Maker, source: Citation) -> str:
    return fill(m.material["marks"][source.mark], {"where": source.where})


def repair_due(m: Maker) -> Question | None:
    """Is a repair due by the leak-rate rule?"""
    kind = m.one("appliances")
    gas = m.gas(f"ruled-{kind}")
    charge, added, over = m.one("ruled-charges"), m.one("added"), m.one("days")
    on, plain = m.one("dates"), added / charge
    if not 0.01 < plain < _MOST_LOST:
        return None
    rate = leak_rate.annualizing(added, charge, over / DAY)
    asked = us_rules.rules(gas, charge, Appliance(kind, False), dt.date.fromisoformat(on), rate)
    holding = [rule for rule in asked if rule.holds and rule.threshold is not None]
    limits = sorted({limit for limit in m.material["limits"].values() if not apart(rate, limit)})
    if len(holding) > 1 or limits:
        return None
    since = holding[0].counts_from if holding else None
    if since is not None and dt.date.fromisoformat(on) - dt.timedelta(seconds=over) < since:
        return None  # the addition before does not count under that rule

    def said(key: str, limit: float) -> str:
        return m.say(key, rate=m.write(rate, "share"), limit=m.write(limit, "share"))

    limit = holding[0].threshold if holding else m.material["limits"][kind]
    assert limit is not None
    outside = [one for one in m.material["limits"].values() if (rate > one) != (rate > limit)]
    over_it = rate > limit
    # the other verdict, by a limit that is for another kind of appliance, or by forgetting the year
    if outside:
        false = said("under" if over_it else "over", outside[0])
    elif over_it and plain < limit:
        false = m.say("under", rate=m.write(plain, "share"), limit=m.write(limit, "share"))
    else:
        return None
    verdict = said("over" if over_it else "under", limit)
    none, always = m.say("none"), m.say("always")
    slots = {
        "appliance": m.words[kind],
        "gas": gas.key,
        "charge": m.write(charge, "mass"),
        "on": m.write(on, "day"),
        "added": m.write(added, "mass"),
        "days": m.write(over, "days"),
        "rate": m.write(rate, "share"),
        "advice": m.material["advice"],
    }
    if holding:
        rule = holding[0]
        source = _source(m, rule.source)
        name, most = m.write(rule.name, REASON), m.write(limit, "share")
        because = m.say("because-rule", name=name, limit=most, source=source)
        return m.asked([verdict], [false, none, always], BENCH, {**slots, "because": because})
    reasons = "; ".join(
        m.say("reason", name=m.write(rule.name, REASON), because=m.write(rule.because, REASON))
        for rule in asked
    )
    because = m.say("because-none", gas=gas.key, reasons=reasons)
    return m.asked([none], [verdict, false, always], BENCH, {**slots, "because": because})


def repair_by(m: Maker) -> Question | None:
    """The day by which a leak must be repaired."""
    on = dt.date.fromisoformat(m.one("dates")) + dt.timedelta(days=m.chance.below(20))
    stops = m.chance.below(3) == 0
    usual = us_rules.repair_by(on).day
    days = (
        us_rules.follow_up_by(on).day,
        usual,
        us_rules.repair_by(usual).day,
        us_rules.repair_by(on, True).day,
    )
    texts = [m.write(day.isoformat(), "day") for day in days]
    right = texts[3] if stops else texts[1]
    slots = {
        "on": m.write(on.isoformat(), "day"),
        "process": m.say("stops" if stops else "runs"),
        "right": right,
        "source": m.material["sources"]["repair"],
        "advice": m.material["advice"],
    }
    return m.asked([right], [text for text in texts if text != right], BENCH, slots)


def check_interval(m: Maker) -> Question | None:
    """How often Regulation (EU) 2024/573 asks for a leak check."""
    gas, charge = m.gas("common"), m.one("ruled-charges")
    detection = m.chance.below(3) == 0
    found = eu_rules.leak_check(gas, charge, detection)
    if not all(found.tonnes is None or apart(found.tonnes, limit) for limit in m.material["eu_limits"]):
        return None
    every = {months: m.say("every", months=str(months)) for months in (3, 6, 12, 24)}
    right = m.say("none") if found.months is None else every[found.months]
    wrong = [text for text in (m.say("none"), *every.values()) if text != right]
    slots = {
        "charge": m.write(charge, "mass"),
        "gas": gas.key,
        "with": m.words["with" if detection else "without"],
        "because": capital(m.write(found.because, REASON)),
        "source": _source(m, found.source),
        "advice": m.material["advice"],
    }
    return m.asked([right], m.chance.shuffled(wrong)[:3], BENCH, slots)


def check_after_repair(m: Maker) -> Question | None:
    """The days within which a repaired place is checked, by Regulation (EU) 2024/573."""
    on = dt.date.fromisoformat(m.one("dates")) + dt.timedelta(days=m.chance.below(20))
    first, last, _ = eu_rules.recheck_window(on)
    inside = first + dt.timedelta(days=2 + m.chance.below(20))
    wrong = m.chance.shuffled([on, *(last + dt.timedelta(days=days) for days in (14, 45, 120))])[:3]
    slots = {
        "on": m.write(on.isoformat(), "day"),
        "first": m.write(first.isoformat(), "day"),
        "last": m.write(last.isoformat(), "day"),
        "source": m.material["sources"]["recheck"],
        "advice": m.material["advice"],
    }
    texts = [m.write(day.isoformat(), "day") for day in wrong]
    return m.asked([m.write(inside.isoformat(), "day")], texts, BENCH, slots)
