"""Case numbers: file, folder, branch and number agree, and each is used once."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from leaklore.problem import Finding, Pointer, pointer_text
from leaklore.records import prose
from leaklore.records.model import Case
from leaklore.records.rules.context import Context

DOCS = {
    "id/file-name": "the file is called as the case number",
    "id/folder": "the file lies in the folder of the number's year",
    "id/branch": "the number begins with the branch's prefix",
    "id/twice": "a case number, or a former one, is used once",
}


def file_name(case: Case, _: Mapping[str, Any], ctx: Context) -> Iterator[Finding]:
    """The file is called as the case number."""
    stem = ctx.place(case).stem
    if stem != case.id:
        yield Finding(
            ("id",),
            f'id: "{case.id}" and the file name "{ctx.place(case).name}" differ',
            f"rename the file to {case.id}.yaml"
            + (f" or write id: {stem}" if prose.CASE_ID.fullmatch(stem) else ""),
            "id/file-name",
        )


def folder(case: Case, _: Mapping[str, Any], ctx: Context) -> Iterator[Finding]:
    """The file lies in the folder of the number's year."""
    year, place = case.id.split("-")[1], ctx.place(case).parent.name
    if place.isdigit() and place != year:
        yield Finding(
            ("id",),
            f'id: "{case.id}" lies in the folder {place}',
            f"move the file to records/{year}/",
            "id/folder",
        )


def branch_prefix(case: Case, _: Mapping[str, Any], ctx: Context) -> Iterator[Finding]:
    """The number begins with the branch's prefix."""
    wanted = ctx.company.branches.get(case.branch)
    if wanted and not case.id.startswith(f"{wanted}-"):
        yield Finding(
            ("branch",),
            f'branch: {case.branch} numbers its cases {wanted}-…, this one is "{case.id}"',
            "correct the branch or the number",
            "id/branch",
        )


RULES = (file_name, folder, branch_prefix)


def duplicate_ids(cases: Sequence[Case]) -> Iterator[tuple[Case, Finding]]:
    """A case number, or a former one, is used once. It belongs to the file that is called like it, if there is one,
    and of two of those to the one in the folder of its year."""
    first: dict[str, Case] = {}
    for case in sorted(cases, key=_out_of_place):
        numbers: list[tuple[Pointer, str]] = [(("id",), case.id)]
        numbers += [(("was", i), old) for i, old in enumerate(case.was)]
        for place, number in numbers:
            other = first.setdefault(number, case)
            if other is not case:
                message = f'"{number}" is used by {other.path} already'
                instead = "give this record a number of its own" if place == ("id",) else "take it out"
            elif number == case.id and place != ("id",):
                message, instead = f'"{number}" is the number that it has now', "take it out"
            else:
                continue
            yield case, Finding(place, f"{pointer_text(place)}: {message}", instead, "id/twice")


def _out_of_place(case: Case) -> tuple[bool, bool]:
    name = f"/{case.id}.y"
    return name not in case.path, f"/{case.id.split('-')[1]}{name}" not in case.path
