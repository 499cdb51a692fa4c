"""Finding and opening inputs: paths in, sources out; a source in, its sheets as coded grids out.

The content decides what a file is, never its suffix. What cannot be read becomes a Problem with severity ``file``;
no function here raises for a bad input.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from screen.model import Problem
from screen.read.grid import Grid
from screen.settings import Settings

__all__ = ["Source", "find_sheets", "read_grids"]


@dataclass(frozen=True, slots=True)
class Source:
    """One input file. ``shown`` is its path below the argument given (never from the disk's root).

    ``kind`` is one of ``xlsx`` (also xlsm), ``xls``, ``ods``, ``text``, ``parquet``.
    """

    path: Path
    shown: str
    kind: str
    bytes: int
    sha256: str


def find_sheets(paths: Sequence[Path]) -> tuple[list[Source], list[Problem]]:
    """The readable files of ``paths`` (files, or folders searched downwards in name order), and what is wrong.

    Two arguments whose paths below would be equal are told apart by their folder's name. A file that is given twice
    is read once, with a warning.
    """
    raise NotImplementedError


def read_grids(source: Source, settings: Settings) -> tuple[list[Grid], list[Problem]]:
    """All sheets of one source, hidden ones too (``Grid.hidden``), and what a user should know about them."""
    raise NotImplementedError
