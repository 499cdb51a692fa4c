"""Spreadsheets: an .xlsx, .xls or .ods file in, one coded grid per sheet out, with what a user should know of each."""

from __future__ import annotations

import datetime as dt
import gc
import itertools
import os
import sys
import threading
import zipfile
import zlib
from collections import defaultdict
from collections.abc import Collection, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import python_calamine

from screen.letters import column_letter
from screen.model import Problem
from screen.stages.read.cells.binary_book import binary_facts
from screen.stages.read.cells.grid import (
    BOOLEAN,
    DATE,
    ERROR,
    NO_VALUE,
    NUMBER,
    TEXT,
    Column,
    Grid,
    coded_column,
    number_texts,
    trimmed,
)
from screen.stages.read.cells.opendocument import opendocument_facts
from screen.stages.read.cells.package_xml import (
    LIMITS,
    PackageError,
    SheetFacts,
    check_package,
    sheet_facts,
    shown_text,
)

__all__ = ["read_spreadsheet"]

#: A distinct cell: text, kind, number (NaN for none), and the text shown where a number format makes it another.
_Cell = tuple[str, int, float, str]


def read_spreadsheet(path: Path, shown: str, kind: str) -> tuple[list[Grid], list[Problem]]:
    """The sheets of one workbook in their order, hidden ones too. ``kind`` is xlsx, xls or ods.

    Raises PackageError when the file must not or cannot be opened.
    """
    facts, problems = _facts(path, shown, kind)
    grids: list[Grid] = []
    with _reader_errors():
        workbook = python_calamine.CalamineWorkbook.from_path(str(path))
        sheets = list(workbook.sheets_metadata)
    for index, sheet in enumerate(sheets):
        if sheet.typ is not python_calamine.SheetTypeEnum.WorkSheet:
            continue
        known = facts.get(sheet.name, SheetFacts() if kind != "xlsx" else None)
        if known is None:
            raise PackageError("cut-off", f"its sheet {sheet.name} has no part of its own.")
        if (known.last_row + 1) * (known.last_column + 1) > LIMITS.cells:
            problems.append(_too_wide(shown, sheet.name, known))
            continue
        hidden = sheet.visible is not python_calamine.SheetVisibleEnum.Visible
        with _reader_errors(), _no_collection():
            values = workbook.get_sheet_by_index(index)
            merged = tuple((*first, *last) for first, last in values.merged_cell_ranges or ())
            rows = values.to_python(skip_empty_area=False)
            count, columns = trimmed(*_coded(rows, known))
        grid = Grid(
            file=shown,
            sheet=sheet.name,
            rows=count,
            columns=columns,
            hidden=hidden,
            hidden_rows=frozenset(row for row in known.hidden_rows if row < count),
            hidden_columns=frozenset(column for column in known.hidden_columns if column < len(columns)),
            merged=merged,
        )
        grids.append(grid)
        if not hidden:
            problems += _notices(grid, known)
    return grids, problems


def _facts(path: Path, shown: str, kind: str) -> tuple[dict[str, SheetFacts], list[Problem]]:
    try:
        if kind == "xls":
            facts, dates_1904 = binary_facts(path.read_bytes())
        else:
            with zipfile.ZipFile(path) as package:
                check_package(package, path.stat().st_size)
                facts, dates_1904 = sheet_facts(package) if kind == "xlsx" else (opendocument_facts(package), False)
    except (zipfile.BadZipFile, zlib.error, EOFError, ValueError, LookupError, RuntimeError, OSError) as error:
        raise PackageError("cut-off", "the file is damaged or cut off.") from error
    if not dates_1904:
        return facts, []
    message = "the workbook counts its dates from 1904, not from 1900; they were read so."
    return facts, [Problem("dates-1904", message, "Compare one date with the field record.", file=shown)]


def _too_wide(file: str, sheet: str, facts: SheetFacts) -> Problem:
    corner = f"{column_letter(facts.last_column)}{facts.last_row + 1}"
    return Problem(
        "sheet-too-large",
        f"the filled cells reach as far as {corner}; a sheet of that extent is not read.",
        "Delete the stray cells far from the table, or save the table alone as CSV.",
        severity="file",
        file=file,
        sheet=sheet,
    )


@contextmanager
def _no_collection() -> Iterator[None]:
    """Without the collector, which would walk millions of fresh and acyclic cells again and again."""
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()


@contextmanager
def _silent_panics() -> Iterator[None]:
    """Nothing on the process's standard error: there the reader library writes a trace before it gives up a file.

    One file at a time, for two could not tell what to restore.
    """
    with _SILENCE:
        try:
            kept = os.dup(2)
        except OSError:  # closed: nothing to keep quiet
            yield
            return
        nowhere = os.open(os.devnull, os.O_WRONLY)
        try:
            if sys.stderr is not None:
                sys.stderr.flush()
            os.dup2(nowhere, 2)
            yield
        finally:
            os.dup2(kept, 2)
            os.close(kept)
            os.close(nowhere)


_SILENCE = threading.Lock()


@contextmanager
def _reader_errors() -> Iterator[None]:
    """The reader library's errors, and its panics, as PackageError."""
    try:
        with _silent_panics():
            yield
    except python_calamine.PasswordError as error:
        raise PackageError("locked", "the file is locked with a password.") from error
    except (python_calamine.CalamineError, OSError, ValueError, OverflowError) as error:
        raise PackageError("cut-off", f"the file is damaged or cut off ({str(error)[:200]}).") from error
    except BaseException as error:
        if type(error).__name__ != "PanicException":
            raise
        raise PackageError("cut-off", "the file is damaged beyond reading.") from error


