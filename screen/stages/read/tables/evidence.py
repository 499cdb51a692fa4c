"""What the cells of one sheet look like: field names, substances, numbers. In: a coded grid. Out: classes by code.

Every distinct cell is looked at once. In columns with very many distinct texts only the first rows are, for there the
headers stand; a header lower down repeats a word of a column with few texts, such as the unit.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from screen.stages.read.cells.grid import NUMBER, Grid
from screen.stages.read.words.fields import name_header

__all__ = ["FIELD_NAMES", "Evidence", "Knows", "like_number", "like_result"]

#: Says of each text whether it names a known substance.
Knows = Callable[[Sequence[str]], npt.NDArray[np.bool_]]

_MANY = 20_000
_FIRST_ROWS = 400
_SAMPLE = 60
_NUMBER = (
    r"'?\(?[-+−–]?(?:\d[\d.,\s\u2009\u202f\u00a0]*|[.,]\d+)"
    r"(?:\s?[eE][-+]?\d+|\s?[x×*]\s?10\s?\^?[-+−]?[\d⁰¹²³⁴⁵⁶⁷⁸⁹⁻]+)?\)?\s?%?"
)
_WORD = (
    r"(?:nd|n\.\s?d\.?|n\.\s?n\.?|not detected|non-?detect|bdl|brl|bql|lt|gt|"
    r"<\s?(?:rl|mdl|dl|loq|lod|bg|ng|ql|pql)|trace|detected|"
    r"tr|present|pnq)"
)
_UNIT = r"(?:[npmuµμ]?g|umol)\s?/\s?k?g\b[a-z\s()]{0,12}"  # a unit in the cell: a result, if one to be refused
_LIKE = re.compile(
    rf"^(?:{_WORD}\.?\s*[<(]?\s*(?:{_NUMBER})?\)?|(?:[uj]{{1,2}}\s?(?=\d*\.\d)|[<>≤≥~=]{{0,2}})\s?{_NUMBER}\s*[<>]?\s*(?:[a-z*+,][a-z*+\-,\s]{{0,8}}|{_UNIT})?)$",
    re.IGNORECASE,
)

_CAS = re.compile(r"\s*\d{2,7}-\d{2}-\d\s*$")
_BARE = frozenset(
    ("", "u", "uj", "r", "-", "--", "---", "—", "–", "na", "n/a", "nr", "ns", "nm", "nt", ".", "*", "n.a.")
)

FIELD_NAMES: list[str] = [""]
_FIELD_CODES: dict[str, int] = {"": 0}


def _field_code(name: str) -> int:
    if name not in _FIELD_CODES:
        _FIELD_CODES[name] = len(FIELD_NAMES)
        FIELD_NAMES.append(name)
    return _FIELD_CODES[name]


def like_number(text: str) -> bool:
    """Whether the text looks like a result by itself: a number with or without flags, or a word for not detected."""
    return len(text) < 40 and _LIKE.match(text.strip()) is not None


def like_result(text: str) -> bool:
    """The same, for a cell under a sample's name: a bare ``U`` and the marks for not analysed too."""
    return text.strip().casefold() in _BARE or like_number(text)


def _may_name(text: str) -> bool:
    """Flags and ``NA`` are spelled like symbols of elements: one letter, or two in capitals, proves nothing."""
    return (
        len(text) > 1
        and text.casefold() not in _BARE
        and not (len(text) == 2 and text.isupper())
        and not _CAS.match(text)
    )


