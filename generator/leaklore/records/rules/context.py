"""What rules may look at."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Any

from leaklore.problem import Finding
from leaklore.records.guide import Guide
from leaklore.records.model import Case, Company, System


class AnyCase(Collection[str]):
    """The numbers of all cases where some records could not be looked for: each is taken to exist."""

    def __contains__(self, number: object) -> bool:
        return True

    def __iter__(self) -> Iterator[str]:
        return iter(())

    def __len__(self) -> int:
        return 1


@dataclass(frozen=True)
class Context:
    """The library as far as it has been read; `photos` holds `ID/file` of every picture.

    `register_read` is False where the register has errors: then nobody can say which system is missing.
    """

    root: Path
    company: Company
    guide: Guide
    systems: Mapping[str, System]
    case_ids: Collection[str]
    photos: frozenset[str]
    today: dt.date
    register_read: bool = True

    def place(self, case: Case) -> PurePosixPath:
        """The record's path."""
        return PurePosixPath(case.path)


Rule = Callable[[Case, Mapping[str, Any], Context], Iterator[Finding]]
