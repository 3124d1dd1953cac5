"""What is wrong in a company's own catalogue, `house/words.po`, beyond its form: slots, braces, and the rule of its plurals.

Babel reads a catalogue whose slots no message has, and a build would stop at the page that shows it. So each form is held
against the English one here, by line. A slot too many is an error; one that is left out is a warning, for the page can be made.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from gettext import c2py
from pathlib import Path

from leaklore import language
from leaklore.errors import LeakloreError
from leaklore.problem import Severity

EXAMPLE = "nplurals=2; plural=(n != 1);"
NUMBERS = (*range(1001), 10**4, 10**5, 10**6, 2 * 10**6)
"""Among these every form of every language's rule comes up; in French and Spanish one of them with the millions."""
MOST = 6
"""Forms that the language with the most of them has."""
_KEYWORD = re.compile(r'\s*(?:(msgctxt|msgid_plural|msgid|msgstr)(?:\[(\d)\])?\s*)?(".*")\s*')
_HEADER = re.compile(r"Plural-Forms:(.*)", re.IGNORECASE)
_RULE = re.compile(r"\s*nplurals\s*=\s*(\d{1,9})\s*;\s*plural\s*=\s*([^;]+);?\s*")
_BRACES = re.compile(r"\{\{|\}\}|\{[^{}]*\}|[{}]")
_PERCENT = re.compile(r"%%|%\([^)]*\)[a-z]?|%")
_SLOT = re.compile(r"\{[\w-]+\}")
_NAMED = re.compile(r"%\(\w+\)s")


@dataclass(frozen=True)
class Fault:
    """`line` from 1; `what` is wrong there, and what to write `instead`."""

    line: int
    what: str
    instead: str
    severity: Severity = "error"


@dataclass
class _Text:
    """A text of a catalogue: each of its quoted pieces with its line."""

    pieces: list[tuple[int, str]] = field(default_factory=list)

    @property
    def whole(self) -> str:
        return "".join(text for _, text in self.pieces)

    @property
    def line(self) -> int:
        return self.pieces[0][0]

    def line_at(self, place: int) -> int:
        """The line of the character at `place` of the whole."""
        for line, text in self.pieces:
            if place < len(text):
                return line
            place -= len(text)
        return self.line


@dataclass
class _Entry:
    """A message: its English, singular and perhaps plural, and the forms by number."""

    english: list[_Text]
    forms: dict[int, _Text] = field(default_factory=dict)
    doubtful: bool = False

    @property
    def used(self) -> bool:
        """A doubtful or unfinished message is left to English."""
        return not self.doubtful and any(form.whole for form in self.forms.values())


@dataclass(frozen=True)
class _Plurals:
    count: int
    alone: frozenset[int]
    """Forms that stand for one number only, as `un mes`: they may leave it out."""


@lru_cache(maxsize=2)  # asked by the check, the build and the pages; a whole catalogue takes half a second
def faults(data: bytes, file: Path, tag: str) -> list[Fault]:
    """All that is wrong in the catalogue `file`, by its lines; `tag`: the language that the pages are in."""
    try:
        lines = data.decode("utf-8-sig").splitlines()
    except UnicodeDecodeError as fault:
        line = 1 + data.count(b"\n", 0, fault.start)
        what = f"is not UTF-8 text (byte 0x{data[fault.start]:02x})"
        return [Fault(line, what, "save the file with the encoding UTF-8")]
    strange = [number for number, line in enumerate(lines, 1) if not language.LINE.fullmatch(line)]
    if strange:
        return [Fault(n, "this is no line of a catalogue", language.QUOTES) for n in strange]
    entries = list(_entries(lines))
    found = [
        Fault(entry.english[0].line, "the head stands behind a message", 'begin the file with msgid ""')
        for entry in entries[1:]
        if not entry.english[0].whole
    ]
    head = entries[0] if entries and not entries[0].english[0].whole else None
    upto = entries[1].english[0].line - 1 if head and len(entries) > 1 else len(lines)
    told, plurals = _rule(head, lines[:upto] if head else [], tag)
    found += told
    for entry in entries[1:] if head else entries:
        if entry.used:
            found += _of(entry, plurals)
    if not any(fault.severity == "error" for fault in found):
        try:
            language.read(file)
        except language.Unreadable as fault:
            found.append(Fault(fault.line, fault.what, language.QUOTES))
    return sorted(found, key=lambda fault: (fault.line, fault.what))


def spoken(tag: str, own: Path) -> language.Language:
    """The language of the pages. Own words at fault are left out: the check has told them, and `serve` goes on.

    Raises LeakloreError where there are no words for the language.
    """
    if not own.is_file():
        return language.load(tag)
    if all(fault.severity == "warning" for fault in faults(own.read_bytes(), own, tag)):
        return language.load(tag, own)
    try:
        return language.load(tag)
    except LeakloreError:  # its only words are those at fault
        return language.ENGLISH


