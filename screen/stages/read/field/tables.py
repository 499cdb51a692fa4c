"""The tables of a field record, found by their headers. In: a grid. Out: its tables of stations, cores and samples.

A row is a header when it names the id of a table and two more fields (one more, where it has no more than four cells).
A sheet may hold several tables, one below the other. The words are data: ``guidelines/vocabulary/field_headers.csv``.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from functools import cache

import numpy as np
import numpy.typing as npt

from screen.letters import column_letter
from screen.model import Problem
from screen.reference.locate import read_table
from screen.stages.read.cells.grid import DATE, Column, Grid
from screen.stages.read.words.ids import clean_id
from screen.stages.read.words.lengths import known_unit

__all__ = ["IDS", "FieldTable", "area_factor", "find_field_tables", "name_header"]

#: The field that names a row, by table; a table belongs to the finest id that it has.
IDS = {"samples": "sample", "cores": "core", "stations": "station"}
_ID_FIELDS = (*IDS.values(), "parent")
_BRACKETS = re.compile(r"[(\[]([^)\]]*)[)\]]")
#: A cell with more characters than this is running text and no header.
_LONGEST_HEADER = 200


@dataclass(frozen=True, slots=True)
class FieldTable:
    """One table of a field record.

    ``kind`` is ``stations``, ``cores`` or ``samples``; ``rows`` are the grid's rows (from 0) that name an id; ``texts``
    has one array of texts for each field, ``dates`` the same shape (true where the cell is a date), ``columns`` the
    column and ``units`` the unit that its header gives, if any.
    """

    kind: str
    file: str
    sheet: str
    rows: npt.NDArray[np.int64]
    texts: dict[str, npt.NDArray[np.object_]]
    dates: dict[str, npt.NDArray[np.bool_]]
    columns: dict[str, int]
    units: dict[str, str]


def find_field_tables(grid: Grid) -> tuple[list[FieldTable], list[Problem]]:
    """The tables of one sheet in their order, and what a user should know of their columns and rows."""
    hits = np.zeros(grid.rows, dtype=np.int32)
    for column in grid.columns:
        known = np.array([bool(text) and name_header(str(text)) is not None for text in column.texts], dtype=bool)
        hits += known[column.codes]
    filled = grid.filled().sum(axis=1)
    likely = np.flatnonzero((hits >= 3) | ((hits == 2) & (filled <= 4)))
    heads = [int(row) for row in likely if _kind(_fields(grid, int(row)))]
    tables, problems = [], []
    for head, end in zip(heads, [*heads, grid.rows][1:], strict=True):
        table, found = _table(grid, head, end)
        tables.append(table)
        problems += found
    return tables, problems


@cache
def _vocabulary() -> dict[str, tuple[str, str]]:
    table = read_table("vocabulary/field_headers.csv")
    return dict(zip(table["header"].map(_plain), zip(table["field"], table["unit"], strict=True), strict=True))


@cache
def _areas() -> dict[str, float]:
    table = read_table("vocabulary/area_units.csv")
    pairs = zip(table["m2"], table["words"], strict=True)
    return {word: float(factor) for factor, words in pairs for word in words.split(";")}


def area_factor(unit: str) -> float | None:
    """Square metres in one of ``unit``, or None where the unit is not one of area."""
    return _areas().get(_plain(unit))


@cache
def name_header(text: str) -> tuple[str, str] | None:
    """The field and the unit that a header names (``Penetration [ft]`` gives ``penetration``, ``ft``), or None."""
    if len(text) > _LONGEST_HEADER:
        return None
    whole, words = _plain(text), _vocabulary()
    if whole in words:
        return words[whole]
    bracket = _BRACKETS.search(text)
    if bracket:
        rest, unit = _plain(_BRACKETS.sub(" ", text)), bracket[1].strip()
    else:
        rest, _, unit = whole.rpartition(" ")
    found = words.get(rest)
    if found is None or "%" in unit or (not bracket and not _is_unit(unit)):
        return None
    field, own_unit = found
    return field, (unit if _is_unit(unit) or field in ("latitude", "longitude") else own_unit)


def _is_unit(text: str) -> bool:
    return bool(known_unit(text)) or area_factor(text) is not None


def _plain(text: str) -> str:
    folded = unicodedata.normalize("NFKC", text).casefold()
    return re.sub(r"[\s_.\-#:()\[\],]+", " ", folded).strip()


def _fields(grid: Grid, row: int) -> dict[int, tuple[str, str]]:
    named = {
        column: name_header(grid.cell(row, column)) for column in range(len(grid.columns)) if grid.cell(row, column)
    }
    return {column: found for column, found in named.items() if found is not None}


def _kind(fields: dict[int, tuple[str, str]]) -> str:
    names = {field for field, _ in fields.values()}
    return next((kind for kind, key in IDS.items() if key in names and len(names) > 1), "")


def _table(grid: Grid, head: int, end: int) -> tuple[FieldTable, list[Problem]]:
    problems: list[Problem] = []
    columns: dict[str, int] = {}
    units: dict[str, str] = {}
    for column, (field, unit) in _fields(grid, head).items():
        if field in columns:
            problems.append(_twice(grid, head, column, columns[field]))
        else:
            columns[field], units[field] = column, unit
    strangers = [column for column in range(len(grid.columns)) if _is_strange(grid.cell(head, column))]
    if strangers:
        problems.append(_unknown(grid, head, strangers))
    kind = _kind(_fields(grid, head))
    key = IDS[kind]
    body = np.arange(head + 1, end)
    ids = _decode(grid.columns[columns[key]], body, ids=True)
    if len(body) and not ids[0] and _unit_row(grid, head + 1, columns, units):
        body, ids = body[1:], ids[1:]
    others = grid.filled()[body].sum(axis=1)
    nameless = body[(ids == "") & (others > 1)]
    problems.extend(_nameless(grid, int(row), columns[key], key) for row in nameless)
    body = body[ids != ""]
    texts = {field: _decode(grid.columns[column], body, ids=field in _ID_FIELDS) for field, column in columns.items()}
    dates = {field: _are_dates(grid.columns[column], body) for field, column in columns.items()}
    return FieldTable(kind, grid.file, grid.sheet, body, texts, dates, columns, units), problems


def _is_strange(text: str) -> bool:
    return bool(text) and name_header(text) is None


def _decode(column: Column, rows: npt.NDArray[np.int64], *, ids: bool) -> npt.NDArray[np.object_]:
    tidy = clean_id if ids else str.strip
    texts = column.texts
    if ids and column.shown is not None:  # 0042 stays 0042 where the sheet shows it so
        texts = np.where([str(text).isdigit() for text in column.shown], column.shown, texts)
    cleaned = np.array([tidy(str(text)) for text in texts], dtype=object)
    return np.asarray(cleaned[column.codes[rows]], dtype=object)


def _are_dates(column: Column, rows: npt.NDArray[np.int64]) -> npt.NDArray[np.bool_]:
    return np.asarray(column.kinds[column.codes[rows]] == DATE, dtype=bool)


def _unit_row(grid: Grid, row: int, columns: dict[str, int], units: dict[str, str]) -> bool:
    """Whether ``row`` holds only units; they are then added to those of the header."""
    given = {field: grid.cell(row, column) for field, column in columns.items() if grid.cell(row, column)}
    if not given or not all(_is_unit(text) for text in given.values()):
        return False
    units.update(given)
    return True


def _twice(grid: Grid, row: int, column: int, first: int) -> Problem:
    return Problem(
        "field-column-twice",
        f"the column {grid.cell(row, column)!r} means the same as column {column_letter(first)}; the first is used.",
        "Remove or rename one of them.",
        file=grid.file,
        sheet=grid.sheet,
        row=row + 1,
        column=column_letter(column),
    )


def _unknown(grid: Grid, row: int, columns: list[int]) -> Problem:
    names = ", ".join(repr(grid.cell(row, column)) for column in columns)
    return Problem(
        "field-column-unknown",
        f"a field record has no such columns: {names}. They are kept in the ledger and not used.",
        "Rename those that should be used; an empty record with all columns is written by: siltmark template field.",
        file=grid.file,
        sheet=grid.sheet,
        row=row + 1,
        column=column_letter(columns[0]),
    )


def _nameless(grid: Grid, row: int, column: int, key: str) -> Problem:
    return Problem(
        f"field-{key}-missing",
        f"the row names no {key}; it is left out.",
        f"Write the {key} in each row.",
        "refused",
        grid.file,
        grid.sheet,
        row + 1,
        column_letter(column),
    )
