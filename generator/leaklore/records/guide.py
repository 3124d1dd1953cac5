"""The shipped field guide and the company's own version of its entries."""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any

from leaklore.language import SOURCE
from leaklore.problem import Finding
from leaklore.records import parse, source
from leaklore.records.plain import Plain
from leaklore.records.source import Source, Unreadable
from leaklore.records.vocabulary import Term, Unread, Vocabulary, as_terms, may_hold, spoken_index

SHIPPED = Path(__file__).parents[1] / "guide"
PAGES = {"failure-modes": "failure-mode", "techniques": "technique"}
LISTS = {"symptoms": "symptom", "components": "component", "refrigerants": "refrigerant"}
LIST_FILES = (*LISTS, "cautions", "vocabulary", "spoken", "plain")
"""Files of lists, without `.yaml`."""
SMALL = ("settings", "equipment_kinds", "conditions", "contributing", "actions", "line_routes")
REF_KINDS = {
    "mode": "modes",
    "technique": "techniques",
    "symptom": "symptoms",
    "component": "components",
    "refrigerant": "refrigerants",
}
SECTIONS: Mapping[str, tuple[str, ...]] = {
    "mode": (
        *("What it is", "Tell-tales", "Where it sits", "Why it happens", "What it is mistaken for"),
        *("How to find it", "Fix", "Prevention"),
    ),
    "technique": (
        *("What it can see", "What it can't see", "What fools it", "Steps", "Reading the result"),
        "When to choose it",
    ),
}
"""Headings of a page, in their order: the templates lead to some of them by their words."""
SPOKEN = (
    "symptoms",
    "components",
    "conditions",
    "settings",
    "equipment_kinds",
    "refrigerants",
    "techniques",
    "modes",
)
"""Kinds whose entries have phrases in spoken.yaml."""
GRAMMAR = (
    "fillers",
    "articles",
    "prepositions",
    "negators",
    "negators_after",
    "clears",
    "enders",
    "bridges",
    "carriers",
    "shortened",
)
"""Lists of small words in spoken.yaml, which belong to no entry."""
SEVERAL = {"components": "places", "equipment_kinds": "kinds of equipment"}
"""Kinds of which one phrase may mean several, and what they are called: `heat pump` is more than one kind of unit."""
MOST_MEANT = 4
"""How many of them."""
FREQUENCIES = ("nearly-always", "often", "sometimes", "rarely")


@dataclass(frozen=True)
class Entry:
    """One entry of the guide: its facts as plain data and its prose in Markdown.

    `kind` is one of the keys of `REF_KINDS`; `body_line` is the file's line on which the prose begins.
    """

    kind: str
    key: str
    facts: Mapping[str, Any]
    body: str
    path: str
    digest: str
    body_line: int = 1

    @property
    def name(self) -> str:
        """Name to show."""
        return str(self.facts["name"])

    def __getitem__(self, key: str) -> Any:
        return self.facts.get(key)


@dataclass(frozen=True)
class Guide:
    """All entries by kind and key, the small vocabularies and the cautions."""

    modes: Mapping[str, Entry]
    techniques: Mapping[str, Entry]
    symptoms: Mapping[str, Entry]
    components: Mapping[str, Entry]
    refrigerants: Mapping[str, Entry]
    cautions: Mapping[str, Mapping[str, str]]
    small: Mapping[str, Mapping[str, Term]]
    inside: Mapping[str, frozenset[str]] = field(default_factory=dict)
    """Area -> all parts and areas inside it, at any depth."""
    spoken: Mapping[str, Mapping[str, tuple[str, ...]]] = field(default_factory=dict)
    """Kind (`SPOKEN`) -> key -> phrases that people type, beside `name` and `also`."""
    grammar: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """Words of a typed search that name no entry, by their office (`GRAMMAR`)."""
    plain: Plain = field(default_factory=Plain)
    """Everyday words for the customer's page."""
    unread: Unread = field(default_factory=dict)
    """Vocabularies of which words may be missing, because a file of the company could not be read."""

    def entries(self, kind: str) -> Mapping[str, Entry]:
        """Entries of one of `mode`, `technique`, `symptom`, `component`, `refrigerant`."""
        found: Mapping[str, Entry] = getattr(self, REF_KINDS[kind])
        return found

    def may_have(self, target: str) -> bool:
        """May the target of a reference be an entry that could not be read?"""
        kind, colon, key = target.rpartition(":")
        kinds = [REF_KINDS.get(kind, "")] if colon else REF_KINDS.values()
        return any(may_hold(self.unread, plural, key) for plural in kinds)

    def covers(self, place: str, component: str) -> bool:
        """Does a search at `place` cover `component` (the same, or inside the area)?"""
        return place == component or component in self.inside.get(place, frozenset())

    def on(self, place: str, kind: str | None) -> bool:
        """Can `place`, a part or an area, be on equipment of `kind`?

        True where nothing speaks against it: the kind is not known, no entry names it (the company's own
        word), or the place lists no kinds.
        """
        entry = self.components.get(place)
        listed = entry["kinds"] if entry else None
        return not listed or kind in listed or kind not in self._kinds_listed

    @cached_property
    def _kinds_listed(self) -> frozenset[str]:
        """Kinds of equipment that some place lists."""
        return frozenset(kind for entry in self.components.values() for kind in entry["kinds"] or ())


