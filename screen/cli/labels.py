"""`siltmark labels`: sample labels to print before the samples go to the laboratory."""

from __future__ import annotations

from pathlib import Path

import click

from screen.cli.field_pages import page_options, put_page, samples_of

__all__ = ["labels"]


@click.command(short_help="Sample labels to print, from the field record.")
@page_options
def labels(field: Path, out: Path, sheet: str, overwrite: bool) -> None:
    """Write a label for each container of each sample of FIELD (a workbook, CSV or folder) to FILE.

    Each has a square code that holds the sample's id. What the field record leaves open is left to write by hand.

    \b
    Example:
      siltmark labels field.xlsx --out labels.html --sheet Letter
    """
    from screen.fieldwork.labels import labels_page, make_labels

    samples = samples_of(field, out, overwrite=overwrite)
    put_page(labels_page(make_labels(samples), sheet), out)
