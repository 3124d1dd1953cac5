"""Commands for trainers: print a reading list, give it, check what comes back, pack it for another system."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from leaklore.cli.group import main
from leaklore.cli.shared import (
    checked,
    for_machines,
    of_library,
    printed,
    published_at,
    read,
    tell,
    working,
    written_to,
)
from leaklore.errors import LeakloreError


@main.command()
@click.argument("reading_list", metavar="LIST")
@written_to("booklet.pdf by Chromium, or booklet.html; without it LIST.pdf where there is Chromium.")
@for_machines("Print what was written in a form that a machine reads.")
@of_library
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
    library = read(cases, quiet=as_json)
    with working("Setting the booklet", quiet=as_json):
        made = making.made(making.chosen(library, reading_list), Book(library, today()))
        written = paper.write(made.html, file)
    if as_json:
        tell({"path": str(written), **made.facts})
    else:
        click.echo(f"{made.facts['items']} items, about {made.facts['minutes']} min in {written}")
    printed(written, file)


@main.command()
@click.argument("key", metavar="LIST")
@click.option(
    "--initials", multiple=True, required=True, metavar="AB", help="The learner's; again for more learners."
)
@click.option("--due", metavar="DAY", help="Until when, e.g. 2026-12-10.")
@published_at
@written_to("A sheet for each learner: .html, or .pdf by Chromium.")
@for_machines("Print the links in a form that a machine reads.")
@of_library
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
    library = read(cases, quiet=as_json)
    given = making.given(library, key, initials, due, address, today())
    written = None
    if file:
        html = making.sheet(Book(library, today()), given)
        with working("Printing the sheets", quiet=as_json):
            written = paper.write(html, file)
    if as_json:
        told = [{"initials": a.initials, "due": due, "url": a.url} for a in given]
        path = str(written) if written else None
        tell({"list": key, "assignments": told, "path": path})
    else:
        for one in given:
            click.echo(f"{one.initials}: {one.url}")
        if written:
            click.echo(f"{len(given)} sheet{'' if len(given) == 1 else 's'} in {written}")
    printed(written, file)


@main.command()
@click.argument("what", nargs=-1, required=True, metavar="CODE|FILE...")
@for_machines("Print the verdicts in a form that a machine reads.")
@of_library
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

    library = checked(cases, quiet=True).library if cases.exists() else None
    verdicts = [checking.verdict(one, library) for one in what]
    if as_json:
        told = [{"name": v.name, "right": v.right, "says": v.says, **v.facts} for v in verdicts]
        tell({"verdicts": told})
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
@written_to("Where to; else the current folder.", "FOLDER", default=Path())
@for_machines("Print what was written in a form that a machine reads.")
@of_library
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
    library = read(cases, quiet=as_json)
    with working("Writing the package", quiet=as_json):
        pictures = photos.make(library, cases.absolute().parent / ".cache" / "photos").pictures
        book = Book(library, today(), pictures=pictures)
        standards = [
            name for name in making.MANIFESTS if (name == "cmi5" and cmi5) or (name == "scorm12" and scorm12)
        ]
        written = [making.write(output, *making.made(book, key, name)) for name in standards]
    if as_json:
        tell({"paths": [str(path) for path in written]})
    else:
        for path in written:
            click.echo(f"wrote {path}, {path.stat().st_size / 1e6:.1f} MB")
