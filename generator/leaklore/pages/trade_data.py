"""The figures that the work bench computes with in the browser: data/trade.json.

Everything that `leaklore.trade` knows goes in here, and nothing of it stands in the browser's modules
(site_overrides/js/trade), which repeat the formulas only.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import asdict
from types import ModuleType
from typing import Any

from leaklore.records.guide import Guide
from leaklore.records.rules import plausibility
from leaklore.trade import (
    air,
    data,
    entry,
    flow,
    gas,
    leak_rate,
    pressure_test,
    proof,
    refrigerants,
    tables,
    units,
    vacuum,
    volume,
)

VERSION = 1
"""Of the shape of this file; site_overrides/js/trade/data.mjs reads the same one."""

CONSTANTS: tuple[tuple[str, ModuleType, tuple[str, ...]], ...] = (
    (
        "units",
        units,
        (
            *("R", "AIR", "ATMOSPHERE", "YEAR", "POUND", "OUNCE", "INCH", "FOOT", "PSI", "MICRON"),
            *("MILLIMETRE_MERCURY", "HOUR", "DAY", "GRAM_PER_YEAR", "OUNCE_PER_YEAR", "ROOM_TEMPERATURE"),
        ),
    ),
    ("refrigerants", refrigerants, ("LIMIT_TEMPERATURE", "GWP_SETS")),
    ("gas", gas, ("NITROGEN",)),
    ("flow", flow, ("THROUGHPUT", "MASS", "DISCHARGE", "BUBBLE")),
    ("leak_rate", leak_rate, ("RULE_YEAR",)),
    ("pressure_test", pressure_test, ("STEADY_DROP",)),
    ("volume", volume, ("FILLED",)),
    ("vacuum", vacuum, ("MINUTE",)),
    ("air", air, ("REFERENCE",)),
    ("entry", entry, ("ENRICHED",)),
    ("proof", proof, ("KNOWN_TEMPERATURE", "UNKNOWN_TEMPERATURE", "VACUUM_STEP")),
    ("gauge", plausibility, ("GAUGE_STEP", "GAUGE_SHARE")),
)
"""Constants by the browser's name of the part; SI as in the Python modules."""


def _plain(node: Any) -> Any:
    """The same for JSON: days as text."""
    if isinstance(node, Mapping):
        return {str(key): _plain(value) for key, value in node.items()}
    if isinstance(node, list | tuple):
        return [_plain(item) for item in node]
    return node.isoformat() if isinstance(node, dt.date) else node


def _refrigerant(facts: Mapping[str, Any]) -> dict[str, Any]:
    """Facts of a refrigerant in SI (limits mol/mol, molar mass kg/mol)."""
    return {"name": str(facts["name"]), **asdict(refrigerants.of(facts))}


def _techniques(guide: Guide) -> dict[str, Any]:
    """What each technique sees, with the name that the guide (or the company's own page) gives it."""
    content = dict(data.load("techniques"))
    content["techniques"] = {
        key: {"name": guide.techniques[key].name if key in guide.techniques else key, **facts}
        for key, facts in content["techniques"].items()
    }
    return content


def _tubes() -> dict[str, Any]:
    """Tubes in SI; `source` points into `sources`."""
    sources: list[data.Citation] = []
    sizes = []
    for tube in volume.tubes().values():
        if tube.source not in sources:
            sources.append(tube.source)
        size = {"name": tube.name, "outside": tube.outside, "wall": tube.wall}
        sizes.append({**size, "source": sources.index(tube.source)})
    return {"checked": data.checked("tubes"), "sources": [asdict(s) for s in sources], "sizes": sizes}


def trade_json(guide: Guide) -> dict[str, Any]:
    """Content of data/trade.json, SI throughout; the company's own refrigerants are among them.

    Saturation and vapour are in `tables` as `leaklore.trade.fit` wrote them, each with its error.
    """
    content = {
        "version": VERSION,
        "constants": {
            part: {name: getattr(module, name) for name in names} for part, module, names in CONSTANTS
        },
        "refrigerants": [_refrigerant(e.facts) for e in guide.refrigerants.values()],
        "tables": tables.shipped().content,
        "tubes": _tubes(),
        "techniques": _techniques(guide),
        "practice": data.load("practice"),
        "rules": data.load("rules"),
    }
    plain: dict[str, Any] = _plain(content)
    return plain
