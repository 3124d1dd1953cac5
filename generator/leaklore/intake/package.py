"""A zip from the phone: `case.yaml`, and photos as `photos/NAME.jpg` that its record names; or the record alone, as text."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from leaklore.intake import photo, unpack
from leaklore.intake.candidate import DRAFT_MARK, Candidate
from leaklore.intake.fault import Fault, shown
from leaklore.problem import Finding, Problem
from leaklore.records import field, parse, source
from leaklore.records.compose import FIRST_LINE
from leaklore.records.near import did_you_mean

RECORD, PHOTOS = "case.yaml", "photos/"
_AROUND = re.compile(r"^(?!photos/)[^/]+/(?=case\.yaml$|photos/)")
_ADDED = (".DS_Store", "Thumbs.db", "desktop.ini")
_DRAFT = re.compile(rf"{DRAFT_MARK}[0-9a-z-]{{1,40}}")
_HINT = "a zip holds case.yaml and photos/NAME.jpg, .jpeg, .png, .webp or .avif"


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
    return Candidate(name, document.data, number, _Writer(document), tell, pictures, told, mark)


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
                "write letters, digits, . _ - and end in .jpg, .jpeg, .png, .webp or .avif",
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
    """The record's text as it came, with another number and the first line of the house."""

    def __init__(self, document: parse.Document) -> None:
        self._document = document

    def __call__(self, number: str) -> str:
        """Raises ValueError where the number can't be put in without changing anything else."""
        document = self._document
        text = document.text
        if document.data.get("id") != number:
            text = self._with(number)
            again = parse.parse(text.encode())
            wanted = {**document.data, "id": number}
            if not isinstance(again, parse.Document) or again.data != wanted:
                raise ValueError("the line of the number can't be changed")
        first, _, rest = text.partition("\n")
        end = "\r\n" if first.endswith("\r") else "\n"
        if first.startswith("# yaml-language-server:"):
            text = rest
        text = f"{FIRST_LINE}{end}{text}"
        return text if text.endswith("\n") else text + end

    def _with(self, number: str) -> str:
        root, text = self._document.root, self._document.text
        for key, value in root.value:
            if key.value == "id":
                start, end = value.start_mark.index, value.end_mark.index
                space = "" if text[start - 1 : start].isspace() else " "
                tail = "\n" if text[start:end].endswith("\n") else ""
                return f"{text[:start]}{space}{number}{tail}{text[end:]}"
        at = root.start_mark.index
        if root.flow_style:
            return f"{text[: at + 1]}id: {number}, {text[at + 1 :]}"
        end = "\r\n" if "\r\n" in text else "\n"
        return f"{text[:at]}id: {number}{end}{' ' * root.start_mark.column}{text[at:]}"
