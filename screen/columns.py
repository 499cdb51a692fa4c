"""Coded text columns: in goes a column or codes with texts, out come codes with distinct texts or a categorical.

Every stage resolves a distinct text once and spreads the answer by code; these are the few steps that all of them need.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import pandas as pd

__all__ = [
    "Codes",
    "Flags",
    "Floats",
    "Texts",
    "by_code",
    "coded",
    "first_rows",
    "flagged",
    "joined",
    "lean",
    "patterns",
    "recoded",
    "spread",
    "stacked",
    "texts_of",
]

Codes = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]
Texts = npt.NDArray[np.object_]


def coded(column: pd.Series) -> tuple[Codes, Texts]:
    """The codes of a text column (int64, -1 where there is no text) and its distinct texts (object)."""
    if not isinstance(column.dtype, pd.CategoricalDtype):
        column = column.astype(object).astype("category")
    texts: Texts = np.asarray(column.cat.categories.to_numpy(dtype=object))
    return np.asarray(column.cat.codes, dtype=np.int64), texts


def recoded(column: pd.Series, texts: Sequence[str] | Texts | pd.Index) -> Codes:
    """The codes of a text column in the order of ``texts`` (distinct); -1 where it is missing or not among them."""
    codes, own = coded(column)
    known = pd.Index(np.asarray(texts, dtype=object), dtype=object)
    place = known.get_indexer(pd.Index(own, dtype=object))
    return _take(np.asarray(place, dtype=np.int64), codes)


def _take(place: Codes, codes: Codes) -> Codes:
    if not len(place):
        return np.full(len(codes), -1, dtype=np.int64)
    return np.where(codes < 0, -1, place[codes])


def spread(codes: Codes, texts: Sequence[object] | Texts) -> pd.Categorical:
    """A categorical of ``texts[code]``, one per code; -1 and texts that are None, NaN or empty become missing.

    ``texts`` may repeat; the categories are its distinct texts in order of first use.
    """
    own = np.asarray(texts, dtype=object)
    own = np.array([None if text is None or text == "" or text != text else text for text in own], dtype=object)
    places, distinct = pd.factorize(own)
    return pd.Categorical.from_codes(_take(np.asarray(places, dtype=np.int64), codes), pd.Index(distinct, dtype=object))


def stacked(parts: Sequence[tuple[Codes, Sequence[object] | Texts]]) -> tuple[Codes, Texts]:
    """Codes and texts of all parts below one another; texts that several parts have are not made one."""
    starts = np.cumsum([0, *(len(texts) for _, texts in parts)])
    codes = [np.where(own < 0, -1, own + start) for (own, _), start in zip(parts, starts, strict=False)]
    return np.concatenate(codes), np.concatenate([np.asarray(texts, dtype=object) for _, texts in parts])


def by_code(codes: Codes) -> Codes:
    """The rows in the order of their codes (none below -1), those of one code in the order that they have.

    NumPy's stable sort takes time in proportion to the rows for whole numbers of 16 bits: one such sort for each 16.
    """
    rest = codes + 1
    order = np.argsort(rest.astype(np.uint16), kind="stable")
    while (rest := rest >> 16).any():
        order = order[np.argsort(rest[order].astype(np.uint16), kind="stable")]
    return np.asarray(order, dtype=np.int64)


def first_rows(codes: Codes) -> Codes:
    """The row on which each code is met first, in the order of the codes; rows without a code (-1) are left out."""
    first = np.full(int(codes.max(initial=-1)) + 2, -1, dtype=np.int64)
    first[codes[::-1]] = np.arange(len(codes))[::-1]
    first = first[:-1]
    return first[first >= 0]


def texts_of(column: pd.Series) -> Texts:
    """A text column as plain texts (object), empty text where missing."""
    codes, own = coded(column)
    return np.append(own, "")[codes]


def lean(frame: pd.DataFrame) -> pd.DataFrame:
    """The rows counted anew from 0, with no more distinct texts than they have."""
    made = frame.reset_index(drop=True)
    for name, column in made.items():
        if isinstance(column.dtype, pd.CategoricalDtype):
            made[name] = column.cat.remove_unused_categories()
    return made


def patterns(flags: Flags) -> tuple[Codes, Flags]:
    """Which of the distinct lines of ``flags`` (rows, columns) each row is, and these lines."""
    packed = np.ascontiguousarray(np.packbits(flags, axis=1))
    keys = packed.view(f"V{packed.shape[1]}").ravel()
    _, first, code = np.unique(keys, return_index=True, return_inverse=True)
    return np.asarray(code, dtype=np.int64).ravel(), flags[first]


def flagged(flags: Flags, text: str) -> tuple[Codes, Sequence[str]]:
    """A part of ``joined``: ``text`` on the rows whose flag is set."""
    return np.where(flags, 0, -1).astype(np.int64), (text,)


def joined(parts: Sequence[tuple[Codes, Sequence[str] | Texts]], rows: int, separator: str = "; ") -> pd.Categorical:
    """One note for each of ``rows`` rows: the texts of all parts that it has, in the order of the parts.

    Each part is (codes, texts); -1 and an empty text are none. Rows with the same parts share one text; a row without
    any is missing.
    """
    key = np.zeros(rows, dtype=np.int64)
    notes = [""]
    for codes, texts in parts:
        if not (codes >= 0).any():
            continue
        width = len(texts) + 1
        key, distinct = pd.factorize(key * width + codes + 1)
        key = key.astype(np.int64)
        pairs = [divmod(int(one), width) for one in distinct]
        notes = [_beside(notes[first], str(texts[second - 1]) if second else "", separator) for first, second in pairs]
    return spread(key, notes)


def _beside(first: str, second: str, separator: str) -> str:
    return f"{first}{separator}{second}" if first and second else first or second
