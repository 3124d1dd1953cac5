"""A zip from the phone: `case.yaml`, and photos as `photos/NAME.jpg` that its record names; or the record alone, as text."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping
from itertools import chain, count
from pathlib import Path
from typing import Any

from leaklore.intake import photo, unpack
from leaklore.intake.candidate import DRAFT_MARK, Candidate
from leaklore.intake.fault import Fault, shown
from leaklore.problem import Finding, Problem
from leaklore.records import field, parse, source
from leaklore.records.compose import FIRST_LINE
from leaklore.records.near import did_you_mean
from leaklore.records.photo import ENDINGS

RECORD, PHOTOS = "case.yaml", "photos/"
_AROUND = re.compile(r"^(?!photos/)[^/]+/(?=case\.yaml$|photos/)")
_ADDED = (".DS_Store", "Thumbs.db", "desktop.ini")
_DRAFT = re.compile(rf"{DRAFT_MARK}[0-9a-z-]{{1,40}}")
*_MOST, _LAST = (f".{ending}" for ending in ENDINGS)
_ENDS = f"{', '.join(_MOST)} or {_LAST}"
_HINT = f"a zip holds case.yaml and photos/NAME{_ENDS}"


def read(file: Path) -> Candidate | tuple[Problem, ...]:
    """The record and the photos of a zip; only problems where it holds no record that can be read."""
    name = shown(file)
    packed, faults = unpack.read(file, unpack.PHONE, _wanted)
    entries = _without_folder(packed, faults)
    pictures: dict[str, bytes] = {}
    for entry, data in entries.items():
        if entry.startswith(PHOTOS):
            made = photo.clean(entry.removeprefix(PHOTOS), data)
            if isinstance(made, Fault):
                faults.append(made)
                made = b""
            pictures[entry.removeprefix(PHOTOS)] = made
    text = entries.get(RECORD)
    if text is None and not any(f.name is None or _inner(f.name) == RECORD for f in faults):
        faults.append(Fault(None, f"holds no {RECORD}", "write one record of that name into it"))
    told = tuple(fault.problem(name) for fault in faults)
    if text is None:
        return told
    if len(text) > source.MAX_BYTES:
        return (*told, _too_long(RECORD, len(text)).problem(name))
    tell = _Teller(f"{name}: {RECORD}")
    if not tell.reads(text):
        return (*told, *tell.wrong)
    told_of = [_inner(f.name) for f in faults if f.name]
    broken = {entry.removeprefix(PHOTOS) for entry in told_of if entry.startswith(PHOTOS)}
    told += tuple(_unmatched(name, tell.document.data, set(pictures), broken, tell))
    return _candidate(name, tell, pictures, told)


def read_text(file: Path) -> Candidate | tuple[Problem, ...]:
    """A record that comes as text, without its photos; only problems where it can't be read."""
    name = shown(file)
    try:
        size = file.stat().st_size
        if not file.is_file():
            return (Fault(None, "is not a plain file", "name a file").problem(name),)
        if size > source.MAX_BYTES:
            return (_too_long(None, size).problem(name),)
        text = file.read_bytes()
    except OSError as fault:
        why = Fault(None, f"can't be read ({fault.strerror})", "check its name and its permissions")
        return (why.problem(name),)
    tell = _Teller(name)
    return _candidate(name, tell, {}, tuple(_absent(tell))) if tell.reads(text) else tell.wrong


def _candidate(name: str, tell: _Teller, pictures: dict[str, bytes], told: tuple[Problem, ...]) -> Candidate:
    document = tell.document
    number, mark = _number(document.data), _mark(document.text)
    other = _other_names(pictures)
    photos = {other.get(file, file): data for file, data in pictures.items()}
    note = ", ".join(f"{file} is filed as {now}" for file, now in other.items())
    return Candidate(name, document.data, number, _Writer(document, other), tell, photos, told, mark, note)


