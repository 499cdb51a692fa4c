"""Rows that give the limit of the substance above them: ``Lead``, and below it ``RL`` or ``Reporting limit``.

In: a table whose substances stand in a column. Out: the table without these rows, and for each row of results the rows
of its limits.
"""

from __future__ import annotations

import numpy as np

from screen.stages.read.cells.grid import Grid
from screen.stages.read.tables.evidence import FIELD_NAMES, Evidence, like_result
from screen.stages.read.tables.layouts import Table

__all__ = ["take_limit_rows"]

_LIMITS = ("mdl", "rl", "limit")
_OWNERS = ("sample", "lab_sample", "station", "unit", "basis")


def take_limit_rows(grid: Grid, evidence: Evidence, table: Table, end: int) -> None:
    """Give the rows of limits before row ``end`` to the substances above them.

    A row that is of another sample, in another unit or without a substance right above it stays what it was.
    """
    column = table.row_fields.get("analyte", -1)
    if table.layout == "samples-down" or column < 0 or not len(table.body):
        return
    marked = np.isin(evidence.field[column], evidence.codes_of(_LIMITS)) & ~evidence.substance[column]
    codes = grid.columns[column].codes
    hits = np.flatnonzero(marked[codes[:end]])
    body = table.body[~marked[codes[table.body]]]
    taken: set[int] = set()
    for row in hits[hits > body[0]].tolist() if len(body) else ():
        owner = int(body[np.searchsorted(body, row) - 1])
        between = set(range(owner + 1, row))
        name = FIELD_NAMES[evidence.field[column][codes[row]]]
        if between <= taken and name not in table.limits_below.get(owner, {}) and _belongs(grid, table, owner, row):
            table.limits_below.setdefault(owner, {})[name] = row
            taken.add(row)
    if not taken:
        return
    kept = ~np.isin(table.body, list(taken))
    table.body, table.bands = table.body[kept], table.bands[kept]
    table.dropped_rows |= dict.fromkeys(sorted(taken), "limit-below")
    table.why.append(f"row {min(taken) + 1} gives the limit of the substance above it")


def _belongs(grid: Grid, table: Table, owner: int, row: int) -> bool:
    """Whether the row says nothing else of sample, unit and basis than the row above, and holds figures or nothing."""
    columns = [table.row_fields[name] for name in _OWNERS if name in table.row_fields]
    same = all(grid.cell(row, one) in ("", grid.cell(owner, one)) for one in columns)
    cells = [grid.cell(row, value.column) for value in table.values]
    return same and any(cells) and all(not cell or like_result(cell) for cell in cells)
