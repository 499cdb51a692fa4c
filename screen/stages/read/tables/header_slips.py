"""Headers that are nearly a known word: ``Resutl``, ``Analite``. Told with the word that is nearest, never applied.

In: a grid and the tables found in it. Out: what to tell, and which tables must not be read as they were found, since a
misspelled header would be taken for the name of a sample.
"""

from __future__ import annotations

from functools import cache

from screen.letters import column_letter
from screen.likeness import nearest
from screen.model import Problem
from screen.reference.locate import read_table
from screen.stages.read.cells.grid import Grid
from screen.stages.read.tables.layouts import Table
from screen.stages.read.words.fields import name_header
from screen.stages.read.words.meanings import reads_as_unit

__all__ = ["find_header_slips"]

_SHORTEST, _LONGEST = 4, 30
_ALIKE = 0.8
#: Fields without which a result cannot be read.
_NEEDED = ("sample", "analyte", "value", "unit", "qualifier", "rl", "mdl", "basis")


def find_header_slips(grid: Grid, tables: list[Table]) -> tuple[list[Table], list[Problem]]:
    """The tables that can be read, and a problem for each header that is nearly a known word."""
    kept: list[Table] = []
    problems: list[Problem] = []
    for table in tables:
        named = table.column_fields.get("sample", -1) if table.layout == "analytes-down" else -1
        of_results = {
            (named, value.column)
            for value in table.values
            if named >= 0 and grid.cell(named, value.column) and _near(grid.cell(named, value.column), ("value",))
        }
        if not of_results and named >= 0 and _rows_name_samples(grid, table):
            of_results = {
                (named, value.column)
                for value in table.values
                if grid.cell(named, value.column) and not name_header(grid.cell(named, value.column)).field
            }
            problems += [_problem(grid, row, column, "", True) for row, column in sorted(of_results)]
        elif of_results or table.layout == "long" or not _names_samples(table):
            problems += [
                _problem(grid, row, column, near, bool(of_results)) for row, column, near in _slips(grid, table)
            ]
        if not of_results:
            kept.append(table)
    return kept, problems


def _rows_name_samples(grid: Grid, table: Table) -> bool:
    """Whether a column beside the substances is headed by a word for samples and filled: its rows are of samples."""
    for row in table.headers:
        for column in range(max(table.left - 3, 0), min(table.right + 4, len(grid.columns))):
            if column != table.anchor and name_header(grid.cell(row, column)).field in ("sample", "lab_sample"):
                filled = grid.columns[column].codes[table.body] != 0
                if len(filled) and filled.mean() > 0.5:
                    return True
    return False


def _names_samples(table: Table) -> bool:
    given = {*table.row_fields, *table.column_fields, *table.labels}
    return bool(given & {"sample", "lab_sample", "station", "core"})


def _slips(grid: Grid, table: Table) -> list[tuple[int, int, str]]:
    found = []
    taken = {*table.row_fields, *(["value"] if table.layout == "long" else [])}
    lacking = tuple(name for name in _NEEDED if name not in taken)
    for row in table.headers[:3]:
        for column in range(max(table.left - 3, 0), min(table.right + 4, len(grid.columns))):
            text = grid.cell(row, column)
            if text and not name_header(text).field and not reads_as_unit(text) and (near := _near(text, lacking)):
                found.append((row, column, near))
    return found


@cache
def _near(text: str, fields: tuple[str, ...]) -> str:
    """The header word of these fields that the text nearly is, or an empty text."""
    plain = " ".join(text.split())
    if not _SHORTEST <= len(plain) <= _LONGEST or any(mark.isdigit() for mark in plain) or name_header(plain).field:
        return ""
    words = _words(fields)
    near = nearest(plain, words, alike=_ALIKE)
    return words[near[0]] if near else ""


@cache
def _words(fields: tuple[str, ...]) -> dict[str, str]:
    frame = read_table("vocabulary/headers.csv")
    texts = frame.loc[frame["field"].isin(fields) & (frame["text"].str.len() >= _SHORTEST), "text"]
    return {text.casefold(): text for text in texts[::-1]}


def _problem(grid: Grid, row: int, column: int, near: str, unread: bool) -> Problem:
    hint = f"did you mean {near!r}?" if near else "does the column hold the results?"
    return Problem(
        "header-unclear",
        f"the header {grid.cell(row, column)!r} is not known; {hint} "
        + ("The table under it was not read" if unread else "The column was not used"),
        f'Correct the header, or name it with read_as = "{near or "Result"}" in an [[answers]] for this cell.',
        "refused" if unread else "warning",
        grid.file,
        grid.sheet,
        row + 1,
        column_letter(column),
    )
