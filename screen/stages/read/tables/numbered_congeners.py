"""Header rows that give PCBs by their bare numbers: ``8, 18, 28, 52`` or ``1248, 1254, 1260`` across a row.

In: a sheet. Out: the sheet with those cells written as congeners or Aroclors. A row counts only where the words above
it speak of them, its numbers rise, and nothing else can be meant by them.
"""

from __future__ import annotations

import itertools
import re

from screen.reference.names import read_band
from screen.stages.read.cells.grid import Grid, with_cell
from screen.stages.read.tables.evidence import Knows, like_number, like_result
from screen.stages.read.words.fields import name_header

__all__ = ["write_congeners"]

_NUMBERS = re.compile(r"\d{1,4}(?:\s?[/+]\s?\d{1,3})*")
_FIRST_ROWS = 200
_FEWEST = {"PCB-": 4, "Aroclor ": 2}
_BANDS = {"PCB-": ("pcb", "pcb-congener"), "Aroclor ": ("pcb", "pcb-aroclor")}
_LABELS = ("sample", "lab_sample", "station", "core", "analyte", "date", "depth", "depth_top", "depth_bottom")


def write_congeners(grid: Grid, knows: Knows) -> Grid:
    """The grid with ``PCB-8`` for a header of ``8`` in a row of congener numbers; the same grid where there is none."""
    for row in range(min(grid.rows - 1, _FIRST_ROWS)):
        columns, word = _numbered(grid, row, knows)
        if not columns or not _of_pcbs(grid, row, columns[0], word) or not _is_head(grid, row, columns, knows):
            continue
        beside = [grid.cell(below, columns[0] - 1) for below in range(row + 1, min(grid.rows, row + 40))]
        names = [text for text in beside if text]
        numbered = [text for text in names if _NUMBERS.fullmatch(text)]
        results = any(like_result(grid.cell(below, columns[0])) for below in range(row + 1, min(grid.rows, row + 6)))
        if not names or len(numbered) * 2 > len(names) or not results or knows(names).any():
            continue
        for column in columns:
            grid = with_cell(grid, row, column, word + re.sub(r"\s", "", grid.cell(row, column)))
    return grid


def _numbered(grid: Grid, row: int, knows: Knows) -> tuple[list[int], str]:
    """The columns of a row whose filled cells are rising numbers of PCBs, but for the labels in front, and the word
    that belongs before the numbers."""
    filled = [column for column in range(len(grid.columns)) if grid.cell(row, column).strip()]
    columns = [column for column in filled if _NUMBERS.fullmatch(grid.cell(row, column).strip())]
    labels = [column for column in filled if column not in columns]
    if len(columns) < 2 or not columns[0] or any(column > columns[0] for column in labels[:-1]):
        return [], ""
    if any(name_header(grid.cell(row, column)).field not in ("", *_LABELS) for column in labels if column < columns[0]):
        return [], ""
    parts = [[int(one) for one in re.findall(r"\d+", grid.cell(row, column))] for column in columns]
    numbers = [one for part in parts for one in part]
    if not all(one[0] < other[0] for one, other in itertools.pairwise(parts)):
        return [], ""
    word = ""
    if min(numbers) > 0 and max(numbers) <= 209:
        word = "PCB-"
    elif min(numbers) > 1000 and knows([f"Aroclor {number}" for number in numbers]).all():
        word = "Aroclor "
    return (columns, word) if word and len(columns) >= _FEWEST[word] else ([], "")


def _of_pcbs(grid: Grid, row: int, first: int, word: str) -> bool:
    """Whether the sheet's name, a line above or the label in front speaks of such PCBs."""
    texts = [grid.sheet, *(grid.cell(row, column) for column in range(first))]
    texts += [grid.cell(above, column) for above in range(row) for column in range(min(len(grid.columns), 8))]
    return any(read_band(text) in _BANDS[word] for text in texts if text)


def _is_head(grid: Grid, row: int, columns: list[int], knows: Knows) -> bool:
    """Whether the row is a header: a label in front says so, or no results and no substances stand above it.

    Else figures of one sample that happen to rise would be taken for numbers of congeners.
    """
    if any(name_header(grid.cell(row, column)).field in _LABELS for column in range(columns[0])):
        return True
    above = [text for up in range(row) for column in columns if (text := grid.cell(up, column))]
    return not any(map(like_number, above)) and not knows(above).any()
