"""Commands that ask the library: find a cause, print labels, report what recurs."""

from __future__ import annotations

from pathlib import Path

import click

from leaklore.cli.group import main
from leaklore.cli.shared import (
    for_machines,
    of_library,
    printed,
    published_at,
    read,
    tell,
    working,
    written_to,
)


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
@for_machines("Print the answer in a form that a machine reads.")
@of_library
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

    library = read(cases, quiet=as_json)
    question = ask.question(library, text, {"clean": clean, "found": found, "skip": skip}, passes, only)
    with working("Searching", quiet=as_json):
        answer = ask.answer(library, question)
    if as_json:
        tell(answer)
    else:
        click.echo(ask.as_text(answer, library, question.text))


@main.command()
@click.argument("systems", nargs=-1, metavar="[SYSTEM]...")
@click.option("--site", metavar="KEY", help="All systems in use at this site of the register.")
@click.option("--branch", metavar="NAME", help="All systems in use of this branch.")
@written_to("labels.html, or labels.pdf by Chromium.", required=True)
@published_at
@click.option("--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True, help="Sheet.")
@for_machines("Print what was written in a form that a machine reads.")
@of_library
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

    library = read(cases, quiet=as_json)
    chosen = making.choose(library, systems, site, branch)
    sheet = making.PAPERS[paper]
    html = making.sheets(Book(library, today()), chosen, making.base(library, address), sheet)
    with working("Printing the labels", quiet=as_json):
        making.write(html, output)
    count = -(-len(chosen) // sheet.each)
    if as_json:
        tell({"labels": len(chosen), "sheets": count, "path": str(output)})
    else:
        many = ("" if len(chosen) == 1 else "s", "" if count == 1 else "s")
        click.echo(f"{len(chosen)} label{many[0]} on {count} sheet{many[1]} of {sheet.name} in {output}")


@main.command()
@click.option(
    "--since",
    metavar="DAY",
    help="Only leaks from this day on, e.g. 2025-07-01; what is expected and what a change did follows from all.",
)
@click.option("--branch", metavar="NAME", help="Only systems and leaks of this branch.")
@written_to("report.pdf by Chromium, or report.html; without it a PDF where there is Chromium.")
@click.option("--tables", is_flag=True, help="The tables behind the charts, too, and the broad ones.")
@for_machines("Print what was written in a form that a machine reads.")
@of_library
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
    library = read(cases, quiet=as_json)
    what = making.asked(library, today(), since, branch, tables)
    with working("Writing the report", quiet=as_json):
        made = making.made(library, today(), what)
        written = paper.write(made.html, file)
    if as_json:
        tell({"path": str(written), **made.facts})
    else:
        click.echo(f"{made.told} in {written}")
    printed(written, file)
