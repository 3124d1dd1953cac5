"""What a case cost, in the company's currency, and how long it took to find."""

from __future__ import annotations

from leaklore.records.guide import Guide
from leaklore.records.model import Case, Company, SearchStep

SHIFT = 480
"""min; a step that took longer ran on its own, overnight (judgement)."""


def minutes_to_find(case: Case) -> int | None:
    """Minutes of the search up to and including the step that first pinpointed the cause; None if none did."""
    total = 0
    for step in case.search:
        total += step.minutes
        if step.result in ("pinpointed", "confirmed") and case.cause.component in step.at:
            return total
    return None


def repair_cost(case: Case, company: Company) -> float | None:
    """Parts and labour of the repair, the search not included; None where neither is recorded, or nobody may see it."""
    if (
        company.labour_rate is None
        or case.fix is None
        or (case.fix.parts is None and case.fix.labour is None)
    ):
        return None
    parts = case.fix.parts.si if case.fix.parts else 0.0
    hours = case.fix.labour.si / 3600 if case.fix.labour else 0.0
    return parts + hours * company.hour


def work_minutes(step: SearchStep, guide: Guide) -> float:
    """Minutes that somebody stood beside it: all of them, or of a step beyond SHIFT the guide's setting up alone."""
    if step.minutes <= SHIFT:
        return float(step.minutes)
    return min(float(guide.techniques[step.technique]["minutes"]["set_up"]), float(step.minutes))


def step_cost(step: SearchStep, company: Company, guide: Guide) -> float:
    """Working time and material of one search step; hours in which a test ran on its own cost nothing."""
    return work_minutes(step, guide) / 60 * company.hour + (step.cost.si if step.cost else 0.0)


def search_cost(case: Case, company: Company, guide: Guide) -> float:
    """Working time and material of the whole search."""
    return sum(step_cost(step, company, guide) for step in case.search)