class Evidence:
    """Classes of cells by column and code: ``field`` (index into FIELD_NAMES), ``substance``, ``number``."""

    def __init__(self, grid: Grid, knows: Knows) -> None:
        self.grid = grid
        self.field: list[npt.NDArray[np.int16]] = []
        self.substance: list[npt.NDArray[np.bool_]] = []
        self.number: list[npt.NDArray[np.bool_]] = []
        seen: dict[str, tuple[int, bool]] = {}
        wanted: list[list[str]] = []
        looked: list[npt.NDArray[np.int64]] = []
        for column in grid.columns:
            size = len(column.texts)
            number = column.kinds == NUMBER
            if size > _MANY:
                codes = np.unique(column.codes[:_FIRST_ROWS]).astype(np.int64)
                number[:] |= True  # beyond the first rows all count as values; headers there are found by other columns
            else:
                codes = np.arange(size)
            asked = codes[(codes > 0) & (column.kinds[codes] != NUMBER)].astype(np.int64)
            for code in asked:
                text = str(column.texts[code])
                if text not in seen:
                    like = like_number(text)
                    field = 0 if like and not text.isalpha() else _field_code(name_header(text).field)
                    seen[text] = (field, like)
                number[code] = seen[text][1]
            number[0] = False
            texts = (str(column.texts[code]) for code in asked)
            wanted.append([text for text in texts if _may_name(text) and (not seen[text][1] or text[0].isalpha())])
            looked.append(asked)
            self.number.append(number)
        known = _known_names(wanted, knows)
        for column, asked in zip(grid.columns, looked, strict=True):
            fields = np.zeros(len(column.texts), dtype=np.int16)
            substance = np.zeros(len(column.texts), dtype=bool)
            for code in asked:
                text = str(column.texts[code])
                fields[code] = seen[text][0]
                substance[code] = known.get(text, False)
            self.field.append(fields)
            self.substance.append(substance)

    @staticmethod
    def codes_of(names: Iterable[str]) -> list[int]:
        """The codes of fields that occur at all."""
        return [_FIELD_CODES[name] for name in names if name in _FIELD_CODES]

    def fields_in_row(self, row: int) -> list[tuple[int, str]]:
        """Column and field of each cell of the row that names a field."""
        found = []
        for position, column in enumerate(self.grid.columns):
            code = self.field[position][column.codes[row]]
            if code:
                found.append((position, FIELD_NAMES[code]))
        return found

    def rows_with(self, names: Sequence[str], start: int = 0) -> npt.NDArray[np.int64]:
        """Rows from ``start`` on in which some cell names one of the fields."""
        wanted = self.codes_of(names)
        hit = np.zeros(self.grid.rows, dtype=bool)
        for position, column in enumerate(self.grid.columns):
            marked = np.isin(self.field[position], wanted) if wanted else np.zeros(0, dtype=bool)
            if marked.any():
                hit |= marked[column.codes]
        return np.flatnonzero(hit[start:]) + start

    def matrices(self, rows: npt.NDArray[np.int64], columns: Sequence[int]) -> dict[str, npt.NDArray[Any]]:
        """``field``, ``substance``, ``number`` and ``filled`` of a part of the sheet, as matrices."""
        shape = (len(rows), len(columns))
        out: dict[str, npt.NDArray[Any]] = {
            "field": np.zeros(shape, dtype=np.int16),
            "substance": np.zeros(shape, dtype=bool),
            "number": np.zeros(shape, dtype=bool),
            "filled": np.zeros(shape, dtype=bool),
        }
        for place, position in enumerate(columns):
            codes = self.grid.columns[position].codes[rows]
            out["field"][:, place] = self.field[position][codes]
            out["substance"][:, place] = self.substance[position][codes]
            out["number"][:, place] = self.number[position][codes]
            out["filled"][:, place] = codes != 0
        return out


def _known_names(columns: Sequence[list[str]], knows: Knows) -> dict[str, bool]:
    """Which texts name a substance. Of very many texts a few are asked first: without a hit, the rest is not."""
    known: dict[str, bool] = {}
    # asked together, for a call takes longer than a text in it, and a sheet may have thousands of columns
    knows([text for texts in columns if len(texts) <= _SAMPLE * 2 for text in texts if len(text) < 120])
    for texts in columns:
        left = [text for text in texts if text not in known and len(text) < 120]
        if len(left) > _SAMPLE * 2:
            few = [*left[:_SAMPLE], *left[_SAMPLE :: max(1, len(left) // _SAMPLE)]]
            known.update(zip(few, knows(few).tolist(), strict=True))
            if not any(known[text] for text in few):
                continue
            left = [text for text in left if text not in known]
        if left:
            known.update(zip(left, knows(left).tolist(), strict=True))
    return known
