"""What was found in a sheet and is no result: hidden sheets, columns and rows that are no samples, figures unread.

In: grids with their tables. Out: Problems, so that nothing is left out silently.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from screen.letters import column_letter
from screen.model import Problem
from screen.stages.read.cells.grid import NUMBER, Grid
from screen.stages.read.tables.evidence import like_number
from screen.stages.read.tables.layouts import Table

__all__ = ["left_out", "sheets_without_table"]

Bools = npt.NDArray[np.bool_]


def left_out(grid: Grid, tables: Sequence[Table]) -> list[Problem]:
    """What the user should know of the cells of one sheet that no result is read from."""
    if grid.hidden:
        return [
            Problem(
                "hidden-sheet",
                f"the sheet {grid.sheet!r} is hidden and was not read",
                "Unhide it if it belongs to the results.",
                file=grid.file,
                sheet=grid.sheet,
            )
        ]
    found: list[Problem] = []
    for table in tables:
        found += _second_columns(grid, table)
        found += _rows_left_out(grid, table)
        found += _columns_left_out(grid, table)
    return found + _figures_unread(grid, tables)


def sheets_without_table(grids: Sequence[Grid], tables: Sequence[Sequence[Table]]) -> list[Problem]:
    """One warning that names the sheets of a workbook in which no table was found, though others hold some."""
    names = [grid.sheet for grid, own in zip(grids, tables, strict=True) if not (own or grid.hidden) and grid.cells]
    if not names or not any(tables):
        return []
    listed = ", ".join(names[:12]) + (f" and {len(names) - 12} more" if len(names) > 12 else "")
    return [
        Problem(
            "sheet-without-table",
            f"no table of results was recognised on {'the sheet' if len(names) == 1 else 'the sheets'} {listed}; the "
            "texts there were read as notes",
            "If results stand there, give them a header row with Sample ID, Analyte, Result and Unit.",
            file=grids[0].file,
        )
    ]


_SECOND = {
    "sample": ("of sample ids", "the one of the client's ids, or the first, was taken"),
    "value": ("of results", "the one on dry weight, or the first, was taken"),
}


def _second_columns(grid: Grid, table: Table) -> list[Problem]:
    """Second columns of a field that one column gives."""
    second = [column for column, name in table.spare.items() if name == "qualifier"]
    second += [value.beside["qualifier_other"] for value in table.values if "qualifier_other" in value.beside]
    found = [
        _of_column(
            grid,
            table,
            column,
            "two-qualifiers",
            "there are two columns of flags and nothing says whose the second one is: results where it says "
            "something else than the first were left out",
            "Name it Validation Qualifier where it is the validator's, or Remark where it does not matter.",
        )
        for column in second
    ]
    for column, name in table.spare.items():
        if name in _SECOND and table.layout == "long":
            what, which = _SECOND[name]
            head = next((text for row in table.headers if (text := grid.cell(row, column))), "")
            found.append(
                _of_column(
                    grid,
                    table,
                    column,
                    "second-column",
                    f"the column {head!r} is a second one {what}; {which}, and this one was left out",
                    "If this one counts, delete the other or give it another header.",
                )
            )
    return found


def _columns_left_out(grid: Grid, table: Table) -> list[Problem]:
    found = []
    for column, why in table.dropped.items():
        if why in ("other-column", "text-column"):
            continue
        head = next((text for row in table.headers[::-1] if (text := grid.cell(row, column))), "")
        found.append(
            _of_column(
                grid,
                table,
                column,
                "column-left-out",
                f"the column {head!r} holds no results of a sample ({why}) and was left out"
                if head
                else f"a column without a header was left out ({why})",
                "If it is a sample, write the sample's name above it.",
            )
        )
    return found


def _rows_left_out(grid: Grid, table: Table) -> list[Problem]:
    """One problem for each kind of row that holds no results of a sample."""
    found = []
    for why in dict.fromkeys(why for why in table.dropped_rows.values() if why != "limit-below"):
        rows = [row for row, kind in table.dropped_rows.items() if kind == why]
        named = ", ".join(repr(grid.cell(row, table.anchor)) for row in rows[:5]) + (" ..." if len(rows) > 5 else "")
        if why == "limit-row":
            message = (
                f"several rows of limits differ ({named}) and nothing says which holds for a sample; none was used"
            )
            mend = "Give each result its limit in a column beside it."
        else:
            message = f"rows that hold no results of a sample were left out: {named} ({why})"
            mend = "If one is a sample, give it another name."
        column = column_letter(table.anchor)
        found.append(
            Problem("row-left-out", message, mend, file=grid.file, sheet=grid.sheet, row=rows[0] + 1, column=column)
        )
    return found


def _figures_unread(grid: Grid, tables: Sequence[Table]) -> list[Problem]:
    """Rows under a table, and columns beside one, that hold figures though no header there was understood."""
    if not tables:
        return []
    covered = np.zeros((grid.rows, len(grid.columns)), dtype=bool)
    beside = np.zeros(grid.rows, dtype=bool)
    covered[: tables[0].top] = True
    for table in tables:
        covered[table.top : table.bottom + 1, table.left : table.right + 1] = True
        covered[list(table.dropped_rows)] = True
        beside[table.body] = True
        for place in table.labels.values():
            if place.row >= 0:
                covered[place.row] = True
    numbers = _numbers(grid, covered)
    under = np.flatnonzero((numbers.sum(axis=1) >= 2) & ~beside)
    found = []
    if len(under):
        column = int(numbers[under[0]].argmax())
        what = "a row" if len(under) == 1 else f"{len(under)} rows (this is the first)"
        says = "holds" if len(under) == 1 else "hold"
        found.append(_unread(grid, f"{what} under a table {says} figures", under[0], column))
    for one in np.flatnonzero(numbers[beside].sum(axis=0) >= 2):
        row = int(np.flatnonzero(numbers[:, one] & beside)[0])
        found.append(_unread(grid, "a column beside a table holds figures", row, int(one)))
    return found


def _numbers(grid: Grid, covered: Bools) -> Bools:
    """Cells outside ``covered`` that look like results."""
    found = np.zeros(covered.shape, dtype=bool)
    for place, column in enumerate(grid.columns):
        rows = np.flatnonzero(~covered[:, place] & (column.codes != 0))
        if not len(rows):
            continue
        codes, back = np.unique(column.codes[rows], return_inverse=True)
        like = [column.kinds[code] == NUMBER or _has_figure(str(column.texts[code])) for code in codes]
        found[rows, place] = np.array(like, dtype=bool)[back]
    return found


def _has_figure(text: str) -> bool:
    return like_number(text) and any(mark.isdigit() for mark in text)


def _unread(grid: Grid, what: str, row: int, column: int) -> Problem:
    return Problem(
        "figures-unread",
        f"{what}, but no header for them was understood; they were read as notes",
        "If they are results, give them a header row with Sample ID, Analyte, Result and Unit.",
        file=grid.file,
        sheet=grid.sheet,
        row=int(row) + 1,
        column=column_letter(column),
    )


def _of_column(grid: Grid, table: Table, column: int, code: str, message: str, mend: str) -> Problem:
    rows = [row for row in table.headers[::-1] if grid.cell(row, column)] or list(table.headers[:1])
    return Problem(
        code,
        message,
        mend,
        file=grid.file,
        sheet=grid.sheet,
        row=rows[0] + 1 if rows else None,
        column=column_letter(column),
    )