def _other_names(pictures: Collection[str]) -> dict[str, str]:
    """The photos that become JPEGs, and how each is called from then on: as before but for the ending, if that is free."""
    longest = field.about(("photos", 0, "file"))["maxLength"]
    taken = {file.casefold() for file in pictures}
    out: dict[str, str] = {}
    for file in pictures:
        stem, _, ending = file.rpartition(".")
        if photo.filed_as(ENDINGS[ending]) == ENDINGS[ending]:
            continue
        tails = chain([".jpg"], (f"-{n}.jpg" for n in count(2)))
        names = (stem[: longest - len(tail)] + tail for tail in tails)
        out[file] = next(name for name in names if name.casefold() not in taken)
        taken.add(out[file].casefold())
    return out


def _too_long(entry: str | None, size: int) -> Fault:
    return Fault(entry, f"is {size / 1e6:.1f} MB long; at most 1 MB are read", "leave prose out")


def _absent(tell: _Teller) -> Iterator[Problem]:
    """Photos that a record names which came without them."""
    for i, file in _named(tell.document.data):
        message = f"photos[{i}].file: photos/{parse.short(file)} did not come with the text"
        instead = "take the phone's .zip, which holds it, or take the entry out"
        yield tell(Finding(("photos", i, "file"), message, instead, "reference/photo"))


def _named(data: Any) -> Iterator[tuple[int, str]]:
    """Number and file of each photo that a record names."""
    entries = data.get("photos") if isinstance(data, dict) else None
    for i, entry in enumerate(entries if isinstance(entries, list) else ()):
        file = entry.get("file") if isinstance(entry, dict) else None
        if isinstance(file, str):
            yield i, file


def _inner(entry: str) -> str:
    """The name of an entry without a folder that somebody packed with it."""
    return _AROUND.sub("", entry)


def _added(entry: str) -> bool:
    """Did a computer put it there that packed the zip anew?"""
    return entry.startswith("__MACOSX/") or entry.rpartition("/")[2] in _ADDED


def _without_folder(packed: dict[str, bytes], faults: list[Fault]) -> dict[str, bytes]:
    """The entries by name, where they lie in one folder without it; what lies apart from the others is a fault."""
    kept = {entry: data for entry, data in packed.items() if not _added(entry)}
    if len({entry.removesuffix(_inner(entry)) for entry in kept}) <= 1:
        return {_inner(entry): data for entry, data in kept.items()}
    faults += [Fault(entry, "is nothing that is taken", _HINT) for entry in kept if entry != _inner(entry)]
    return {entry: data for entry, data in kept.items() if entry == _inner(entry)}


def _wanted(entry: str) -> Fault | None:
    whole, entry = entry, _inner(entry)
    if entry == RECORD or _added(whole):
        return None
    if entry.startswith(PHOTOS):
        name = entry.removeprefix(PHOTOS)
        about = field.about(("photos", 0, "file"))
        if re.search(about["pattern"], name, re.ASCII) and len(name) <= about["maxLength"]:
            return None
        if "/" not in name:
            return Fault(
                whole,
                "has a name that no record can hold",
                f"write letters, digits, . _ - and end in {_ENDS}",
            )
    if entry.lower().endswith(".zip"):
        return Fault(whole, "is a zip in the zip", _HINT)
    return Fault(whole, "is nothing that is taken", _HINT)


def _unmatched(
    zip_name: str, data: Any, pictures: set[str], broken: set[str], tell: _Teller
) -> Iterator[Problem]:
    """Photos that the record names and the zip does not hold, and the other way round.

    Of `broken` ones, about which something was told already, it only counts that they are there.
    """
    there = pictures | broken
    named: set[str] = set()
    for i, file in _named(data):
        if file in named:
            message = f'photos[{i}].file: "{parse.short(file)}" is named twice'
            yield tell(Finding(("photos", i, "file"), message, "keep one of the two", "reference/photo"))
        elif file not in there:
            yield tell(
                Finding(
                    ("photos", i, "file"),
                    f"photos[{i}].file: there is no photos/{parse.short(file)} in the zip",
                    did_you_mean(file, there, "put the picture there or take the entry out"),
                    "reference/photo",
                )
            )
        named.add(file)
    for file in sorted(pictures - broken - named):
        missing = "is not named under photos: of the record"
        yield Fault(PHOTOS + file, missing, "name it with a caption, or leave it out", "take/photo").problem(
            zip_name
        )


