"""Where the guideline data are, and how one of their tables is read.

In: a path below `guidelines/`. Out: a frame of text.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pandas as pd

__all__ = ["data_root", "demo_root", "read_table"]


@cache
def data_root() -> Path:
    """The `guidelines/` folder: inside the package where it was installed from a wheel, else the checkout's own."""
    return _beside("guidelines")


def demo_root() -> Path:
    """The `demo_data/` folder: inside the package where it was installed from a wheel, else the checkout's own."""
    return _beside("demo_data")


def _beside(name: str) -> Path:
    package = Path(__file__).resolve().parent.parent
    inside = package / name
    return inside if inside.is_dir() else package.parent / name


def read_table(relative: str) -> pd.DataFrame:
    """The CSV ``relative`` to :func:`data_root` as text, cell for cell: no number, date or NA is guessed.

    The frame is the caller's own to change; the file is read once. Raises FileNotFoundError for a missing table.
    """
    return _read(relative).copy()


@cache
def _read(relative: str) -> pd.DataFrame:
    return pd.read_csv(data_root() / relative, dtype=str, keep_default_na=False, na_filter=False, encoding="utf-8")
