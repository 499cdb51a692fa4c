"""Our own templates, strict: everything escaped, a name that is not given is an error. In: a folder. Out: Jinja2."""

from __future__ import annotations

from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined

__all__ = ["strict_templates"]


def strict_templates(folder: Path) -> Environment:
    """The templates in ``folder``, with autoescape on and undefined names refused."""
    return Environment(
        loader=FileSystemLoader(folder),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
