"""Under `serve`: the pages of a record that was edited, at once; all else that it touches follows with the next build.

Until then the figures on them are those of before, which is what someone who writes a record can wait for.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path

from leaklore import whole
from leaklore.pages import site
from leaklore.records import check
from leaklore.records.source import yaml_names
from leaklore.website.press import Press
from leaklore.workers import unforked

FEW = 5
"""So many records are shown at once; more came from elsewhere than one hand."""
Marks = Mapping[str, tuple[int, int]]


@dataclass(frozen=True)
class AtOnce:
    """What is served, and the records of which it was made, as they lay there before they were read."""

    press: Press
    site: Path
    marks: Marks

    @classmethod
    def of(cls, press: Press, site: Path, marks: Marks) -> AtOnce:
        """A site that was made just now."""
        return cls(replace(press, target=None), site, marks)

    def follow(self) -> AtOnce | None:
        """Writes the pages of the few records that changed since; itself where none did.

        None where something is wrong with one, or more than a few records changed.
        """
        with unforked():  # by the build that goes on behind
            return self._follow()

    def _follow(self) -> AtOnce | None:
        now = marks(self.press.book.library.root)
        if now.keys() != self.marks.keys():
            return None
        changed = [path for path, mark in now.items() if self.marks[path] != mark]
        if not changed:
            return self
        if len(changed) > FEW:
            return None
        book = self.press.book
        cases = []
        for path in changed:
            case = check.read_again(book.library, Path(path), book.today)
            before = None if case is None else book.library.by_id.get(case.id)
            if case is None or before is None or case.photos != before.photos:
                return None
            cases.append(case)
            book = book.with_case(case)
        press = replace(self.press, book=book)
        for case in cases:
            for unit in site.units_of(case, book):
                for file in press.unit(unit).files:
                    assert file.content is not None
                    whole.write(self.site / file.path, file.content)
        return AtOnce(press, self.site, now)


def marks(library: Path) -> Marks:
    """Size and time of every record file that is there."""
    out = {}
    for name in yaml_names(library / "records"):
        with suppress(OSError):  # an editor may be putting another in its place
            told = os.stat(name)
            out[name] = told.st_size, told.st_mtime_ns
    return out
