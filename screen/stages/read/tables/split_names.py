"""Names of substances that an unquoted comma has cut in two: ``4,4'-DDE`` as the two fields ``4`` and ``4'-DDE``.

In: a sheet that was read from comma-separated text, with its tables. Out: from which column on a row or a table has
slipped. What stands there belongs to another column, so it is refused and never put right by guess.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np

from screen.letters import column_letter
from screen.model import Problem
from screen.stages.read.cells.grid import Grid
from screen.stages.read.tables.evidence import Knows
from screen.stages.read.tables.layouts import Table

__all__ = ["find_split_names"]

_LOCANT = re.compile(r"\s*[\"'(\[]?\d{1,2}[ab]?['’′]{0,2}\s*")
_REST = re.compile(r"\s*\d{1,2}[ab]?['’′]{0,2}\)?-.*[A-Za-z]{2}.*")
_MOST_PARTS = 6
_FIRST_ROWS = 30


def find_split_names(grid: Grid, tables: Sequence[Table], knows: Knows) -> list[Problem]:
    """Mark what has slipped in ``tables`` (``Table.slipped``), and say so. Without a table the first rows count."""
    if grid.delimiter != ",":
        return []
    found: list[Problem] = []
    for table in tables:
        for row in table.headers:
            if cut := _in_row(grid, row, knows):
                column, name = cut
                table.slipped.update(one.column for one in table.values if one.column >= column)
                found.append(_problem(grid, row, column, name, "the figures from this column on were left out"))
        if table.layout != "samples-down":
            column = table.anchor
            cells = grid.columns[column]
            cut_codes = [code for code, text in enumerate(cells.texts) if _LOCANT.fullmatch(str(text))]
            for row in table.body[np.isin(cells.codes[table.body], cut_codes)]:
                name = _joined(grid, int(row), column, knows)
                if name:
                    table.slipped_rows.add(int(row))
                    found.append(_problem(grid, int(row), column, name, "the row was left out"))
    if not tables:
        cuts = ((row, _in_row(grid, row, knows)) for row in range(min(grid.rows, _FIRST_ROWS)))
        found += [_problem(grid, row, *cut, "no table was read") for row, cut in cuts if cut]
    return found


def _in_row(grid: Grid, row: int, knows: Knows) -> tuple[int, str] | None:
    """The first column of a cut name in the row, and the name."""
    for column in range(len(grid.columns) - 1):
        if name := _joined(grid, row, column, knows):
            return column, name
    return None


def _joined(grid: Grid, row: int, column: int, knows: Knows) -> str:
    """The known name that the cell and those behind it make when joined by commas, or an empty text."""
    parts = [grid.cell(row, column)]
    while _LOCANT.fullmatch(parts[-1]) and len(parts) < _MOST_PARTS:
        parts.append(grid.cell(row, column + len(parts)))
        if _REST.fullmatch(parts[-1]):
            name = ",".join(part.strip() for part in parts)
            return name if knows([name])[0] else ""
    return ""


def _problem(grid: Grid, row: int, column: int, name: str, what: str) -> Problem:
    return Problem(
        "unquoted-comma",
        f"the comma in the name {name!r} cuts it in two, so that all that follows stands one column too far to the "
        f"right; {what}",
        f'Put the name in quotes ("{name}"), or save the table as .xlsx.',
        "refused",
        grid.file,
        grid.sheet,
        row + 1,
        column_letter(column),
    )
