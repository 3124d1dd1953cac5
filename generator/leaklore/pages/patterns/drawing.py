"""Charts: Altair says what is drawn, vl-convert draws it, and here it becomes a part of our pages.

Each chart is drawn twice, for a wide and a narrow column; the stylesheet shows one of them. Many small charts of one kind
are drawn once each, and the stylesheet puts as many abreast as there is room for. Colours become the tokens of the
stylesheet, so that light, dark and print follow by themselves. Text stays text, in the page's own face.
"""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from types import FunctionType
from typing import Any, Protocol

from markupsafe import Markup, escape

from leaklore.pages.patterns import svg
from leaklore.pages.patterns.kept import folder, once
from leaklore.pages.patterns.kept import kept_in as kept_in
from leaklore.pages.patterns.tables import Table

INK = "#1d1813"
INK_SOFT = "#453c31"
COPPER = "#7c3712"
TUBE = "#c27a48"
VERDIGRIS = "#0c4b42"
PATINA = "#2d7a6c"
EDGE = "#857560"
LINE = "#d6c7af"
IRON = "#7d1d13"
BRASS = "#573c00"
PAPER = "#f8f2e7"
TOKENS: Mapping[str, str] = {
    INK: "ink",
    INK_SOFT: "ink-soft",
    COPPER: "copper",
    TUBE: "tube",
    VERDIGRIS: "verdigris",
    PATINA: "patina",
    EDGE: "edge",
    LINE: "line",
    IRON: "iron",
    BRASS: "brass",
    PAPER: "paper",
}
"""The colours of a chart as they are on light paper; each stands for the token of its name in tokens.css."""

WIDE, NARROW = 720, 340
"""Width of the two pictures, px."""
SMALL = 168
"""Width of a panel, px: two abreast on a phone, four at a desk."""
MOST_WORDS = 40
"""px that words of axes may need beside what a chart leaves for them; more is a fault of the chart."""
TEXT = 16
"""Smallest text, px: with patterns.css it is never under 13 px on a screen of 320 px or more."""
_MEASURED_BY = "Liberation Sans"
"""vl-convert carries it, so that a chart has the same measures on every machine; wider than the face of the page."""
_WORDS = {"labelColor": INK_SOFT, "titleColor": INK, "labelFontSize": TEXT, "titleFontSize": TEXT}
_LOOK: Mapping[str, Any] = {
    "background": None,
    "font": _MEASURED_BY,
    "padding": 2,
    "view": {"stroke": None},
    "mark": {"color": TUBE},
    "text": {"color": INK, "fontSize": TEXT},
    "line": {"color": INK, "strokeWidth": 2.5, "strokeJoin": "round"},
    "rule": {"color": INK, "strokeWidth": 2},
    "tick": {"color": INK, "thickness": 2},
    "point": {"color": INK, "filled": True, "opacity": 1, "size": 90},
    "axis": {
        **_WORDS,
        "titleFontWeight": 400,
        "titlePadding": 8,
        "labelLimit": 0,
        "titleLimit": 0,
        "domainColor": EDGE,
        "tickColor": EDGE,
        "gridColor": LINE,
    },
    "axisBand": {"grid": False, "ticks": False, "labelPadding": 6},
    "legend": {
        **_WORDS,
        "titleFontWeight": 400,
        "labelLimit": 0,
        "titleLimit": 0,
        "orient": "top",
        "symbolStrokeColor": INK,
        "symbolFillColor": "transparent",
    },
    "header": {**_WORDS, "titleFontWeight": 400, "labelLimit": 0, "labelFontWeight": 700, "labelColor": INK},
    "title": {"color": INK, "subtitleColor": INK_SOFT, "fontSize": TEXT, "subtitleFontSize": TEXT},
}
_NUMBERS = {"decimal": ".", "thousands": "\u202f", "grouping": [3], "currency": ["", ""]}


class Chart(Protocol):
    """What we ask of an Altair chart."""

    def to_dict(self, validate: bool = True) -> dict[str, Any]:
        """The chart in Vega-Lite."""
        ...  # pragma: no cover


@dataclass(frozen=True, slots=True)
class Drawing:
    """A chart on a page. `says` is one sentence of what it shows, for whoever can't see the pictures.

    The table must stand on the same page: the pictures point to it.
    """

    title: str
    says: str
    table: Table
    wide: Markup
    narrow: Markup

    @property
    def id(self) -> str:
        """Id of the figure: its table's key with `-chart`."""
        return f"{self.table.key}-chart"


@dataclass(frozen=True, slots=True)
class Panel:
    """One of several small pictures. `note` is what its title adds in small letters."""

    id: str
    title: str
    note: str
    picture: Markup


