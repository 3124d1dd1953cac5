"""A company's own library in an empty folder: `leaklore init`."""

from __future__ import annotations

import datetime as dt
import json
import shutil
import tempfile
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from string import Template

from leaklore.errors import LeakloreError
from leaklore.records.check import check
from leaklore.records.schema_files import folder as schemas

STARTER = Path(__file__).parent / "starter"
FILES = {
    "mkdocs.yml": "mkdocs.yml",
    "cases/company.yaml": "company.yaml",
    "cases/systems.yaml": "systems.yaml",
    "cases/house/what-we-write-down.md": "house-note.md",
    "README.md": "README.md",
    "example-case.yaml": "example-case.yaml",
    "theme/README.md": "theme-note.md",
    ".gitignore": "gitignore",
}
"""Where a file of the new library stands -> the text in STARTER that it is made of."""
SIGNS = ("company.yaml", "records", "systems.yaml")
"""What only the folder of a library holds, beside what would be overwritten."""


@dataclass(frozen=True)
class Branch:
    """A branch and the first letters of its case numbers."""

    key: str
    prefix: str

    @classmethod
    def read(cls, text: str) -> Branch:
        """`Osmere=OS`. Raises LeakloreError for another form; what the parts may be, the check says."""
        key, equals, prefix = text.partition("=")
        if not (key and equals and prefix):
            raise LeakloreError(
                f'"{text}" is no branch with its prefix; write for example --branch Osmere=OS'
            )
        return cls(key, prefix)


@dataclass(frozen=True)
class Asked:
    """What the new library is to say. `units`: us or si; `rate`: an hour of one technician, in `currency`.

    `language`: of the pages' own words, as in company.yaml; empty for English.
    """

    name: str
    units: str
    currency: str
    rate: float
    branches: Sequence[Branch]
    language: str = ""


def start(folder: Path, asked: Asked, today: dt.date) -> None:
    """Writes a working library into `folder`, whole or not at all.

    Raises LeakloreError where the folder holds a library or a file of one already, or where what was asked for does not
    pass the check that every library has to pass.
    """
    _refuse(folder)
    made = not folder.exists()
    folder.mkdir(parents=True, exist_ok=True)
    moved: list[Path] = []
    try:
        with tempfile.TemporaryDirectory(prefix=".leaklore-", dir=folder) as name:
            aside = Path(name)
            _write(aside, asked, today)
            _check(aside / "cases", today)
            for entry in sorted(aside.iterdir()):
                if not _free(folder / entry.name):
                    raise LeakloreError(_taken(folder / entry.name))
                entry.rename(folder / entry.name)
                moved.append(folder / entry.name)
    except BaseException:
        for entry in moved:
            shutil.rmtree(entry) if entry.is_dir() else entry.unlink()
        if made:
            with suppress(OSError):
                folder.rmdir()
        raise


def _refuse(folder: Path) -> None:
    if folder.exists() and not folder.is_dir():
        raise LeakloreError(f'"{folder}" is a file; name a folder')
    ours = [name.partition("/")[0] for name in (*FILES, "schema/")]
    for name in dict.fromkeys((*SIGNS, *ours)):
        if not _free(folder / name):
            raise LeakloreError(_taken(folder / name))


def _free(path: Path) -> bool:
    return not (path.exists() or path.is_symlink())


def _taken(path: Path) -> str:
    return f'there is "{path}" already, and nothing was written; name an empty folder, or move that away'


def _write(at: Path, asked: Asked, today: dt.date) -> None:
    """All files of the library, into an empty folder."""
    first = asked.branches[0]
    words = {
        "name": json.dumps(asked.name, ensure_ascii=False),
        "plain_name": asked.name,
        "units": asked.units,
        "currency": asked.currency,
        "rate": f"{asked.rate:.10g} {asked.currency}",
        "branch": first.key,
        "prefix": first.prefix,
        "branches": "\n".join(f"  - {{key: {b.key}, prefix: {b.prefix}}}" for b in asked.branches),
        "year": str(today.year),
        "language": f"\n# Of the pages' own words.\nlanguage: {asked.language}\n" if asked.language else "",
    }
    for name, source in FILES.items():
        file = at / name
        file.parent.mkdir(parents=True, exist_ok=True)
        text = Template((STARTER / source).read_text("utf-8")).substitute(words)
        file.write_text(text, "utf-8", newline="\n")
    records = at / "cases" / "records" / str(today.year)
    records.mkdir(parents=True)
    (records / ".gitkeep").touch()  # git keeps no empty folder
    shutil.copytree(schemas(), at / "schema")


def _check(library: Path, today: dt.date) -> None:
    """What an option spoils is told as the check tells it."""
    problems = check(library, today=today).problems
    if problems:
        told = "\n".join(problem.text() for problem in problems)
        raise LeakloreError(f"nothing was written, for an option does not fit:\n{told}")
