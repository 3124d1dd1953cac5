"""Small libraries made by hand, and the demo library read once.

The small guide has four techniques and these places::

    outdoors ─┬─ cabinet ─┬─ flare
              │           └─ coil
              └─ port
    indoors ─── evaporator
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from functools import cache
from pathlib import Path
from typing import Any

from leaklore.records import guide as guide_files
from leaklore.records.check import check
from leaklore.records.guide import Entry, Guide, containment
from leaklore.records.library import Library
from leaklore.records.model import (
    Case,
    Cause,
    Company,
    Equipment,
    Fix,
    FollowUp,
    PartialDate,
    Proof,
    Reading,
    Result,
    SearchStep,
    Withdrawn,
)
from leaklore.records.quantity import read
from leaklore.records.vocabulary import Term

CASES = Path(__file__).parents[2] / "cases"
COMPANY = Company(
    name="Ketterwick Air & Cold",
    units="us",
    currency="USD",
    labour_rate=read("60 USD", "money"),
    branches={"Ketterwick": "KW", "Osmere": "OS"},
    crews={"K1": "Ketterwick"},
)
WITHIN = {
    "outdoors": (),
    "indoors": (),
    "cabinet": ("outdoors",),
    "port": ("outdoors",),
    "flare": ("cabinet",),
    "coil": ("cabinet",),
    "evaporator": ("indoors",),
}
GASES = {"R-32": 675, "R-410A": 2088, "R-1234ze(E)": None}
"""GWP by IPCC AR4 as this small guide has it; one is not known."""
TECHNIQUES = ("visual", "detector", "bubbles", "section-isolation")


def _entries(kind: str, keys: Iterable[str], **facts: Mapping[str, Any]) -> dict[str, Entry]:
    return {
        key: Entry(kind, key, {"key": key, "name": key.capitalize(), **facts.get(key, {})}, "", "guide", "0")
        for key in keys
    }


def _gas(key: str, gwp: int | None) -> Mapping[str, Any]:
    """Facts of a refrigerant."""
    return {
        "composition": [{"of": key, "share": 1}],
        "molar_mass_g_mol": 60,
        "safety_group": "A1",
        "gwp_ar4": gwp,
    }


def guide() -> Guide:
    """The small guide."""
    components = {
        key: Entry(
            "component", key, {"key": key, "name": key.capitalize(), "within": list(areas)}, "", "g", "0"
        )
        for key, areas in WITHIN.items()
    }
    return Guide(
        modes=_entries("mode", ("loose-flare", "corrosion", "rare-mode")),
        techniques=_entries("technique", TECHNIQUES),
        symptoms=_entries("symptom", ("ice", "oil", "hiss")),
        components=components,
        refrigerants=_entries("refrigerant", GASES, **{key: _gas(key, gwp) for key, gwp in GASES.items()}),
        cautions={},
        small={
            "settings": {"residential": Term("residential", "Home"), "process": Term("process", "Process")}
        },
        inside=containment(components),
    )


def step(
    technique: str, at: str, result: Result, minutes: int = 10, cost: str | None = None, **more: Any
) -> SearchStep:
    """One search step; `at` holds places apart by spaces."""
    return SearchStep(
        technique,
        tuple(at.split()),
        minutes,
        result,
        cost=read(cost, "money") if cost else None,
        **more,
    )


def reading(value: str, background: str | None = None) -> Reading:
    """One reading at the flare."""
    return Reading(
        "flare", "detector", read(value, "reading"), read(background, "reading") if background else None
    )


def case(
    number: int,
    *search: SearchStep,
    mode: str = "loose-flare",
    component: str = "flare",
    proof: Proof = "point",
    lost: str | None = None,
    over: str | None = None,
    charge: str | None = None,
    parts: str | None = None,
    labour: str | None = None,
    looks: Iterable[str] = (),
    installed: str | None = None,
    refrigerant: str | None = None,
    setting: str | None = None,
    withdrawn: bool = False,
    **more: Any,
) -> Case:
    """A counted case unless `proof` or `withdrawn` say otherwise."""
    fix = None
    if parts or labour:
        fix = Fix(
            "remake",
            read(parts, "money") if parts else None,
            read(labour, "duration") if labour else None,
        )
    return Case(
        **{
            "id": f"KW-2025-{number:03}",
            "title": f"Case {number}",
            "reported": dt.date(2025, 1, 1) + dt.timedelta(days=number),
            "branch": "Ketterwick",
            "equipment": Equipment(
                setting=setting,
                refrigerant=refrigerant,
                charge=read(charge, "mass") if charge else None,
                installed=PartialDate(installed, dt.date.fromisoformat(installed)) if installed else None,
            ),
            "symptoms": (),
            "search": search,
            "cause": Cause(mode, component, proof),
            "story": "It leaked.",
            "path": f"cases/records/2025/KW-2025-{number:03}.yaml",
            "digest": str(number),
            "lost": read(lost, "mass") if lost else None,
            "lost_over": read(over, "duration") if over else None,
            "fix": fix,
            "follow_up": tuple(
                FollowUp(dt.date(2026, 1, 1 + i), result)  # type: ignore[arg-type]
                for i, result in enumerate(looks)
            ),
            "withdrawn": Withdrawn(dt.date(2026, 1, 1), "Twice.") if withdrawn else None,
            **more,
        }
    )


def library(*cases: Case, company: Company = COMPANY) -> Library:
    """A library of these cases with the small guide."""
    made = guide()
    return Library(
        root=Path("cases"),
        company=company,
        guide=made,
        vocabulary=guide_files.vocabulary_of(made, company.branches, company.crews),
        sites={},
        systems={},
        cases=tuple(sorted(cases, key=lambda c: c.id)),
    )


@cache
def demo() -> Library:
    """The demo library, which must be free of errors."""
    result = check(CASES)
    assert result.library is not None
    assert not result.failed, [p.text() for p in result.problems]
    return result.library
