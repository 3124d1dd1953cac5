"""A proof level is earned by what the record shows."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from leaklore.problem import Finding
from leaklore.records.model import Case, HoldTest
from leaklore.records.rules.context import Context
from leaklore.records.rules.plausibility import gauge_error

DOCS = {
    "proof/held": "`held` needs a hold test that passed or a follow-up that found it holding",
    "proof/point": "`point` and `held` need a place pinpointed and confirmed by a second technique",
    "proof/section": "`section` needs a search step with the result section, lead or pinpointed",
    "proof/leaking-again": "`held` and a follow-up that found it leaking again don't go together",
    "search/elsewhere": "pinpointed or confirmed is said of the place that leaked",
}


def passed(hold: HoldTest) -> bool:
    """Did the test hold? No more pressure lost than gauges and temperatures explain; never by vacuum alone.

    A vacuum puts at most 1 bar across the leak, and in the wrong direction (common practice, no source).
    """
    if hold.medium == "vacuum":
        return False
    expected = hold.expected if hold.expected is not None else hold.start.si
    return hold.end.si >= expected - gauge_error(expected)


def held(case: Case, _: Mapping[str, Any], __: Context) -> Iterator[Finding]:
    """`held` needs a hold test that passed or a follow-up that found it holding."""
    if case.cause.proof != "held":
        return
    if any(look.result == "leaking-again" for look in case.follow_up):
        yield Finding(
            ("cause", "proof"),
            "cause.proof: held, but a follow-up found it leaking again",
            "write proof: point",
            "proof/leaking-again",
        )
        return
    hold = case.fix.hold_test if case.fix else None
    if any(look.result in ("holding", "other-leak") for look in case.follow_up):
        return
    if hold is None:
        yield Finding(
            ("cause", "proof"),
            "cause.proof: held, but there is neither a hold test nor a follow-up that found it holding",
            "add fix.hold_test: or follow_up:, or write proof: point",
            "proof/held",
        )
    elif not passed(hold):
        why = "a vacuum alone is no proof" if hold.medium == "vacuum" else "the hold test lost pressure"
        yield Finding(
            ("cause", "proof"),
            f"cause.proof: held, but {why} and no follow-up found it holding",
            "add a follow_up:, or write proof: point",
            "proof/held",
        )


def point(case: Case, _: Mapping[str, Any], __: Context) -> Iterator[Finding]:
    """`point` and `held` need a place pinpointed and confirmed by a second technique."""
    if case.cause.proof not in ("point", "held"):
        return
    hits = [
        s for s in case.search if s.result in ("pinpointed", "confirmed") and case.cause.component in s.at
    ]
    if not hits:
        yield Finding(
            ("cause", "proof"),
            f"cause.proof: {case.cause.proof}, but no search step pinpointed {case.cause.component}",
            "add the step, or write proof: section or suspected",
            "proof/point",
        )
    elif len({s.technique for s in hits}) < 2:
        yield Finding(
            ("cause", "proof"),
            f"cause.proof: {case.cause.proof}, but only {hits[0].technique} found {case.cause.component}; "
            "a second technique has to confirm it",
            "add the step with result: confirmed, or write proof: section",
            "proof/point",
        )


def section(case: Case, _: Mapping[str, Any], __: Context) -> Iterator[Finding]:
    """`section` needs a search step with the result section, lead or pinpointed."""
    if case.cause.proof == "section" and not any(
        s.result in ("section", "lead", "pinpointed", "confirmed") for s in case.search
    ):
        yield Finding(
            ("cause", "proof"),
            "cause.proof: section, but no search step narrowed it down",
            "add the step with result: section, or write proof: suspected",
            "proof/section",
        )


def elsewhere(case: Case, _: Mapping[str, Any], __: Context) -> Iterator[Finding]:
    """Pinpointed or confirmed is said of the place that leaked."""
    leaked = {c.component for c in case.causes}
    for i, step in enumerate(case.search):
        if step.result in ("pinpointed", "confirmed") and not leaked & set(step.at):
            yield Finding(
                ("search", i, "result"),
                f"search[{i}].result: {step.result} at {', '.join(step.at)}, but the leak was at {case.cause.component}",
                "write result: false-alarm or lead, correct the place, or add the leak to also_found:",
                "search/elsewhere",
            )


RULES = (held, point, section, elsewhere)
