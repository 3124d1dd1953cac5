"""What commands have in common: the options for the library and for machines, reading it, telling what came of it."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from leaklore.errors import LeakloreError

if TYPE_CHECKING:
    from leaklore.records.check import CheckResult
    from leaklore.records.library import Library

C = TypeVar("C", bound=Callable[..., Any])
PATH = click.Path(path_type=Path)


published_at = click.option(
    "--address", metavar="URL", help="Where the site is published; else site_url in company.yaml."
)


def written_to(what: str, metavar: str = "FILE", **more: Any) -> Callable[[C], C]:
    """`-o`, with what it names."""
    return click.option("-o", "--output", type=PATH, metavar=metavar, help=what, **more)


def of_library(command: C) -> C:
    """`--cases`, for a command that reads a library."""
    option = click.option(
        "--cases", type=PATH, default=Path("cases"), show_default=True, help="Folder of the case library."
    )
    return option(command)


def for_machines(what: str) -> Callable[[C], C]:
    """`--json`, with what it prints: `tell` is how."""
    return click.option("--json", "as_json", is_flag=True, help=what)


def tell(facts: Mapping[str, Any]) -> None:
    """Prints what came of a command as JSON in one line, the last; `version` is that of its form."""
    import json

    click.echo(json.dumps({"version": 1, **facts}, ensure_ascii=False))


def read(cases: Path, quiet: bool) -> Library:
    """The library of what is right. Raises LeakloreError where nothing can be read."""
    library = checked(cases, quiet).library
    if library is None:
        raise LeakloreError("the library can't be read; run `leaklore check` first")
    return library


def checked(cases: Path, quiet: bool) -> CheckResult:
    """The library and all its problems; records that are as they were before are not read again."""
    from leaklore.records.check import check as run
    from leaklore.workers import usual

    workers, cache = usual(), cases.absolute().parent / ".cache" / "records"
    if quiet or not sys.stderr.isatty():
        return run(cases, workers=workers, cache=cache)
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("Checking records", total=None)

        def progress(done: int, total: int) -> None:
            bar.update(task, completed=done, total=total)

        return run(cases, workers=workers, cache=cache, progress=progress)


@contextmanager
def working(what: str, quiet: bool) -> Iterator[None]:
    """Says on a terminal what takes its time meanwhile."""
    if quiet or not sys.stderr.isatty():
        yield
        return
    from rich.console import Console

    with Console(stderr=True).status(what):
        yield


def printed(written: Path | None, file: Path | None) -> None:
    """Exit status 1, with a word, where a PDF was asked for and an HTML file came of it."""
    if written != file:
        click.echo(
            "leaklore: no PDF, for there is no command `chromium`; print the .html from any browser", err=True
        )
        sys.exit(1)
