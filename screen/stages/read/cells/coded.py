"""Coded text: distinct cells once, and a code per record. What the reading steps hand to one another.

In: columns of a grid. Out: columns as long as the records, in the same form (``grid.Column``, code 0 is empty).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

import numpy as np
import numpy.typing as npt
import pandas as pd

from screen.stages.read.cells.grid import EMPTY, TEXT, Column

__all__ = [
    "as_shown",
    "categorical",
    "constant",
    "empty",
    "equals",
    "first_cell",
    "first_of",
    "join",
    "only_shown",
    "pair_codes",
    "present",
    "spread",
    "stack",
    "take",
    "used",
]

Ints = npt.NDArray[np.int32]
_LARGEST = int(np.iinfo(np.int64).max)


def empty(length: int) -> Column:
    """A column without any text."""
    return _made(np.zeros(length, dtype=np.int32), [""])


def constant(text: str, length: int) -> Column:
    """The same text in every row."""
    return empty(length) if not text else _made(np.ones(length, dtype=np.int32), ["", text])


def _made(codes: Ints, texts: Iterable[str]) -> Column:
    values = np.array(list(texts), dtype=object)
    kinds = np.where(values == "", EMPTY, TEXT).astype(np.uint8)
    return Column(codes, values, kinds, np.full(len(values), np.nan))


def take(column: Column, rows: npt.NDArray[np.integer]) -> Column:
    """The column at ``rows`` (positions)."""
    return Column(column.codes[rows], column.texts, column.kinds, column.numbers)


def as_shown(column: Column) -> Column:
    """The column with the texts that number formats show where they differ (``0042`` for a stored 42): for ids."""
    if column.shown is None:
        return column
    texts = np.where(column.shown != "", column.shown, column.texts)
    return Column(column.codes, texts, column.kinds, column.numbers)


def only_shown(column: Column) -> Column:
    """What number formats show where it differs from what is stored, empty elsewhere; equal texts under one code."""
    if column.shown is None:
        return empty(len(column.codes))
    places, distinct = pd.factorize(np.concatenate([np.array([""], dtype=object), column.shown]))
    return _made(places[1:].astype(np.int32)[column.codes], distinct)


def used(column: Column) -> Column:
    """The same column without the distinct cells that no row has; code 0 stays the empty cell."""
    present = np.zeros(len(column.texts), dtype=bool)
    present[column.codes] = True
    present[0] = True
    if present.all():
        return column
    moved = (np.cumsum(present) - 1).astype(np.int32)
    return Column(moved[column.codes], column.texts[present], column.kinds[present], column.numbers[present])


def stack(columns: Sequence[Column]) -> Column:
    """The columns one under another, cells kept apart by column: nothing of a cell's kind is lost."""
    if len(columns) == 1:
        return columns[0]
    if not columns:
        return empty(0)
    parts, offset = [], 1
    for one in columns:
        parts.append(np.where(one.codes == 0, 0, one.codes + (offset - 1)).astype(np.int32))
        offset += len(one.texts) - 1
    first = columns[0]
    return Column(
        np.concatenate(parts),
        np.concatenate([first.texts[:1], *(one.texts[1:] for one in columns)]),
        np.concatenate([first.kinds[:1], *(one.kinds[1:] for one in columns)]),
        np.concatenate([first.numbers[:1], *(one.numbers[1:] for one in columns)]),
    )


def join(columns: Sequence[Column]) -> Column:
    """The columns one under another, equal texts under one code."""
    stacked = stack(columns)
    return stacked if len(columns) == 1 else _without_repeats(stacked)


def _without_repeats(column: Column) -> Column:
    """The column with equal texts under one code."""
    codes, texts = pd.factorize(column.texts)
    if len(texts) == len(column.texts):
        return column
    first = np.zeros(len(texts), dtype=np.int64)
    first[codes[::-1]] = np.arange(len(column.texts))[::-1]
    return Column(codes.astype(np.int32)[column.codes], column.texts[first], column.kinds[first], column.numbers[first])


def first_of(strong: Column, weak: Column) -> Column:
    """``strong``, with ``weak`` in the rows where it is empty; equal texts under one code."""
    if not weak.codes.any():
        return _without_repeats(strong)
    return _either(join([strong, weak]), len(strong.codes))


def first_cell(strong: Column, weak: Column) -> Column:
    """The same with the cells kept apart, so that nothing of their kind is lost."""
    return _either(stack([strong, weak]), len(strong.codes))


def _either(both: Column, size: int) -> Column:
    codes = np.where(both.codes[:size] != 0, both.codes[:size], both.codes[size:])
    return Column(codes, both.texts, both.kinds, both.numbers)


def spread(column: Column, read: Callable[[str], str]) -> Column:
    """``read`` once for each distinct text, spread over the rows; equal answers share a code."""
    answers = np.array(["", *(read(str(text)) for text in column.texts[1:])], dtype=object)
    codes, texts = pd.factorize(answers)
    return _made(codes.astype(np.int32)[column.codes], texts)


def pair_codes(*columns: Column | npt.NDArray[np.integer]) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    """One code per row for the combination of the columns' codes, and for each code the first row that has it."""
    total: npt.NDArray[np.int64] | None = None
    bound = 1
    for one in columns:
        codes = np.asarray(one.codes if isinstance(one, Column) else one, dtype=np.int64)
        low, size = int(codes.min(initial=0)), int(codes.max(initial=0)) + 1
        if low < 0:
            codes, size = codes - low, size - low
        if total is not None and bound * size > _LARGEST:
            total = pd.factorize(total)[0].astype(np.int64)
            bound = len(total)
        total = codes if total is None else total * size + codes
        bound *= size
    if total is None or not len(total):
        return np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64)
    codes = pd.factorize(total)[0].astype(np.int64)
    first = np.zeros(int(codes.max()) + 1, dtype=np.int64)
    first[codes[::-1]] = np.arange(len(codes))[::-1]
    return codes, first


def equals(column: pd.Series, text: str) -> npt.NDArray[np.bool_]:
    """Where a categorical column is ``text``; missing is nowhere."""
    categories = column.cat.categories
    return (
        (column.cat.codes == categories.get_loc(text)).to_numpy()
        if text in categories
        else np.zeros(len(column), dtype=bool)
    )


def present(column: pd.Series, where: npt.NDArray[np.bool_]) -> list[str]:
    """The distinct texts of a categorical column on the rows of ``where``, without the missing and the empty one."""
    codes = column.cat.codes.to_numpy()[where]
    counts = np.bincount(codes[codes >= 0], minlength=len(column.cat.categories))
    return [str(text) for text, count in zip(column.cat.categories, counts, strict=True) if count and text != ""]


def categorical(column: Column) -> pd.Categorical:
    """The column as a pandas categorical; the empty text is missing. Texts must be distinct."""
    return pd.Categorical.from_codes(column.codes - 1, categories=pd.Index(column.texts[1:], dtype=object))
