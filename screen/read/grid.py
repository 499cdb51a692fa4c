"""One sheet as coded columns: each distinct cell is kept once, and every later step resolves it once."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

__all__ = ["BOOLEAN", "DATE", "EMPTY", "ERROR", "NO_VALUE", "NUMBER", "TEXT", "Column", "Grid", "column_letter"]

#: Kinds of cell, as stored. NO_VALUE is a formula without a stored result.
EMPTY, TEXT, NUMBER, DATE, BOOLEAN, ERROR, NO_VALUE = range(7)


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a sheet, coded.

    ``codes`` (int32, one per row) points into the distinct cells: ``texts`` (object, text as stored; a number's text is
    its shortest form that reads back), ``kinds`` (uint8) and ``numbers`` (float64, NaN where the cell is no number).
    Code 0 is the empty cell. A cell that holds only blanks counts as empty.
    """

    codes: npt.NDArray[np.int32]
    texts: npt.NDArray[np.object_]
    kinds: npt.NDArray[np.uint8]
    numbers: npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Grid:
    """One sheet of one file. Rows and columns count from 0 here; ``column_letter`` and +1 give the reader's address.

    ``sheet`` is empty for a text file. ``delimiter`` and ``encoding`` are empty for a spreadsheet. ``notes`` are
    facts for the user (encoding, hidden rows read, number format shows other than stored), as (code, text, row, column).
    """

    file: str
    sheet: str
    rows: int
    columns: tuple[Column, ...]
    hidden: bool = False
    hidden_rows: frozenset[int] = frozenset()
    hidden_columns: frozenset[int] = frozenset()
    merged: tuple[tuple[int, int, int, int], ...] = ()
    encoding: str = ""
    delimiter: str = ""
    notes: tuple[tuple[str, str, int | None, int | None], ...] = field(default=())

    def cell(self, row: int, column: int) -> str:
        """The stored text of one cell, empty outside the sheet."""
        if not (0 <= row < self.rows and 0 <= column < len(self.columns)):
            return ""
        one = self.columns[column]
        return str(one.texts[one.codes[row]])

    def filled(self) -> npt.NDArray[np.bool_]:
        """Which cells are not empty: bool, shape (rows, columns)."""
        if not self.columns:
            return np.zeros((self.rows, 0), dtype=bool)
        return np.column_stack([one.codes != 0 for one in self.columns])

    @property
    def cells(self) -> int:
        """The number of non-empty cells."""
        return int(sum(np.count_nonzero(one.codes) for one in self.columns))


def column_letter(column: int) -> str:
    """The spreadsheet's name of a column that counts from 0: 0 is A, 26 is AA."""
    letters = ""
    column += 1
    while column:
        column, rest = divmod(column - 1, 26)
        letters = chr(65 + rest) + letters
    return letters
