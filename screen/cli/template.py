"""`siltmark template`: empty files that always work."""

from __future__ import annotations

from pathlib import Path

import click

from screen.cli.common import fail

__all__ = ["template"]


@click.command(short_help="An empty lab sheet, field record, guideline set or settings file, with comments.")
@click.argument("kind", type=click.Choice(["lab", "field", "set", "settings"]))
@click.option(
    "--out", required=True, type=click.Path(path_type=Path), metavar="PATH", help="File to write; it must not exist."
)
def template(kind: str, out: Path) -> None:
    """Write an empty file of KIND to PATH.

    \b
    Example:
      siltmark template field --out field.xlsx
    """
    from screen.templates import TemplateError, write_template

    try:
        written = write_template(kind, out)
    except TemplateError as error:
        fail(str(error), 2)
    except OSError as error:
        fail(f"{out}: {error.strerror or error}.", 2)
    for path in written:
        click.echo(str(path))
