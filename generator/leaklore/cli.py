"""The `leaklore` command. Thin: it reads options, calls the layer below and prints what comes back."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from leaklore import __version__, ending
from leaklore.errors import LeakloreError

if TYPE_CHECKING:
    from leaklore.intake.take import Taken
    from leaklore.records.check import CheckResult
    from leaklore.records.library import Library
    from leaklore.records.model import Audience
    from leaklore.workers import Workers

LIBRARY = click.Path(path_type=Path)


class _Command(click.Group):
    """Tells our own errors in one line, never as a traceback."""

    def __call__(self, *args: Any, **options: Any) -> Any:
        """The whole process; a test calls `main` and goes on."""
        with ending.command():
            return super().__call__(*args, **options)

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except LeakloreError as fault:
            click.echo(f"leaklore: {fault}", err=True)
            ctx.exit(1)
        except BrokenPipeError:  # whoever read our output has gone; click ends quietly
            raise
        except OSError as fault:
            where = fault.filename2 or fault.filename
            click.echo(f"leaklore: {f'{where}: ' if where else ''}{fault.strerror or fault}", err=True)
            ctx.exit(1)


@click.group(cls=_Command, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="leaklore")
def main() -> None:
    """Leak cases in, a searchable field guide and case library out.

    \b
    Example:
      leaklore init our-leaks   begin a library of your own in an empty folder
      leaklore check            tell every problem of the records in cases/
      leaklore new              ask for a case and write its record
      leaklore build            build site/ from cases/
    """


@main.command()
@click.argument("folder", type=LIBRARY)
@click.option("--name", default="Our company", show_default=True, help="The company's name.")
@click.option(
    "--units", type=click.Choice(["us", "si"]), default="us", show_default=True, help="Which are shown first."
)
@click.option("--currency", default="USD", show_default=True, help="ISO 4217 code of all money.")
@click.option("--labour-rate", type=click.FloatRange(0), default=0, help="One technician, one hour.")
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
@click.option(
    "--engine",
    type=click.Choice(["local", "dask"]),
    default="local",
    show_default=True,
    help="Who makes the pages: processes on this machine, or a Dask cluster.",
)
@click.option("--scheduler", metavar="ADDRESS", help="Of the Dask cluster, for example tcp://10.0.0.5:8786.")
@click.option("--processes", type=click.IntRange(1, 512), help="On this machine; one a core by default.")
@click.option("--afresh", is_flag=True, help="Take nothing over from the build before.")
@click.option(
    "--audience",
    type=click.Choice(["customer", "crew", "all"]),
    default="all",
    show_default=True,
    help="Who may see the site. What each sees is marked in the schemas by x-audience.",
)
@click.option("--page-engine", default="mkdocs", show_default=True, help="What draws the frame of a page.")
@click.option("--json", "as_json", is_flag=True, help="Print what was built in a form that a machine reads.")
def build(
    config: Path,
    engine: str,
    scheduler: str | None,
    processes: int | None,
    afresh: bool,
    audience: Audience,
    page_engine: str,
    as_json: bool,
) -> None:
    """Build the site; a failed build leaves the last good one as it was.

    Only what a change touches is made again; the site is the same, byte for byte, as when all is made.

    A site for customers has no names, places, money, search or story; one for crews no money and no comparison of
    crews. Give each audience a mkdocs.yml with a site_dir of its own, or one site takes the other's place.

    \b
    Example:
      leaklore build
      leaklore build --config other/mkdocs.yml
      leaklore build --audience customer --config customers/mkdocs.yml
      leaklore build --engine dask --scheduler tcp://10.0.0.5:8786
    """
    from leaklore.records.store import unhindered

    with unhindered():  # a build makes few cycles and ends soon
        made = _engine(page_engine)
        with _working("Building the site", quiet=as_json), _workers(engine, scheduler, processes) as workers:
            built = made.build(config, workers, afresh, audience)
    if as_json:
        import json

        click.echo(json.dumps({"version": 1, **built}, indent=2))
    else:
        before = f" ({built['as_before']} as before)" if built["as_before"] else ""
        click.echo(f"{built['pages']} pages in {built['site']}{before}, {built['seconds']:.1f} s")


@main.command()
@click.option(
    "--config",
    type=LIBRARY,
    default=Path("mkdocs.yml"),
    show_default=True,
    help="Settings of the page engine.",
)
@click.option("--page-engine", default="mkdocs", show_default=True, help="What draws the frame of a page.")
@click.option("--address", default="127.0.0.1:8000", show_default=True, help="Where to serve.")
def serve(config: Path, page_engine: str, address: str) -> None:
    """Serve the site and build it anew whenever a record changes.

    \b
    Example:
      leaklore serve
      leaklore serve --address 0.0.0.0:8080     so that a phone in the same network sees it
    """
    _engine(page_engine).serve(config, address)


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

    library = _read(cases, quiet=as_json)
    try:
        path = ask_case(library, prompt, lambda text: click.echo(text, err=True))
    except (click.Abort, KeyboardInterrupt):
        click.echo(err=True)  # the question's line is still open
        raise LeakloreError("stopped before the end; nothing was written") from None
    if as_json:
        import json

        click.echo(json.dumps({"version": 1, "id": path.stem, "path": str(path)}))
    else:
        click.echo(f"wrote {path}")


@main.command()
@click.argument("files", nargs=-1, required=True, type=LIBRARY)
@click.option("--map", "map_file", type=LIBRARY, help="Which column of a job sheet feeds which field.")
@click.option("--suggest-map", is_flag=True, help="Print a first map for a job sheet, to be mended.")
@click.option("--dry-run", is_flag=True, help="Show what would come of it and write nothing.")
@click.option("--json", "as_json", is_flag=True, help="Print what came of it in a form that a machine reads.")
@click.option(
    "--cases", type=LIBRARY, default=Path("cases"), show_default=True, help="Folder of the case library."
)
def take(
    files: tuple[Path, ...],
    map_file: Path | None,
    suggest_map: bool,
    dry_run: bool,
    as_json: bool,
    cases: Path,
) -> None:
    """Check what a phone or an old job sheet brings, and file it into the library.

    FILES are zips from the phone, or job sheets as .csv or .xlsx with a map of their columns. What is
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

    result = _checked(cases, quiet=as_json or suggest_map)
    if suggest_map:
        if len(files) > 1:
            raise LeakloreError("--suggest-map reads one job sheet at a time")
        click.echo(intake.suggest_map(result, files[0]), nl=False)
        return
    with _working("Looking at what was brought", quiet=as_json):
        taken = intake.take(result, files, map_file, dry=dry_run)
    if as_json:
        click.echo(show.as_json(taken))
    else:
        _told(taken)
    sys.exit(1 if taken.failed else 0)


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

    library = _read(cases, quiet=as_json)
    question = ask.question(library, text, {"clean": clean, "found": found, "skip": skip}, passes, only)
    with _working("Searching", quiet=as_json):
        answer = ask.answer(library, question)
    if as_json:
        import json

        click.echo(json.dumps({"version": 1, **answer}, ensure_ascii=False, indent=2))
    else:
        click.echo(ask.as_text(answer, library))


