"""`siltmark guidelines`: the sets, their sources and caveats; one's own set checked by line."""

from __future__ import annotations

import dataclasses
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from screen.cli.common import fail, json_text, say, shown

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["guidelines"]


@click.group(short_help="The sets, sources, caveats; one's own set checked.")
def guidelines() -> None:
    """Look at guideline sets, or check one of your own.

    \b
    Examples:
      siltmark guidelines list
      siltmark guidelines show consensus-2000-fresh
      siltmark guidelines compare Lead
      siltmark guidelines check my_set.toml
    """


@guidelines.command("list", short_help="Every set, its water, its levels, and how its figures are known.")
@click.option("--json", "as_json", is_flag=True, help="For machines, on stdout.")
def list_command(as_json: bool) -> None:
    """List the built-in sets."""
    from screen.reference.overview import list_sets, render_list

    sets = list_sets()
    click.echo(json_text(_records(sets)) if as_json else render_list(sets))


@guidelines.command(short_help="One set: levels, sources, caveats, evidence.")
@click.argument("set_id", metavar="SET")
@click.option("--json", "as_json", is_flag=True, help="For machines, on stdout.")
def show(set_id: str, as_json: bool) -> None:
    """Show SET: a built-in set's id, or a path to one's own."""
    from screen.reference.overview import render_set, show_set
    from screen.reference.sets import SetError

    try:
        found = show_set(set_id)
    except SetError as error:
        fail(str(error), 1)
    click.echo(json_text(found) if as_json else "\n".join(shown(line) for line in render_set(found).splitlines()))


@guidelines.command(short_help="One substance across all sets, on one basis.")
@click.argument("substance")
@click.option("--json", "as_json", is_flag=True, help="For machines, on stdout.")
def compare(substance: str, as_json: bool) -> None:
    """Show the levels that all sets have for SUBSTANCE, on one basis."""
    from screen.reference.overview import compare_sets, render_comparison
    from screen.reference.sets import SetError

    try:
        found = compare_sets(substance)
    except SetError as error:
        fail(str(error), 1)
    click.echo(json_text(_records(found)) if as_json else render_comparison(found))


@guidelines.command(short_help="Check one's own set, by line.")
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="For machines, on stdout.")
def check(file: Path, as_json: bool) -> None:
    """Check the set that FILE (either file of the pair) belongs to; exit 1 when something is to be mended."""
    from screen.reference.check import check_set

    found = check_set(file)
    if as_json:
        click.echo(json_text([dataclasses.asdict(one) for one in found]))
    else:
        for one in found:
            say(f"{one.file}, line {one.line}: {one.message} {one.mend}".rstrip())
        if not found:
            click.echo(f"{file.stem}: in order.")
    sys.exit(1 if found else 0)


def _records(frame: pd.DataFrame) -> list[dict[str, object]]:
    return [{str(name): (None if one != one else one) for name, one in row.items()} for row in frame.to_dict("records")]
