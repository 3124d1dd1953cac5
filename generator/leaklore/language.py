"""The language of the pages: interface words by gettext, names of months and direction of writing by Babel.

English is the source and needs no catalogue: there a message is handed back as it is. Every other language has
`locale/LANGUAGE/LC_MESSAGES/leaklore.po`, read once a build; a library may add to it, or bring a language of its own, by
`house/words.po`. What the guide, the vocabulary and the records say is content and never passes through here.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from functools import cache, cached_property
from gettext import c2py
from io import StringIO
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from leaklore.errors import LeakloreError

if TYPE_CHECKING:
    from babel.messages.catalog import Catalog

T = TypeVar("T")

LOCALE = Path(__file__).parent / "locale"
DOMAIN = "leaklore"
SOURCE = "en"
TAG = re.compile(r"[a-z]{2,3}(?:-[A-Z][a-z]{3})?(?:-[A-Z]{2}|-[0-9]{3})?")
"""A language as in `es`, `es-MX`, `zh-Hant`, `es-419` (BCP 47, without its rarer parts)."""

QUOTES = "write msgid and msgstr, each in quotes"
LINE = re.compile(r'\s*(?:#.*|(?:(?:msgctxt|msgid|msgid_plural|msgstr(?:\[\d\])?)\s*)?".*"\s*)?')
"""A line of a catalogue."""


@dataclass(frozen=True)
class Language:
    """What a build says and how. `messages`: English -> translation; `plurals`: English singular -> every form.

    `plural` is gettext's rule, in C, that picks the form for a number.
    """

    tag: str = SOURCE
    messages: Mapping[str, str] = field(default_factory=dict)
    plurals: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    plural: str = "(n != 1)"

    @property
    def direction(self) -> str:
        """`ltr` or `rtl`."""
        return "ltr" if self.tag == SOURCE else _direction(self.tag)

    @cached_property
    def digest(self) -> str:
        """SHA-256 of all that it says: for what is kept with words in it."""
        told = [self.tag, self.plural, sorted(self.messages.items()), sorted(self.plurals.items())]
        return hashlib.sha256(json.dumps(told).encode()).hexdigest()


class Unreadable(LeakloreError):
    """A catalogue can't be read: `line` from 1, `what` is wrong."""

    def __init__(self, file: Path, line: int, what: str) -> None:
        super().__init__(f"{file}:{line}:1: {what}; {QUOTES}")
        self.line, self.what = line, what


ENGLISH = Language()
_now = ENGLISH


def use(language: Language) -> None:
    """Makes it the language of this process; children that are forked later speak it too."""
    global _now
    _now = language


def current() -> Language:
    """The language in use."""
    return _now


def foreign() -> bool:
    """Is it another language than English?"""
    return _now.tag != SOURCE


def gettext(message: str) -> str:
    """The message in the language in use, in English where it has none."""
    return _now.messages.get(message, message)


def ngettext(one: str, many: str, n: int) -> str:
    """The form of a message for `n`, with `n` still to be put in."""
    if forms := _now.plurals.get(one):
        return forms[_rule(_now.plural)(n)]
    return one if n == 1 else many


def later(words: T) -> T:
    """Marks a message, or a table of them, that is translated when it is shown; `marked.py` finds what is in it."""
    return words


def day(date: dt.date) -> str:
    """A day in full, as the language writes it: `3 February 2025`, `3 de febrero de 2025`."""
    return _day(date, _now.tag)


@cache
def _day(date: dt.date, tag: str) -> str:
    if tag == SOURCE:
        return f"{date.day} {date:%B %Y}"
    from babel.dates import format_date

    return format_date(date, "long", locale=tag.replace("-", "_"))


@cache
def _direction(tag: str) -> str:
    from babel import Locale, UnknownLocaleError

    try:
        return Locale.parse(tag, sep="-").text_direction
    except UnknownLocaleError:
        return "ltr"


@cache
def _rule(plural: str) -> Callable[[int], int]:
    return c2py(plural)


def shipped() -> list[str]:
    """Languages that come along, English first."""
    return [SOURCE, *sorted(p.parts[-3] for p in LOCALE.glob(f"*/LC_MESSAGES/{DOMAIN}.po"))]


def load(tag: str, own: Path | None = None) -> Language:
    """The language `tag`; `own` is a catalogue of the library, whose messages win. `es-MX` takes the words of `es`.

    Raises LeakloreError where there is no catalogue, or where one can't be read.
    """
    found = [file for file in (*_files(tag), own) if file is not None and file.is_file()]
    if not found and tag.split("-")[0] != SOURCE:
        raise LeakloreError(f'there are no words for "{tag}"; {instead()}')
    return _joined(tag, [read(file) for file in found]) if found or tag != SOURCE else ENGLISH


def _files(tag: str) -> list[Path]:
    names = dict.fromkeys((tag.split("-")[0], tag))
    files = [LOCALE / name / "LC_MESSAGES" / f"{DOMAIN}.po" for name in names]
    return [file for file in files if file.is_file()]


def heads(tag: str) -> list[Catalog]:
    """The heads of what comes along for a language: they say how its plurals go."""
    return [head(file.read_text("utf-8").partition("\n\n")[0]) for file in _files(tag)]


def head(text: str) -> Catalog:
    """A catalogue of its first lines alone. Raises ValueError."""
    from babel.messages.pofile import PoFileError, read_po

    try:
        return read_po(StringIO(text), domain=DOMAIN, abort_invalid=True)
    except (PoFileError, LookupError, AssertionError) as fault:
        raise ValueError(str(fault)) from None


def unquoted(text: str) -> str:
    """What a catalogue's quotes hold."""
    from babel.messages.pofile import unescape

    return unescape(text)


def instead() -> str:
    """What to write for a language without words."""
    return f"write one of {', '.join(shipped())}, or bring its words in house/words.po"


def _joined(tag: str, catalogues: Iterable[Catalog]) -> Language:
    messages: dict[str, str] = {}
    plurals: dict[str, tuple[str, ...]] = {}
    rule = ENGLISH.plural
    for catalogue in catalogues:
        rule = str(catalogue.plural_expr)
        for message in catalogue:
            if not message.id or message.fuzzy:
                continue
            said, known = message.id, message.string
            if isinstance(said, str):
                if isinstance(known, str) and known:
                    messages[said] = known
            elif isinstance(known, (list, tuple)) and all(known):
                plurals[said[0]] = tuple(known)
    return Language(tag, messages, plurals, rule)


def read(file: Path) -> Catalog:
    """A catalogue. Raises Unreadable."""
    from babel.messages.pofile import PoFileError, read_po

    try:
        text = file.read_text("utf-8-sig")
        for number, line in enumerate(text.splitlines(), 1):
            if not LINE.fullmatch(line):  # Babel would take the quotes for granted
                raise Unreadable(file, number, "this is no line of a catalogue")
        return read_po(StringIO(text), domain=DOMAIN, abort_invalid=True)
    except PoFileError as fault:
        raise Unreadable(file, (fault.lineno or 0) + 1, str(fault.args[0])) from None
    except (ValueError, LookupError) as fault:  # its head, or bytes that are no text
        raise Unreadable(file, 1, f"it is no catalogue of gettext ({fault})") from None
