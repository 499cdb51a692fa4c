"""Header rows that give PCB congeners by their bare numbers: ``8, 18, 28, 52`` across a row of a congener sheet.

In: a sheet. Out: the sheet with those cells written as congeners. A row counts only where the words of the sheet speak
of congeners, its numbers rise, and nothing else can be meant by them.
"""

from __future__ import annotations

import itertools
import re

from screen.reference.names import read_band
from screen.stages.read.cells.grid import Grid, with_cell
from screen.stages.read.tables.evidence import Knows, like_result
from screen.stages.read.words.fields import name_header

__all__ = ["write_congeners"]

_NUMBERS = re.compile(r"\d{1,3}(?:\s?[/+]\s?\d{1,3})*")
_FIRST_ROWS = 40
_FEWEST = 4
_LABELS = ("", "sample", "lab_sample", "station", "core", "analyte", "date", "depth", "depth_top", "depth_bottom")


def write_congeners(grid: Grid, knows: Knows) -> Grid:
    """The grid with ``PCB-8`` for a header of ``8`` in a row of congener numbers; the same grid where there is none."""
    for row in range(min(grid.rows - 1, _FIRST_ROWS)):
        columns = _numbered(grid, row)
        if not columns or not _of_congeners(grid, row, columns[0]):
            continue
        beside = [grid.cell(below, columns[0] - 1) for below in range(row + 1, min(grid.rows, row + 40))]
        names = [text for text in beside if text]
        numbered = [text for text in names if _NUMBERS.fullmatch(text)]
        results = any(like_result(grid.cell(below, columns[0])) for below in range(row + 1, min(grid.rows, row + 6)))
        if not names or len(numbered) * 2 > len(names) or not results or knows(names).any():
            continue
        for column in columns:
            grid = with_cell(grid, row, column, "PCB-" + re.sub(r"\s", "", grid.cell(row, column)))
    return grid


def _numbered(grid: Grid, row: int) -> list[int]:
    """The columns of a row whose filled cells are rising congener numbers, but for the labels in front."""
    filled = [column for column in range(len(grid.columns)) if grid.cell(row, column).strip()]
    columns = [column for column in filled if _NUMBERS.fullmatch(grid.cell(row, column).strip())]
    labels = [column for column in filled if column not in columns]
    if len(columns) < _FEWEST or not columns[0] or any(column > columns[0] for column in labels[:-1]):
        return []
    if any(name_header(grid.cell(row, column)).field not in _LABELS for column in labels if column < columns[0]):
        return []
    firsts = [[int(one) for one in re.findall(r"\d+", grid.cell(row, column))] for column in columns]
    numbers = [one for part in firsts for one in part]
    rising = all(one[0] < other[0] for one, other in itertools.pairwise(firsts))
    return columns if rising and max(numbers) <= 209 and min(numbers) > 0 else []


def _of_congeners(grid: Grid, row: int, first: int) -> bool:
    """Whether the sheet's name, a line above or the label in front speaks of PCB congeners."""
    texts = [grid.sheet, *(grid.cell(row, column) for column in range(first))]
    texts += [grid.cell(above, column) for above in range(row) for column in range(min(len(grid.columns), 8))]
    return any(read_band(text) in ("pcb", "pcb-congener") for text in texts if text)