@dataclass(frozen=True, slots=True)
class Panels:
    """Small pictures of one kind and one scale, one for each part of a table that stands on the same page."""

    title: str
    table: Table
    panels: tuple[Panel, ...]

    @property
    def id(self) -> str:
        """Id of the figure, as of `Drawing`."""
        return f"{self.table.key}-chart"


Make = Callable[[int], Chart]


def draw(make: Make, title: str, says: str, table: Table) -> Drawing:
    """Draws `make(720)` and `make(340)`: an Altair chart for a column of so many px.

    A function that binds plain data alone (numbers, text, lists, mappings) is not even called where its picture is kept.

    A single or layered chart without a width gets that width, axes included. Raises ValueError for a chart that our
    pages can't show: too wide, text under 16 px, a colour that is none of the constants here, a picture or a link.
    """
    wide, narrow = (
        _picture(make, width, f"{table.key}-{name}", name, f"{table.key}-chart-title", says, table)
        for width, name in ((WIDE, "wide"), (NARROW, "narrow"))
    )
    return Drawing(title, says, table, wide, narrow)


def draw_small(charts: Sequence[tuple[str, str, str, Make]], title: str, table: Table) -> Panels:
    """Draws `make(168)` of each (key, title, note, make), as `draw` does; the key tells it from the others."""
    panels = []
    for key, name, note, make in charts:
        panel = f"{table.key}-{key}"
        picture = _picture(make, SMALL, panel, "small", f"{panel}-title", title, table)
        panels.append(Panel(panel, name, note, picture))
    return Panels(title, table, tuple(panels))


def _picture(
    make: Make, width: int, prefix: str, kind: str, named_by: str, says: str, table: Table
) -> Markup:
    """The picture, with ids that begin with `prefix`."""

    def picture() -> bytes:
        def drawn(px: int) -> bytes:
            return svg.ours(_drawn(_spec(make, px)), prefix, width, TOKENS, TEXT).encode()

        try:
            return drawn(width)
        except svg.TooWide as wide:
            if wide.by > MOST_WORDS:
                raise
            return drawn(width - wide.by)  # words of an axis are as long as the data make them

    bound = _bound(make) if folder() else None
    made_from = bound if bound is not None else _spec(make, width) if folder() else ""
    kept = once([prefix, width, made_from], "svg", picture).decode()
    ids = f'aria-labelledby="{named_by}" aria-details="{table.key}-table"'
    head, _, shapes = kept.partition(">")
    return Markup(
        f'{head} class="drawing__picture drawing__picture--{kind}" {ids}><desc>{escape(says)}</desc>{shapes}'
    )


def _bound(make: Make) -> list[Any] | None:
    """All that a chart's function has bound, which with the code decides the chart; None where it is not plain data."""
    if not isinstance(make, FunctionType) or make.__defaults__ or make.__kwdefaults__:
        return None
    values = [cell.cell_contents for cell in make.__closure__ or ()]
    try:
        json.dumps(values)
    except TypeError:
        return None
    return [make.__module__, make.__qualname__, values]


def _spec(make: Make, width: int) -> dict[str, Any]:
    """The chart in our look; what it says itself about looks goes first."""
    from altair.utils.schemapi import debug_mode  # late: it is slow

    checks = folder() is None  # Altair's take as long as the rest: in tests, not in builds
    with debug_mode(checks):
        spec = make(width).to_dict(validate=checks)
    spec["config"] = _merged(_LOOK, spec.get("config", {}))
    if "width" not in spec and ("mark" in spec or "layer" in spec):
        spec["width"] = width
        spec["autosize"] = {"type": "fit-x", "contains": "padding"}
    return spec


def _merged(ours: Mapping[str, Any], theirs: Mapping[str, Any]) -> dict[str, Any]:
    out = dict(ours)
    for key, value in theirs.items():
        mine = out.get(key)
        out[key] = {**mine, **value} if isinstance(mine, dict) and isinstance(value, dict) else value
    return out


_engine: int | None = None


def engine() -> Any:
    """vl-convert, for this process. Raises RuntimeError where a process from which this one was forked has used it.

    Its engine runs in threads, which a fork leaves behind: the child would wait for them for ever.
    """
    global _engine
    if _engine not in (None, os.getpid()):
        raise RuntimeError("charts were drawn before this process was forked: draw in the children alone")
    _engine = os.getpid()
    import vl_convert  # late

    return vl_convert


def _drawn(spec: dict[str, Any]) -> str:
    return str(engine().vegalite_to_svg(spec, allowed_base_urls=[], format_locale=_NUMBERS))
