"""From sources to sheets with their tables, before any value is read.

In: a file and the answers that correct a header. Out: ``Opened``: its grids, the tables found in each, the words around
them, and what a user should know of sheets, columns and rows that were left out.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from screen.model import Problem
from screen.reference.names import NameBook
from screen.settings import Answer, Settings
from screen.stages.read.cells.files import Source, read_grids
from screen.stages.read.cells.grid import Grid, column_letter, column_number, with_cell
from screen.stages.read.records.answers import is_file
from screen.stages.read.tables.evidence import Knows
from screen.stages.read.tables.find import find_tables
from screen.stages.read.tables.layouts import Table
from screen.stages.read.tables.numbered_congeners import write_congeners
from screen.stages.read.tables.sheet_words import SheetWords, read_words
from screen.stages.read.tables.split_names import find_split_names

__all__ = ["Opened", "knower", "open_sheets"]

Read = tuple[Sequence[Grid], Sequence[Problem]]


@dataclass(slots=True)
class Opened:
    """All sheets of one file: the grids in order, the tables of each, and the words around each table.

    ``corrected_grids`` are the grids with the headers that answers correct and congener numbers written as names;
    ``corrected`` the places of those answers.
    """

    grids: list[Grid]
    corrected_grids: list[Grid]
    tables: list[list[Table]]
    words: list[list[SheetWords]]
    corrected: set[int]
    problems: list[Problem]


def open_sheets(
    source: Source, settings: Settings, knows: Knows, read: Callable[[Source, Settings], Read] = read_grids
) -> Opened:
    """Read one file and find its tables. ``knows`` is from ``knower``; ``read`` gives the grids of the file."""
    corrected: set[int] = set()
    grids, problems = read(source, settings)
    problems = list(problems)
    found = [_find(grid, knows, settings.answers, corrected) for grid in grids]
    changed, tables = [grid for grid, _ in found], [own for _, own in found]
    words, told = read_words(changed, tables)
    problems += told
    slips: list[Problem] = []
    for grid, own in zip(changed, tables, strict=True):
        problems += _hidden_sheet(grid) if grid.hidden else _columns_left_out(grid, own)
        slips += find_split_names(grid, own, knows)
    problems += slips
    problems += _sheets_without_table(changed, tables)
    if grids and not any(tables):
        problems.append(
            Problem(
                "no-table",
                "no table of results was recognised in this file",
                "A header row with Sample ID, Analyte, Result and Unit always works: see siltmark template lab.",
                "file",
                source.shown,
            )
        )
    return Opened(list(grids), changed, tables, words, corrected, problems)


def knower(book: NameBook) -> Knows:
    """Whether texts name substances, each distinct one asked once."""
    known: dict[str, bool] = {}

    def knows(texts: Sequence[str]) -> npt.NDArray[np.bool_]:
        new = [text for text in dict.fromkeys(texts) if text not in known]
        if new:
            roles = book.resolve_many(new, [""] * len(new), [""] * len(new), suggest=False)["role"].astype(object)
            known.update(zip(new, (roles != "none").tolist(), strict=True))
        return np.array([known[text] for text in texts], dtype=bool)

    return knows


def _find(grid: Grid, knows: Knows, answers: Sequence[Answer], corrected: set[int]) -> tuple[Grid, list[Table]]:
    """The tables of a sheet, found again where an answer corrects a cell outside their rows of results."""
    if grid.hidden:
        return grid, []
    changed = write_congeners(grid, knows)
    tables = find_tables(changed, knows)
    found = changed
    for place, answer in enumerate(answers):
        if answer.read_as is None or answer.row is None or answer.column is None or not is_file(answer.file, grid.file):
            continue
        row, column = answer.row - 1, column_number(answer.column)
        if answer.sheet not in (None, grid.sheet) or row >= grid.rows or not 0 <= column < len(grid.columns):
            continue
        if not any(table.left <= column <= table.right and (table.body == row).any() for table in tables):
            changed = with_cell(changed, row, column, answer.read_as)
            corrected.add(place)
    return changed, tables if changed is found else find_tables(changed, knows)


def _hidden_sheet(grid: Grid) -> list[Problem]:
    return [
        Problem(
            "hidden-sheet",
            f"the sheet {grid.sheet!r} is hidden and was not read",
            "Unhide it if it belongs to the results.",
            file=grid.file,
            sheet=grid.sheet,
        )
    ]


def _sheets_without_table(grids: Sequence[Grid], tables: Sequence[Sequence[Table]]) -> list[Problem]:
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


def _columns_left_out(grid: Grid, tables: Sequence[Table]) -> list[Problem]:
    """Second columns of flags, and columns that hold no results of a sample."""
    found: list[Problem] = []
    for table in tables:
        second = [column for column, name in table.spare.items() if name == "qualifier"]
        second += [value.beside["qualifier_other"] for value in table.values if "qualifier_other" in value.beside]
        found += [
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
        found += _rows_left_out(grid, table)
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
    for why in dict.fromkeys(table.dropped_rows.values()):
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
        found.append(
            Problem(
                "row-left-out",
                message,
                mend,
                file=grid.file,
                sheet=grid.sheet,
                row=rows[0] + 1,
                column=column_letter(table.anchor),
            )
        )
    return found


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