def _number(data: Any) -> str | None:
    """The number that a record brings; None where one has to be given."""
    number = data.get("id") if isinstance(data, dict) else None
    if number is None or (isinstance(number, str) and number.startswith("draft-")):
        return None
    return str(number)


def _mark(text: str) -> str | None:
    """The line that says from which draft of a phone the record is."""
    return next((line for line in text.splitlines()[:2] if _DRAFT.fullmatch(line)), None)


class _Teller:
    """A record that was read, and findings tied to its lines."""

    document: parse.Document

    def __init__(self, path: str) -> None:
        self.path = path
        self.wrong: tuple[Problem, ...] = ()

    def reads(self, text: bytes) -> bool:
        """Is the text a document? What is wrong with it stands in `wrong`."""
        found = parse.parse(text)
        if isinstance(found, list):
            self.wrong = tuple(self._told(f, f.line or 1, f.column or 1) for f in found)
            return False
        self.document = found
        return True

    def __call__(self, f: Finding) -> Problem:
        return self._told(f, *parse.locate(self.document, f))

    def _told(self, f: Finding, line: int, column: int) -> Problem:
        return Problem(self.path, line, column, f.message, f.instead, f.rule, f.severity)


class _Writer:
    """The record's text as it came, with another number, `other` names of photos, and the first line of the house."""

    def __init__(self, document: parse.Document, other: Mapping[str, str]) -> None:
        self._document, self._other = document, other

    def __call__(self, number: str) -> str:
        """Raises ValueError where the number or a name can't be put in without changing anything else."""
        document = self._document
        text, wanted = document.text, self._wanted(number)
        if document.data != wanted:
            text = self._changed(number)
            again = parse.parse(text.encode())
            if not isinstance(again, parse.Document) or again.data != wanted:
                raise ValueError("the number or a name can't be changed")
        first, _, rest = text.partition("\n")
        end = "\r\n" if first.endswith("\r") else "\n"
        if first.startswith("# yaml-language-server:"):
            text = rest
        text = f"{FIRST_LINE}{end}{text}"
        return text if text.endswith("\n") else text + end

    def _wanted(self, number: str) -> dict[str, Any]:
        data = self._document.data
        if not isinstance(data, dict):
            raise ValueError("no record")
        wanted = {**data, "id": number}
        for i, name in self._renamed():
            wanted["photos"] = [*wanted["photos"]]
            wanted["photos"][i] = {**wanted["photos"][i], "file": name}
        return wanted

    def _renamed(self) -> Iterator[tuple[int, str]]:
        """Number of each photo that gets another name, and that name."""
        for i, file in _named(self._document.data):
            if file in self._other:
                yield i, self._other[file]

    def _changed(self, number: str) -> str:
        root, text = self._document.root, self._document.text
        changes = [(_value(_value(root, "photos").value[i], "file"), name) for i, name in self._renamed()]
        if "id" in self._document.data:
            changes.append((_value(root, "id"), number))
        for node, value in sorted(changes, key=lambda change: -change[0].start_mark.index):
            text = _put(text, node, value)
        return text if "id" in self._document.data else self._with_id(text, number)

    def _with_id(self, text: str, number: str) -> str:
        root = self._document.root
        at = root.start_mark.index
        if root.flow_style:
            return f"{text[: at + 1]}id: {number}, {text[at + 1 :]}"
        end = "\r\n" if "\r\n" in text else "\n"
        return f"{text[:at]}id: {number}{end}{' ' * root.start_mark.column}{text[at:]}"


def _value(block: Any, wanted: str) -> Any:
    """The node of a key's value."""
    return next(value for key, value in block.value if key.value == wanted)


def _put(text: str, node: Any, value: str) -> str:
    """The text with another value in place of a node's."""
    start, end = node.start_mark.index, node.end_mark.index
    space = "" if text[start - 1 : start].isspace() else " "
    tail = "\n" if text[start:end].endswith("\n") else ""
    return f"{text[:start]}{space}{value}{tail}{text[end:]}"
