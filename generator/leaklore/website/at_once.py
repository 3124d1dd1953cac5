"""Under `serve`: the pages of a record that was edited, at once; all else that it touches follows with the next build.

Until then the figures on them are those of before, which is what someone who writes a record can wait for.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from leaklore import whole
from leaklore.pages import site
from leaklore.records import check
from leaklore.website.press import Press

SOON = 1.0
"""Seconds after which the whole is built: the browser has the page by then."""
Marks = Mapping[str, tuple[int, int]]


@dataclass(frozen=True)
class AtOnce:
    """What was served last, and the records of which it was made."""

    press: Press
    site: Path
    marks: Marks

    @classmethod
    def of(cls, press: Press, site: Path) -> AtOnce:
        """As things are now."""
        return cls(press, site, dict(_marks(press.book.library.root / "records")))

    def write(self) -> AtOnce | None:
        """Writes the pages of the one record that changed; None where it was not one record, or something is wrong."""
        book = self.press.book
        now = dict(_marks(book.library.root / "records"))
        changed = [path for path, mark in now.items() if self.marks.get(path) != mark]
        if len(changed) != 1 or len(now) != len(self.marks):
            return None
        case = check.read_again(book.library, Path(changed[0]), book.today)
        before = None if case is None else book.library.by_id.get(case.id)
        if case is None or before is None or case.photos != before.photos:
            return None
        press = replace(self.press, book=book.with_case(case), target=None)
        for unit in site.units_of(case, press.book):
            for file in press.unit(unit).files:
                assert file.content is not None
                whole.write(self.site / file.path, file.content)
        return AtOnce(press, self.site, now)


def later(trigger: Path) -> None:
    """Touches a file that is watched, so that the whole is built soon."""
    timer = threading.Timer(SOON, trigger.touch)
    timer.daemon = True
    timer.start()


def _marks(folder: Path) -> Iterator[tuple[str, tuple[int, int]]]:
    """Size and time of every record file; by scandir, for there may be ten thousand."""
    for entry in os.scandir(folder):
        if entry.is_dir():
            yield from _marks(Path(entry.path))
        elif entry.name.endswith((".yaml", ".yml")):
            told = entry.stat()
            yield entry.path, (told.st_size, told.st_mtime_ns)
