"""Pictures of vl-convert's made fit for our pages: shapes and words only, no style, script, address or colour of others."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Mapping
from math import ceil

from markupsafe import escape

_SVG = "{http://www.w3.org/2000/svg}"
_ELEMENTS = frozenset(["g", "path", "rect", "line", "text", "tspan", "defs", "clipPath"])
_GEOMETRY = frozenset(["d", "transform", "x", "y", "x1", "y1", "x2", "y2", "dx", "dy", "width", "height"])
_PAINT = frozenset(("fill", "stroke"))
_KEPT = (
    _GEOMETRY
    | _PAINT
    | frozenset(
        [
            "stroke-width",
            "stroke-dasharray",
            "stroke-dashoffset",
            "stroke-linecap",
            "stroke-linejoin",
            "stroke-miterlimit",
            "stroke-opacity",
            "fill-opacity",
            "opacity",
            "text-anchor",
            "font-size",
            "font-weight",
            "font-style",
            "id",
            "clip-path",
        ]
    )
)
_DROPPED = frozenset(
    [
        "class",
        "role",
        "aria-label",
        "aria-hidden",
        "aria-roledescription",
        "pointer-events",
        "font-family",
        "cursor",
        "display",
    ]
)
"""The face is the page's. What is not displayed is dropped with its element."""
_USUAL = {"opacity": "1", "fill-opacity": "1", "stroke-opacity": "1"}
_LONG = re.compile(r"-?\d*\.\d{3,}(?:e[-+]?\d+)?|-?\d+(?:\.\d+)?e[-+]?\d+")
_NAMED = re.compile(r"url\((['\"]?)#([\w-]+)\1\)")


class TooWide(ValueError):
    """A picture is wider than its column by `by` px."""

    def __init__(self, prefix: str, drawn: float, width: int) -> None:
        super().__init__(f"{prefix}: the chart is {drawn:g} px wide, not {width}")
        self.by = ceil(drawn - width)


def ours(svg: str, prefix: str, width: int, tokens: Mapping[str, str], smallest: float) -> str:
    """A picture at most `width` px wide, colours as `tokens` (hex to name), ids that begin with `prefix`.

    Raises TooWide for what is wider; ValueError for text under `smallest` px, for another colour, and for an element, an
    attribute or a reference that is in none of the above lists.
    """
    root = ET.fromstring(svg)
    drawn, height = (float(root.get(side, "0")) for side in ("width", "height"))
    if drawn > width + 1:
        raise TooWide(prefix, drawn, width)
    ids: dict[str, str] = {}

    def named(match: re.Match[str]) -> str:
        return f"url(#{ids.setdefault(match[2], f'{prefix}-{len(ids)}')})"

    def value(name: str, said: str) -> str:
        if name in _PAINT and said not in ("none", "transparent"):
            if said.lower() not in tokens:
                raise ValueError(f"{prefix}: the colour {said} is none of ours")
            return f"var(--{tokens[said.lower()]})"
        if name == "font-size" and float(said.removesuffix("px")) < smallest:
            raise ValueError(f"{prefix}: text of {said} is smaller than {smallest:g} px")
        if name == "id":
            return ids.setdefault(said, f"{prefix}-{len(ids)}")
        if name in _GEOMETRY:
            return _LONG.sub(lambda m: f"{round(float(m[0]), 2):g}", said)
        said = _NAMED.sub(named, said)
        if "url(" in said and not said.startswith(f"url(#{prefix}-"):
            raise ValueError(f"{prefix}: {said} leads out of the picture")
        return said

    def written(node: ET.Element, clipping: bool = False) -> str:
        tag = node.tag.removeprefix(_SVG)
        if tag not in _ELEMENTS:
            raise ValueError(f"{prefix}: a picture has no <{tag}>")
        if node.get("display") == "none":
            return ""
        if tag in ("path", "rect") and not clipping and _PAINT.isdisjoint(node.keys()):
            return ""  # the frames of groups; what is seen has a paint of its own
        attributes = ""
        for name, said in node.attrib.items():
            if name in _DROPPED or _USUAL.get(name) == said:
                continue
            if name not in _KEPT:
                raise ValueError(f'{prefix}: a picture has no {name}="{said}"')
            attributes += f' {name}="{escape(value(name, said))}"'
        inside = "".join(written(child, clipping or tag == "clipPath") for child in node)
        if tag in ("text", "tspan"):
            inside = str(escape(node.text or "")) + inside
        elif tag == "g" and (not inside or not attributes):
            return inside
        return f"<{tag}{attributes}>{inside}</{tag}>" if inside else f"<{tag}{attributes}/>"

    shapes = "".join(map(written, root))
    size = f"0 0 {max(drawn, width):g} {height:g}"
    return (
        f'<svg role="img" width="{max(drawn, width):g}" height="{height:g}" viewBox="{size}">{shapes}</svg>'
    )
