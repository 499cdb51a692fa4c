"""What ``--pdf``, ``--memo``, ``--cluster`` and Parquet need, asked before any work. In: settings. Out: why not."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from typing import TYPE_CHECKING

from screen.printing import PrintError, browser, print_pdf
from screen.settings import SettingsError

if TYPE_CHECKING:
    from screen.settings import Settings

__all__ = ["check_extras", "write_pdf"]

_INSTEAD = "leave out --pdf and print report.html from any browser: it is laid out for paper"


def check_extras(settings: Settings) -> None:
    """Raise SettingsError, saying what to install, where an extra output cannot be made on this machine."""
    if settings.pdf and browser() is None:
        raise SettingsError(
            "--pdf needs a Chromium browser (Chromium, Chrome or Edge), and none was found on the path. Install one, "
            f"or {_INSTEAD}."
        )
    if settings.memo and importlib.util.find_spec("docx") is None:
        raise SettingsError('--memo needs python-docx. Install it with: pip install "siltmark[memo]".')
    if settings.cluster is not None and any(importlib.util.find_spec(name) is None for name in ("dask", "distributed")):
        raise SettingsError('--cluster needs dask and distributed. Install them with: pip install "siltmark[cluster]".')
    if settings.tables == "parquet" and importlib.util.find_spec("pyarrow") is None:
        raise SettingsError(
            'tables = "parquet" needs pyarrow. Install it with: pip install "siltmark[fast]", or take tables = "csv".'
        )


def write_pdf(page: Path, path: Path) -> None:
    """Print the report ``page`` to ``path`` on A4. Raises SettingsError where the browser fails."""
    html = page.read_text(encoding="utf-8").replace("@page { size: auto;", "@page { size: A4;")
    try:
        path.write_bytes(print_pdf(html, "report.pdf"))
    except PrintError as error:
        raise SettingsError(f"report.pdf could not be printed; {_INSTEAD}.") from error
