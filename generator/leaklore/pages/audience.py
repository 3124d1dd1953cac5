"""Which parts of the site are made for whom. What is in them was decided before, by records/audience.py.

A part is left out where it makes no sense without what was taken away, or is about the company's own work: its pages and
files are not made, and nothing links to them.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from markupsafe import Markup

from leaklore.language import later
from leaklore.pages import links
from leaklore.records.model import Audience

PATTERNS = ("patterns/", "data/patterns", "data/survival.json", "data/costs.json")
LEFT_OUT: Mapping[Audience, Mapping[str, tuple[str, ...]]] = {
    "all": {},
    "crew": {
        "patterns": PATTERNS,
        "explore": ("patterns/explore/", "data/explore.json"),
        "vega": ("js/vega-bundle",),
        "evidence": ("reading/trainer/",),
        "data": ("data/records/",),
    },
    "customer": {
        "patterns": PATTERNS,
        "explore": ("patterns/explore/", "data/explore.json"),
        "vega": ("js/vega-bundle",),
        "trust": ("how-far-to-trust/",),
        "unknown": ("reading/unknown/", "data/learn/unknown/"),
        "questions": ("reading/questions/", "data/learn/questions.json"),
        "evidence": ("reading/mine/", "reading/trainer/", "data/learn/evidence.json"),
        "reading": ("reading/", "data/learn/lists.json"),
        "bench": ("bench/",),
        "record": ("record/",),
        "data": ("data/records/", "data/record.json", "data/bench.json", "data/schema/"),
    },
}
"""By audience: rooms of the site (site.py), and addresses in them by how they begin."""
PARTLY = frozenset({"evidence", "data"})
"""Rooms of which something may be left."""
MADE_FOR: Mapping[Audience, str] = later(
    {
        "all": "",
        "crew": "Made for crews: prices and comparisons of crews are left out.",
        "customer": "Made for customers: names, places, prices and how we searched are left out.",
    }
)
"""What the foot of every page says."""


def made(audience: Audience, room: str) -> bool:
    """Is this room of the site made for them, at least in part?"""
    return room not in LEFT_OUT[audience] or room in PARTLY


def shown(audience: Audience, address: str) -> bool:
    """Is there, for them, a page or file at this address? From the site's root, as in `bench/air/`."""
    return not any(address.startswith(starts) for starts in LEFT_OUT[audience].values())


def unlinked(body: Markup, root: str, audience: Audience) -> Markup:
    """A page's body in which links to what is not there have become their words. `root` is the way to the site's root."""
    if audience == "all":
        return body

    def words(link: re.Match[str]) -> str:
        there = not link[1].startswith(root) or shown(audience, link[1].removeprefix(root))
        return link[0] if there else link[2]

    return Markup(links.ANCHOR.sub(words, str(body)))
