"""A made-up language: every message in brackets, so that a word without them was never handed to the catalogue."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Set
from functools import cached_property
from pathlib import Path
from typing import Any

import yaml
from babel.messages.catalog import Catalog
from babel.messages.pofile import read_po, write_po

from site_fixture import Document, local

OPEN, CLOSE = "⟦", "⟧"
_UNITS = """
lb oz kg g psi psig psia bar pa kpa micron inhg vac torr in ft m mm cm min h s db ppm usd yr mol us si eu mb kb t co e nh o r ze yf q
atm cc mbar l
"""
UNITS = frozenset(_UNITS.split())
"""What stands beside numbers in every language (`Q` for quarters, too), and signs of chemistry."""
_WORD = re.compile(r"[a-z]+(?:['’][a-z]+)?")
_LINK = re.compile(r"\[\[(?:[^|\]]*\|)?([^\]]*)\]\]")
_BETWEEN = re.compile(r"[,;:.()“”/]+\s*|\s+(?=and\b)")
"""Where a template puts one text beside another."""


def catalogue(messages: Path, into: Path) -> None:
    """Writes the made-up language from a file of messages."""
    with messages.open("rb") as lines:
        known = read_po(lines)
    made = Catalog(locale="ar", domain="leaklore")  # written from right to left, and with six plurals
    for message in known:
        if message.id:
            forms = [message.id[1]] * made.num_plurals if message.pluralizable else message.id
            made.add(message.id, _said(forms))
    into.parent.mkdir(parents=True, exist_ok=True)
    with into.open("wb") as out:
        write_po(out, made, width=0)


def _said(forms: Any) -> Any:
    return f"{OPEN}{forms}{CLOSE}" if isinstance(forms, str) else [f"{OPEN}{form}{CLOSE}" for form in forms]


def plain(text: str) -> str:
    """Latin words in small letters, one space between them."""
    return " ".join(_WORD.findall(_LINK.sub(r"\1", text).lower().replace("’", "'")))


class Content:
    """What the guide, the vocabulary and the records of a library say."""

    def __init__(self, *folders: Path) -> None:
        self.files = [
            f for folder in folders for f in sorted(folder.rglob("*")) if f.suffix in (".yaml", ".md")
        ]

    @cached_property
    def values(self) -> frozenset[str]:
        """Every text that stands for itself: names, titles, other words for a thing, keys."""
        found: set[str] = set()
        for file in self.files:
            text = file.read_text("utf-8")
            if file.suffix == ".md":
                head, _, body = text.removeprefix("---\n").partition("\n---\n")
                found |= {plain(line.strip("# ")) for line in body.splitlines()}
                text = head
            found |= {plain(value) for value in _scalars(yaml.load(text, Loader=yaml.CSafeLoader))}
        return frozenset(found)

    @cached_property
    def prose(self) -> str:
        """All of it in a row."""
        return f" {plain(' '.join(f.read_text('utf-8') for f in self.files))} "

    def holds(self, text: str) -> bool:
        """Is it content, or several pieces of content side by side?"""
        return self.has(text) or any(
            self.has(text[: gap.start()]) and self.holds(text[gap.end() :]) for gap in _BETWEEN.finditer(text)
        )

    def has(self, text: str) -> bool:
        """Is it a text of its own, or a piece of some length out of one?"""
        words = plain(text)
        left = [w for w in words.split() if w not in UNITS]
        return not left or words in self.values or (len(left) > LONG and f" {words} " in self.prose)


LONG = 3
"""So many words would hardly stand in the same order in the guide by chance."""


def _scalars(node: Any) -> Iterator[str]:
    if isinstance(node, dict):
        for key, value in node.items():
            yield str(key)
            yield from _scalars(value)
    elif isinstance(node, list):
        for value in node:
            yield from _scalars(value)
    elif node is not None:
        yield str(node)


SAID = ("aria-label", "placeholder", "alt", "data-noun")
"""Attributes that are read out or shown."""


def outside(page: Document, content: Iterable[str]) -> Iterator[str]:
    """Texts of a page that no bracket holds, templates of scripts included.

    `content`: what a template fills from guide and records alone, as XPath; it is left out.
    """
    left_out = {e for path in content for found in page.root.xpath(path) for e in found.iter()}
    yield from _bare(_texts(page.root, left_out))
    for element in (e for e in page.root.iter() if e not in left_out):
        names = ("content",) if element.get("name") == "description" else SAID
        yield from _bare(said for name in names if (said := element.get(name)))


def _bare(texts: Iterable[str]) -> Iterator[str]:
    depth = 0
    for text in texts:
        for piece in re.split(f"([{OPEN}{CLOSE}])", text):
            if piece in (OPEN, CLOSE):
                depth += 1 if piece == OPEN else -1
            elif not depth and piece.strip():
                yield piece.strip()


def _texts(element: Any, left_out: Set[Any]) -> Iterator[str]:
    if element.text and local(element) not in ("script", "style"):
        yield element.text
    for child in element:
        if isinstance(child.tag, str) and child not in left_out:
            yield from _texts(child, left_out)
        if child.tail:
            yield child.tail
