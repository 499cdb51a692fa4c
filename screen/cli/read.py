"""`siltmark read`: what a sheet says, before anything is compared."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import click

from screen.cli.common import SHEETS, Progress, json_text, reading_options, say_problems, settings_of, shown

__all__ = ["read"]


@click.command(short_help="Stop after reading: what was understood, what is missing, open questions.")
@click.argument("sheets", nargs=-1, required=True, type=SHEETS, metavar="SHEET...")
@reading_options
@click.option("--json", "as_json", is_flag=True, help="For machines, on stdout.")
def read(sheets: tuple[Path, ...], settings_file: Path | None, as_json: bool, **given: Any) -> None:
    """Show the tables found in SHEET... and why, samples, substances, units, basis, what is missing, open questions.

    \b
    Example:
      siltmark read lab.xlsx --field field.xlsx
    """
    from screen.stages.read.batch import read as read_batch
    from screen.stages.read.summary import render, summarise

    settings = settings_of(settings_file, given)
    batch = read_batch(sheets, settings, progress=Progress())
    summary = summarise(batch)
    if as_json:
        click.echo(json_text(summary))
    else:
        click.echo("\n".join(shown(line) for line in render(summary).splitlines()))
    say_problems(batch.problems)
    sys.exit(1 if batch.results.empty or any(one.severity == "file" for one in batch.problems) else 0)
