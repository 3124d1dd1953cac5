"""Figures that can't be: more lost than was there, a pressure that rises by itself, a wrong unit."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from leaklore.problem import Finding, pointer_text
from leaklore.records import quantity
from leaklore.records.model import Case
from leaklore.records.rules.context import Context

DOCS = {
    "charge/too-much": "no more is lost than the system holds and was added",
    "hold-test/gain": "a hold test gains no more pressure than its temperatures explain",
    "hold-test/unit": "a vacuum is given below atmospheric pressure, a pressure test above",
    "symptom/both": "a symptom is not both seen and absent",
    "reading/unit": "the unit fits the instrument",
    "money/currency": "money is in the company's currency",
}

GAUGE_SHARE = 0.005
"""Share of the reading that a service gauge may be off between two readings (common practice, no source)."""
GAUGE_STEP = 7_000.0
"""Pa; about 1 psi, the finest mark of most service gauges (common practice, no source)."""


def gauge_error(pressure: float) -> float:
    """Pa; what two readings of the same pressure (Pa absolute) may differ by."""
    return max(GAUGE_STEP, GAUGE_SHARE * pressure)


def too_much_lost(case: Case, _: Mapping[str, Any], __: Context) -> Iterator[Finding]:
    """No more is lost than the system holds and was added."""
    full = case.equipment.charge
    if case.lost is None or full is None:
        return
    added = case.topped_up.si if case.topped_up else 0.0
    if case.lost.si > (full.si + added) * 1.02:  # 2 %: scales and rounding of lb and oz
        have = f"{full.written}" + (f" and {case.topped_up.written} were added" if case.topped_up else "")
        yield Finding(
            ("charge", "lost"),
            f'charge.lost: "{case.lost.written}" is more than was there: the system holds {have}',
            "correct it, or write what was added meanwhile as topped_up:",
            "charge/too-much",
        )


def pressure_gain(case: Case, _: Mapping[str, Any], __: Context) -> Iterator[Finding]:
    """A hold test gains no more pressure than its temperatures explain."""
    hold = case.fix.hold_test if case.fix else None
    if hold is None or hold.medium in ("vacuum", "refrigerant"):
        return
    expected = hold.expected
    explained = "its temperatures explain"
    if expected is None:
        expected, explained = hold.start.si, "it began with, and start_temp: and end_temp: are not both given"
    if hold.end.si > expected + gauge_error(expected):
        yield Finding(
            ("fix", "hold_test", "end"),
            f'fix.hold_test.end: "{hold.end.written}" is more than {explained} ({_psig(expected)} expected)',
            "correct the figures, or give both temperatures of the tubes",
            "hold-test/gain",
        )


def _psig(pascal: float) -> str:
    gauge = pascal - quantity.ATMOSPHERE
    return f"{gauge / 6894.757293168361:.0f} psig, {gauge / 1e5:.1f} bar"


def hold_test_unit(case: Case, _: Mapping[str, Any], __: Context) -> Iterator[Finding]:
    """A vacuum is given below atmospheric pressure, a pressure test above."""
    hold = case.fix.hold_test if case.fix else None
    if hold is None:
        return
    vacuum = hold.medium == "vacuum"
    for name, value in (("start", hold.start), ("end", hold.end)):
        if vacuum and value.si >= quantity.ATMOSPHERE:
            yield Finding(
                ("fix", "hold_test", name),
                f'fix.hold_test.{name}: "{value.written}" is no vacuum',
                'write it in micron or mbar, for example "480 micron"',
                "hold-test/unit",
            )
        elif not vacuum and value.si < quantity.ATMOSPHERE:
            yield Finding(
                ("fix", "hold_test", name),
                f'fix.hold_test.{name}: "{value.written}" is below atmospheric pressure, but the medium is {hold.medium}',
                "write medium: vacuum, or the gauge pressure",
                "hold-test/unit",
            )


def seen_and_absent(case: Case, _: Mapping[str, Any], __: Context) -> Iterator[Finding]:
    """A symptom is not both seen and absent."""
    for i, key in enumerate(case.not_seen):
        if key in case.symptoms:
            yield Finding(
                ("not_seen", i),
                f'not_seen[{i}]: "{key}" is among the symptoms too',
                "keep it in one of the two lists",
                "symptom/both",
            )


_UNITS = {
    "heated-diode-detector": ("fraction", "leak rate"),
    "infrared-detector": ("fraction", "leak rate"),
    "air-survey": ("fraction",),
    "tracer-gas": ("fraction", "leak rate"),
    "bagging": ("fraction", "leak rate"),
    "ultrasonic": ("level",),
    "standing-pressure": ("pressure",),
    "section-isolation": ("pressure",),
    "vacuum-hold": ("pressure",),
}
_UNIT_EXAMPLE = {"fraction": '"85 ppm"', "level": '"46 dB"', "pressure": '"480 micron" or "300 psig"'}


def reading_unit(case: Case, _: Mapping[str, Any], __: Context) -> Iterator[Finding]:
    """The unit fits the instrument."""
    for i, reading in enumerate(case.readings):
        allowed = _UNITS.get(reading.by)
        pairs = [("value", reading.value), ("background", reading.background)]
        for name, value in pairs:
            if value is not None and allowed and value.dimension not in allowed:
                yield Finding(
                    ("readings", i, name),
                    f'readings[{i}].{name}: "{value.written}" is not what {reading.by} reads',
                    f"write for example {_UNIT_EXAMPLE[allowed[0]]}, or correct the instrument",
                    "reading/unit",
                )
        told = reading.background and allowed and reading.background.dimension not in allowed
        if reading.background and not told and reading.background.dimension != reading.value.dimension:
            yield Finding(
                ("readings", i, "background"),
                f'readings[{i}].background: "{reading.background.written}" and the value '
                f'"{reading.value.written}" have different kinds of unit',
                "write both in the same unit",
                "reading/unit",
            )


def currency(case: Case, data: Mapping[str, Any], ctx: Context) -> Iterator[Finding]:
    """Money is in the company's currency."""
    if not ctx.company.currency:  # company.yaml does not say which that is, and that is told
        return
    amounts = [(("search", i, "cost"), s.cost) for i, s in enumerate(case.search)]
    amounts.append((("fix", "parts"), case.fix.parts if case.fix else None))  # type: ignore[arg-type]
    amounts.append((("first_diagnosis", "cost"), case.first_diagnosis.cost if case.first_diagnosis else None))  # type: ignore[arg-type]
    for pointer, amount in amounts:
        if amount is not None and quantity.currency(amount) != ctx.company.currency:
            yield Finding(
                pointer,
                f'{pointer_text(pointer)}: "{amount.written}" is not in {ctx.company.currency}',
                f"write the amount in {ctx.company.currency}, the company's currency",
                "money/currency",
            )


RULES = (too_much_lost, pressure_gain, hold_test_unit, seen_and_absent, reading_unit, currency)
