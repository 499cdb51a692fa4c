"""What the commands share: options that settle what a sheet says, messages, and ways to stop."""

from __future__ import annotations

import functools
import re
import shutil
import sys
import time
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn, TypeVar

import click

if TYPE_CHECKING:
    from screen.model import Problem
    from screen.settings import Settings

__all__ = [
    "SEVERITIES",
    "SHEETS",
    "Progress",
    "fail",
    "fault",
    "gravest_first",
    "json_text",
    "reading_options",
    "say_problems",
    "settings_of",
    "shown",
]

#: Messages shown at most; all of them stand in run.json.
SHOWN_AT_MOST = 20
#: How grave a problem is, in words, gravest first.
SEVERITIES = {"file": "not read", "refused": "refused", "warning": "note"}
SHEETS = click.Path(exists=True, path_type=Path)
_F = TypeVar("_F", bound=Callable[..., Any])
#: More signs without a space than any name, path or unit has; the first 150 are shown.
_ENDLESS = re.compile(r"(\S{150})\S{150,}")


def shown(text: str) -> str:
    """Text from outside made fit for a terminal: control and direction characters become visible or go."""
    unsafe = {"\n": " ", "\r": " ", "\t": " "}
    return "".join(unsafe.get(one, one if one.isprintable() else "\N{REPLACEMENT CHARACTER}") for one in text)


def json_text(value: object) -> str:
    """``value`` as JSON for stdout; characters that a terminal could act on are written by their numbers."""
    import json

    text = json.dumps(value, ensure_ascii=False, indent=2, allow_nan=False, default=list)
    return "".join(one if one.isprintable() or one == "\n" else json.dumps(one)[1:-1] for one in text)


def say(text: str) -> None:
    """One line to stderr; a name as long as a page is cut."""
    click.echo(shown(_ENDLESS.sub(r"\1…", text)), err=True)


def fail(text: str, status: int) -> NoReturn:
    """Say why on stderr and stop with ``status``."""
    say(f"siltmark: {text}")
    sys.exit(status)


def fault(error: BaseException) -> str:
    """The words for an error that only a fault of the tool can cause."""
    trace = error.__traceback__
    while trace is not None and trace.tb_next is not None:
        trace = trace.tb_next
    place = f" at {Path(trace.tb_frame.f_code.co_filename).name}, line {trace.tb_lineno}" if trace is not None else ""
    return (
        f"this is a fault of the tool, not of your files ({type(error).__name__}{place}: {error}). Nothing was "
        "written. Please report it with the sheet, or a cut-down copy that shows it; SILTMARK_TRACEBACK=1 shows more."
    )


def gravest_first(problems: Iterable[Problem]) -> list[Problem]:
    """Files that could not be read, then what was refused, then what was only noted."""
    return sorted(problems, key=lambda one: list(SEVERITIES).index(one.severity))


def say_problems(problems: Iterable[Problem], *, where_all: str = "") -> None:
    """Say each problem on stderr, gravest first, at most twenty."""
    sorted_problems = gravest_first(problems)
    for one in sorted_problems[:SHOWN_AT_MOST]:
        say(f"{SEVERITIES[one.severity]}: {one.text}")
    if (rest := len(sorted_problems) - SHOWN_AT_MOST) > 0:
        say(f"and {rest} more{f'; all of them are in {where_all}' if where_all else ''}.")


class Progress:
    """Says what is being done on stderr, once the run has taken more than a second; nothing in a quick run.

    Of several steps a terminal shows a bar; elsewhere a line is written every ten seconds, so that a log stays short.
    """

    def __init__(self) -> None:
        self._began = time.monotonic()
        self._said = 0.0
        self._bar = False

    def __call__(self, text: str, step: int = 0, steps: int = 1) -> None:
        """Say one step, which of ``steps`` it is (from 0)."""
        now = time.monotonic()
        if now - self._began <= 1.0:
            return
        if steps > 1 and sys.stderr.isatty():
            filled = round(30 * step / steps)
            line = f"[{'#' * filled}{'-' * (30 - filled)}] {step}/{steps} {shown(text)}"
            width = shutil.get_terminal_size().columns - 1
            click.echo(f"\r{line[:width]:<{width}}", nl=False, err=True)
            self._bar = True
            return
        if self._bar:
            click.echo("", err=True)
            self._bar = False
        if steps == 1 or now - self._said >= _EVERY:
            say(f"… {text}" + (f" ({step + 1} of {steps})" if steps > 1 else ""))
            self._said = now


#: Seconds between two lines about steps of one kind.
_EVERY = 10.0


def reading_options(command: _F) -> _F:
    """The options of `screen` that settle what a sheet says; `read` takes them too."""
    options = [
        click.option("--field", multiple=True, type=SHEETS, help="Field record: stations, cores, samples. Repeatable."),
        click.option(
            "--water",
            type=click.Choice(["fresh", "estuarine", "marine"]),
            help="Water of stations that the field record does not state.",
        ),
        click.option("--basis", type=click.Choice(["wet", "dry"]), help="Only for sheets that state no basis."),
        click.option("--unit", help="Only for sheets that state no unit, as in 'mg/kg'."),
        click.option(
            "--settings",
            "settings_file",
            type=click.Path(exists=True, dir_okay=False, path_type=Path),
            help="A TOML file with any of these options and more (see: siltmark template settings).",
        ),
    ]
    return functools.reduce(lambda inner, option: option(inner), reversed(options), command)


def settings_of(settings_file: Path | None, given: dict[str, Any]) -> Settings:
    """The run's settings; a mistake in them is a usage error (status 2)."""
    from screen.settings import SettingsError, load_settings

    try:
        settings = load_settings(settings_file, given)
    except SettingsError as error:
        place = f"{settings_file.name}: " if settings_file is not None else ""
        fail(f"{place}{error}", 2)
    missing = [path for path in _paths(settings) if not path.exists()]
    if missing:
        fail(f"{missing[0]}, which the settings name, does not exist. Mend the path or leave it out.", 2)
    return settings


def _paths(settings: Settings) -> Sequence[Path]:
    single = [one for one in (settings.earlier, settings.names, settings.boundary) if one is not None]
    return [*settings.field, *single]
