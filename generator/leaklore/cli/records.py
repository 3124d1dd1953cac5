"""Commands about records: begin a library, check it, write a case, take in what others bring."""

from __future__ import annotations

import sys
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from leaklore.cli.group import main
from leaklore.cli.shared import PATH, checked, for_machines, of_library, read, tell, working
from leaklore.errors import LeakloreError

if TYPE_CHECKING:
    from leaklore.intake.take import Taken


class _Amount(click.FloatRange):
    """A number from 0 on; the currency is an option of its own."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Raises click's error, in plain words where there is a comma or a currency."""
        try:
            float(value)
        except ValueError:
            self.fail(f'"{value}" is not a plain number; write for example 96 or 45.50', param, ctx)
        return float(super().convert(value, param, ctx))


@main.command()
@click.argument("folder", type=PATH)
@click.option("--name", default="Our company", show_default=True, help="The company's name.")
@click.option(
    "--units", type=click.Choice(["us", "si"]), default="us", show_default=True, help="Which are shown first."
)
@click.option("--currency", default="USD", show_default=True, help="ISO 4217 code of all money.")
@click.option("--labour-rate", type=_Amount(0), default=0, help="One technician, one hour.")
@click.option("--language", default="", metavar="TAG", help="Of the pages' own words, e.g. es; else English.")
@click.option(
    "--branch",
    "branches",
    multiple=True,
    default=["Main=MA"],
    show_default=True,
    metavar="NAME=PREFIX",
    help="A branch and the first letters of its case numbers; again for more.",
)
def init(
    folder: Path,
    name: str,
    units: str,
    currency: str,
    labour_rate: float,
    language: str,
    branches: tuple[str, ...],
) -> None:
    """Begin a library of your own: settings, an empty register, an example, a page on the next steps.

    FOLDER is new or empty, or holds nothing that would be overwritten. All of it can be changed later; choose the
    prefixes well, for case numbers stay.

    \b
    Example:
      leaklore init our-leaks
      leaklore init our-leaks --name "Osmere Cold" --units si --currency EUR --labour-rate 80 --branch Osmere=OS
    """
    from leaklore import start
    from leaklore.records.today import today

    read = [start.Branch.read(branch) for branch in branches]
    start.start(folder, start.Asked(name, units, currency, labour_rate, read, language), today())
    click.echo(f"{folder} is a library now; README.md in it has the next three steps")


@main.command()
@click.argument("paths", nargs=-1, type=PATH)
@for_machines("Print a report that a machine reads.")
@of_library
def check(paths: tuple[Path, ...], as_json: bool, cases: Path) -> None:
    """Check records, register, reading lists and guide; all problems in one run.

    PATHS narrow down what is told: a record, a folder of records, or another library's folder.
    Exit status 0 without errors (warnings may remain), 1 with errors.

    \b
    Example:
      leaklore check
      leaklore check cases/records/2025/KW-2025-014.yaml
      leaklore check --json > problems.json
    """
    from leaklore import report

    if len(paths) == 1 and (paths[0] / "company.yaml").exists():
        cases, paths = paths[0], ()
    for path in paths:
        if not path.exists():
            raise LeakloreError(f'there is no "{path}"; give a record or a folder of records')
        if not path.resolve().is_relative_to(cases.resolve()):
            raise LeakloreError(f'"{path}" is not in the library "{cases}"; name its library with --cases')
    result = checked(cases, quiet=as_json)
    problems = [p for p in result.problems if not paths or _among(p.path, paths, cases)]
    if as_json:
        click.echo(report.as_json(problems, result.counts))
    else:
        if problems:
            click.echo(report.as_text(problems))
        click.echo(report.summary(problems, result.counts), err=True)
    sys.exit(1 if any(p.severity == "error" for p in problems) else 0)


@main.command()
@of_library
@for_machines("Print path and number of the new record for a machine.")
def new(cases: Path, as_json: bool) -> None:
    """Ask for a case and write a valid record.

    Enter leaves out what may be left out; `?` lists the words that can be written.

    \b
    Example:
      leaklore new
    """
    from leaklore.ask import ask_case

    with suppress(ImportError):
        import readline  # noqa: F401 (arrow keys bring earlier answers back)

    piped = not sys.stdout.isatty()  # the arrow keys only work on standard output

    def prompt(question: str, enter: str) -> str:
        return str(click.prompt(question, default=enter, show_default=bool(enter), err=piped))

    library = read(cases, quiet=as_json)
    try:
        path = ask_case(library, prompt, lambda text: click.echo(text, err=True))
    except (click.Abort, KeyboardInterrupt):
        click.echo(err=True)  # the question's line is still open
        raise LeakloreError("stopped before the end; nothing was written") from None
    if as_json:
        tell({"id": path.stem, "path": str(path)})
    else:
        click.echo(f"wrote {path}")


@main.command()
@click.argument("files", nargs=-1, required=True, type=PATH)
@click.option("--map", "map_file", type=PATH, help="Which column of a job sheet feeds which field.")
@click.option("--suggest-map", is_flag=True, help="Print a first map for a job sheet, to be mended.")
@click.option("--dry-run", is_flag=True, help="Show what would come of it and write nothing.")
@for_machines("Print what came of it in a form that a machine reads.")
@of_library
def take(
    files: tuple[Path, ...],
    map_file: Path | None,
    suggest_map: bool,
    dry_run: bool,
    as_json: bool,
    cases: Path,
) -> None:
    """Check what a phone or an old job sheet brings, and file it into the library.

    FILES are zips from the phone, records as .yaml, or job sheets as .csv or .xlsx with a map of their columns. What is
    right is filed, the rest is told and left alone; nothing is overwritten or taken twice.
    Exit status 0 when all was taken or is there already, 1 when something was refused.

    \b
    Example:
      leaklore take case.zip
      leaklore take jobs.xlsx --suggest-map > map.yaml
      leaklore take jobs.xlsx --map map.yaml --dry-run
      leaklore take jobs.xlsx --map map.yaml
    """
    from leaklore.intake import show
    from leaklore.intake import take as intake

    result = checked(cases, quiet=as_json or suggest_map)
    if suggest_map:
        if len(files) > 1:
            raise LeakloreError("--suggest-map reads one job sheet at a time")
        click.echo(intake.suggest_map(result, files[0]), nl=False)
        return
    with working("Looking at what was brought", quiet=as_json):
        taken = intake.take(result, files, map_file, dry=dry_run)
    if as_json:
        click.echo(show.as_json(taken))
    else:
        _told(taken)
    sys.exit(1 if taken.failed else 0)


def _told(taken: Taken) -> None:
    from rich.console import Console

    from leaklore.intake import show

    for note in taken.notes:
        click.echo(note, err=True)
    if taken.dry:
        width = None if sys.stdout.isatty() else 200
        Console(width=width, highlight=False).print(show.as_table(taken))
    else:
        for line in (*show.problems(taken), *show.done(taken)):
            click.echo(line)
    click.echo(show.summary(taken), err=True)


def _among(problem: str, paths: tuple[Path, ...], cases: Path) -> bool:
    place = (cases.resolve().parent / problem).resolve()
    return any(place == p.resolve() or p.resolve() in place.parents for p in paths)
