"""What each page of the work bench rests on."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

from leaklore.language import gettext
from leaklore.trade import data, tables
from leaklore.trade.data import Citation, citation

Source = tuple[str, Citation]
"""(what, where from)"""
Named = Callable[[str], str]
"""The name of a technique, by its key."""


def cited(key: str, named: Named) -> list[dict[str, str]]:
    """The sources of a page, as its template shows them."""
    return [_source(what, found) for what, found in sources(key, named)]


def _source(what: str, found: Citation) -> dict[str, str]:
    where = f"{found.where}; {found.note}" if found.note else found.where
    return {"text": what, "where": where, "kind": found.mark}


def sources(key: str, named: Named = str) -> Iterator[Source]:
    """What a page rests on."""
    for part in SOURCES[key]:
        yield from part(named)


def _properties(named: Named) -> Iterator[Source]:
    yield (
        gettext("Saturation, vapour and nitrogen properties; blends from their composition"),
        Citation(f"{tables.shipped().content['made_with']}, read as series fitted to it", "computed"),
    )


def _rates(named: Named) -> Iterator[Source]:
    rules = data.load("rules")
    yield gettext("Annualizing and rolling average"), citation(rules["us"]["method"])
    for rule in rules["us"]["rules"]:
        name = gettext(rule["name"])
        yield gettext("{rule}: what it takes").format(rule=name), citation(rule["scope"])
        yield gettext("{rule}: thresholds").format(rule=name), citation(rule["threshold"])
        if "counting" in rule:
            yield (
                gettext("{rule}: which additions count").format(rule=name),
                citation(rule["counting"]),
            )
    yield gettext("Kind of plant under the rules"), citation(rules["us"]["appliances_source"])
    yield gettext("Leak checks in the EU: intervals"), citation(rules["eu"]["interval"])
    yield gettext("Leak checks in the EU: from when"), citation(rules["eu"]["duty"])
    yield (
        gettext("t CO₂e is the mass times the GWP"),
        Citation("Regulation (EU) 2024/573, Article 3(3)", "published"),
    )


def _holes(named: Named) -> Iterator[Source]:
    yield (
        gettext("Choked and subsonic flow of a gas through a hole"),
        Citation("gas-dynamics references", "published"),
    )
    yield (
        gettext("Discharge coefficient 0.65 of a sharp-edged hole"),
        Citation("published table of air through orifices (publisher not named here)", "published"),
    )
    yield (
        gettext("Time of a bubble"),
        Citation("timing table of a leak-test maker (not named here): 1e-3 cm³/s, 2 mm, 4.2 s", "published"),
    )


def _gauge(named: Named) -> Iterator[Source]:
    yield (
        gettext("Pressure of a closed volume follows the absolute temperature"),
        Citation(
            "2015 Michigan Residential Code A.6.5, example 5, from the International Fuel Gas Code",
            "published",
        ),
    )
    yield (
        gettext("Independent errors add in quadrature"),
        Citation("Guide to the Expression of Uncertainty (GUM)", "published"),
    )


def _tubes(named: Named) -> Iterator[Source]:
    tubes = data.load("tubes")
    yield gettext("Tube sizes in inches"), citation(tubes["inch"])
    yield gettext("Metric tube sizes"), citation(tubes["metric"])


def _rise(named: Named) -> Iterator[Source]:
    vacuum = data.load("practice")["vacuum"]
    yield gettext("Leak or moisture by the shape of the rise"), citation(vacuum["shape"])
    for limit in vacuum["limits"]:
        yield gettext(str(limit["name"])), citation(limit)
    yield (
        gettext("Vapour pressure of water"),
        Citation("Magnus formula, WMO No. 8, annex 4.B", "published"),
    )


def _air(named: Named) -> Iterator[Source]:
    air = data.load("practice")["air"]
    yield (
        gettext("ppm and mg/m³ at 25 °C"),
        Citation("convention of NIOSH and ACGIH; ideal gas", "published"),
    )
    yield (
        gettext("Build-up in a mixed room"),
        Citation("Basic Concepts of Industrial Hygiene, p. 163, eqs. 3-5, citing Burgess 1989", "published"),
    )
    yield gettext("Oxygen of 19.5 %"), citation(air["oxygen"])
    yield gettext("Refrigerant concentration limit"), citation(air["rcl"])
    yield gettext("A quarter of the lower flammability limit"), citation(air["flammable"])
    yield gettext("Above the background"), citation(air["background"])


def _senses(named: Named) -> Iterator[Source]:
    senses = data.load("techniques")
    yield gettext("What is comfortably seen"), citation(senses["comfortable_source"])
    for name, technique in senses["techniques"].items():
        if technique["mark"] != "computed":
            yield gettext("{technique}: smallest leak").format(technique=named(name)), citation(technique)


SOURCES: Mapping[str, tuple[Callable[[Named], Iterator[Source]], ...]] = {
    "pressure-temperature": (_properties,),
    "leak-rate": (_rates,),
    "leak-flow": (_properties, _holes),
    "standing-test": (_properties, _gauge, _tubes),
    "vacuum-hold": (_properties, _rise),
    "air": (_air,),
    "which-technique": (_properties, _tubes, _senses),
}
"""By the page's key."""