@dataclass(frozen=True)
class GuideFile:
    """A guide file as read: data with positions, prose apart."""

    source: Source
    document: parse.Document
    body: str = ""
    body_line: int = 1


_FRONT = re.compile(r"\A---[ \t]*\n(.*?\n)---[ \t]*\n", re.DOTALL)


def split_front_matter(found: Source) -> GuideFile | list[Finding]:
    """Front matter and prose of a Markdown page."""
    text = parse.decode(found.data)
    if isinstance(text, Finding):
        return [text]
    text = text.replace("\r\n", "\n")
    hit = _FRONT.match(text)
    if not hit:
        return [
            Finding(
                (),
                "has no front matter",
                "begin the file with `---`, the keys, and `---`",
                "guide",
                line=1,
                column=1,
            )
        ]
    document = parse.parse(hit[1].encode(), first_line=2)
    if isinstance(document, list):
        return document
    return GuideFile(found, document, text[hit.end() :], text.count("\n", 0, hit.end()) + 1)


def page_files(house: Path | None) -> dict[tuple[str, str], Path]:
    """(folder, key) -> file; a company's `house/FOLDER/KEY.md` wins over the shipped page."""
    files: dict[tuple[str, str], Path] = {}
    for base in (SHIPPED, house):
        if base is None:
            continue
        for folder in PAGES:
            for file in sorted((base / folder).glob("*.md")):
                files[folder, file.stem] = file
    return files


def list_files(house: Path | None, language: str = SOURCE) -> dict[str, list[Path]]:
    """Vocabulary file -> the shipped one and the company's additions, in this order; `spoken` has the phrases of the
    language between them, where they come along."""
    found: dict[str, list[Path]] = {}
    own = SHIPPED / f"spoken.{language.partition('-')[0]}.yaml"
    for name in LIST_FILES:
        found[name] = [SHIPPED / f"{name}.yaml"]
        if name == "spoken" and own.is_file():
            found[name].append(own)
        if house and os.path.lexists(house / f"{name}.yaml"):  # of what is no file it is told when it is read
            found[name].append(house / f"{name}.yaml")
    return found


def containment(components: Mapping[str, Entry]) -> dict[str, frozenset[str]]:
    """Area -> everything inside it, at any depth."""
    children: dict[str, set[str]] = {}
    for key, entry in components.items():
        for area in entry["within"] or ():
            children.setdefault(area, set()).add(key)

    def below(area: str, seen: frozenset[str]) -> set[str]:
        out: set[str] = set()
        for child in children.get(area, ()):
            if child not in seen:
                out |= {child} | below(child, seen | {child})
        return out

    return {area: frozenset(below(area, frozenset({area}))) for area in children}


def vocabulary_of(
    guide: Guide,
    branches: Mapping[str, str],
    crews: Mapping[str, str],
    unsure: frozenset[str] = frozenset(),
) -> Vocabulary:
    """All words that a record may use; of the kinds in `unsure` there may be any others."""
    terms: dict[str, dict[str, Term]] = {
        plural: as_terms(entry.facts for entry in guide.entries(kind).values())
        for kind, plural in REF_KINDS.items()
    }
    terms |= {name: dict(known) for name, known in guide.small.items()}
    terms["cautions"] = as_terms(guide.cautions.values())
    terms["branches"] = {key: Term(key, key) for key in branches}
    terms["crews"] = {key: Term(key, key) for key in crews}
    return Vocabulary(terms, spoken_index(terms), {**guide.unread, **dict.fromkeys(unsure)})


def read_list(file: Path, root: Path) -> GuideFile | Unreadable | list[Finding]:
    """A vocabulary file as read."""
    found = source.read(file, root)
    if isinstance(found, Unreadable):
        return found
    document = parse.parse(found.data)
    return document if isinstance(document, list) else GuideFile(found, document)
