"""data/search/model.json: all that the browser needs to understand, rank and plan; it does not grow with the cases."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from leaklore.analysis import order, places, second_leak
from leaklore.analysis.advice import DIGITS, UNSURE, WORDS
from leaklore.analysis.causes import MILLI, NAMED, RULED_OUT, TOLD
from leaklore.analysis.evidence import EDGES
from leaklore.language import gettext
from leaklore.records.guide import Guide
from leaklore.search import find, negation, phrases, understand
from leaklore.search.amounts import TABLES
from leaklore.search.find import Engine
from leaklore.search.index import SCALE, described
from leaklore.search.lexicon import KINDS

VERSION = 1


def content(engine: Engine, lexicon: Mapping[str, Any], guide: Guide) -> dict[str, Any]:
    """Content of model.json; figures in the units of the Python modules."""
    causes, planner = engine.adviser.causes, engine.adviser.order
    return {
        "version": VERSION,
        "lexicon": {**lexicon, "order": list(KINDS)},
        "amounts": dict(TABLES),
        "reading": {
            "longest": understand.LONGEST,
            "skips": phrases.SKIPS,
            "reach": negation.REACH,
            "beside": TABLES["beside"],
        },
        "causes": {
            "modes": causes.modes,
            "prior": causes.prior,
            "tables": causes.tables,
            "silent": causes.silent,
            "told": TOLD,
            "edges": EDGES,
            "named": NAMED,
            "ruled_out": RULED_OUT,
            "milli": MILLI,
            "cases": causes.cases,
            "counted": causes.counted,
            "peaks": causes.peaks,
            "kind_weight": causes.kind_weight,
            "unsure": UNSURE,
            "words": [(least, gettext(word)) for least, word in WORDS],
            "digits": DIGITS,
        },
        "places": {
            "spots": [
                [s.mode, s.component, s.weight, *([s.extra] if s.extra else [])] for s in planner.places.spots
            ],
            "inside": {area: sorted(held) for area, held in planner.places.inside.items()},
            "on": {place: sorted(kinds) for place, kinds in planner.places.on.items() if kinds},
            "elsewhere": places.ELSEWHERE,
            "not_there": places.NOT_THERE,
            "not_on": places.NOT_ON,
            "common": planner.places.common,
        },
        "order": {
            "chance": {
                t: {level: [row.get(m, 0) for m in causes.modes] for level, row in levels.items()}
                for t, levels in planner.detection.chance.items()
            },
            "minutes": planner.detection.minutes,
            "techniques": {
                k: {
                    "finds": f.finds,
                    "disturbs": f.disturbs,
                    "sees": f.sees,
                    "usual": f.usual,
                    "cautions": list(guide.techniques[k]["cautions"] or ()),
                }
                for k, f in planner.techniques.items()
            },
            "rules": dict(planner.rules),
            "areas": sorted(planner.areas),
            "low": sorted(planner.low),
            "covered": sorted(planner.covered),
            "light": sorted(planner.light),
            "comfortable": planner.comfortable,
            "least": order.LEAST,
            "ahead": order.AHEAD,
            "false_sign": order.FALSE_SIGN,
            "smallest_find": order.SMALLEST_FIND,
            "second_leak": second_leak.MORE,
            "near": order.NEAR,
        },
        "find": {
            "cases": find.CASES,
            "pages": find.PAGES,
            "likely": find.LIKELY,
            "draw": find.DRAW,
            "spoken": find.SPOKEN,
            "several": find.SEVERAL,
            "against": find.AGAINST,
            "terms": find.TERMS,
            "scale": SCALE,
        },
        "index": described(engine.index),
        "cautions": {key: {"name": c["name"], "text": c["text"]} for key, c in guide.cautions.items()},
    }
