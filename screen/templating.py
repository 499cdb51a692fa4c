"""Our own templates, strict: everything escaped, a name that is not given is an error. In: a folder. Out: Jinja2."""

from __future__ import annotations

import re
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined

__all__ = ["strict_templates", "without_controls"]

#: The control characters of ASCII and of Latin-1, but for tab, line feed and carriage return.
_CONTROLS = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f]")


def without_controls(text: str) -> str:
    """``text`` with a mark in place of each character that a terminal could act on and no page can show."""
    return _CONTROLS.sub("\N{REPLACEMENT CHARACTER}", text)


def strict_templates(folder: Path) -> Environment:
    """The templates in ``folder``, with autoescape on and undefined names refused."""
    return Environment(
        loader=FileSystemLoader(folder),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
