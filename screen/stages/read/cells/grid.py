"""One sheet as coded columns: each distinct cell is kept once, and every later step resolves it once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

__all__ = [
    "BOOLEAN",
    "DATE",
    "EMPTY",
    "ERROR",
    "NO_VALUE",
    "NUMBER",
    "TEXT",
    "Column",
    "Grid",
    "coded_column",
    "number_text",
    "number_texts",
    "trimmed",
    "with_cell",
]

#: Kinds of cell, as stored. NO_VALUE is a formula without a stored result.
EMPTY, TEXT, NUMBER, DATE, BOOLEAN, ERROR, NO_VALUE = range(7)


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a sheet, coded.

    ``codes`` (int32, one per row) points into the distinct cells: ``texts`` (object, text as stored; a number's text is
    its shortest form that reads back), ``kinds`` (uint8) and ``numbers`` (float64, NaN where the cell is no number).
    Code 0 is the empty cell; the others follow in the order met. A cell that holds only blanks counts as empty.
    ``shown`` (object, one per distinct cell, "" where it does not matter) is what a number format makes of a stored
    number where that reads differently: ``0042`` for 42, ``2.1%`` for 0.021; None when no cell of the column has one.
    """

    codes: npt.NDArray[np.int32]
    texts: npt.NDArray[np.object_]
    kinds: npt.NDArray[np.uint8]
    numbers: npt.NDArray[np.float64]
    shown: npt.NDArray[np.object_] | None = None


@dataclass(frozen=True, slots=True)
class Grid:
    """One sheet of one file. Rows and columns count from 0 here; ``column_letter`` and +1 give the reader's address.

    ``sheet`` is empty for a text file. ``delimiter`` and ``encoding`` are empty for a spreadsheet. ``merged`` holds
    (first row, first column, last row, last column), ends included.
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
        return np.array([one.codes != 0 for one in self.columns]).T

    @property
    def cells(self) -> int:
        """The number of non-empty cells."""
        return int(sum(np.count_nonzero(one.codes) for one in self.columns))


def coded_column(
    codes: npt.NDArray[np.integer],
    texts: Sequence[str] | npt.NDArray[np.object_],
    kinds: npt.NDArray[np.uint8] | None = None,
    numbers: npt.NDArray[np.float64] | None = None,
    shown: Sequence[str] | None = None,
) -> Column:
    """A Column from codes that point into any list of cells, which may repeat none of them but hold blank ones.

    Blank cells become code 0, the others are numbered in the order met. Without ``kinds`` every cell is a text.
    """
    count = len(texts)
    as_array = np.fromiter(texts, dtype=object, count=count)
    filled = np.fromiter(map(bool, map(str.strip, texts)), dtype=bool, count=count)
    used = _in_order_met(codes, count)
    used = used[filled[used]]
    place = np.zeros(max(count, 1), dtype=np.int32)
    place[used] = np.arange(1, len(used) + 1, dtype=np.int32)
    new_texts = np.empty(len(used) + 1, dtype=object)
    new_texts[0] = ""
    new_texts[1:] = as_array[used]
    new_kinds = np.full(len(used) + 1, TEXT, dtype=np.uint8)
    new_numbers = np.full(len(used) + 1, np.nan)
    if kinds is not None:
        new_kinds[1:] = kinds[used]
    if numbers is not None:
        new_numbers[1:] = numbers[used]
    new_kinds[0] = EMPTY
    new_shown = None
    if shown is not None and any(shown):
        new_shown = np.empty(len(used) + 1, dtype=object)
        new_shown[0] = ""
        new_shown[1:] = [shown[int(index)] for index in used]
    return Column(place[codes], new_texts, new_kinds, new_numbers, new_shown)


def _in_order_met(codes: npt.NDArray[np.integer], count: int) -> npt.NDArray[np.int64]:
    """Those of the codes 0 to ``count`` - 1 that occur, in the order in which they do."""
    first = np.full(count, -1, dtype=np.int64)
    first[codes[::-1]] = np.arange(len(codes) - 1, -1, -1)
    met = np.flatnonzero(first >= 0)
    return met[np.argsort(first[met])]


def trimmed(rows: int, columns: Sequence[Column]) -> tuple[int, tuple[Column, ...]]:
    """Rows and columns without the empty ones at the end (formatting often runs far past the data)."""
    last_row = 0
    last_column = 0
    for index, one in enumerate(columns, 1):
        filled = np.flatnonzero(one.codes)
        if len(filled):
            last_row = max(last_row, int(filled[-1]) + 1)
            last_column = index
    kept = columns[:last_column]
    if last_row < rows:
        kept = [Column(one.codes[:last_row].copy(), one.texts, one.kinds, one.numbers, one.shown) for one in kept]
    return last_row, tuple(kept)


def number_text(number: float) -> str:
    """The shortest text that reads back to the same double, without a useless ``.0``: 15, 121.4, 1e-07."""
    text = repr(float(number))
    return text[:-2] if text.endswith(".0") else text


def number_texts(numbers: npt.NDArray[np.float64]) -> list[str]:
    """``number_text`` of each of some doubles."""
    joined = "\0".join([*map(repr, numbers.tolist()), ""])
    return joined.replace(".0\0", "\0").split("\0")[:-1]


def with_cell(grid: Grid, row: int, column: int, text: str) -> Grid:
    """The grid with another text in one cell."""
    old = grid.columns[column]
    codes = old.codes.copy()
    codes[row] = len(old.texts)
    new = Column(
        codes,
        np.append(old.texts, text),
        np.append(old.kinds, np.uint8(TEXT)),
        np.append(old.numbers, np.nan),
        None if old.shown is None else np.append(old.shown, ""),
    )
    return replace(grid, columns=(*grid.columns[:column], new, *grid.columns[column + 1 :]))
