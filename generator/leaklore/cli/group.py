"""The command that all others hang on: what it says of itself, and how it tells what went wrong."""

from __future__ import annotations

from typing import Any

import click

from leaklore import __version__, ending
from leaklore.errors import LeakloreError


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