def _coded(rows: list[list[Any]], facts: SheetFacts) -> tuple[int, list[Column]]:
    """The reader's rows as coded columns, with the cells that only the package knows laid over them."""
    over: dict[int, list[tuple[int, str, int]]] = {}
    for cells, kind in ((facts.errors, ERROR), (facts.no_value, NO_VALUE)):
        for (row, column), text in cells.items():
            over.setdefault(column, []).append((row, text, kind))
    formats: dict[int, list[tuple[int, str]]] = {}
    for (row, column), code in facts.formats.items():
        formats.setdefault(column, []).append((row, code))
    height = max([len(rows), *(row + 1 for cells in over.values() for row, _, _ in cells)])
    columns: list[Sequence[Any]] = list(zip(*rows, strict=True))
    columns += [("",) * len(rows)] * (max(over, default=-1) + 1 - len(columns))
    return height, [
        _column(cells, height, over.get(place, []), formats.get(place, [])) for place, cells in enumerate(columns)
    ]


def _column(
    values: Sequence[Any], height: int, over: list[tuple[int, str, int]], formats: list[tuple[int, str]]
) -> Column:
    distinct, numbered = _numbered(values)
    if (1 in distinct or 0 in distinct) and bool in set(map(type, values)):
        # True and 1.0 are equal to Python, and would become one cell
        distinct, numbered = _numbered([(value,) if type(value) is bool else value for value in values])
    codes = np.zeros(height, dtype=np.int32)
    codes[: len(values)] = numbered
    texts, kinds, numbers = _described(distinct)
    if not over and not formats:
        return coded_column(codes, texts, kinds, numbers)
    cells = [(text, int(kind), float(number), "") for text, kind, number in zip(texts, kinds, numbers, strict=True)]
    added: dict[_Cell, int] = {}

    def put(row: int, cell: _Cell) -> None:
        code = added.setdefault(cell, len(cells))
        if code == len(cells):
            cells.append(cell)
        codes[row] = code

    for row, code in formats:
        text, kind, stored, _ = cells[codes[row]] if row < height else cells[0]
        if kind == NUMBER and (display := shown_text(code, stored)) and display != text:
            put(row, (text, kind, stored, display))
    for row, text, kind in over:
        put(row, (text, kind, np.nan, ""))
    every, sorts, stored_numbers, shown = zip(*cells, strict=True)
    return coded_column(codes, every, np.array(sorts, dtype=np.uint8), np.array(stored_numbers), shown)


def _numbered(values: Sequence[Any]) -> tuple[dict[Any, int], npt.NDArray[np.int32]]:
    """The distinct values, the empty text first and the others in the order met, and the number of each value."""
    distinct: defaultdict[Any, int] = defaultdict(itertools.count().__next__)
    distinct[""]
    return distinct, np.fromiter(map(distinct.__getitem__, values), dtype=np.int32, count=len(values))


#: What cells of the reader library's types are; all other types are dates, times and spans of time.
_KINDS = {str: TEXT, float: NUMBER, int: NUMBER, tuple: BOOLEAN}


def _described(
    values: Collection[Any],
) -> tuple[npt.NDArray[np.object_], npt.NDArray[np.uint8], npt.NDArray[np.float64]]:
    """Texts, kinds and numbers of distinct values of the reader library."""
    count = len(values)
    kinds = np.fromiter(map(_KINDS.get, map(type, values), itertools.repeat(DATE)), dtype=np.uint8, count=count)
    texts = np.fromiter(values, dtype=object, count=count)
    numbers = np.full(count, np.nan)
    stored = texts[kinds == NUMBER].astype(np.float64)
    numbers[kinds == NUMBER] = stored
    texts[kinds == NUMBER] = number_texts(stored)
    for place in np.flatnonzero(kinds > NUMBER):
        texts[place] = _other_text(texts[place])
    return texts, kinds, numbers


def _other_text(value: Any) -> str:
    if isinstance(value, tuple):
        return str(value[0]).upper()
    return value.isoformat() if isinstance(value, (dt.date, dt.time)) else str(value)


def _notices(grid: Grid, facts: SheetFacts) -> list[Problem]:
    """What the user should know of how one sheet was stored."""
    problems: list[Problem] = []

    def say(code: str, message: str, mend: str, row: int | None = None, column: int | None = None) -> None:
        place = None if row is None else row + 1
        letter = "" if column is None else column_letter(column)
        problems.append(Problem(code, message, mend, file=grid.file, sheet=grid.sheet, row=place, column=letter))

    if grid.hidden_rows:
        count, first = len(grid.hidden_rows), min(grid.hidden_rows)
        say("hidden-rows", f"{count} hidden row(s), read all the same.", "Show them to see what they hold.", first)
    if grid.hidden_columns:
        count, first = len(grid.hidden_columns), min(grid.hidden_columns)
        mend = "Show them to see what they hold."
        say("hidden-columns", f"{count} hidden column(s), read all the same.", mend, None, first)
    if facts.struck is not None and grid.cell(*facts.struck):
        message = "a cell is struck out; it was read, since a drawn line is not data."
        say("struck-out", message, "Delete the cells that the laboratory withdrew.", *facts.struck)
    for column, one in enumerate(grid.columns):
        if one.shown is None:
            continue
        for code in _first_of_each_sort(one):
            row = int(np.flatnonzero(one.codes == code)[0])
            message = f"the cell shows {one.shown[code]} and stores {one.texts[code]}."
            say("format-shows", message, "An id is taken as shown, a result as stored.", row, column)
    return problems


def _first_of_each_sort(column: Column) -> list[int]:
    """The first distinct cell shown as a percentage, and the first shown in another form than stored."""
    assert column.shown is not None
    percent = [code for code, text in enumerate(column.shown) if text.endswith("%")]
    other = [code for code, text in enumerate(column.shown) if text and not text.endswith("%")]
    return [*percent[:1], *other[:1]]
