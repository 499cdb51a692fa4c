"""From sources to sheets with their tables, before any value is read.

In: a file and the answers that correct a header. Out: ``Opened``: its grids, the tables found in each, the words around
them, and what a user should know of sheets, columns and rows that were left out.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from screen.letters import column_number
from screen.model import Problem
from screen.reference.names import NameBook
from screen.settings import Answer, Settings
from screen.stages.read.cells.files import Source, read_grids
from screen.stages.read.cells.grid import Grid, with_cell
from screen.stages.read.left_out import left_out, sheets_without_table
from screen.stages.read.records.answers import is_file
from screen.stages.read.tables.evidence import Knows
from screen.stages.read.tables.find import find_tables
from screen.stages.read.tables.header_slips import find_header_slips
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
    changed = [grid for grid, _ in found]
    checked = [find_header_slips(grid, own) for grid, own in found]
    tables = [own for own, _ in checked]
    problems += [slip for _, slips in checked for slip in slips]
    words, told = read_words(changed, tables)
    problems += told
    slips: list[Problem] = []
    for grid, own in zip(changed, tables, strict=True):
        problems += left_out(grid, own)
        slips += find_split_names(grid, own, knows)
    problems += slips
    problems += sheets_without_table(changed, tables)
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
