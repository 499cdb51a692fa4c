"""`siltmark custody`: the chain-of-custody record, and what the laboratory is asked for."""

from __future__ import annotations

from pathlib import Path

import click

from screen.cli.common import fail
from screen.cli.field_pages import page_options, put_page, samples_of

__all__ = ["custody"]


@click.command(short_help="Chain-of-custody record and what to ask the laboratory for.")
@page_options
@click.option(
    "--guidelines",
    multiple=True,
    metavar="SET",
    help="Set that the limits must be low enough for. Repeatable. Default: by the water of the stations.",
)
@click.option("--title", default="", help="Name of the survey, for the form's head.")
@click.option("--prepared-by", default="", help="Who made it, for the form's head.")
def custody(
    field: Path, out: Path, sheet: str, overwrite: bool, guidelines: tuple[str, ...], title: str, prepared_by: str
) -> None:
    """Write a chain-of-custody record of the samples of FIELD (a workbook, CSV or folder) to FILE.

    It ends with what to ask the laboratory for: limits that are low enough for the guideline sets, containers, holding
    times.

    \b
    Example:
      siltmark custody field.xlsx --out custody.html --guidelines long-1995-marine
    """
    from screen.fieldwork.ask_the_lab import sets_for
    from screen.fieldwork.custody import custody_page
    from screen.reference.sets import SetError

    samples = samples_of(field, out, overwrite=overwrite)
    try:
        sets = sets_for(samples, guidelines)
    except SetError as error:
        fail(str(error), 2)
    put_page(custody_page(samples, sets, sheet, title=title, prepared_by=prepared_by), out)
