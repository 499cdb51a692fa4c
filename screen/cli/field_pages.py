"""What `siltmark labels` and `siltmark custody` share: their options, reading the field record, writing the page."""

from __future__ import annotations

import functools
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from screen.cli.common import fail, say_problems

if TYPE_CHECKING:
    from screen.fieldwork.shipment import Packed

__all__ = ["page_options", "put_page", "samples_of"]

_SUFFIXES = (".html", ".pdf")
_F = TypeVar("_F", bound=Callable[..., Any])


def page_options(command: _F) -> _F:
    """FIELD, --out, --sheet and --overwrite."""
    options = [
        click.argument("field", type=click.Path(exists=True, path_type=Path), metavar="FIELD"),
        click.option(
            "--out",
            required=True,
            type=click.Path(dir_okay=False, path_type=Path),
            metavar="FILE",
            help="Page to write: .html, or .pdf where a Chromium browser is installed.",
        ),
        click.option(
            "--sheet",
            type=click.Choice(["A4", "Letter"], case_sensitive=False),
            default="A4",
            show_default=True,
            help="Paper size.",
        ),
        click.option("--overwrite", is_flag=True, help="Replace FILE if it is there."),
    ]
    return functools.reduce(lambda inner, option: option(inner), reversed(options), command)


def samples_of(field: Path, out: Path, *, overwrite: bool) -> list[Packed]:
    """The samples of the field record. Stops with a plain message where there are none or FILE cannot be written."""
    from screen.fieldwork.shipment import shipment
    from screen.settings import Settings
    from screen.stages.read.field.record import read_field_record

    if out.suffix.lower() not in _SUFFIXES:
        fail(f"{out.name}: the name must end in .html or .pdf.", 2)
    if out.exists() and not overwrite:
        fail(f"{out} is there already. Give another name, or --overwrite to replace it.", 2)
    record = read_field_record([field], Settings())
    say_problems(record.problems)
    samples = shipment(record)
    if not samples:
        fail(f"{field.name} lists no samples, so nothing was written. See: siltmark template field.", 1)
    return samples


def put_page(html: str, out: Path) -> None:
    """Write the page and name it on stdout; stops with a plain message where that fails."""
    from screen.fieldwork.pages import write_page
    from screen.printing import PrintError

    try:
        write_page(html, out)
    except PrintError as error:
        fail(str(error), 1)
    except OSError as error:
        fail(f"{out}: {error.strerror or error}. Nothing was written.", 1)
    click.echo(str(out))
