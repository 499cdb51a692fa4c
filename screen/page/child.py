"""What runs beside the server, in a process of its own. In: a command and its arguments. Out: what the command writes.

``siltmark`` commands run as they are; ``understand SETTINGS OUT SHEET...`` writes what was understood as JSON. The
process ends with the server: when its standard input closes it stops as on Ctrl-C, so that no half run is left.
"""

from __future__ import annotations

import _thread
import contextlib
import os
import signal
import threading
import time
from collections.abc import Sequence
from pathlib import Path

import click

from screen.cli.common import SHEETS

__all__ = ["main"]

#: How long a step that cannot be interrupted may go on before the process is ended.
_PATIENCE_SECONDS = 15


def main(arguments: Sequence[str]) -> None:
    """Run one command and exit with its status."""
    from screen.cli import main as siltmark

    signal.signal(signal.SIGINT, signal.default_int_handler)  # also where the parent's shell had it ignored
    threading.Thread(target=_end_with_server, daemon=True).start()
    siltmark.add_command(_understand)
    siltmark(list(arguments), prog_name="siltmark")


def _end_with_server() -> None:
    with contextlib.suppress(OSError, ValueError):
        while os.read(0, 1024):
            pass
    _thread.interrupt_main()
    time.sleep(_PATIENCE_SECONDS)
    os._exit(130)


@click.command("understand")
@click.argument("settings_file", type=click.Path(path_type=Path))
@click.argument("out", type=click.Path(path_type=Path))
@click.argument("sheets", nargs=-1, type=SHEETS)
def _understand(settings_file: Path, out: Path, sheets: tuple[Path, ...]) -> None:
    import json

    from screen.cli.common import Progress, settings_of
    from screen.page.folder import write_whole
    from screen.page.understand import understand

    found = understand(sheets, settings_of(settings_file, {}), Progress())
    write_whole(out, json.dumps(found, ensure_ascii=False, allow_nan=False))
