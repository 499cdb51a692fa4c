"""`siltmark explain`: the chain of one number."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from screen.cli.common import fail, json_text, shown
from screen.likeness import nearest

__all__ = ["explain"]


@click.command(short_help="The chain of one number: from the cell in the lab's sheet to the finding.")
@click.argument("folder", metavar="DIR", type=click.Path(exists=True, file_okay=False, path_type=Path))
@click.argument("sample")
@click.argument("substance")
@click.option("--set", "set_id", metavar="SET", help="Only this guideline set.")
@click.option("--json", "as_json", is_flag=True, help="For machines, on stdout.")
def explain(folder: Path, sample: str, substance: str, set_id: str | None, as_json: bool) -> None:
    """Show how the finding of SUBSTANCE in SAMPLE came about, for a run written to DIR.

    SUBSTANCE is the guideline's name, or the id of a total. Several findings are shown with that of the leading set
    first, of one set the gravest; with --json that one is the object, and the rest stand in its "others".

    \b
    Example:
      siltmark explain demo_report W07-0 "Total PCBs" --set long-1995-marine
    """
    from screen.explain import chains, find, render
    from screen.folder import NotARunError, read_folder

    try:
        tables = read_folder(folder)
    except NotARunError as error:
        fail(str(error), 1)
    found = find(tables.findings, sample, substance, set_id, tables.leading)
    if found.empty:
        fail(_nothing(tables.findings, sample, substance, set_id), 1)
    explained = chains(tables, found)
    if as_json:
        first, *others = explained
        click.echo(json_text(first | ({"others": others} if others else {})))
    else:
        click.echo("\n".join(shown(line) for line in render(explained).splitlines()))
    sys.exit(0)


def _nothing(findings: object, sample: str, substance: str, set_id: str | None) -> str:
    import pandas as pd

    assert isinstance(findings, pd.DataFrame)
    names = findings["sample"].astype(str).unique().tolist()
    if sample not in names:
        near = nearest(sample, names, most=3)
        return f"no finding for sample {sample!r}." + (f" Did you mean {', '.join(near)}?" if near else "")
    of_sample = findings[findings["sample"].astype(str) == sample]
    substances = of_sample["substance"].astype(str).unique().tolist()
    if substance not in substances:
        near = nearest(substance, substances, most=3)
        return f"no finding for {substance!r} in {sample}." + (f" Did you mean {', '.join(near)}?" if near else "")
    sets = of_sample.loc[of_sample["substance"].astype(str) == substance, "set"].astype(str).unique().tolist()
    return f"{sample} was not compared with the set {set_id!r} for {substance}; it was with {', '.join(sets)}."
