"""Sketches of typical units, with the leaks of each place: counts of the library on the lines of guide/sketches.yaml.

A place counts the proven leaks (model.COUNTED) that sat there on equipment of the sketch's kinds, so that a part that every
unit has does not carry the leaks of all of them.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from leaklore.analysis.intervals import FEW
from leaklore.pages.book import Book
from leaklore.records.sketches import lines

LEVELS = 3
"""Steps of size and fill above none, each an equal share of the most that one place of the sketch has."""

WORDS, AREA = 18, 30
"""Letters that there is room for at a part, and at an area."""


@dataclass(frozen=True, slots=True)
class Spot:
    """A part on a sketch, its middle at `x` and `y`; `level` 0 to `LEVELS` by its count."""

    key: str
    words: str
    name: str
    sign: str
    x: int
    y: int
    count: int
    level: int


@dataclass(frozen=True, slots=True)
class Frame:
    """An area on a sketch, from `y` down `high` units; `count` leaks of the spots in it."""

    area: str
    words: str
    y: int
    high: int
    count: int
    spots: tuple[Spot, ...]


@dataclass(frozen=True, slots=True)
class Place:
    """A line of the list under a sketch; `count` None for an area, which is searched and does not itself leak."""

    key: str
    count: int | None


@dataclass(frozen=True, slots=True)
class Sketch:
    """One kind of unit. `total` leaks on its `kinds`; `few`: too few to compare; `steps`: each level with its counts."""

    key: str
    name: str
    kinds: tuple[str, ...]
    height: int
    tube: str
    lines: str
    frames: tuple[Frame, ...]
    places: tuple[Place, ...]
    total: int
    few: bool
    steps: tuple[tuple[int, str], ...]


@dataclass(frozen=True, slots=True)
class Sketches:
    """All of them. `elsewhere`: places on none, with their leaks on any equipment; `others`: leaks on other kinds."""

    units: tuple[Sketch, ...]
    signs: Mapping[str, str]
    elsewhere: tuple[Place, ...]
    others: int


def label(words: str, name: str, room: int = WORDS) -> str:
    """What the sketch says: its own `words`, or the start of a name that a company gave and that has other words."""
    if words.lower() in name.lower() and len(words) <= room:
        return words
    return name if len(name) <= room else name[: room - 1].rstrip() + "\N{HORIZONTAL ELLIPSIS}"


def level(count: int, most: int) -> int:
    """Step of a count: 0 for none, `LEVELS` for `most`."""
    return -(-count * LEVELS // most) if count else 0


def steps(most: int) -> tuple[tuple[int, str], ...]:
    """Each level with the counts in it, the least first; levels in which no whole number falls are left out."""
    out: dict[int, list[int]] = {}
    for count in range(most + 1):
        out.setdefault(level(count, most), []).append(count)
    return tuple((at, f"{n[0]}" if len(n) == 1 else f"{n[0]}\N{EN DASH}{n[-1]}") for at, n in out.items())


def _sketch(key: str, unit: Mapping[str, Any], book: Book) -> Sketch:
    guide, kinds = book.library.guide, tuple(unit["kinds"])
    leaks = Counter(c.cause.component for c in book.library.counted if c.equipment.kind in kinds)
    few = leaks.total() < FEW
    most = max((leaks[s["at"]] for f in unit["frames"] for s in f["spots"]), default=0)

    def spot(s: Mapping[str, Any]) -> Spot:
        name, count = guide.components[s["at"]].name, leaks[s["at"]]
        size = min(count, 1) if few else level(count, most)
        return Spot(s["at"], label(s.get("words", name), name), name, s["sign"], s["x"], s["y"], count, size)

    frames = []
    for f in unit["frames"]:
        spots = tuple(map(spot, f["spots"]))
        name = guide.components[f["area"]].name
        words = label(f.get("words", name), name, AREA)
        frames.append(Frame(f["area"], words, f["y"], f["high"], sum(s.count for s in spots), spots))
    on = {k for k in guide.components if any(guide.on(k, kind) for kind in kinds)} | set(leaks)
    return Sketch(
        key,
        unit["name"],
        kinds,
        unit["height"],
        unit["tube"],
        unit["lines"],
        tuple(frames),
        _listed(on, leaks, book),
        leaks.total(),
        few,
        () if few else steps(most),
    )


def _listed(keys: set[str], leaks: Counter[str], book: Book) -> tuple[Place, ...]:
    """Places, those with most leaks first, then as in the guide; areas last."""
    entries = [e for e in book.library.guide.components.values() if e.key in keys]
    areas = [Place(e.key, None) for e in entries if e.facts["kind"] == "area"]
    parts = [Place(e.key, leaks[e.key]) for e in entries if e.facts["kind"] == "part"]
    return (*sorted(parts, key=lambda p: -(p.count or 0)), *areas)


def sketches(book: Book) -> Sketches:
    """The sketches with the library's counts."""
    units = tuple(_sketch(key, unit, book) for key, unit in lines()["units"].items())
    kinds = {kind for unit in units for kind in unit.kinds}
    listed = {place.key for unit in units for place in unit.places}
    counted = book.library.counted
    leaks = Counter(c.cause.component for c in counted)
    return Sketches(
        units,
        lines()["signs"],
        _listed(set(book.library.guide.components) - listed, leaks, book),
        sum(c.equipment.kind not in kinds for c in counted),
    )
