"""The three charts of the explorer in Vega-Lite. They hold no data, no word of the trade and no colour.

The script gives each its rows (`rows`) and puts the page's own colours and type in place of `token:NAME`, read when the
chart is drawn. What is chosen is filled, what is not is hollow: colour is never the only sign.
"""

from __future__ import annotations

from typing import Any

Chart = dict[str, Any]

_TEXT = {"labelFont": "token:narrow", "labelFontSize": "token:t-label", "labelColor": "token:ink-soft"}
_TITLE = {
    "titleFont": "token:narrow",
    "titleFontSize": "token:t-label",
    "titleColor": "token:ink-soft",
    "titleFontWeight": "normal",
}
CONFIG: Chart = {
    "background": None,
    "view": {"stroke": None},
    "aria": False,  # the figure is one picture with a name; the tables and controls beside it say the rest
    "axis": {
        **_TEXT,
        **_TITLE,
        "domainColor": "token:edge",
        "tickColor": "token:edge",
        "gridColor": "token:line",
    },
    "text": {"font": "token:narrow", "fontSize": "token:t-label", "fill": "token:ink"},
}
_CHOSEN = {"condition": {"test": "datum.chosen", "value": "token:tube"}, "value": "token:paper"}


def _brush(cursor: str = "ew-resize") -> list[Chart]:
    """A window across; the script reads the signals `brush` and `brush_x`."""
    mark = {"fill": "token:patina", "fillOpacity": 0.18, "stroke": "token:verdigris", "cursor": cursor}
    return [
        {
            "name": "brush",
            "select": {"type": "interval", "encodings": ["x"], "zoom": False, "mark": mark},
        }
    ]


def _chart(**parts: Any) -> Chart:
    return {
        "width": 600,
        "autosize": {"type": "fit-x", "contains": "padding"},
        "padding": 2,
        "data": {"name": "rows"},
        "config": CONFIG,
        **parts,
    }


WHOLE = "min(4, max(1, domain('y')[1]))"
"""How many steps of the upright scale, so that none is half a leak (`tickMinStep` leaves halves up to two)."""
ROOM = 40
"""px right of the longest bar, for its number."""

QUARTERS = _chart(
    height=150,
    layer=[
        {
            "params": _brush(),
            "mark": {"type": "rect", "stroke": "token:copper", "strokeWidth": 1},
            "encoding": {
                "x": {
                    "field": "start",
                    "type": "quantitative",
                    "scale": {"zero": True, "nice": False},
                    "axis": {
                        "title": None,
                        "grid": False,
                        "values": {"expr": "sequence(0, length(data('rows')))"},
                        "labelExpr": "data('rows')[datum.value].year",
                        "labelAlign": "left",
                        "labelOverlap": "greedy",
                    },
                },
                "x2": {"field": "end"},
                "y": {
                    "field": "n",
                    "type": "quantitative",
                    "scale": {"domainMin": 0},
                    "axis": {"title": None, "tickCount": {"expr": WHOLE}, "format": "d", "domain": False},
                },
                "y2": {"datum": 0},
                "fill": _CHOSEN,
                "tooltip": {"field": "says", "type": "nominal"},
            },
        }
    ],
)
"""Rows: start, end (number of the quarter and the next), year (at its first quarter), n, chosen, says."""

MODES = _chart(
    height={"step": 30},
    encoding={
        "y": {
            "field": "row",
            "type": "ordinal",
            "sort": None,
            "scale": {"paddingInner": 0.3, "paddingOuter": 0.15},
            "axis": {
                "title": None,
                "domain": False,
                "ticks": False,
                "labelColor": "token:ink",
                "labelPadding": 8,
                "labelLimit": {"expr": "roomForNames"},
                "labelExpr": "data('rows')[datum.value].name",
            },
        },
        "tooltip": {"field": "says", "type": "nominal"},
    },
    params=[{"name": "roomForNames", "value": 220}, {"name": "most", "value": 1}],
    layer=[
        {
            "mark": {"type": "rect", "fill": "transparent", "cursor": "pointer"},
            "encoding": {"x": {"value": 0}, "x2": {"value": "width"}},
        },
        {
            "mark": {"type": "bar", "strokeWidth": 1, "cursor": "pointer"},
            "encoding": {
                "stroke": {"condition": {"test": "datum.n > 0", "value": "token:copper"}, "value": None},
                "x": {
                    "field": "n",
                    "type": "quantitative",
                    "scale": {
                        "domainMin": 0,
                        "domainMax": {"expr": "most"},
                        "rangeMax": {"expr": f"width - {ROOM}"},
                        "nice": False,
                    },
                    "axis": None,
                },
                "fill": _CHOSEN,
            },
        },
        {
            "mark": {"type": "text", "align": "left", "dx": 6, "cursor": "pointer"},
            "encoding": {"x": {"field": "n", "type": "quantitative"}, "text": {"field": "n", "format": "d"}},
        },
    ],
)
"""Rows: row (number), key, name (with a tick where it was chosen), n, chosen, says. A press on a row tells `datum.key`."""

AGES = _chart(
    height=260,
    params=[
        {"name": "oldest", "value": 1},
        {"name": "least", "value": 0.1},
        {"name": "most", "value": 1},
        {"name": "ageTitle", "value": ""},
        {"name": "lostTitle", "value": ""},
    ],
    layer=[
        {
            "params": _brush(),
            "mark": {"type": "point", "stroke": "token:copper", "strokeWidth": 1.5, "size": 60},
            "encoding": {
                "x": {
                    "field": "age",
                    "type": "quantitative",
                    "scale": {"domainMin": 0, "domainMax": {"expr": "oldest"}, "nice": False},
                    "axis": {"title": {"expr": "ageTitle"}, "tickMinStep": 1, "format": "d", "grid": False},
                },
                "y": {
                    "field": "lost",
                    "type": "quantitative",
                    "scale": {
                        "type": "log",
                        "domainMin": {"expr": "least"},
                        "domainMax": {"expr": "most"},
                        "nice": False,
                    },
                    "axis": {
                        "title": {"expr": "lostTitle"},
                        "titleAngle": 0,
                        "titleAlign": "left",
                        "titleAnchor": "start",
                        "titleX": 0,
                        "titleY": -10,
                        "values": [10.0**power for power in range(-3, 6)],
                        "format": "~r",
                        "domain": False,
                    },
                },
                "shape": {"condition": {"test": "datum.again", "value": "diamond"}, "value": "circle"},
                "fill": _CHOSEN,
                "tooltip": {"field": "says", "type": "nominal"},
            },
        }
    ],
)
"""Rows: age (years), lost (the company's unit of mass), again (did it leak again?), chosen, says."""

CHARTS: dict[str, Chart] = {"quarters": QUARTERS, "modes": MODES, "ages": AGES}
