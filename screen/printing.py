"""A page as PDF. In: a self-contained HTML text. Out: a PDF printed by a Chromium that the user has.

Nothing is installed and nothing is fetched. The same page gives the same bytes: the time of printing is taken out.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import tempfile
from pathlib import Path

__all__ = ["PrintError", "browser", "print_pdf"]

#: Names under which a Chromium may be found on the path.
_NAMES = (
    "chromium",
    "chromium-browser",
    "chrome",
    "google-chrome",
    "google-chrome-stable",
    "msedge",
    "microsoft-edge",
    "microsoft-edge-stable",
)
_SECONDS = 120
_STAMP = re.compile(rb"/(CreationDate|ModDate) ?\(D:(\d{14})")


class PrintError(RuntimeError):
    """A page that cannot be printed here. The text says why and what to do instead."""


def browser() -> str | None:
    """The path of a Chromium on this machine, None for none."""
    return next((found for name in _NAMES if (found := shutil.which(name))), None)


def print_pdf(html: str, title: str = "") -> bytes:
    """``html`` as a PDF; ``title`` names it in messages. Raises PrintError where no Chromium is found or it fails."""
    path = browser()
    if path is None:
        raise PrintError(
            f"{title or 'A PDF'} needs a Chromium browser on this machine, and none was found. Give a name that ends "
            "in .html and print that page from any browser."
        )
    with tempfile.TemporaryDirectory(prefix="siltmark-") as work:
        page, made = Path(work) / "page.html", Path(work) / "page.pdf"
        page.write_text(html, encoding="utf-8")
        command = [
            path,
            "--headless",
            "--disable-gpu",
            "--disable-extensions",
            "--no-first-run",
            f"--user-data-dir={work}/profile",
            "--no-pdf-header-footer",
            f"--print-to-pdf={made}",
            page.as_uri(),
        ]
        if hasattr(os, "geteuid") and os.geteuid() == 0:
            command.insert(1, "--no-sandbox")  # Chromium refuses to start as root otherwise; the page is our own
        try:
            subprocess.run(command, check=True, capture_output=True, timeout=_SECONDS)
            content = made.read_bytes()
        except (OSError, subprocess.SubprocessError) as error:
            raise PrintError(
                f"{title or 'The PDF'} could not be printed with {Path(path).name}. Give a name that ends in .html and "
                "print that page from any browser."
            ) from error
    return _STAMP.sub(lambda found: found[0].replace(found[2], b"19800101000000"), content)
