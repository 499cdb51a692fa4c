"""`siltmark demo`: the main job on invented data."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from screen.cli.screen import run_and_write

__all__ = ["demo"]


@click.command(short_help="The main job on the demo data.")
@click.option("--out", required=True, type=click.Path(path_type=Path), metavar="DIR", help="Folder to write.")
@click.option("--overwrite", is_flag=True, help="Replace an earlier output folder of this tool.")
def demo(out: Path, overwrite: bool) -> None:
    """Screen the demo batch of an invented estuary and write its report to DIR.

    \b
    Example:
      siltmark demo --out demo_report
    """
    from screen.reference.locate import demo_root
    from screen.settings import load_settings

    folder = demo_root()
    settings = load_settings(folder / "settings.toml", {"overwrite": overwrite})
    sheets = [folder / "lab_sheets"]
    sys.exit(run_and_write(sheets, out, settings))
