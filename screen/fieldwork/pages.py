"""Pages from templates, and where they go. In: a template's name and what it shows. Out: HTML, or a file of it."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

from jinja2 import Environment

from screen.stages.report.numbers import figure
from screen.templating import strict_templates, without_controls

__all__ = ["SHEETS", "filled", "write_page"]

#: Paper: width and height in mm (ISO 216 A4; ANSI A, called Letter).
SHEETS = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
_TEMPLATES = Path(__file__).parent / "templates"


@cache
def _environment() -> Environment:
    made = strict_templates(_TEMPLATES)
    made.filters["figure"] = figure
    return made


def filled(template: str, sheet: str, **shown: Any) -> str:
    """The HTML of ``template`` for paper of the size ``sheet`` (a key of SHEETS)."""
    width, height = SHEETS[sheet]
    return without_controls(_environment().get_template(template).render(width=width, height=height, **shown))


def write_page(html: str, out: Path) -> None:
    """Write ``html`` to ``out``, as it is or, where the name ends in .pdf, printed. Raises PrintError and OSError."""
    from screen.printing import print_pdf

    if out.suffix.lower() == ".pdf":
        out.write_bytes(print_pdf(html, out.name))
    else:
        out.write_text(html, encoding="utf-8", newline="\n")
