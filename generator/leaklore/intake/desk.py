"""Judges records as if they lay in the library already, gives numbers, and files those that are right.

All records of a run are judged together, so that they may name each other; those that are refused leave, and
the others are judged again without them.
"""

from __future__ import annotations

import datetime as dt
import os
import shutil
from collections.abc import Mapping, Sequence
from functools import cached_property
from pathlib import Path

from leaklore.errors import LeakloreError
from leaklore.intake.candidate import MARK, Candidate, Outcome
from leaklore.problem import Finding, Problem, errors
from leaklore.records import convert, source
from leaklore.records.check import CheckResult
from leaklore.records.draft import Bench
from leaklore.records.model import Case
from leaklore.records.rules import CASE_RULES, LIBRARY_RULES, Context
from leaklore.records.schema import Schemas, is_date, load

_PHOTOS = "reference/photo"
"""Rule that looks into the library for photos; those of a zip were held against its record when it was read."""
_NUMBERLESS, _NOBODY = "id:", "AA-0000-000"


class Desk:
    """One run against one library. Raises LeakloreError where the library can't be read."""

    def __init__(self, result: CheckResult, today: dt.date) -> None:
        if result.library is None:
            raise LeakloreError("the library can't be read; run `leaklore check` first")
        self.library = result.library
        self._bench = Bench(result.library, today)
        self._schemas = Schemas(result.library.vocabulary)
        self._schema_says: dict[Candidate, list[Finding]] = {}
        self._today = today
        register = source.shown(self.library.root / "systems.yaml", self.library.root)
        self._register_read = not any(p.path == register for p in errors(result.problems))

    def judge(self, brought: Sequence[Candidate]) -> list[Outcome]:
        """What would come of each, in the order given; nothing is written."""
        out: dict[Candidate, Outcome] = {}
        left: list[Candidate] = []
        first: dict[object, Candidate] = {}
        same: dict[Candidate, Candidate] = {}
        for one in brought:
            there = None if errors(one.problems) else self._there(one)
            twin = first.setdefault(self._sameness(one), one)
            if there:
                out[one] = self._outcome(one, "already taken", there, [], self._differs(one, there))
            elif twin is not one and one.mark and not (one.of_draft and self._equal(one, twin)):
                out[one] = self._outcome(one, "refused", None, [self._twice(one, twin)])
                if one.of_draft and twin in left:  # nobody can tell which is the later
                    left.remove(twin)
                    out[twin] = self._outcome(twin, "refused", None, [self._twice(twin, one)])
            elif twin is not one:
                same[one] = twin
            else:
                left.append(one)
        while left:
            numbers = self._numbers(left)
            told = self._told(left, numbers)
            refused = [one for one in left if errors(told[one])]
            for one in refused or left:
                status = "refused" if refused else "taken"
                number = numbers[one] if not refused or one.number else None
                out[one] = self._outcome(one, status, number, told[one])
            left = [one for one in left if one not in out]
        for one, twin in same.items():
            if out[twin].status == "refused":
                wrong = Finding(
                    (), f"is the same as {twin.origin}, which is refused", "leave it out", "take/twice"
                )
                out[one] = self._outcome(one, "refused", None, [one.tell(wrong)])
            else:
                out[one] = self._outcome(one, "already taken", None, [], f"the same as {twin.origin}")
        return [out[one] for one in brought]

    def file(self, one: Candidate, number: str) -> Path:
        """Writes a record that was judged to be right, photos first; OSError, and nothing left, where it can't."""
        place, photos = self._bench.place(number), self.library.root / "photos" / number
        root = self.library.root.resolve()
        for spot in (place.parent, photos.parent):
            if not spot.resolve().is_relative_to(root):
                raise OSError(None, f"{spot.name} is a link out of the library")
        fresh: list[Path] = []
        try:
            if one.photos:
                if photos.exists():
                    raise FileExistsError(None, f"photos/{number} is there already")
                aside = photos.with_name(f".{number}.{os.getpid()}")
                aside.mkdir(parents=True)
                fresh.append(aside)
                for name, data in one.photos.items():
                    with (aside / name).open("xb") as file:
                        file.write(data)
                aside.rename(photos)
                fresh[:] = [photos]
            place.parent.mkdir(parents=True, exist_ok=True)
            with place.open("xb") as file:
                fresh.append(place)
                file.write(one.render(number).encode())
        except BaseException:
            for made in fresh:
                made.unlink() if made.is_file() else shutil.rmtree(made, ignore_errors=True)
            raise
        return place

    def _numbers(self, left: Sequence[Candidate]) -> dict[Candidate, str]:
        """Each one's number: its own, or the next free one; the schema's example where none can be worked out."""
        before = self._bench.numbers
        last: dict[tuple[str, str], str] = {}
        out = {one: one.number for one in left if one.number is not None}
        self._bench.numbers |= set(out.values())
        try:
            for one in left:
                if one in out:
                    continue
                data = one.data if isinstance(one.data, dict) else {}
                branch, reported = data.get("branch"), data.get("reported")
                if (
                    isinstance(branch, str)
                    and branch in self.library.company.branches
                    and isinstance(reported, str)
                    and is_date(reported)
                ):
                    series = branch, reported[:4]
                    if series in last:
                        begin, _, count = last[series].rpartition("-")
                        out[one] = f"{begin}-{int(count) + 1:03}"
                    else:
                        out[one] = self._bench.next_number(branch, int(reported[:4]))
                    last[series] = out[one]
                else:
                    out[one] = load("case")["examples"][0]["id"]
        finally:
            self._bench.numbers = before
        return out

    def _told(
        self, left: Sequence[Candidate], numbers: Mapping[Candidate, str]
    ) -> dict[Candidate, list[Problem]]:
        """What `leaklore check` would say of each, were all of them in place."""
        ctx = Context(
            self.library.root,
            self.library.company,
            self.library.guide,
            self.library.systems,
            self._bench.numbers - set(self.library.former) | set(numbers.values()),
            frozenset(),
            self._today,
            self._register_read,
        )
        findings: dict[Candidate, list[Finding]] = {}
        cases: dict[int, Candidate] = {}
        made: list[Case] = []
        for one in left:
            number = numbers[one]
            data = (
                {**one.data, "id": one.data["id"] if one.number else number}
                if isinstance(one.data, dict)
                else one.data
            )
            if one not in self._schema_says:  # the number that is given changes nothing in it
                self._schema_says[one] = self._schemas.check("case", data)
            found = findings[one] = list(self._schema_says[one])
            if any(f.severity == "error" for f in found):
                continue
            path = source.shown(self._bench.place(number), self.library.root)
            case = convert.case(data, path, "", self.library.systems)
            told = (f for rule in CASE_RULES for f in rule(case, data, ctx))
            found += [f for f in told if f.rule != _PHOTOS]
            cases[id(case)] = one
            made.append(case)
        for rule in LIBRARY_RULES:
            for case, finding in rule([*self.library.cases, *made]):
                if id(case) in cases:
                    findings[cases[id(case)]].append(finding)
        for one in cases.values():
            if one.number in self._bench.numbers and not any(f.rule == "id/twice" for f in findings[one]):
                message = f'id: "{one.number}" is used already'
                findings[one].append(
                    Finding(("id",), message, "give this record a number of its own", "id/twice")
                )
            stray = self.library.root / "photos" / numbers[one]
            if one.photos and numbers[one] not in self._bench.numbers and stray.exists():
                message = f"id: there is a folder photos/{numbers[one]} already, without this record"
                findings[one].append(
                    Finding(("id",), message, "look what it holds, and move it away", "take/id")
                )
            if not errors(one.problems) and not any(f.severity == "error" for f in findings[one]):
                try:
                    one.render(numbers[one])
                except ValueError:
                    findings[one].append(
                        Finding(("id",), "id: can't be changed here", "leave the line out", "take/id")
                    )
        return {one: sorted({*one.problems, *map(one.tell, findings[one])}) for one in left}

    def _outcome(
        self,
        one: Candidate,
        status: str,
        number: str | None,
        problems: Sequence[Problem] | None = None,
        note: str = "",
    ) -> Outcome:
        assert status in ("taken", "already taken", "refused")
        return Outcome(
            origin=one.origin,
            status=status,  # type: ignore[arg-type]
            title=one.title,
            number=number,
            path=self._bench.place(number) if number and status != "refused" else None,
            photos=len(one.photos),
            problems=tuple(one.problems if problems is None else problems),
            note=note or (one.note if status == "taken" else ""),
        )

    def _twice(self, one: Candidate, twin: Candidate) -> Problem:
        if one.of_draft:
            message, instead = (
                f"is another state of the draft in {twin.origin}",
                "take only the later of the two",
            )
            return one.tell(Finding((), message, instead, "take/twice"))
        message = (
            f"is the same row as {twin.origin}" if self._equal(one, twin) else f"has the key of {twin.origin}"
        )
        return one.tell(Finding((), message, "give each row a key of its own, or take one out", "take/twice"))

    @staticmethod
    def _equal(one: Candidate, twin: Candidate) -> bool:
        return bool(one.data == twin.data and one.photos == twin.photos)

    def _sameness(self, one: Candidate) -> object:
        if one.mark:
            return one.mark
        try:
            return (one.number, one.render(one.number or _NOBODY), tuple(sorted(one.photos.items())))
        except (ValueError, AttributeError):
            return one  # not a record at all: nothing is like it

    def _there(self, one: Candidate) -> str | None:
        """The number under which this very record is in the library already."""
        if one.mark:
            found = self._marks.get(one.mark)
            if found:
                return found
        try:
            if one.number is None:
                number = self._texts.get(_numberless(one.render(_NOBODY), _NOBODY))
            else:
                number = one.number if one.number in self._files else None
                if number and self._files[number] != one.render(number):
                    return None
        except (ValueError, AttributeError):
            return None
        return number if number and self._same_photos(one, number) else None

    def _same_photos(self, one: Candidate, number: str) -> bool:
        folder = self.library.root / "photos" / number
        there = {p.name: p for p in folder.glob("*")} if folder.is_dir() else {}
        return set(there) == set(one.photos) and all(
            there[name].is_file() and there[name].read_bytes() == data for name, data in one.photos.items()
        )

    def _differs(self, one: Candidate, number: str) -> str:
        try:
            same = self._files.get(number) == one.render(number)
        except (ValueError, AttributeError):
            same = False
        if one.of_draft:
            same = same and self._same_photos(one, number)
            return (
                "" if same else f"{number} differs from what comes now and is left as it is: look what is new"
            )
        return "" if same else "the record differs from the row by now; it is left as it is"

    @cached_property
    def _files(self) -> dict[str, str]:
        """Text of every record by the name of its file."""
        out = {}
        for file in source.find_yaml(self.library.root / "records"):
            found = source.read(file, self.library.root)
            if isinstance(found, source.Source):
                out[file.stem] = found.data.decode("utf-8", "replace")
        return out

    @cached_property
    def _texts(self) -> dict[str, str]:
        return {_numberless(text, number): number for number, text in self._files.items()}

    @cached_property
    def _marks(self) -> dict[str, str]:
        return {
            line: number
            for number, text in self._files.items()
            for line in text.splitlines()[1:3]
            if line.startswith(MARK)
        }


def _numberless(text: str, number: str) -> str:
    return text.replace(f"{_NUMBERLESS} {number}", _NUMBERLESS, 1)
