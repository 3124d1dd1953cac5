"""What is searched: each case and each guide page as weighted words, as findings, and as the line that a hit shows."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import chain

from leaklore.analysis import text
from leaklore.records.guide import REF_KINDS, Guide
from leaklore.records.library import Library
from leaklore.records.model import Case
from leaklore.records.prose import REFERENCE

TITLE, LESSON = 3, 2
"""How often a word of the title or of the lesson counts."""
_APART = "\n\n"
"""Between two texts: no refrigerant is read across it (`text.fold`)."""
SAID = 160
"""Characters of the line below a hit's title."""
_MARKS = re.compile(r"[*_`#>]+")
FACETS = ("mode", "setting", "refrigerant", "branch", "proof", "held")
"""What cases can be filtered by."""

HELD = ("yes", "no", "unknown")
"""Values of the facet `held`."""


@dataclass(frozen=True)
class Document:
    """`words` stem -> weighted count; `findings` term -> share (1 whole, less where only the area fits); `forms` the
    words as written."""

    line: tuple[object, ...]
    words: Mapping[str, int]
    findings: dict[str, float]
    facets: tuple[str, ...] = ()
    forms: frozenset[str] = frozenset()


def unmarked(said: str) -> str:
    """Prose without marks of Markdown and with the words of its references."""
    words = REFERENCE.sub(lambda m: m[2] or m[1].split(":", 1)[-1], said)
    return _MARKS.sub("", words)


def clip(said: str, most: int = SAID) -> str:
    """The beginning of a text, cut at a word."""
    plain = " ".join(unmarked(said).split())
    if len(plain) <= most:
        return plain
    return plain[:most].rsplit(" ", 1)[0].rstrip(",;:") + " …"


@lru_cache(maxsize=4096)
def _words(said: str) -> tuple[str, ...]:
    return tuple(text.words(text.fold(said)))


def _count(
    parts: Sequence[tuple[str | None, int]], names: Sequence[str] = ()
) -> tuple[dict[str, int], frozenset[str]]:
    """Stems by how often they count, and the words as written. A name counts once, and many cases share it."""
    found = list(chain.from_iterable(map(_words, names)))
    for said, times in parts:
        if said:
            found += text.words(text.fold(said)) * times
    return dict(Counter(map(text.stem, found))), frozenset(found)


def held(case: Case) -> str:
    """yes, no or unknown: did the fix hold?"""
    return {True: "yes", False: "no", None: "unknown"}[case.fix_held]


def findings(case: Case, guide: Guide) -> dict[str, float]:
    """Terms of what was seen, not seen, where, and by what it was missed; `m:` and `p:` are the cause."""
    gear = case.equipment
    out: dict[str, float] = {f"s:{s}": 1.0 for s in case.symptoms}
    out |= {f"n:{s}": 1.0 for s in case.not_seen}
    out |= {f"c:{c}": 1.0 for c in case.conditions}
    for letter, key in (("k", gear.kind), ("g", gear.setting), ("r", gear.refrigerant)):
        if key:
            out[f"{letter}:{key}"] = 1.0
    for cause in case.causes:
        out[f"m:{cause.mode}"] = 1.0
        out[f"p:{cause.component}"] = 1.0
        for area, inside in guide.inside.items():
            if cause.component in inside:
                out.setdefault(f"p:{area}", 0.6)
    for step in case.search:
        letter = "x" if step.result in ("clean", "false-alarm") else "t"
        out[f"{letter}:{step.technique}"] = 1.0
        for place in step.at:
            out.setdefault(f"p:{place}", 0.3)
    return out


def case_document(case: Case, library: Library) -> Document:
    """A case."""
    terms = library.vocabulary
    gear = case.equipment
    names = [terms.name("components", c.component) for c in case.causes]
    names += [terms.name("modes", c.mode) for c in case.causes]
    names += [terms.name("contributing", k) for c in case.causes for k in c.contributing]
    names += [terms.name("symptoms", s) for s in case.symptoms]
    names += [terms.name("conditions", c) for c in case.conditions]
    names += [terms.name("equipment_kinds", gear.kind)] if gear.kind else []
    names += [terms.name("actions", case.fix.action)] if case.fix else []
    notes = [
        *(s.note for s in case.search),
        *(r.note for r in case.readings),
        *(f.note for f in case.follow_up),
        *(p.caption for p in case.photos),
    ]
    site = case.system.site if case.system else None
    once = (
        case.story,
        case.advice,
        " ".join(case.topics),
        f"{case.id} {site.name if site else ''} {case.system.id if case.system else ''}",
        " ".join(n for n in notes if n),
    )
    words, forms = _count(
        [(case.title, TITLE), (case.lesson, LESSON), (_APART.join(said for said in once if said), 1)], names
    )
    line = (
        case.id,
        case.title,
        clip(case.lesson or case.story),
        case.cause.mode,
        case.cause.component,
        gear.kind or "",
        gear.refrigerant or "",
        case.branch,
        case.cause.proof,
        case.reported.isoformat(),
        list(case.symptoms),
    )
    facets = (
        case.cause.mode,
        gear.setting or "",
        gear.refrigerant or "",
        case.branch,
        case.cause.proof,
        held(case),
    )
    return Document(line, words, findings(case, library.guide), facets, forms)


LETTERS = {"mode": "m", "technique": "t", "symptom": "s", "component": "p", "refrigerant": "r"}


def guide_documents(library: Library, address: Callable[[str, str], str]) -> Iterator[Document]:
    """Every entry of the guide; `address` gives its page."""
    for kind in REF_KINDS:
        for entry in library.guide.entries(kind).values():
            said = str(entry["summary"] or entry["what"] or "")
            also = " ".join(entry["also"] or ())
            words, _ = _count([(entry.name, 4), (also, 2), (said, 2), (entry.body, 1)])
            line = (kind, entry.name, clip(said), address(kind, entry.key))
            yield Document(line, words, {f"{LETTERS[kind]}:{entry.key}": 1.0})


def page_documents(pages: Sequence[tuple[str, str, str, str]]) -> Iterator[Document]:
    """Other pages: (kind, title, lead, address)."""
    for kind, title, lead, url in pages:
        yield Document((kind, title, clip(lead), url), _count([(title, 4), (lead, 2)])[0], {})