@main.command()
@click.argument("systems", nargs=-1, metavar="[SYSTEM]...")
@click.option("--site", metavar="KEY", help="All systems in use at this site of the register.")
@click.option("--branch", metavar="NAME", help="All systems in use of this branch.")
@click.option(
    "-o",
    "--output",
    type=LIBRARY,
    required=True,
    metavar="FILE",
    help="labels.html, or labels.pdf by Chromium.",
)
@click.option("--address", metavar="URL", help="Where the site is published; else site_url in company.yaml.")
@click.option("--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True, help="Sheet.")
@click.option(
    "--json", "as_json", is_flag=True, help="Print what was written in a form that a machine reads."
)
@click.option(
    "--cases", type=LIBRARY, default=Path("cases"), show_default=True, help="Folder of the case library."
)
def labels(
    systems: tuple[str, ...],
    site: str | None,
    branch: str | None,
    output: Path,
    address: str | None,
    paper: str,
    as_json: bool,
    cases: Path,
) -> None:
    """Write labels to print: each opens its system's history on a phone. Without SYSTEM, all in use.

    \b
    Example:
      leaklore labels S-0412 -o labels.html --address https://leaks.example/
      leaklore labels --branch Osmere -o labels.pdf --paper letter
    """
    from leaklore.pages import labels as making
    from leaklore.pages.book import Book
    from leaklore.records.today import today

    library = _read(cases, quiet=as_json)
    chosen = making.choose(library, systems, site, branch)
    sheet = making.PAPERS[paper]
    html = making.sheets(Book(library, today()), chosen, making.base(library, address), sheet)
    with _working("Printing the labels", quiet=as_json):
        making.write(html, output)
    count = -(-len(chosen) // sheet.each)
    if as_json:
        import json

        told = {"version": 1, "labels": len(chosen), "sheets": count, "path": str(output)}
        click.echo(json.dumps(told))
    else:
        many = ("" if len(chosen) == 1 else "s", "" if count == 1 else "s")
        click.echo(f"{len(chosen)} label{many[0]} on {count} sheet{many[1]} of {sheet.name} in {output}")


@main.command()
@click.option("--since", metavar="DAY", help="Only leaks from this day on, e.g. 2025-07-01.")
@click.option("--branch", metavar="NAME", help="Only systems and leaks of this branch.")
@click.option(
    "-o",
    "--output",
    type=LIBRARY,
    metavar="FILE",
    help="report.pdf by Chromium, or report.html; without it a PDF where there is Chromium.",
)
@click.option("--tables", is_flag=True, help="The tables behind the charts, too, and the broad ones.")
@click.option(
    "--json", "as_json", is_flag=True, help="Print what was written in a form that a machine reads."
)
@click.option(
    "--cases", type=LIBRARY, default=Path("cases"), show_default=True, help="Folder of the case library."
)
def report(
    since: str | None, branch: str | None, output: Path | None, tables: bool, as_json: bool, cases: Path
) -> None:
    """Write what keeps recurring into one file for the meeting: charts, tables, the cases behind them.

    Without --tables it leaves those to the site and its workbook that stand behind a chart or are too broad to print.
    Exit status 1 when a PDF was asked for and there is no Chromium; the report is then written as .html beside.

    \b
    Example:
      leaklore report
      leaklore report --since 2025-07-01 --branch Osmere -o osmere.pdf
    """
    from leaklore.pages import paper
    from leaklore.pages.patterns import report as making
    from leaklore.records.today import today

    file = paper.place(output, "report")
    library = _read(cases, quiet=as_json)
    what = making.asked(library, today(), since, branch, tables)
    with _working("Writing the report", quiet=as_json):
        made = making.made(library, today(), what)
        written = paper.write(made.html, file)
    if as_json:
        import json

        click.echo(json.dumps({"version": 1, "path": str(written), **made.facts}))
    else:
        click.echo(f"{made.told} in {written}")
    _printed(written, file)


@main.command()
@click.argument("reading_list", metavar="LIST")
@click.option(
    "-o",
    "--output",
    type=LIBRARY,
    metavar="FILE",
    help="booklet.pdf by Chromium, or booklet.html; without it LIST.pdf where there is Chromium.",
)
@click.option(
    "--json", "as_json", is_flag=True, help="Print what was written in a form that a machine reads."
)
@click.option(
    "--cases", type=LIBRARY, default=Path("cases"), show_default=True, help="Folder of the case library."
)
def booklet(reading_list: str, output: Path | None, as_json: bool, cases: Path) -> None:
    """Print a reading list as one booklet: guide pages, cases, exercises with room to write, answers at the back.

    LIST is the key of a list, the name of its file in reading/ without the ending.
    Exit status 1 when a PDF was asked for and there is no Chromium; the booklet is then written as .html beside.

    \b
    Example:
      leaklore booklet first-week
      leaklore booklet first-week -o for-the-wall.html
    """
    from leaklore.pages import paper
    from leaklore.pages.book import Book
    from leaklore.pages.learn import booklet as making
    from leaklore.records.today import today

    file = paper.place(output, Path(reading_list).name)
    library = _read(cases, quiet=as_json)
    with _working("Setting the booklet", quiet=as_json):
        made = making.made(making.chosen(library, reading_list), Book(library, today()))
        written = paper.write(made.html, file)
    if as_json:
        import json

        click.echo(json.dumps({"version": 1, "path": str(written), **made.facts}))
    else:
        click.echo(f"{made.facts['items']} items, about {made.facts['minutes']} min in {written}")
    _printed(written, file)


@main.command()
@click.argument("key", metavar="LIST")
@click.option(
    "--initials", multiple=True, required=True, metavar="AB", help="The learner's; again for more learners."
)
@click.option("--due", metavar="DAY", help="Until when, e.g. 2026-12-10.")
@click.option("--address", metavar="URL", help="Where the site is published; else site_url in company.yaml.")
@click.option(
    "-o",
    "--output",
    type=LIBRARY,
    metavar="FILE",
    help="A sheet for each learner: .html, or .pdf by Chromium.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the links in a form that a machine reads.")
@click.option(
    "--cases", type=LIBRARY, default=Path("cases"), show_default=True, help="Folder of the case library."
)
def assign(
    key: str,
    initials: tuple[str, ...],
    due: str | None,
    address: str | None,
    output: Path | None,
    as_json: bool,
    cases: Path,
) -> None:
    """Give a reading list to a learner: a link, and a sheet with it as a code to scan.

    \b
    Example:
      leaklore assign first-week --initials AB --due 2026-12-10
      leaklore assign first-week --initials AB --initials CD -o first-week.pdf
    """
    from leaklore.pages import paper
    from leaklore.pages.book import Book
    from leaklore.pages.learn import assign as making
    from leaklore.records.today import today

    file = paper.place(output, key) if output else None
    library = _read(cases, quiet=as_json)
    given = making.given(library, key, initials, due, address, today())
    written = None
    if file:
        html = making.sheet(Book(library, today()), given)
        with _working("Printing the sheets", quiet=as_json):
            written = paper.write(html, file)
    if as_json:
        import json

        told = [{"initials": a.initials, "due": due, "url": a.url} for a in given]
        path = str(written) if written else None
        click.echo(json.dumps({"version": 1, "list": key, "assignments": told, "path": path}))
    else:
        for one in given:
            click.echo(f"{one.initials}: {one.url}")
        if written:
            click.echo(f"{len(given)} sheet{'' if len(given) == 1 else 's'} in {written}")
    _printed(written, file)


@main.command()
@click.argument("what", nargs=-1, required=True, metavar="CODE|FILE...")
@click.option("--json", "as_json", is_flag=True, help="Print the verdicts in a form that a machine reads.")
@click.option(
    "--cases", type=LIBRARY, default=Path("cases"), show_default=True, help="Folder of the case library."
)
def verify(what: tuple[str, ...], as_json: bool, cases: Path) -> None:
    """Check what learners sent: check codes, and result sheets as files.

    A file is checked in full, against the code in it. A code alone tells what it carries. Neither proves who did
    the work. Exit status 0 when all are right, 1 else.

    \b
    Example:
      leaklore verify result-first-week-AB.json
      leaklore verify 4ZK3P-0H7QF-8M2VA-XC91R-T5EWB
    """
    from leaklore.pages.learn import verify as checking

    library = _checked(cases, quiet=True).library if cases.exists() else None
    verdicts = [checking.verdict(one, library) for one in what]
    if as_json:
        import json

        told = [{"name": v.name, "right": v.right, "says": v.says, **v.facts} for v in verdicts]
        click.echo(json.dumps({"version": 1, "verdicts": told}, ensure_ascii=False))
    else:
        for v in verdicts:
            click.echo(f"{v.name}: {v.says}")
        if any(v.right for v in verdicts):
            click.echo(checking.NO_PROOF, err=True)
    sys.exit(0 if all(v.right for v in verdicts) else 1)


@main.command()
@click.argument("key", metavar="LIST")
@click.option("--cmi5", is_flag=True, help="LIST.cmi5.zip, each item a unit that reports by xAPI.")
@click.option("--scorm12", is_flag=True, help="LIST.scorm12.zip, for systems that take SCORM 1.2.")
@click.option(
    "-o",
    "--output",
    type=LIBRARY,
    default=Path(),
    metavar="FOLDER",
    help="Where to; else the current folder.",
)
@click.option(
    "--json", "as_json", is_flag=True, help="Print what was written in a form that a machine reads."
)
@click.option(
    "--cases", type=LIBRARY, default=Path("cases"), show_default=True, help="Folder of the case library."
)
def export(key: str, cmi5: bool, scorm12: bool, output: Path, as_json: bool, cases: Path) -> None:
    """Write a reading list as a package that a learning management system takes: pages, cases, exercises.

    \b
    Example:
      leaklore export --cmi5 first-week
      leaklore export --cmi5 --scorm12 first-week -o packages
    """
    from leaklore.pages import photos
    from leaklore.pages.book import Book
    from leaklore.pages.learn import export as making
    from leaklore.records.today import today

    if not (cmi5 or scorm12):
        raise LeakloreError("say which package: --cmi5, --scorm12, or both")
    library = _read(cases, quiet=as_json)
    with _working("Writing the package", quiet=as_json):
        pictures = photos.make(library, cases.absolute().parent / ".cache" / "photos").pictures
        book = Book(library, today(), pictures=pictures)
        standards = [
            name for name in making.MANIFESTS if (name == "cmi5" and cmi5) or (name == "scorm12" and scorm12)
        ]
        written = [making.write(output, *making.made(book, key, name)) for name in standards]
    if as_json:
        import json

        click.echo(json.dumps({"version": 1, "paths": [str(path) for path in written]}))
    else:
        for path in written:
            click.echo(f"wrote {path}, {path.stat().st_size / 1e6:.1f} MB")


def _read(cases: Path, quiet: bool) -> Library:
    """The library of what is right. Raises LeakloreError where nothing can be read."""
    library = _checked(cases, quiet).library
    if library is None:
        raise LeakloreError("the library can't be read; run `leaklore check` first")
    return library


def _printed(written: Path | None, file: Path | None) -> None:
    """Exit status 1, with a word, where a PDF was asked for and an HTML file came of it."""
    if written != file:
        click.echo(
            "leaklore: no PDF, for there is no command `chromium`; print the .html from any browser", err=True
        )
        sys.exit(1)


def _checked(cases: Path, quiet: bool) -> CheckResult:
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
def _working(what: str, quiet: bool) -> Iterator[None]:
    if quiet or not sys.stderr.isatty():
        yield
        return
    from rich.console import Console

    with Console(stderr=True).status(what):
        yield


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


@contextmanager
def _workers(engine: str, scheduler: str | None, processes: int | None) -> Iterator[Workers]:
    """Who makes the pages; takes leave of a cluster at the end."""
    if engine == "local":
        if scheduler:
            raise LeakloreError("--scheduler is for --engine dask; leave it out, or add that")
        from leaklore.workers import usual

        yield usual(processes)
        return
    if not scheduler:
        raise LeakloreError("--engine dask needs --scheduler ADDRESS, for example tcp://10.0.0.5:8786")
    from leaklore.cluster import Cluster

    cluster = Cluster(scheduler)
    try:
        yield cluster
    finally:
        cluster.close()


def _engine(name: str) -> Any:
    from importlib.metadata import entry_points

    known = {e.name: e for e in entry_points(group="leaklore.page_engines")}
    if name not in known:
        raise LeakloreError(f'there is no page engine "{name}"; known: {", ".join(sorted(known))}')
    return known[name].load()()


def _among(problem: str, paths: tuple[Path, ...], cases: Path) -> bool:
    place = (cases.resolve().parent / problem).resolve()
    return any(place == p.resolve() or p.resolve() in place.parents for p in paths)