def _entries(lines: Sequence[str]) -> Iterator[_Entry]:
    entry: _Entry | None = None
    text = _Text()
    doubtful = False
    for number, line in enumerate(lines, 1):
        if line.startswith("#,"):
            doubtful = "fuzzy" in line
        hit = _KEYWORD.fullmatch(line)
        if not hit:
            continue
        keyword, index, quoted = hit.groups()
        if keyword:
            text = _Text()
        text.pieces.append((number, language.unquoted(quoted)))
        if keyword == "msgid":
            if entry:
                yield entry
            entry, doubtful = _Entry([text], doubtful=doubtful), False
        elif entry and keyword == "msgid_plural":
            entry.english.append(text)
        elif entry and keyword == "msgstr":
            entry.forms[int(index or 0)] = text
    if entry:
        yield entry


def _rule(head: _Entry | None, lines: Sequence[str], tag: str) -> tuple[list[Fault], _Plurals | None]:
    """How many forms a plural has, by the head or, where it says nothing, by its language."""
    text = head.forms.get(0) if head else None
    said = _HEADER.search(text.whole) if text else None
    if text and said:
        line, written = text.line_at(said.start()), said[1].strip()
        hit = _RULE.fullmatch(written)
        if not hit:
            return [
                Fault(line, f'"{_short(written)}" is no rule of plurals', f"write for example {EXAMPLE}")
            ], None
        count, rule = int(hit[1]), hit[2].strip()
    else:
        try:
            catalogue = language.head("\n".join(lines))
        except ValueError:  # told when the whole is read
            return [], None
        line, count, rule = 1, catalogue.num_plurals, str(catalogue.plural_expr)
    try:
        form = c2py(rule)
        used = [form(n) for n in NUMBERS]
    except (ValueError, ArithmeticError, SyntaxError, RecursionError, MemoryError):
        what = f'"{_short(rule)}" is no rule that picks a form for each number'
        return [Fault(line, what, f"write for example {EXAMPLE}")], None
    if set(used) != set(range(count)):
        picked = [str(n) for n in sorted(set(used))]
        shown = ", ".join(picked[:MOST] + ["…"] * (len(picked) > MOST))
        what = f"nplurals={count}, but the rule picks the forms {shown}"
        return [Fault(line, what, f"write for example {EXAMPLE}")], None
    for shipped in language.heads(tag):
        if shipped.num_plurals != count:
            what = f"nplurals={count}, but the words that come along have {shipped.num_plurals} forms"
            return [
                Fault(line, what, f"write nplurals={shipped.num_plurals}; plural={shipped.plural_expr};")
            ], None
    return [], _Plurals(count, frozenset(n for n in range(count) if used.count(n) == 1))


def _of(entry: _Entry, plurals: _Plurals | None) -> Iterator[Fault]:
    """Faults of one message."""
    several = len(entry.english) > 1
    if several and plurals and sorted(entry.forms) != list(range(plurals.count)):
        names = ", ".join(f"msgstr[{n}]" for n in range(plurals.count))
        line = next((t.line for n, t in entry.forms.items() if n >= plurals.count), entry.english[0].line)
        what = f"a plural of {plurals.count} forms by Plural-Forms has {len(entry.forms)} here"
        yield Fault(line, what, f"write {names}")
    english = [text.whole for text in entry.english]
    for number, form in entry.forms.items():
        if not form.whole:
            continue
        alone = several and (plurals is None or number in plurals.alone)
        yield from _form(english, form, may_lack=alone)


def _form(english: Sequence[str], form: _Text, may_lack: bool) -> Iterator[Fault]:
    """Faults of one form of a message."""
    slots = [dict.fromkeys(s for text in english for s in kind.findall(text)) for kind in (_SLOT, _NAMED)]
    known = [*slots[0], *slots[1]]
    common = [s for s in known if all(s in text for text in english)]
    lacking = [s for s in common if s not in form.whole]
    wrong = dict(_strange(english, form.whole, braces=bool(slots[0]), named=bool(slots[1]), known=known))
    for part, place in wrong.items():
        if part == "%":
            yield Fault(form.line_at(place), '"%" stands alone in a message with %(…)s', "write %%")
        elif part in "{}":
            instead = f"write {_either(lacking or known)}" if known else "leave it out"
            yield Fault(form.line_at(place), f'"{part}" stands alone', instead)
        else:
            instead = f"write {_either(lacking or known)}" if known else "leave it out, for it has none"
            yield Fault(form.line_at(place), f'"{_short(part)}" is no slot of this message', instead)
    if lacking and not wrong and not may_lack:
        what = f"{', '.join(lacking)} of the English message is left out"
        yield Fault(form.line, what, "write it where it belongs in the sentence", "warning")


def _strange(
    english: Sequence[str], form: str, *, braces: bool, named: bool, known: Sequence[str]
) -> Iterator[tuple[str, int]]:
    """Parts of a form that stand for nothing, with their place: braces, except where the English has some that are
    no slots; `%`.
    """
    if braces or not any(c in text for text in english for c in "{}"):
        for hit in _BRACES.finditer(form):
            if hit[0] not in known and hit[0] not in ("{{", "}}"):
                yield hit[0], hit.start()
    for hit in _PERCENT.finditer(form):
        if hit[0] not in known and hit[0] != "%%" and (named or _NAMED.fullmatch(hit[0])):
            yield hit[0], hit.start()


def _either(slots: Iterable[str]) -> str:
    *most, last = slots
    return f"{', '.join(most)} or {last}" if most else last


def _short(text: str) -> str:
    return text if len(text) <= 40 else f"{text[:39]}…"
