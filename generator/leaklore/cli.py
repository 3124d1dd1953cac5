"""The `leaklore` command. Thin: it reads options, calls the layer below and prints what comes back."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from leaklore import __version__
from leaklore.errors import LeakloreError

if TYPE_CHECKING:
    from leaklore.records.check import CheckResult

LIBRARY = click.Path(path_type=Path)


class _Command(click.Group):
    """Tells our own errors in one line, never as a traceback."""

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except LeakloreError as fault:
            click.echo(f"leaklore: {fault}", err=True)
            ctx.exit(1)


@click.group(cls=_Command, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="leaklore")
def main() -> None:
    """Leak cases in, a searchable field guide and case library out.

    \b
    Example:
      leaklore check            tell every problem of the records in cases/
      leaklore new              ask for a case and write its record
      leaklore build            build site/ from cases/
    """


@main.command()
@click.argument("paths", nargs=-1, type=LIBRARY)
@click.option("--json", "as_json", is_flag=True, help="Print a report that a machine reads.")
@click.option(
    "--cases", type=LIBRARY, default=Path("cases"), show_default=True, help="Folder of the case library."
)
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
    result = _checked(cases, quiet=as_json)
    problems = [p for p in result.problems if not paths or _among(p.path, paths, cases)]
    if as_json:
        click.echo(report.as_json(problems, result.counts))
    else:
        if problems:
            click.echo(report.as_text(problems))
        click.echo(report.summary(problems, result.counts), err=True)
    sys.exit(1 if any(p.severity == "error" for p in problems) else 0)


@main.command()
@click.option(
    "--config",
    type=LIBRARY,
    default=Path("mkdocs.yml"),
    show_default=True,
    help="Settings of the page engine.",
)
@click.option("--engine", default="mkdocs", show_default=True, help="Page engine.")
@click.option("--json", "as_json", is_flag=True, help="Print what was built in a form that a machine reads.")
def build(config: Path, engine: str, as_json: bool) -> None:
    """Build the site; a failed build leaves the last good one as it was.

    \b
    Example:
      leaklore build
      leaklore build --config other/mkdocs.yml
    """
    made = _engine(engine)
    with _working("Building the site", quiet=as_json):
        built = made.build(config)
    if as_json:
        import json

        click.echo(json.dumps({"version": 1, **built}, indent=2))
    else:
        click.echo(f"{built['pages']} pages in {built['site']}, {built['seconds']:.1f} s")


@main.command()
@click.option(
    "--config",
    type=LIBRARY,
    default=Path("mkdocs.yml"),
    show_default=True,
    help="Settings of the page engine.",
)
@click.option("--engine", default="mkdocs", show_default=True, help="Page engine.")
@click.option("--address", default="127.0.0.1:8000", show_default=True, help="Where to serve.")
def serve(config: Path, engine: str, address: str) -> None:
    """Serve the site and build it anew whenever a record changes.

    \b
    Example:
      leaklore serve
      leaklore serve --address 0.0.0.0:8080     so that a phone in the same network sees it
    """
    _engine(engine).serve(config, address)


@main.command()
@click.option(
    "--cases", type=LIBRARY, default=Path("cases"), show_default=True, help="Folder of the case library."
)
@click.option(
    "--json", "as_json", is_flag=True, help="Print path and number of the new record for a machine."
)
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

    result = _checked(cases, quiet=as_json)
    if result.library is None:
        raise LeakloreError("the library can't be read; run `leaklore check` first")
    try:
        path = ask_case(result.library, prompt, lambda text: click.echo(text, err=True))
    except (click.Abort, KeyboardInterrupt):
        click.echo(err=True)  # the question's line is still open
        raise LeakloreError("stopped before the end; nothing was written") from None
    if as_json:
        import json

        click.echo(json.dumps({"version": 1, "id": path.stem, "path": str(path)}))
    else:
        click.echo(f"wrote {path}")


@main.command()
@click.argument("text")
@click.option("--clean", multiple=True, metavar="TECHNIQUE@PLACE", help="A check that showed nothing.")
@click.option("--found", multiple=True, metavar="TECHNIQUE@PLACE", help="A check that showed something.")
@click.option(
    "--skip", multiple=True, metavar="TECHNIQUE@PLACE", help="A check that can't be made here and now."
)
@click.option(
    "--passes", metavar="RATE", help="What the leak found passes, e.g. '60 g/yr': is there another one?"
)
@click.option(
    "--only",
    multiple=True,
    metavar="FACET=VALUE",
    help="Keep cases: mode, setting, refrigerant, branch, proof, held.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the answer in a form that a machine reads.")
@click.option(
    "--cases", type=LIBRARY, default=Path("cases"), show_default=True, help="Folder of the case library."
)
def find(
    text: str,
    clean: tuple[str, ...],
    found: tuple[str, ...],
    skip: tuple[str, ...],
    passes: str | None,
    only: tuple[str, ...],
    as_json: bool,
    cases: Path,
) -> None:
    """Search from what is seen to causes, the next check and cases like it.

    \b
    Example:
      leaklore find "410 hissing by the wall, green copper, lost 3 lb since spring"
      leaklore find "oil at flare minisplit" --clean visual@indoor-flare --json
    """
    from leaklore.search import ask

    result = _checked(cases, quiet=as_json)
    if result.library is None:
        raise LeakloreError("the library can't be read; run `leaklore check` first")
    question = ask.question(
        result.library, text, {"clean": clean, "found": found, "skip": skip}, passes, only
    )
    with _working("Searching", quiet=as_json):
        answer = ask.answer(result.library, question)
    if as_json:
        import json

        click.echo(json.dumps({"version": 1, **answer}, ensure_ascii=False, indent=2))
    else:
        click.echo(ask.as_text(answer, result.library))


def _checked(cases: Path, quiet: bool) -> CheckResult:
    from leaklore.records.check import check as run

    if quiet or not sys.stderr.isatty():
        return run(cases)
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("Checking records", total=None)
        return run(cases, progress=lambda done, total: bar.update(task, completed=done, total=total))


@contextmanager
def _working(what: str, quiet: bool) -> Iterator[None]:
    if quiet or not sys.stderr.isatty():
        yield
        return
    from rich.console import Console

    with Console(stderr=True).status(what):
        yield


def _engine(name: str) -> Any:
    from importlib.metadata import entry_points

    known = {e.name: e for e in entry_points(group="leaklore.page_engines")}
    if name not in known:
        raise LeakloreError(f'there is no page engine "{name}"; known: {", ".join(sorted(known))}')
    return known[name].load()()


def _among(problem: str, paths: tuple[Path, ...], cases: Path) -> bool:
    place = (cases.resolve().parent / problem).resolve()
    return any(place == p.resolve() or p.resolve() in place.parents for p in paths)
