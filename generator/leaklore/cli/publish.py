"""Commands that make the site: build it, serve it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from leaklore.cli.group import main
from leaklore.cli.shared import PATH, for_machines, tell, working
from leaklore.errors import LeakloreError

if TYPE_CHECKING:
    from leaklore.records.model import Audience
    from leaklore.workers import Workers


_config = click.option(
    "--config",
    type=PATH,
    default=Path("mkdocs.yml"),
    show_default=True,
    help="Settings of the page engine.",
)
_page_engine = click.option(
    "--page-engine", default="mkdocs", show_default=True, help="What draws the frame of a page."
)


@main.command()
@_config
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
@_page_engine
@for_machines("Print what was built in a form that a machine reads.")
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
        with working("Building the site", quiet=as_json), _workers(engine, scheduler, processes) as workers:
            built = made.build(config, workers, afresh, audience)
    if as_json:
        tell(built)
    else:
        before = f" ({built['as_before']} as before)" if built["as_before"] else ""
        click.echo(f"{built['pages']} pages in {built['site']}{before}, {built['seconds']:.1f} s")


@main.command()
@_config
@_page_engine
@click.option("--address", default="127.0.0.1:8000", show_default=True, help="Where to serve.")
def serve(config: Path, page_engine: str, address: str) -> None:
    """Serve the site and build it anew whenever a record changes.

    \b
    Example:
      leaklore serve
      leaklore serve --address 0.0.0.0:8080     so that a phone in the same network sees it
    """
    _engine(page_engine).serve(config, address)


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
